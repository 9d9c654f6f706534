"""Where in a score a Unit or a note is: measure, beat, staff, voice; reckoned only when someone asks."""

from __future__ import annotations

from bisect import bisect_right
from fractions import Fraction

from rendering.problems import Place
from rendering.score import Line, Measure, Part, Score


def place_at(score: Score, part: str, unit: int, staff: int = 0, *, note: int = 0, voice: str = "") -> Place:
    """Return the place of a Unit; `part` is a part's id, "" for none. Units past the end: the last measure."""
    name = next((p.name for p in score.parts if p.id == part), "")
    if not score.measures:
        return Place(part=part, part_name=name, staff=staff, voice=voice, note=note)
    measure = score.measures[max(bisect_right(score.measures, unit, key=_start) - 1, 0)]
    return Place(
        part=part,
        part_name=name,
        measure=measure.number,
        ordinal=measure.ordinal,
        beat=beat_text(unit - measure.start, score.unit, measure.meter),
        staff=staff,
        voice=voice,
        note=note,
    )


def place_of(score: Score, part: str, source: int) -> Place:
    """Return the place of a note by its ordinal in its part; without measure where no line has that note."""
    found = next((p for p in score.parts if p.id == part), None)
    for line in found.lines if found is not None else ():
        if source in line.source:
            unit = line.offset[line.source.index(source)]
            several = found is not None and len({other.staff for other in found.lines}) > 1
            return place_at(score, part, unit, line.staff if several else 0, note=source, voice=voice_shown(found, line))
    return Place(part=part, part_name=found.name if found is not None else "", note=source)


def voice_shown(part: Part | None, line: Line) -> str:
    """Return the line's voice where its staff has several, else "": a lone voice says nothing."""
    alone = part is None or sum(other.staff == line.staff for other in part.lines) < 2
    return "" if alone else line.voice


def beat_text(offset: int, unit: int, meter: tuple[int, int]) -> str:
    """Return "n" or "n/d": the beat, from 1, in the meter's unit (quarters without a meter)."""
    beat = 1 + Fraction(offset * (meter[1] or 4), 4 * unit)
    return str(beat)


def _start(measure: Measure) -> int:
    return measure.start
