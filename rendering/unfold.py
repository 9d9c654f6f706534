"""The order in which measures are played: repeats, endings, da capo, dal segno, coda, fine.

What one part says holds for all. Odd navigation never fails a file: what makes no sense is played
straight, with a problem.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, field, replace

from rendering.places import place_at
from rendering.problems import Problem, Refused, problem
from rendering.readers.asread import Bar, ScoreAsRead
from rendering.readers.limits import Limits
from rendering.score import Score


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


def unfold(score: Score, as_read: ScoreAsRead, limits: Limits | None = None) -> list[Problem]:
    """Fill the itinerary of `score` and return problems; Refused when more measures would be played than allowed."""
    most = (limits or Limits()).played
    count = len(score.measures)
    route, problems = read_route(as_read, score)
    walk = Walk(route, count, most)
    if not walk.run():
        problems.append(problem("endings-make-no-sense"))
        walk = Walk(replace(route, endings={}), count, most)
        if not walk.run():
            problems.append(problem("repeats-make-no-sense"))
            walk = Walk(Route(), count, most)
            walk.run()
    score.itinerary = walk.slices
    return problems


def read_route(as_read: ScoreAsRead, score: Score) -> tuple[Route, list[Problem]]:
    """Return the route, from the bar lines and signs of all parts."""
    route = Route()
    last = len(score.measures) - 1
    for bar in as_read.bars:
        if bar.final:
            route.fresh.add(bar.measure + 1)
        if bar.repeat == "forward":
            route.forward.add(min(bar.measure + (1 if bar.right else 0), last))
        elif bar.repeat == "backward":
            at = bar.measure if bar.right else bar.measure - 1
            times, after_jump = route.backward.get(at, (0, False))
            if at >= 0:
                route.backward[at] = max(times, bar.times), after_jump or bar.after_jump
    route.endings = read_endings(as_read.bars, route, last)
    return route, read_leaps(as_read, score, route)


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


def read_leaps(as_read: ScoreAsRead, score: Score, route: Route) -> list[Problem]:
    """Fill the route's leaps from the sound elements of all parts; return those that lead nowhere."""
    targets: dict[tuple[str, str], int] = {}
    found: dict[tuple[str, int], str] = {}
    for part in as_read.parts:
        for sign in part.signs:
            if sign.kind != "jump" or sign.measure >= len(score.measures):
                continue
            if sign.text in {"segno", "coda"}:
                late = 2 * sign.offset > score.measures[sign.measure].length
                targets.setdefault((sign.text, sign.number), min(sign.measure + late, len(score.measures) - 1))
            elif sign.text != "forward-repeat":
                found.setdefault((sign.text, sign.measure), sign.number)
    alone: dict[str, list[int]] = {"segno": [], "coda": []}
    for (name, _), measure in targets.items():
        alone[name].append(measure)
    problems = []
    for (kind, measure), number in sorted(found.items()):
        name = {"dalsegno": "segno", "tocoda": "coda"}.get(kind, "")
        target = 0
        if name:
            target = targets.get((name, number), alone[name][0] if len(alone[name]) == 1 else -1)
        if target < 0:
            problems.append(problem("jump-without-target", place_at(score, "", score.measures[measure].start), kind=name))
        else:
            route.leaps.setdefault(measure, []).append((kind, target))
    return problems


class Walk:
    """One playing of the route, measure by measure.

    frames   (first measure, playing) of the sections that the walk is inside, innermost last
    jumped   a da capo or dal segno has been taken: from then on repeats are not, codas and fine are
    """

    def __init__(self, route: Route, count: int, most: int) -> None:
        self.route: Route = route
        self.ends: dict[int, Ending] = {e.last: e for e in route.endings.values()}
        self.inside: dict[int, Ending] = {m: e for e in route.endings.values() for m in range(e.first, e.last + 1)}
        self.count: int = count
        self.most: int = most
        self.frames: list[list[int]] = [[0, 1]]
        self.jumped: bool = False
        self.taken: set[tuple[int, str]] = set()
        self.played: dict[int, int] = {}
        self.slices: list[tuple[int, int, int]] = []
        self.length: int = 0

    def run(self) -> bool:
        """Fill `slices`: (first ordinal, last ordinal, pass) in played order; say whether every measure is played."""
        at = 0
        while 0 <= at < self.count:
            at = self.step(at)
        return len(self.played) == self.count

    def step(self, at: int) -> int:
        """Play the measure `at`, or skip the ending that begins there; return where to go on; -1 = the end."""
        route = self.route
        if at in route.fresh and at != self.frames[-1][0]:
            self.frames = [[at, 1]]
        ending = route.endings.get(at)
        if ending is not None and at != self.frames[-1][0]:
            wanted = self.wanted(ending)
            if ending.final and (not wanted or at in route.forward):
                self.leave(ending.last if not wanted else at - 1)
            if not wanted:
                return ending.last + 1
        if at in route.forward and at != self.frames[-1][0]:
            self.frames.append([at, 1])
        self.play(at)
        inside = self.ends.get(at)
        if at in route.backward and self.again(at):
            self.frames[-1][1] += 1
            return self.frames[-1][0]
        if inside.final and inside.first != self.frames[-1][0] if inside is not None else at in route.backward:
            self.leave(at)
        return self.leap(at)

    def wanted(self, ending: Ending) -> bool:
        if self.jumped:
            return ending.final
        return not ending.passes or self.frames[-1][1] in ending.passes

    def again(self, at: int) -> bool:
        """Say whether the repeat after measure `at` is taken now."""
        times, after_jump = self.route.backward[at]
        if self.jumped and not after_jump:
            return False
        ending = self.inside.get(at)
        total = max(ending.total, times) if ending is not None else times or 2
        return self.frames[-1][1] < total

    def leave(self, at: int) -> None:
        """The section is over; one without a forward repeat begins where the last one ended."""
        if len(self.frames) > 1:
            self.frames.pop()
        if len(self.frames) == 1:
            self.frames[0] = [at + 1, 1]

    def leap(self, at: int) -> int:
        """Return where to go after measure `at` has been played for good."""
        for kind, target in self.route.leaps.get(at, ()):
            if (kind in {"fine", "tocoda"} and not self.jumped) or (at, kind) in self.taken:
                continue
            if kind == "fine":
                return -1
            self.taken.add((at, kind))
            self.frames = [[target, 1]]
            self.jumped = self.jumped or kind != "tocoda"
            return target
        return at + 1

    def play(self, at: int) -> None:
        self.length += 1
        if self.length > self.most:
            raise Refused([problem("too-many-measures-played", most=self.most)])
        number = self.played.get(at, 0) + 1
        self.played[at] = number
        if not self.jumped:
            number = self.frames[-1][1]
        if self.slices and self.slices[-1][1] == at and self.slices[-1][2] == number:
            self.slices[-1] = (self.slices[-1][0], at + 1, number)
        else:
            self.slices.append((at + 1, at + 1, number))
