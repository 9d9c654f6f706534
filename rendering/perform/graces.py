"""Grace notes: before the beat, 80 ms each, at most half of the note before (this project's numbers)."""

from __future__ import annotations

from rendering.perform.played import Played
from rendering.score import GRACE_WITH
from rendering.timeline import Clock

GRACE_MS = 80


def place_graces(played: Played, clock: Clock) -> None:
    """Give the grace notes of a line their time, taking it from the note before; in place."""
    grace, count = played.grace, len(played.grace)
    i = 0
    while i < count:
        if not grace[i]:
            i += 1
            continue
        stop = i
        while stop < count and grace[stop] and played.on[stop] == played.on[i]:
            stop += 1
        _place_group(played, i, stop, clock)
        i = stop


def _place_group(played: Played, start: int, stop: int, clock: Clock) -> None:
    """Rows [start, stop) are graces that lead to one beat."""
    beat = played.on[start]
    steps, groups = _groups(played.grace, start, stop)
    earliest = clock.earlier(beat, GRACE_MS * groups)
    first = _group_before(played, start)
    if first < start:
        half = max(played.on[r] + (min(played.off[r], beat) - played.on[r] + 1) // 2 for r in range(first, start))
        earliest = min(max(earliest, half), beat - groups)
    for row in range(start, stop):
        played.on[row] = earliest + (beat - earliest) * steps[row - start] // groups
        played.off[row] = earliest + (beat - earliest) * (steps[row - start] + 1) // groups
    for row in range(first, start):
        if earliest < played.off[row] <= beat:
            played.off[row] = max(earliest, played.on[row] + 1)


def _groups(grace: list[int], start: int, stop: int) -> tuple[list[int], int]:
    """Number the graces by the moment they sound at; return the numbers and how many moments there are."""
    steps: list[int] = []
    for row in range(start, stop):
        together = grace[row] & GRACE_WITH and steps
        steps.append(steps[-1] if together else (steps[-1] + 1 if steps else 0))
    return steps, steps[-1] + 1


def _group_before(played: Played, start: int) -> int:
    """Return the first row of the chord that comes before row `start`; `start` if nothing does."""
    first = start
    while first > 0 and played.on[first - 1] == played.on[start - 1]:
        first -= 1
    return first
