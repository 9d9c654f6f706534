"""A score written out as it is played: no repeats, every measure as often as it sounds."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import replace
from typing import NamedTuple, TypeVar

from rendering.score import SLUR_ARRIVES, SLUR_LEAVES, Hairpin, Level, Line, Measure, Note, Part, Score

T = TypeVar("T")


class Slice(NamedTuple):
    """Written Units [start, stop) that sound `shift` Units later, in a pass."""

    start: int
    stop: int
    shift: int
    number: int


def straight(score: Score) -> Score:
    """Return the score with its measures in the order in which they are played, each written as often as it is."""
    slices = _slices(score)
    measures: list[Measure] = []
    for part, (first, last, _) in zip(slices, score.itinerary, strict=True):
        for m in score.measures[first - 1 : last]:
            measures.append(m._replace(ordinal=len(measures) + 1, start=m.start + part.shift))
    return Score(
        unit=score.unit,
        title=score.title,
        measures=measures,
        itinerary=[(1, len(measures), 1)] if measures else [],
        tempo=_held(score.tempo, slices),
        rehearsal=[(u + s.shift, text) for s in slices for u, text in score.rehearsal if s.start <= u < s.stop],
        unread=[(text, part, u + s.shift, staff) for s in slices for text, part, u, staff in score.unread if s.start <= u < s.stop],
        parts=[_part(part, slices) for part in score.parts],
    )


def _slices(score: Score) -> list[Slice]:
    found: list[Slice] = []
    at = 0
    for first, last, number in score.itinerary:
        start, end = score.measures[first - 1].start, score.measures[last - 1]
        found.append(Slice(start, end.start + end.length, at - start, number))
        at += end.start + end.length - start
    return found


def _held(values: list[tuple[int, int]], slices: list[Slice]) -> list[tuple[int, int]]:
    """Return (Unit, value) of what holds from its place on: at a jump the page's own value comes back."""
    units = [unit for unit, _ in values]
    found: list[tuple[int, int]] = []
    for s in slices:
        i = bisect_right(units, s.start)
        here = [(s.start + s.shift, values[i - 1][1])] if i else []
        here += [(u + s.shift, value) for u, value in values[i:] if u < s.stop]
        if found and here and here[0][1] == found[-1][1]:
            del here[0]
        found += here
    return found


def _part(part: Part, slices: list[Slice]) -> Part:
    sources: dict[tuple[int, int], int] = {}  # (slice, source) -> new source
    lyrics = {text: i for i, text in enumerate(part.lyrics)}
    lines = [Line(line.staff, line.voice) for line in part.lines]
    for n, s in enumerate(slices):
        for old, new in zip(part.lines, lines, strict=True):
            for row in range(bisect_left(old.offset, s.start), bisect_left(old.offset, s.stop)):
                note = old.note(row)
                if s.number not in part.only.get(note.source, (s.number,)):
                    continue
                sources[n, note.source] = len(sources) + 1
                sung = lyrics.setdefault(_verse(part.lyrics[note.lyric], s.number), len(lyrics))
                new.add(_moved(note, s, len(sources))._replace(lyric=sung))
    for line in lines:
        _mend(line)
    return replace(
        part,
        lines=lines,
        transpose=_held(part.transpose, slices),
        levels=sorted(_levels(part.levels, slices, sources), key=_offset),
        hairpins=sorted(_hairpins(part.hairpins, slices)),
        pedals=[
            (max(down, s.start) + s.shift, min(up, s.stop) + s.shift)
            for s in slices for down, up in part.pedals if max(down, s.start) < min(up, s.stop)
        ],
        ornaments=_by_source(part.ornaments, sources),
        strokes=_by_source(part.strokes, sources),
        rolls=_by_source(part.rolls, sources),
        steals=_by_source(part.steals, sources),
        only={},
        lyrics=list(lyrics),
    )  # fmt: skip


def _by_source(values: dict[int, T], sources: dict[tuple[int, int], int]) -> dict[int, T]:
    return {new: values[old] for (_, old), new in sources.items() if old in values}


def _verse(text: str, number: int) -> str:
    """Return what a pass sings: its own verse, if there are several."""
    verses = text.split("\n")
    return verses[number - 1] if len(verses) > 1 and number <= len(verses) else text


def _moved(note: Note, s: Slice, source: int) -> Note:
    return note._replace(offset=note.offset + s.shift, duration=min(note.duration, s.stop - note.offset), source=source)


def _mend(line: Line) -> None:
    """Take away the slurs that lead over a jump to no note, or come from none."""
    rows = range(len(line))
    arrived = {line.offset[row] for row in rows if line.slur[row] & SLUR_ARRIVES}
    left = {line.offset[row] + line.duration[row] for row in rows if line.slur[row] & SLUR_LEAVES}
    for row in rows:
        if line.slur[row] & SLUR_LEAVES and line.offset[row] + line.duration[row] not in arrived:
            line.slur[row] &= ~SLUR_LEAVES
        if line.slur[row] & SLUR_ARRIVES and line.offset[row] not in left:
            line.slur[row] &= ~SLUR_ARRIVES


def _offset(level: Level) -> tuple[int, int]:
    return level.offset, (level.staff > 0) + 2 * (level.voice != "") + 4 * (level.source > 0)


def _levels(levels: list[Level], slices: list[Slice], sources: dict[tuple[int, int], int]) -> Iterable[Level]:
    for n, s in enumerate(slices):
        held: dict[tuple[int, str], Level] = {}
        for level in levels:
            if level.kind in {"mark", "sound"} and level.offset < s.start:
                if (level.staff, level.voice) == (0, ""):
                    held.clear()
                held[level.staff, level.voice] = level
            elif s.start <= level.offset < s.stop:
                source = sources.get((n, level.source), 0)
                yield level._replace(offset=level.offset + s.shift, source=source)
        here = {(v.staff, v.voice) for v in levels if v.offset == s.start and v.kind in {"mark", "sound"}}
        if n:
            yield from (v._replace(offset=s.start + s.shift) for name, v in held.items() if not here & {name, (0, "")})


def _hairpins(hairpins: list[Hairpin], slices: list[Slice]) -> Iterable[Hairpin]:
    for s in slices:
        for pin in hairpins:
            if s.start <= pin.start < s.stop:
                yield pin._replace(start=pin.start + s.shift, stop=min(pin.stop, s.stop) + s.shift)
