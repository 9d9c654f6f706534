"""The notes that are played for the rows of a line, put together to a line again."""

from __future__ import annotations

from typing import NamedTuple

from rendering.perform import Played
from rendering.perform.played import COLUMNS
from rendering.score import SLUR_ARRIVES, SLUR_LEAVES
from rendering.timeline import half_up

BOTH = SLUR_ARRIVES | SLUR_LEAVES
REST = tuple(name for name in COLUMNS if name not in {"on", "off", "key", "slur", "marks", "level"})


class Piece(NamedTuple):
    """A note that is played: times, key, slur bits, marks with those written out, and the row that it comes from."""

    on: int
    off: int
    key: int
    slur: int
    marks: int
    row: int


def inner_slur(slur: int, first: bool, last: bool) -> int:
    """Slur bits of a note among those that a note under a slur becomes; it keeps its own outwards."""
    if not slur:
        return 0
    return (slur if first else BOTH) & SLUR_ARRIVES | (slur if last else BOTH) & SLUR_LEAVES


def assembled(line: Played, done: dict[int, list[Piece]], ends: dict[int, int]) -> Played:
    """Return a line with the rows in `done` replaced, those in `ends` shortened, in played order."""
    off = line.off[:]
    for row, end in ends.items():
        off[row] = end
    out = Played(line.staff, line.voice)
    columns = ((out.on, line.on), (out.off, off), (out.key, line.key), (out.slur, line.slur), (out.marks, line.marks))
    rows: list[int] = []
    before = 0
    for row in (*sorted(done), len(line)):
        for column, old in columns:
            column.extend(old[before:row])
        rows += range(before, row)
        before = row + 1
        for piece in done.get(row, ()):
            for (column, _), value in zip(columns, piece, strict=False):
                column.append(value)
            rows.append(row)
    out.ramps, out.repeats = line.ramps, len(rows) > len(line)
    for name in REST:
        column = getattr(line, name)
        setattr(out, name, [column[row] for row in rows])
    out.level = [line.level[row] for row in rows]
    if line.ramps:
        out.level = [swell(line, row, on) for row, on in zip(rows, out.on, strict=True)]
    if out.on != sorted(out.on):
        _sort(out)
    return out


def _sort(line: Played) -> None:
    """Bring the rows of a line into played order, in place; what begins together keeps its order."""
    order = sorted(range(len(line)), key=line.on.__getitem__)
    for name in COLUMNS:
        column = getattr(line, name)
        column[:] = [column[i] for i in order]


def swell(line: Played, row: int, on: int) -> int:
    """Return the level of a note at a later moment `on` in it: as at its start, unless a hairpin leads on."""
    level, start = line.level[row], line.on[row]
    if on <= start:
        return level
    for low, high, first, last in line.ramps:
        a, b = max(low, start), min(high, on)
        if a < b:
            level += half_up((last - first) * (b - low), high - low) - half_up((last - first) * (a - low), high - low)
    return min(max(level, 0), 1000)
