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
MOST_TOGETHER = 100  # grace notes in one chord


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


def draw(slurs: list[Slur], lines: list[Line], family: str) -> None:
    """Mark the notes of all slurs, each in the line where it starts; where it stops elsewhere, that note too."""
    spans: dict[int, list[tuple[int, int]]] = {}
    for slur in slurs:
        line = lines[slur.start.line]
        first = row_of(line, slur.start.unit, slur.start.order)
        if slur.stop.line == slur.start.line:
            last = last_row(line, slur.stop)
        else:
            last = bisect_right(line.offset, slur.stop.unit)
            other = lines[slur.stop.line]
            row = row_of(other, slur.stop.unit, slur.stop.order)
            spans.setdefault(slur.stop.line, []).append((row, min(row + 1, len(other.offset))))
        spans.setdefault(slur.start.line, []).append((first, last))
    for number, found in spans.items():
        apply(lines[number], found, portato=family in PORTATO_FAMILIES)


def last_row(line: Line, stop: End) -> int:
    """Return the row after the last one of a slur: the stop's note with its whole chord."""
    row = row_of(line, stop.unit, stop.order)
    return chord_end(line, row) if row < len(line.offset) else row


def chord_end(line: Line, row: int) -> int:
    """Return the row after the notes that are struck together with `row`."""
    end, count = row + 1, len(line.offset)
    offset, grace = line.offset, line.grace
    if grace[row]:
        while end < count and end - row < MOST_TOGETHER and grace[end] & GRACE_WITH:
            end += 1
        return end
    return end if end == count or offset[end] != offset[row] else bisect_right(offset, offset[row], end)


def apply(line: Line, spans: list[tuple[int, int]], *, portato: bool) -> None:
    """Give the rows in [first, last) of each span their marks; one pass, however many slurs there are.

    Two neighbours are joined when one span holds both and no rest is between them. Two and more dotted
    notes in a row under a slur are portato; a lone dot only shortens its note.
    """
    marks, slur, offset, duration = line.marks, line.slur, line.offset, line.duration
    last = len(offset) - 1
    for begin, end in covered(spans):
        marks[begin:end] = [m | LEGATO for m in marks[begin:end]]
    for begin, end in covered([(first, last - 1) for first, last in spans]):
        row = begin
        while row < end:
            after = row + 1
            here, there = offset[row], offset[after]
            if here != there and (after == last or offset[after + 1] != there):  # single notes, the common case
                if portato and marks[row] & marks[after] & STACCATO:
                    detach(marks, row, after + 1)
                elif there <= here + duration[row]:
                    slur[row] |= SLUR_LEAVES
                    slur[after] |= SLUR_ARRIVES
                row = after
                continue
            after = chord_end(line, row)
            if after > end:
                break
            until = chord_end(line, after) if after < len(offset) else after
            if portato and marks[row] & marks[after] & STACCATO:
                detach(marks, row, until)
            elif offset[after] <= offset[row] + duration[row]:
                slur[row:after] = [s | SLUR_LEAVES for s in slur[row:after]]
                slur[after:until] = [s | SLUR_ARRIVES for s in slur[after:until]]
            row = after
    if portato:
        for begin, end in covered(spans):
            for row in range(begin, end):
                if marks[row] & PORTATO:
                    marks[row] &= ~(STACCATO | LEGATO)


def covered(spans: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return the union of half-open spans as ascending spans that neither overlap nor touch."""
    found: list[tuple[int, int]] = []
    for first, last in sorted(spans):
        if found and first <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], last))
        elif first < last:
            found.append((first, last))
    return found


def detach(marks: list[int], first: int, last: int) -> None:
    for row in range(first, last):
        marks[row] |= PORTATO
