"""Lines as read become lines of the score: one time for the whole score, sounding keys, one row a note."""

from __future__ import annotations

from bisect import bisect_left, bisect_right

from rendering.annotate.measures import Grid
from rendering.marks import BIT
from rendering.readers.asread import LineAsRead, PartAsRead
from rendering.score import Line

COLUMNS = ("offset", "duration", "key", "cents", "marks", "tie", "slur", "grace", "lyric", "source", "instrument")
HARMONIC = 1 << BIT["artificial harmonic"]
# Semitones from the base to what sounds, by those from the base to the touched place (common practice).
TOUCHED = {5: 24, 7: 19, 4: 28, 3: 31, 12: 12}


def build_line(line: LineAsRead, units: list[int], part: PartAsRead, grid: Grid) -> Line:
    """Return a line in score time (`units`) with sounding keys; columns of `line` are taken over where unchanged."""
    built = Line(line.staff, line.voice)
    built.offset = units
    built.duration = line.duration
    built.key = line.key
    built.marks = line.marks
    built.source = line.source
    count = len(line.source)
    built.slur = [0] * count
    built.cents = filled(line.cents, count)
    built.tie = filled(line.tie, count)
    built.grace = filled(line.grace, count)
    built.lyric = filled(line.lyric, count)
    built.instrument = filled(line.instrument, count)
    if line.harmonics:
        keep_sounding(built, line.harmonics)
    if built.offset != sorted(built.offset):
        order(built)
    transpose(built, line, part, grid)
    return built


def absolute(line: LineAsRead, grid: Grid) -> list[int]:
    """Return the offsets from the start of the score."""
    found: list[int] = []
    bounds = [*line.segments, (len(line.offset), 0)]
    offset, origins = line.offset, grid.origins
    for i, (row, measure) in enumerate(line.segments):
        start = origins[measure]
        found += [start + o for o in offset[row : bounds[i + 1][0]]]
    return found


def filled(sparse: dict[int, int], count: int) -> list[int]:
    """Return a column of zeros with the given rows set."""
    column = [0] * count
    for row, value in sparse.items():
        column[row] = value
    return column


def transpose(built: Line, line: LineAsRead, part: PartAsRead, grid: Grid) -> None:
    """Add each transposition to the rows that are written after it; unpitched notes stay as they are."""
    changes = [(m, o, semitones) for m, o, staff, semitones in part.transposes if staff in {0, line.staff}]
    if not any(semitones for _, _, semitones in changes):
        return
    bounds = [*(grid.at(m, o) for m, o, _ in changes), max(built.offset, default=0) + 1]
    keys = list(built.key)
    rows = [bisect_left(built.offset, unit) for unit in bounds]
    for (_, _, semitones), first, last in zip(changes, rows[:-1], rows[1:], strict=True):
        if semitones:
            keys[first:last] = [min(max(key + semitones, 0), 127) for key in keys[first:last]]
    unpitched = {line.source[row] for row in line.unpitched}
    built.key = (
        keys if not unpitched else [old if s in unpitched else new for old, new, s in zip(built.key, keys, built.source, strict=True)]
    )


def keep_sounding(built: Line, harmonics: dict[int, str]) -> None:
    """Of a harmonic written as base, touched place and sounding pitch leave the sounding note alone.

    Without a sounding pitch it is reckoned from base and touched place; a touched place is one with a
    diamond head over an ordinary note.
    """
    dropped: set[int] = set()
    done = 0
    for row in sorted(harmonics):
        if row >= done:
            low, done = chord_around(built, row, done)
            dropped |= silent_rows(built, harmonics, range(low, done))
    if dropped:
        keep = [i for i in range(len(built.offset)) if i not in dropped]
        reorder(built, keep)


def silent_rows(built: Line, harmonics: dict[int, str], rows: range) -> set[int]:
    """Return the rows of one chord that are not heard, and set the key of the one that is."""
    kinds = {row: harmonics.get(row, "") for row in rows}
    if "sounding" in kinds.values():
        return {row for row, kind in kinds.items() if kind in {"base", "touching", "diamond"}}
    touched = [row for row, kind in kinds.items() if kind in {"touching", "diamond"}]
    base = [row for row, kind in kinds.items() if kind in {"base", ""}]
    if len(touched) != 1 or len(base) != 1:
        return set()
    above = TOUCHED.get(built.key[touched[0]] - built.key[base[0]])
    if above is None:
        return set()
    built.key[base[0]] += above
    built.marks[base[0]] |= HARMONIC
    return {touched[0]}


def chord_around(built: Line, row: int, least: int) -> tuple[int, int]:
    """Return the bounds, from `least` on, of the rows that sound with `row`; they are adjacent as they are read."""
    offset, grace = built.offset, built.grace
    low = high = row
    while low > least and offset[low - 1] == offset[row] and not grace[low - 1]:
        low -= 1
    while high < len(offset) and offset[high] == offset[row]:
        high += 1
    return low, high


def order(built: Line) -> None:
    """Sort the rows by time; what stands at one time keeps its order."""
    reorder(built, sorted(range(len(built.offset)), key=built.offset.__getitem__))


def reorder(built: Line, rows: list[int]) -> None:
    for name in COLUMNS:
        column = getattr(built, name)
        setattr(built, name, [column[i] for i in rows])


def row_of(built: Line, unit: int, source: int) -> int:
    """Return the row of a note by its place and source, which ascend together; the next row where it is gone."""
    first = bisect_left(built.offset, unit)
    return bisect_left(built.source, source, first, bisect_right(built.offset, unit, first))
