"""What bends time for all parts together: fermatas, caesuras, swing – as stretches of the tempo map.

A stretch is (start, stop, numerator, denominator): between two Units time goes on so many times as long.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from heapq import heappop, heappush
from itertools import pairwise

from rendering.annotate.pace_words import CAESURA, FERMATA, FERMATAS, SWING, read_pace
from rendering.annotate.placing import Placed
from rendering.marks import BIT
from rendering.readers.numbers import rounded
from rendering.score import Line
from rendering.timeline import half_up

Stretch = tuple[int, int, int, int]
MOST_SWUNG = 20_000  # beats
PAUSE = 1 << BIT["caesura"]


def fermatas(parts: Sequence[list[Placed]], unit: int) -> list[Stretch]:
    """Return the stretches of all fermatas; of those that end together the shortest note says from where it holds."""
    found: dict[int, tuple[int, int]] = {}  # end -> (start, times in thousandths)
    for placed in parts:
        for at, _, _, sign in placed:
            if sign.kind != "fermata":
                continue
            length = rounded(Fraction(sign.number or "1") * unit) or unit
            start, times = found.get(at + length, (at, 0))
            found[at + length] = (max(start, at), max(times, FERMATAS.get(sign.text, FERMATA)))
    return [(start, end, times, 1000) for end, (start, times) in found.items()]


def cut_of(duration: int, unit: int) -> int:
    """Return the Units that a breath or caesura takes from the end of its note: a quarter of it, at most an eighth."""
    return min(duration // 4, unit // 2)


def caesuras(lines: Sequence[Line], unit: int) -> list[Stretch]:
    """Return the stretches of all caesuras: the end of the note before one, which is silent, lasts a beat longer."""
    found: dict[int, Stretch] = {}
    for line in lines:
        for row, marks in enumerate(line.marks):
            if marks & PAUSE and line.duration[row] >= 8:
                end = line.offset[row] + line.duration[row]
                cut = cut_of(line.duration[row], unit)
                found[end] = (end - cut, end, cut + half_up(CAESURA * unit, 1000), cut)
    return list(found.values())


def longest(stretches: Sequence[Stretch]) -> list[Stretch]:
    """Return the stretches without overlap, ascending: where several hold, the longest does."""
    points = sorted({p for s in stretches for p in s[:2]})
    waiting = sorted(stretches, reverse=True)
    running: list[tuple[Fraction, int]] = []  # (minus the times, end)
    found: list[Stretch] = []
    for start, stop in pairwise(points):
        while waiting and waiting[-1][0] <= start:
            _, end, more, by = waiting.pop()
            heappush(running, (Fraction(-more, by), end))
        while running and running[0][1] <= start:
            heappop(running)
        if running:
            times = -running[0][0]
            found.append((start, stop, times.numerator, times.denominator))
    return found


def swings(parts: Sequence[list[Placed]], unit: int, end: int) -> list[Stretch]:
    """Return two stretches for each pair of swung notes, from each swing to the next instruction about it."""
    told: dict[int, tuple[int, int, int]] = {}  # Unit -> (first, second, length of the pair); second 0 = straight
    for placed in parts:
        for at, _, _, sign in placed:
            if sign.kind == "swing":
                first, second = map(int, sign.number.split(":"))
                told[at] = first, second, sign.value * unit // 1000
            elif sign.kind == "words":
                for pace in read_pace(sign.text):
                    if pace.kind in {"swing", "straight"}:
                        told.setdefault(at, (*SWING, unit) if pace.kind == "swing" else (1, 0, unit))
    return list(_swung(told, end))


def _swung(told: dict[int, tuple[int, int, int]], end: int) -> Iterator[Stretch]:
    left = MOST_SWUNG
    for begin, stop in pairwise([*sorted(told), end]):
        first, second, pair = told[begin]
        at, half = begin, pair // 2
        while second and half and at + pair <= stop and left:
            yield at, at + half, 2 * first, first + second
            yield at + half, at + pair, 2 * second, first + second
            at, left = at + pair, left - 1
