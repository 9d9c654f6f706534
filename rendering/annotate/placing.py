"""Where a sign acts: its Unit, the staff and the voice it reaches."""

from __future__ import annotations

from bisect import bisect_left
from typing import NamedTuple

from rendering.annotate.measures import Grid
from rendering.readers.asread import PartAsRead, Sign
from rendering.score import Line


class Placed(NamedTuple):
    """A sign at its Unit; staff 0 and voice "" = all of the part."""

    unit: int
    staff: int
    voice: str
    sign: Sign


class Span(NamedTuple):
    """Dashes or a bracket after words, in Units: how long they hold."""

    start: int
    stop: int
    staff: int


def spans_of(placed: list[Placed]) -> list[Span]:
    """Return the dashes and brackets of a part that begin and end, ascending."""
    opened: dict[tuple[str, str], Placed] = {}
    found: list[Span] = []
    for one in placed:
        name = (one.sign.kind, one.sign.number)
        if one.sign.kind not in {"dashes", "bracket"}:
            continue
        if one.sign.text == "start":
            opened[name] = one
        elif one.sign.text == "stop" and name in opened:
            start = opened.pop(name)
            if one.unit > start.unit:
                found.append(Span(start.unit, one.unit, start.staff))
    return sorted(found)


def place_signs(part: PartAsRead, lines: list[Line], grid: Grid) -> list[Placed]:
    """Return the part's signs in the order of their places; at one place in document order."""
    staves = len({line.staff for line in lines}) > 1 or part.staves > 1
    company = voices_by_measure(part) if any(s.voice for s in part.signs) else {}
    taken = {(s.measure, s.offset, s.kind, s.staff) for s in part.signs if s.shift == 0}
    held = Held(lines)
    placed = []
    for sign in dict.fromkeys(part.signs):  # what is written twice is meant once
        staff = sign.staff if staves else 0
        voice = sign.voice if len(company.get((sign.measure, sign.staff or 1), ())) > 1 else ""
        unit = unit_of(sign, staff, voice, held, grid, taken)
        placed.append(Placed(unit, staff, voice, sign))
    placed.sort(key=_unit)
    return placed


class Held:
    """How long the notes that start at a Unit are held."""

    __slots__ = ("known", "lines")

    def __init__(self, lines: list[Line]) -> None:
        self.lines: list[Line] = lines
        self.known: dict[tuple[int, int, str], int] = {}

    def until(self, unit: int, staff: int, voice: str) -> int:
        """Return where the longest note that starts at `unit` ends, in a staff and voice (0, "" = all)."""
        name = (unit, staff, voice)
        found = self.known.get(name, -1)
        if found < 0:
            found = unit
            for line in self.lines:
                if staff in {0, line.staff} and voice in {"", line.voice}:
                    row = bisect_left(line.offset, unit)
                    while row < len(line.offset) and line.offset[row] == unit:
                        found = max(found, unit + line.duration[row])
                        row += 1
            self.known[name] = found
        return found


def _unit(placed: Placed) -> int:
    return placed.unit


def voices_by_measure(part: PartAsRead) -> dict[tuple[int, int], set[str]]:
    """Return (measure, staff) -> voices with notes there: a voice alone on its staff speaks for the staff."""
    found: dict[tuple[int, int], set[str]] = {}
    for line in part.lines.values():
        for _, measure in line.segments:
            found.setdefault((measure, line.staff), set()).add(line.voice)
    return found


def unit_of(sign: Sign, staff: int, voice: str, held: Held, grid: Grid, taken: set[tuple[int, int, str, int]]) -> int:
    """Return where a sign acts: its place moved by its offset, inside its measure.

    An offset without sound="yes" is about the page. Where it only nudges a sign to the right, away from
    the note that it stands before, and no other sign of its kind stands there, that note is meant.
    """
    here = grid.at(sign.measure, sign.offset)
    if not sign.shift:
        return here
    there = grid.at(sign.measure, sign.offset + sign.shift)
    if sign.exact or there <= here or (sign.measure, sign.offset, sign.kind, sign.staff) in taken:
        return there
    return here if held.until(here, staff, voice) > there else there
