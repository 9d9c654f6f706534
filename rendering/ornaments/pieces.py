"""The notes that are played for the rows of a line, put together to a line again."""

from __future__ import annotations

from typing import NamedTuple

from rendering.perform import Played
from rendering.perform.played import COLUMNS
from rendering.score import SLUR_ARRIVES, SLUR_LEAVES
from rendering.timeline import half_up

BOTH = SLUR_ARRIVES | SLUR_LEAVES


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
    pieces = [
        piece
        for row in range(len(line))
        for piece in done.get(row) or [Piece(line.on[row], line.off[row], line.key[row], line.slur[row], line.marks[row], row)]
    ]
    for row, end in ends.items():
        if row not in done:
            pieces = [p._replace(off=end) if p.row == row else p for p in pieces]
    pieces.sort(key=_onset)
    out = Played(line.staff, line.voice)
    out.ramps = line.ramps
    rows = [p.row for p in pieces]
    for name in COLUMNS:
        column = getattr(line, name)
        setattr(out, name, [column[row] for row in rows])
    out.on, out.off = [p.on for p in pieces], [p.off for p in pieces]
    out.key, out.slur, out.marks = [p.key for p in pieces], [p.slur for p in pieces], [p.marks for p in pieces]
    out.level = [swell(line, p.row, p.on) for p in pieces]
    out.repeats = len(pieces) > len(line)
    return out


def _onset(piece: Piece) -> int:
    return piece.on


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
