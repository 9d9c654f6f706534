"""What the bar lines say: repeats, endings, ends of movements."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, field

from rendering.readers.asread import Bar


@dataclass(slots=True, kw_only=True)
class Ending:
    """Measures [first, last] (indexes from 0) are played in some passes of their section."""

    first: int
    last: int
    passes: set[int]
    final: bool = False  # the last one of its group
    total: int = 0  # playings of the section that the group asks for


@dataclass(slots=True, kw_only=True)
class Route:
    """What the page says about the order of its measures (indexes from 0).

    fresh     measures after a movement's end: a repeat without a beginning does not reach over it
    backward  measure -> (playings asked for, 0 = unsaid; also after a jump)
    leaps     measure -> what happens after it: "dacapo", "dalsegno", "tocoda" or "fine", with its target
    """

    forward: set[int] = field(default_factory=set)
    fresh: set[int] = field(default_factory=set)
    backward: dict[int, tuple[int, bool]] = field(default_factory=dict)
    endings: dict[int, Ending] = field(default_factory=dict)  # by first measure
    leaps: dict[int, list[tuple[str, int]]] = field(default_factory=dict)


def read_route(bars: list[Bar], count: int) -> Route:
    """Return the route through `count` measures by the bar lines of all parts; leaps are not yet in it."""
    route = Route()
    last = count - 1
    for bar in bars:
        if bar.final:
            route.fresh.add(bar.measure + 1 if bar.right else bar.measure)
        if bar.repeat == "forward":
            route.forward.add(min(bar.measure + (1 if bar.right else 0), last))
        elif bar.repeat == "backward":
            at = bar.measure if bar.right else bar.measure - 1
            times, after_jump = route.backward.get(at, (0, False))
            if at >= 0:
                route.backward[at] = max(times, bar.times), after_jump or bar.after_jump
    route.endings = read_endings(bars, route, last)
    return route


def read_endings(bars: list[Bar], route: Route, last: int) -> dict[int, Ending]:
    """Return the endings by their first measure, gathered into groups that stand side by side."""
    starts: dict[int, set[int]] = {}
    stops: set[int] = set()
    for bar in bars:
        if bar.ending == "start":
            starts.setdefault(bar.measure if not bar.right else min(bar.measure + 1, last), set()).update(bar.passes)
        elif bar.ending:
            stops.add(bar.measure if bar.right else bar.measure - 1)
    ordered = sorted(stops)
    for stop in sorted(stops & route.backward.keys()):
        before = ordered[bisect_left(ordered, stop) - 1] if stop > ordered[0] else -1
        if not any(first in starts for first in range(before + 1, stop + 1)):
            starts[stop] = set()  # its start is missing: the bracket covers at least its last measure
    firsts, repeats = sorted(starts), sorted(route.backward)
    endings: list[Ending] = []
    for first, following in zip(firsts, [*firsts[1:], last + 1], strict=True) if firsts else ():
        end = next_within(ordered, first, following)
        end = next_within(repeats, first, following) if end < 0 else end
        limit = following - 1
        if limit in route.backward and limit < last and not route.forward & set(range(end + 1, following)):
            end = limit  # a bracket drawn too short: the ending reaches to its repeat, where the next one begins
        endings.append(Ending(first=first, last=max(end, first), passes=starts[first]))
    group: list[Ending] = []
    for ending in endings:
        if group and ending.first != group[-1].last + 1:
            close_group(group, route)
            group = []
        group.append(ending)
    close_group(group, route)
    return {e.first: e for e in endings}


def next_within(places: list[int], first: int, end: int) -> int:
    """Return the first of the ascending places in [first, end), or -1."""
    at = bisect_left(places, first)
    return places[at] if at < len(places) and places[at] < end else -1


def close_group(group: list[Ending], route: Route) -> None:
    """Number the endings that have no number, and say how often the section is played."""
    taken = 0
    for ending in group:
        ending.passes = ending.passes or {taken + 1}
        taken = max(taken, *ending.passes)
    if len(group) == 1 and 1 not in group[0].passes:
        group[0].passes = set()  # "2." without "1.": nothing to choose from
    for ending in group:
        ending.total = taken + (1 if len(group) == 1 and ending.last in route.backward else 0)
    if group:
        group[-1].final = True
