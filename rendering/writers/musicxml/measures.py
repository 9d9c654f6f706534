"""One measure of one part: its attributes, then voice by voice its notes, with what stands beside them."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import gcd
from typing import NamedTuple

from lxml import etree
from lxml.etree import _Element

from rendering.score import Measure
from rendering.writers.musicxml.directions import Direction, add_direction
from rendering.writers.musicxml.layout import Layer, Segment
from rendering.writers.musicxml.notes import Bracket, NoteWriter, add_rest
from rendering.writers.musicxml.values import Value, values_of


class Rest(NamedTuple):
    """A gap of a voice: a written rest, or only room (`hidden`)."""

    start: int
    value: Value
    hidden: bool


Piece = Segment | Rest


@dataclass(slots=True, kw_only=True)
class Walk:
    """What is written into a measure from one place on: voice and staff, pieces in order."""

    layer: Layer | None
    voice: str
    staff: int
    pieces: list[Piece]
    whole: bool  # one rest of the whole measure


class MeasureWriter:
    """Writes the measures of one part, each as a list of walks."""

    def __init__(self, notes: NoteWriter, unit: int, staves: int) -> None:
        self.notes: NoteWriter = notes
        self.unit: int = unit
        self.staves: int = staves

    def walks(self, index: int, measure: Measure, layers: list[Layer]) -> list[Walk]:
        """Return what stands in a measure: every layer with notes there, and a rest for a staff without any."""
        found: list[Walk] = []
        part = self.notes.part
        for staff in range(1, self.staves + 1):
            mine = [layer for layer in layers if part.lines[layer.line].staff == staff]
            present = [layer for layer in mine if index in layer.measures]
            for layer in present:
                line = part.lines[layer.line]
                shown = layer.number == 0
                pieces = self.filled(layer.measures[index], measure, shown)
                found.append(Walk(layer=layer, voice=line.voice, staff=staff, pieces=pieces, whole=False))
            if not present:
                voice = part.lines[mine[0].line].voice if mine else str(4 * staff - 3)
                rest = Rest(measure.start, Value(measure.length, "whole", 0), hidden=False)
                found.append(Walk(layer=None, voice=voice, staff=staff, pieces=[rest], whole=True))
        return found

    def filled(self, segments: list[Segment], measure: Measure, shown: bool) -> list[Piece]:
        """Return the segments of a layer with its gaps filled, up to the end of the measure."""
        found: list[Piece] = []
        now = measure.start
        for segment in segments:
            found += self.gap(now, segment.start, measure, shown)
            found.append(segment)
            now = segment.stop
        return [*found, *self.gap(now, measure.start + measure.length, measure, shown)]

    def gap(self, start: int, stop: int, measure: Measure, shown: bool) -> list[Piece]:
        """Return rests from `start` to `stop`; room alone where nobody would write them."""
        if stop <= start:
            return []
        values = values_of(start - measure.start, stop - start, self.unit)
        if not shown or any(value.odd for value in values):
            return [Rest(start, Value(stop - start, "", 0), hidden=True)]
        found: list[Piece] = []
        for value in values:
            found.append(Rest(start, value, hidden=False))
            start += value.length
        return found

    def write(self, element: _Element, measure: Measure, walks: list[Walk], directions: list[Direction]) -> None:
        """Append the walks to the measure's element; directions go with the first one."""
        reached = 0
        for n, walk in enumerate(walks):
            self.jump(element, "backup", reached)
            self.write_walk(element, walk, directions if n == 0 else [])
            reached = _stop(walk.pieces[-1]) - measure.start if walk.pieces else 0

    def write_walk(self, element: _Element, walk: Walk, directions: list[Direction]) -> None:
        waiting = list(reversed(directions))
        now = 0
        for piece, bracket in zip(walk.pieces, _brackets(walk.pieces, self.unit), strict=True):
            now = _stop(piece)
            while waiting and (waiting[-1].unit < now or waiting[-1].unit <= piece.start):
                direction = waiting.pop()
                add_direction(element, direction, direction.unit - piece.start, self.staves)
            self.write_piece(element, walk, piece, bracket)
        while waiting:
            direction = waiting.pop()
            add_direction(element, direction, direction.unit - now, self.staves)

    def write_piece(self, element: _Element, walk: Walk, piece: Piece, bracket: Bracket) -> None:
        if isinstance(piece, Segment):
            if walk.layer is not None:
                self.notes.write(element, walk.layer, piece, bracket)
        elif piece.hidden:
            self.jump(element, "forward", piece.value.length)
        else:
            staff = walk.staff if self.staves > 1 else 0
            add_rest(element, piece.value, walk.voice, staff, bracket, whole=walk.whole)

    def jump(self, element: _Element, tag: str, length: int) -> None:
        """Append a backup or forward of so many Units."""
        if length:
            etree.SubElement(etree.SubElement(element, tag), "duration").text = str(length)


def _stop(piece: Piece) -> int:
    return piece.stop if isinstance(piece, Segment) else piece.start + piece.value.length


def _brackets(pieces: list[Piece], unit: int) -> list[Bracket]:
    """Return for each piece whether a tuplet starts and whether one stops with it.

    A tuplet goes on until its notes fill a length without its number, or another one begins.
    """
    following: list[tuple[int, int] | None] = []  # of each piece, the tuplet of the next one that lasts
    after: tuple[int, int] | None = None
    for piece in reversed(pieces):
        following.append(after)
        after = _ratio(piece) if _stop(piece) > piece.start else after
    found: list[Bracket] = []
    filled = Fraction(0)
    inside = False
    for piece, ratio_after in zip(pieces, reversed(following), strict=True):
        ratio = _ratio(piece)
        if ratio is None:
            found.append((False, False))
            continue
        length = Fraction(_stop(piece) - piece.start, unit)
        filled = filled + length if inside else length
        stops = ratio_after != ratio or _is_odd(piece) or gcd(filled.denominator, ratio[0]) == 1
        found.append((not inside, stops))
        inside = not stops
    return found


def _is_odd(piece: Piece) -> bool:
    return piece.value is not None and piece.value.odd


def _ratio(piece: Piece) -> tuple[int, int] | None:
    """Return the tuplet of a piece; None for none."""
    value = piece.value
    if value is None or value.actual == value.normal or (isinstance(piece, Rest) and piece.hidden):
        return None
    return value.actual, value.normal
