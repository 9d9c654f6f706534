"""Grace notes: before the beat, 80 ms each, at most half of the note before (this project's numbers)."""

from __future__ import annotations

from collections.abc import Mapping

from rendering.perform.played import Played
from rendering.score import GRACE_WITH, Steal
from rendering.timeline import Clock

GRACE_MS = 80
NO_STEAL = Steal(0, 0, 0)


def place_graces(played: Played, clock: Clock, steals: Mapping[int, Steal]) -> None:
    """Give the grace notes of a line their time, taking it from the note before or as the file says; in place.

    `steals` is by source.
    """
    grace, count = played.grace, len(played.grace)
    i = 0
    while i < count:
        if not grace[i]:
            i += 1
            continue
        stop = i
        while stop < count and grace[stop] and played.on[stop] == played.on[i]:
            stop += 1
        if steals and any(source in steals for source in played.source[i:stop]):
            _place_stolen(played, i, stop, [steals.get(source, NO_STEAL) for source in played.source[i:stop]], clock.ppq)
        else:
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


def _place_stolen(played: Played, start: int, stop: int, steals: list[Steal], ppq: int) -> None:
    """Rows [start, stop) take the parts of their neighbours that the file states, at most three quarters of each."""
    beat, first = played.on[start], _group_before(played, start)
    before = min((played.off[r] - played.on[r] for r in range(first, start)), default=ppq)
    last = stop
    while last < len(played.on) and played.on[last] == beat:
        last += 1
    after = min((played.off[r] - beat for r in range(stop, last)), default=0)
    steps, groups = _groups(played.grace, start, stop)
    taken = [[0, 0] for _ in range(groups)]
    for step, steal in zip(steps, steals, strict=True):
        taken[step] = [
            max(taken[step][0], steal.previous * before // 1000 + steal.made),
            max(taken[step][1], steal.following * after // 1000),
        ]
    early, late = min(sum(t[0] for t in taken), before * 3 // 4), min(sum(t[1] for t in taken), after * 3 // 4)
    early = max(early, groups - late)  # a tick each at least, before the beat
    share = [sum(t) for t in taken]
    whole = max(sum(share), 1)
    edges = [beat - early + (early + late) * sum(share[:k]) // whole for k in range(groups + 1)] if sum(share) else []
    edges = edges or [beat - early + (early + late) * k // groups for k in range(groups + 1)]
    edges = [max(edge, edges[0] + k) for k, edge in enumerate(edges)]
    for row in range(start, stop):
        played.on[row], played.off[row] = edges[steps[row - start]], max(edges[steps[row - start] + 1], edges[steps[row - start]] + 1)
    for row in range(first, start):
        if edges[0] < played.off[row] <= beat:
            played.off[row] = max(edges[0], played.on[row] + 1)
    for row in range(stop, last):
        played.on[row] = beat + late


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
