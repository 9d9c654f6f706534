"""The sustain pedal of keyboards as a controller."""

from __future__ import annotations

from rendering.schedule.curves import CURVE_RANK
from rendering.schedule.switches import HELD_OFF_RANK, event

CONTROLLER = 0xB0
SUSTAIN, DOWN, UP = 64, 127, 0  # MIDI 1.0: damper pedal


def pedal_events(pedals: list[tuple[int, int]], channel: int) -> list[int]:
    """Return the events of (down, up) ticks, not sorted: at one tick up comes after note-offs, down before note-ons."""
    status = CONTROLLER + channel
    found = [event(up, HELD_OFF_RANK, status, SUSTAIN, UP) for _, up in pedals]
    return found + [event(down, CURVE_RANK, status, SUSTAIN, DOWN) for down, _ in pedals]
