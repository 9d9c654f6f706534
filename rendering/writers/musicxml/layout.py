"""Lines as what stands on the page: chords with their grace notes, in layers without overlaps, parted at bar lines and into values."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from rendering.score import GRACE_WITH, Line, Measure
from rendering.writers.musicxml.values import Value, values_of


class Chord(NamedTuple):
    """Notes struck together for one length, as rows of their line; `graces` are the chords of grace notes before it.

    `rows` is empty where grace notes stand before no note of the line.
    """

    offset: int
    duration: int
    rows: list[int]
    graces: list[list[int]]


class Segment(NamedTuple):
    """One written value of a chord at `start`; a chord has one, or several that are tied. `value` None = grace notes alone."""

    start: int
    value: Value | None
    chord: Chord
    first: bool
    last: bool

    @property
    def stop(self) -> int:
        """Where it ends."""
        return self.start + (self.value.length if self.value else 0)


@dataclass(slots=True, kw_only=True)
class Layer:
    """What one walk through a measure writes: notes of one line that do not overlap; measure (index) -> segments."""

    line: int
    number: int
    measures: dict[int, list[Segment]] = field(default_factory=dict)


def layers_of(number: int, line: Line, own: list[int], measures: list[Measure], unit: int) -> list[Layer]:
    """Return the layers of a line, its index `number`; `own` are the marks that are written at each row."""
    layers: list[Layer] = []
    ends: list[int] = []
    starts = [m.start for m in measures]
    for chord in chords_of(line, own):
        layer = next((i for i, end in enumerate(ends) if end <= chord.offset), len(layers))
        if layer == len(layers):
            layers.append(Layer(line=number, number=layer))
            ends.append(0)
        ends[layer] = chord.offset + chord.duration
        for index, segment in segments_of(chord, measures, starts, unit):
            layers[layer].measures.setdefault(index, []).append(segment)
    return layers


def chords_of(line: Line, own: list[int]) -> list[Chord]:
    """Return the chords of a line in the order of time; notes of one chord have length and written marks in common."""
    found: list[Chord] = []
    graces: list[list[int]] = []
    here: dict[tuple[int, int], Chord] = {}  # (length, marks) -> the chord at this place
    at = -1
    for row, offset in enumerate(line.offset):
        if offset != at:
            _leave(found, graces, at)
            at, graces, here = offset, [], {}
        if line.grace[row]:
            if graces and line.grace[row] & GRACE_WITH:
                graces[-1].append(row)
            else:
                graces.append([row])
            continue
        name = (line.duration[row], own[row])
        if name in here:
            here[name].rows.append(row)
        else:
            here[name] = Chord(offset, line.duration[row], [row], graces)
            found.append(here[name])
            graces = []
    _leave(found, graces, at)
    return found


def _leave(found: list[Chord], graces: list[list[int]], at: int) -> None:
    """Grace notes that no note of their line follows at their place stand by themselves."""
    if graces:
        found.append(Chord(at, 0, [], graces))


def segments_of(chord: Chord, measures: list[Measure], starts: list[int], unit: int) -> Iterator[tuple[int, Segment]]:
    """Yield (index of the measure, segment) of a chord, in order."""
    start, end = chord.offset, chord.offset + chord.duration
    index = max(bisect_right(starts, start) - 1, 0)
    if not chord.duration:
        yield index, Segment(start, None, chord, first=True, last=True)
        return
    while start < end:
        last = index == len(measures) - 1
        stop = end if last else min(end, starts[index + 1])
        for value in values_of(start - starts[index], stop - start, unit):
            yield index, Segment(start, value, chord, first=start == chord.offset, last=start + value.length == end)
            start += value.length
        index += 1
