"""The order of playing as repeat signs, endings and jumps, where signs can say it.

Signs are guessed from the order and then walked through by the same rules that read them: what does not
lead to the same order is not written.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

from rendering.problems import Refused
from rendering.readers.asread import Bar
from rendering.unfold.route import read_route
from rendering.unfold.walk import Walk

Slices = list[tuple[int, int, int]]


@dataclass(slots=True, kw_only=True)
class Signs:
    """Bar lines and jumps; `jumps` are (measure index, kind, target index)."""

    bars: list[Bar] = field(default_factory=list)
    jumps: list[tuple[int, str, int]] = field(default_factory=list)


def signs_of(itinerary: Slices, count: int, *, passes: bool = False) -> Signs | None:
    """Return the signs by which `count` measures are played in this order, and with `passes` in these passes; None without any."""
    wanted = _plays(itinerary, passes=passes)
    if wanted == _plays([(1, count, 1)] if count else [], passes=passes):
        return Signs()
    for signs in _guesses([measure for measure, _ in wanted], count):
        if _plays(_walked(signs, count, len(wanted)), passes=passes) == wanted:
            return signs
    return None


def _plays(slices: Slices, *, passes: bool) -> list[tuple[int, int]]:
    """Return (measure from 0, pass) as they are played; where passes do not matter they are 1."""
    return [(m - 1, number if passes else 1) for first, last, number in slices for m in range(first, last + 1)]


def _walked(signs: Signs, count: int, most: int) -> Slices:
    """Return the order to which signs lead; [] where it is longer than `most` measures."""
    route = read_route(signs.bars, count)
    for measure, kind, target in signs.jumps:
        if kind not in {"segno", "coda"}:
            route.leaps.setdefault(measure, []).append((kind, target))
    walk = Walk(route, count, most)
    try:
        walk.run()
    except Refused:
        return []
    return walk.slices


def _guesses(order: list[int], count: int) -> Iterator[Signs]:
    """Yield signs: repeats alone, then a jump where the order last goes back, with or without a coda."""
    yield Signs(bars=_bars(order))
    back = next((i for i in range(len(order) - 1, 0, -1) if order[i] <= order[i - 1]), 0)
    if back:
        before, after = order[:back], order[back:]
        for coda in [None, *(pair for pair in pairwise(after) if pair[1] > pair[0] + 1)]:
            yield Signs(bars=_bars(before), jumps=_jumps(before, after, coda, count))


def _jumps(before: list[int], after: list[int], coda: tuple[int, int] | None, count: int) -> list[tuple[int, str, int]]:
    start, end = after[0], after[-1]
    kind = "dacapo" if start == 0 else "dalsegno"
    found = [(before[-1], kind, start)]
    if start:
        found.append((start, "segno", start))
    if coda is not None:
        found += [(coda[0], "tocoda", coda[1]), (coda[1], "coda", coda[1])]
    if end < count - 1:
        found.append((end, "fine", 0))
    return found


def _bars(order: list[int]) -> list[Bar]:
    """Return repeats and endings for an order, section by section."""
    bars: list[Bar] = []
    runs = _runs(order)
    at = 0
    while at + 1 < len(runs):
        start = runs[at + 1][0]
        end = at + 1
        while end + 1 < len(runs) and runs[end + 1][0] == start:
            end += 1
        bars += _section(start, [_from(run, start) for run in runs[at : end + 1]])
        at = end
    return bars


def _runs(order: list[int]) -> list[list[int]]:
    """Return the order parted where it goes back."""
    runs = [[order[0]]]
    for before, after in pairwise(order):
        if after <= before:
            runs.append([])
        runs[-1].append(after)
    return runs


def _from(run: list[int], start: int) -> list[int]:
    return [m for m in run if m >= start]


def _section(start: int, passes: list[list[int]]) -> list[Bar]:
    """Return the bars of a section played in several passes, each from its start; the last one goes on."""
    bars = [_bar(start, right=False, repeat="forward")] if start else []
    split = _split(passes)
    if split is None:
        end = passes[0][-1]
        return [*bars, _bar(end, right=True, repeat="backward", times=len(passes))]
    numbers: dict[int, list[int]] = {}
    ends: dict[int, int] = {}
    for number, played in enumerate(passes, 1):
        first = next((m for m in played if m > split), split + 1)
        numbers.setdefault(first, []).append(number)
        if number < len(passes):
            ends[first] = played[-1]
    for first, which in numbers.items():
        bars.append(_bar(first, right=False, ending="start", passes=tuple(which)))
        last = ends.get(first, first)
        bars.append(_bar(last, right=True, repeat="backward" if first in ends else "", ending="stop", passes=tuple(which)))
    return bars


def _split(passes: list[list[int]]) -> int | None:
    """Return the measure after which the passes part; None where all are the same."""
    limit = passes[0][-1]
    skips = [a for played in passes for a, b in pairwise(played) if b > a + 1 and a <= limit]
    return min(skips, default=None)


def _bar(
    measure: int, *, right: bool, repeat: str = "", times: int = 0, ending: str = "", passes: tuple[int, ...] = ()
) -> Bar:  # fmt: skip
    return Bar(measure, right, repeat, times if times > 2 else 0, after_jump=False, ending=ending, passes=passes)
