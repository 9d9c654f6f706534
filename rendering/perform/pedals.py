"""The sustain pedal: folded into the lengths of notes, for players who have none."""

from __future__ import annotations

from bisect import bisect_left
from copy import copy

from rendering.perform.played import Played
from rendering.perform.playing import Playing
from rendering.score import SLUR_LEAVES, Part
from rendering.timeline import FOREVER


def played_pedals(part: Part, playing: Playing) -> list[tuple[int, int]]:
    """Return (down, up) ticks of a part's sustain pedal as it is played, ascending; a jump lifts it."""
    return [
        (playing.tick(max(down, piece.start) + piece.shift), playing.tick(min(up, piece.stop) + piece.shift))
        for piece in playing.slices
        for down, up in part.pedals
        if max(down, piece.start) < min(up, piece.stop)
    ]


def hold(line: Played, pedals: list[tuple[int, int]]) -> Played:
    """Return the line with notes that end while the pedal is down held until it is up, or until their key is struck again.

    A note that ends as the pedal goes down, and one that is slurred to the next, keep their ends.
    """
    downs = [down for down, _ in pedals]
    following = _next_on_key(line)
    ends: list[int] = []
    for end, slur, again in zip(line.off, line.slur, following, strict=True):
        i = bisect_left(downs, end) - 1
        held = i >= 0 and end < pedals[i][1] and not slur & SLUR_LEAVES
        ends.append(max(min(pedals[i][1], again), end) if held else end)
    out = copy(line)
    out.off = ends
    return out


def _next_on_key(line: Played) -> list[int]:
    """Return of each note when its key is struck next; FOREVER where it is not."""
    seen: dict[int, int] = {}
    found: list[int] = []
    for on, key in zip(reversed(line.on), reversed(line.key), strict=True):
        found.append(seen.get(key, FOREVER))
        seen[key] = on
    return found[::-1]
