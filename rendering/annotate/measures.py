"""Where measures start and how long they are, for all parts together."""

from __future__ import annotations

from dataclasses import dataclass

from rendering.problems import Place, Problem, problem
from rendering.readers.asread import PartAsRead, ScoreAsRead
from rendering.score import Measure


@dataclass(slots=True, kw_only=True)
class Grid:
    """The measures of a score, and for each the Unit at which its written content begins.

    `origins` differ from the starts only where a pickup was filled up to a full measure.
    """

    measures: list[Measure]
    origins: list[int]

    def at(self, measure: int, offset: int) -> int:
        """Return the Unit of an offset in a measure (index from 0), kept inside the measure."""
        row = self.measures[measure]
        return min(max(self.origins[measure] + offset, self.origins[measure]), row.start + row.length)


def lay_out(as_read: ScoreAsRead) -> tuple[Grid, list[Problem]]:
    """Return the grid: each measure is as long as the longest part's content; bar lines coincide.

    An empty measure has the length of its meter. A first measure that is too short is a pickup: it is
    filled up in front, so that bar lines fall where a sequencer with the same meter has them.
    """
    grid, problems = Grid(measures=[], origins=[]), []
    meters = {m: (beats, unit) for m, beats, unit in as_read.meters}
    keys = concert_keys(as_read.parts)
    meter, key, start = meters.get(0, (4, 4)), keys.get(0, 0), 0
    if not meters and as_read.numbers:
        problems.append(problem("no-meter"))
    for index, number in enumerate(as_read.numbers):
        meter, key = meters.get(index, meter), keys.get(index, key)
        full = nominal(meter, as_read.unit)
        held = max((p.lengths[index] for p in as_read.parts if index < len(p.lengths)), default=0)
        length = held or full or 4 * as_read.unit
        if index == 0 and held < full and len(as_read.numbers) > 1:
            length = full
        elif index:
            problems += short_parts(as_read, index, number, length)
        if index and full and length != full:
            place = Place(measure=number, ordinal=index + 1)
            problems.append(problem("measure-length", place, holds=quarters(length, as_read.unit), meter=f"{meter[0]}/{meter[1]}"))
        grid.measures.append(Measure(index + 1, number, start, length, meter, key))
        grid.origins.append(start + length - (held or length) if index == 0 else start)
        start += length
    return grid, problems


def short_parts(as_read: ScoreAsRead, index: int, number: str, length: int) -> list[Problem]:
    """Return a remark for each part that holds something, but less than the measure lasts."""
    found = []
    for part in as_read.parts:
        held = part.lengths[index] if index < len(part.lengths) else 0
        if 0 < held < length:
            place = Place(part=part.id, part_name=part.name, measure=number, ordinal=index + 1)
            lasts = quarters(length, as_read.unit)
            found.append(problem("part-measure-length", place, holds=quarters(held, as_read.unit), lasts=lasts))
    return found


def nominal(meter: tuple[int, int], unit: int) -> int:
    """Return the Units of a full measure; 0 without a meter (senza misura)."""
    return 4 * unit * meter[0] // meter[1] if meter[1] else 0


def quarters(length: int, unit: int) -> str:
    """Return a length in quarters as "n" or "n/d"."""
    whole, rest = divmod(length, unit)
    if not rest:
        return str(whole)
    small = rest
    large = unit
    while large:
        small, large = large, small % large
    return f"{length // small}/{unit // small}"


def concert_keys(parts: list[PartAsRead]) -> dict[int, int]:
    """Return measure -> fifths as they sound: of a part that does not transpose, else of the first, corrected."""
    with_keys = [p for p in parts if p.keys]
    plain = next((p for p in with_keys if not any(t[3] % 12 for t in p.transposes)), None)
    if plain is not None:
        return dict(reversed(plain.keys))
    if not with_keys:
        return {}
    part = with_keys[0]
    found: dict[int, int] = {}
    for measure, fifths in reversed(part.keys):
        semitones = next((t[3] for t in reversed(part.transposes) if t[0] <= measure), 0)
        found[measure] = (fifths + 7 * semitones + 5) % 12 - 5
    return found
