"""Dynamics of a part as a curve over written time.

A level is whole thousandths, 0-1000. The steps between neighbouring dynamics are an eighth
(this project's choice): ppp 125, pp 250, p 375, mp 500, mf 625, f 750, ff 875, fff 1000.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from rendering.problems import Problem, problem
from rendering.score import Hairpin, Level
from rendering.timeline import half_up

P, MF, F, FULL = 375, 625, 750, 1000
STEP = 125  # between neighbouring dynamics; what a hairpin without a goal gains or loses
SOFTEST = 63


class Curve:
    """A level over written Units: piecewise linear, from segment to segment.

    Segment i reaches from `at[i]` to `at[i + 1]` (the last one for ever) and goes from `first[i]` to
    `last[i]`; only ramps have `first != last`. `ramps` holds (start, stop, first, last) of those.
    """

    __slots__ = ("at", "first", "last", "ramps")

    def __init__(self) -> None:
        self.at: list[int] = [0]
        self.first: list[int] = [MF]
        self.last: list[int] = [MF]
        self.ramps: list[tuple[int, int, int, int]] = []

    def step(self, unit: int, level: int) -> None:
        """Jump to `level` at `unit`."""
        if unit == self.at[-1]:
            self.first[-1] = self.last[-1] = level
        else:
            self.at.append(unit)
            self.first.append(level)
            self.last.append(level)

    def ramp(self, start: int, stop: int, goal: int) -> None:
        """Go from the level in force at `start` to `goal` at `stop`."""
        level = self.last[-1]
        self.step(start, level)
        self.last[-1] = goal
        self.ramps.append((start, stop, level, goal))
        self.at.append(stop)
        self.first.append(goal)
        self.last.append(goal)

    def value(self, unit: int) -> int:
        """Return the level at a written position."""
        return self.inside(bisect_right(self.at, unit) - 1, unit)

    def inside(self, i: int, unit: int) -> int:
        """Return the level at `unit`, which lies in segment `i`."""
        first, last = self.first[i], self.last[i]
        if first == last:
            return first
        start = self.at[i]
        return first + half_up((last - first) * (unit - start), self.at[i + 1] - start)


def curve_for(
    staff: int, voice: str, levels: Sequence[Level], hairpins: Sequence[Hairpin], beat: int
) -> tuple[Curve, list[tuple[Problem, int]]]:
    """Return the curve of one line and problems with their Units.

    `beat` (Units) is how far after a hairpin's end a dynamic still counts as its goal.
    """
    mine = [v for v in levels if v.kind in {"mark", "sound", "attack"} and _applies(v, staff, voice)]
    said = {v.offset for v in mine if v.kind != "attack"}
    # What is struck holds for its own note only: what follows is written beside it, else it is p.
    states = [(v.offset, P if v.kind == "attack" else v.level) for v in mine if v.kind != "attack" or v.offset not in said]
    pins = [h for h in hairpins if _applies(h, staff, voice)]
    curve, found = Curve(), []
    at = 0
    for n, pin in enumerate(pins):
        while at < len(states) and states[at][0] <= pin.start:
            curve.step(*states[at])
            at += 1
        stop = min([pin.stop, *(h.start for h in pins[n + 1 : n + 2]), *(u for u, _ in states[at : at + 1])])
        if stop <= pin.start or pin.start < curve.at[-1]:
            continue
        goal = _goal(curve.last[-1], pin, states[at : at + 1], beat)
        if goal is None:
            goal = min(max(curve.last[-1] + pin.direction * STEP, STEP), FULL)
            if not _contrary(states[at : at + 1], pin, beat):
                found.append((problem("hairpin-without-goal"), pin.start))
        curve.ramp(pin.start, stop, goal)
    for unit, level in states[at:]:
        curve.step(unit, level)
    return curve, found


def _applies(thing: Level | Hairpin, staff: int, voice: str) -> bool:
    return (thing.staff in {0, staff}) and (thing.voice in {"", voice})


def _goal(level: int, pin: Hairpin, following: list[tuple[int, int]], beat: int) -> int | None:
    """The dynamic that a hairpin leads to, if one follows in its direction within a beat."""
    if pin.niente and pin.direction < 0:
        return 0
    if following and following[0][0] <= pin.stop + beat and (following[0][1] - level) * pin.direction > 0:
        return following[0][1]
    return None


def _contrary(following: list[tuple[int, int]], pin: Hairpin, beat: int) -> bool:
    return bool(following) and following[0][0] <= pin.stop + beat
