"""Slurs: the mark legato on all their notes, and which note is joined to the next."""

from __future__ import annotations

from bisect import bisect_right
from typing import NamedTuple

from rendering.annotate.lines import row_of
from rendering.marks import BIT
from rendering.readers.asread import LineAsRead
from rendering.score import GRACE_WITH, SLUR_ARRIVES, SLUR_LEAVES, Line

LEGATO, STACCATO, PORTATO = 1 << BIT["legato"], 1 << BIT["staccato"], 1 << BIT["portato"]
# Where dots under a slur mean portato (one bow, one breath); elsewhere they are two marks.
PORTATO_FAMILIES = frozenset({"strings", "woodwind", "brass", "voice"})


class End(NamedTuple):
    """One end of a slur: 1 = it starts, -1 = it stops; order counts notes in document order."""

    order: int
    kind: int
    number: str
    unit: int
    line: int  # index into the part's lines


class Slur(NamedTuple):
    start: End
    stop: End


def ends_of(read: list[LineAsRead], units: list[list[int]]) -> list[End]:
    """Return the ends of all slurs of a part in document order; `units` are the lines' offsets row by row."""
    found = [
        End(order, kind, number, units[i][row], i)
        for i, line in enumerate(read)
        for row, kind, number, order in line.slurs
    ]  # fmt: skip
    found.sort(key=_order)
    return found


def _order(end: End) -> tuple[int, int]:
    return end.order, end.kind


def pair(ends: list[End]) -> tuple[list[Slur], list[End]]:
    """Return the slurs, and the ends that found no partner.

    A stop belongs to the open start of its number, best in its own line. Where voices are written one after
    the other, a stop may come before its start: it waits for one that is earlier in time.
    """
    slurs: list[Slur] = []
    opened: dict[str, dict[int, End]] = {}  # number -> line -> start
    early: dict[str, End] = {}
    lost: list[End] = []
    for end in ends:
        starts = opened.setdefault(end.number, {})
        if end.kind < 0:
            start = matching(starts, end)
            if start is not None:
                del starts[start.line]
                slurs.append(Slur(start, end))
            else:
                lost += [early[end.number]] if end.number in early else []
                early[end.number] = end
            continue
        stop = early.get(end.number)
        if stop is not None and stop.unit > end.unit and stop.line != end.line:
            slurs.append(Slur(end, early.pop(end.number)))
        else:
            lost += [starts[end.line]] if end.line in starts else []
            starts[end.line] = end
    lost += [start for starts in opened.values() for start in starts.values()]
    return slurs, sorted([*lost, *early.values()], key=_order)


def matching(starts: dict[int, End], stop: End) -> End | None:
    """Return the open start that a stop ends: its own line's, else the last one before it."""
    own = starts.get(stop.line)
    if own is not None or not starts:
        return own
    return max((e for e in starts.values() if e.unit <= stop.unit), key=_order, default=None)


def draw(slur: Slur, lines: list[Line], family: str) -> None:
    """Mark the notes of a slur, in the line where it starts; where it stops elsewhere, that note too."""
    line = lines[slur.start.line]
    first = row_of(line, slur.start.unit, slur.start.order)
    last = last_row(line, slur) if slur.stop.line == slur.start.line else bisect_right(line.offset, slur.stop.unit)
    if slur.stop.line != slur.start.line:
        other = lines[slur.stop.line]
        row = row_of(other, slur.stop.unit, slur.stop.order)
        if row < len(other.marks):
            other.marks[row] |= LEGATO
    marks = line.marks
    for row in range(first, last):
        marks[row] |= LEGATO
    join(line, first, last)
    if family in PORTATO_FAMILIES:
        detach(line, first, last)


def last_row(line: Line, slur: Slur) -> int:
    """Return the row after the last one of a slur: the stop's note with its whole chord."""
    row = row_of(line, slur.stop.unit, slur.stop.order)
    if row >= len(line.offset):
        return row
    grace = line.grace[row]
    row += 1
    while row < len(line.offset) and line.offset[row] == slur.stop.unit:
        if line.grace[row] & GRACE_WITH if grace else not line.grace[row]:
            row += 1
        else:
            break
    return row


def join(line: Line, first: int, last: int) -> None:
    """Join each note (or chord) of rows [first, last) to the next one that follows without a rest."""
    offset, duration, slur = line.offset, line.duration, line.slur
    begin = first
    while begin < last:
        end = chord_end(line, begin, last)
        if end < last and offset[end] <= offset[begin] + duration[begin]:
            after = chord_end(line, end, last)
            for row in range(begin, end):
                slur[row] |= SLUR_LEAVES
            for row in range(end, after):
                slur[row] |= SLUR_ARRIVES
        begin = end


def chord_end(line: Line, row: int, last: int) -> int:
    """Return the row after the notes that are struck together with `row`."""
    end = row + 1
    offset, grace = line.offset, line.grace
    if grace[row]:
        while end < last and grace[end] & GRACE_WITH:
            end += 1
    else:
        while end < last and offset[end] == offset[row] and not grace[end]:
            end += 1
    return end


def detach(line: Line, first: int, last: int) -> None:
    """Two and more dotted notes in a row under a slur are portato; a lone dot only shortens its note."""
    marks, slur = line.marks, line.slur
    begin = first
    while begin < last:
        end = chord_end(line, begin, last)
        if end < last and marks[begin] & marks[end] & STACCATO:
            after = chord_end(line, end, last)
            for row in range(begin, after):
                marks[row] = marks[row] & ~LEGATO | PORTATO
            for row in range(begin, end):
                slur[row] &= ~SLUR_LEAVES
            for row in range(end, after):
                slur[row] &= ~SLUR_ARRIVES
        begin = end
    for row in range(first, last):
        if marks[row] & PORTATO and marks[row] & STACCATO:
            marks[row] &= ~STACCATO
