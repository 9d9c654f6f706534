"""When what is sent: note-ons with their leads, ends, switches before the notes, curves."""

from __future__ import annotations

from rendering.schedule.track import Scheduled, schedule_track

__all__ = ["Scheduled", "schedule_track"]
