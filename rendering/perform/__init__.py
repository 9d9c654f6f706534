"""From the page to playing: ties, graces, tempo and levels, in played order."""

from __future__ import annotations

from rendering.perform.lines import PlayedPart, perform_part
from rendering.perform.pedals import hold
from rendering.perform.played import Played
from rendering.perform.playing import Playing, plan_playing

__all__ = ["Played", "PlayedPart", "Playing", "hold", "perform_part", "plan_playing"]
