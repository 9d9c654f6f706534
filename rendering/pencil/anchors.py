"""From anchors to notes of a score, and back."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from fractions import Fraction
from typing import NamedTuple

from rendering.pencil.document import Anchor, Item, Until
from rendering.score import GRACE_WITH, Line, Measure, Part, Score


class Spot(NamedTuple):
    """One note: index of its line in the part, row in the line."""

    line: int
    row: int


class Reach(NamedTuple):
    """What an item holds: part, first and last Unit, and the notes, in the order of lines and time."""

    part: Part
    start: int
    stop: int
    spots: list[Spot]


def part_of(score: Score, name: str) -> Part | None:
    """Return the part with this id; None where there is none."""
    return next((part for part in score.parts if part.id == name), None)


def unit_at(score: Score, ordinal: int, beat: str) -> int | None:
    """Return the Unit of a beat in a measure; None where the measure is missing, shorter, or the beat between Units."""
    if not 1 <= ordinal <= len(score.measures):
        return None
    measure = score.measures[ordinal - 1]
    offset = (Fraction(beat) - 1) * 4 * score.unit / (measure.meter[1] or 4)
    if offset.denominator != 1 or not (offset < measure.length or offset == measure.length == 0):
        return None
    return measure.start + int(offset)


def place_in(score: Score, unit: int) -> Until:
    """Return measure and beat of a Unit."""
    measure = score.measures[max(bisect_right(score.measures, unit, key=_start) - 1, 0)]
    beat = 1 + Fraction((unit - measure.start) * (measure.meter[1] or 4), 4 * score.unit)
    return Until(ordinal=measure.ordinal, beat=str(beat))


def _start(measure: Measure) -> int:
    return measure.start


def reach_of(score: Score, item: Item) -> Reach | None:
    """Return what an item holds in a score; None where part or place are missing.

    Without `until` the notes at its place, with it all notes from there to those that begin at its end.
    """
    part, start = part_of(score, item.at.part), unit_at(score, item.at.ordinal, item.at.beat)
    stop = start if item.until is None else unit_at(score, item.until.ordinal, item.until.beat)
    if part is None or start is None or stop is None:
        return None
    if item.until is not None:
        return Reach(part, start, stop, _spots(part, item.at, start, stop))
    chord = chord_at(part, item.at, start)
    return Reach(part, start, stop, chord if item.at.chord is None else chord[item.at.chord - 1 : item.at.chord])


def lines_of(part: Part, at: Anchor) -> list[int]:
    """Return the lines that an anchor names."""
    return [
        i for i, line in enumerate(part.lines)
        if at.staff in {None, line.staff} and at.voice in {None, line.voice}
    ]  # fmt: skip


def rows_between(line: Line, start: int, stop: int) -> range:
    """Return the rows of the notes that begin at `start`, at `stop` or between them."""
    return range(bisect_left(line.offset, start), bisect_right(line.offset, stop))


def _spots(part: Part, at: Anchor, start: int, stop: int) -> list[Spot]:
    return [Spot(i, row) for i in lines_of(part, at) for row in rows_between(part.lines[i], start, stop)]


def chord_at(part: Part, at: Anchor, unit: int) -> list[Spot]:
    """Return the notes at one place, lowest first: grace notes only, and then those of one number, where the anchor says so."""
    spots = _spots(part, at, unit, unit)
    if at.grace is None:
        found = [spot for spot in spots if not part.lines[spot.line].grace[spot.row]]
    else:
        found = [spot for i in lines_of(part, at) for spot in _grace(part.lines[i], spots, i, at.grace)]
    return sorted(found, key=lambda spot: (part.lines[spot.line].key[spot.row], spot))


def _grace(line: Line, spots: list[Spot], index: int, number: int) -> list[Spot]:
    """Return the n-th grace note of a line at a place, with those that are struck with it."""
    found: list[Spot] = []
    count = 0
    for spot in spots:
        if spot.line == index and line.grace[spot.row]:
            count += not line.grace[spot.row] & GRACE_WITH or count == 0
            found += [spot] if count == number else []
    return found
