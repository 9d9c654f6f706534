"""Where measures start and how long they are, for all parts together."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import zip_longest

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
    meter, key, start = (4, 4), 0, 0
    if not meters and as_read.numbers:
        problems.append(problem("no-meter"))
    columns = zip_longest(*(p.lengths for p in as_read.parts), fillvalue=0)
    for index, (number, held) in enumerate(zip(as_read.numbers, columns, strict=True)):
        meter, key = meters.get(index, meter), keys.get(index, key)
        full, longest = nominal(meter, as_read.unit), max(held)
        length = longest or full or 4 * as_read.unit
        if index == 0 and longest < full and len(as_read.numbers) > 1:
            length = full
        elif longest != full or min(held) != longest:
            problems += uneven(as_read, index, held, length, meter)
        grid.measures.append(Measure(index + 1, number, start, length, meter, key))
        grid.origins.append(start + length - (longest or length))
        start += length
    return grid, problems


def uneven(as_read: ScoreAsRead, index: int, held: tuple[int, ...], length: int, meter: tuple[int, int]) -> list[Problem]:
    """Return remarks on a measure that does not last what its meter says, and on parts that hold less than it lasts."""
    found, unit = [], as_read.unit
    place = Place(measure=as_read.numbers[index], ordinal=index + 1)
    if meter[1] and length != nominal(meter, unit):
        found.append(problem("measure-length", place, holds=quarters(length, unit), meter=f"{meter[0]}/{meter[1]}"))
    for part, holds in zip(as_read.parts, held, strict=True):
        if 0 < holds < length:
            here = replace(place, part=part.id, part_name=part.name)
            found.append(problem("part-measure-length", here, holds=quarters(holds, unit), lasts=quarters(length, unit)))
    return found


def nominal(meter: tuple[int, int], unit: int) -> int:
    """Return the Units of a full measure; 0 without a meter (senza misura)."""
    return 4 * unit * meter[0] // meter[1] if meter[1] else 0


def quarters(length: int, unit: int) -> str:
    """Return a length in quarters as "n" or "n/d"."""
    return str(Fraction(length, unit))


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
