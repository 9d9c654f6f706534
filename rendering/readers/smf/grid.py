"""Rhythm set to a grid, for sketches that were played and not written."""

from __future__ import annotations

import re
from fractions import Fraction

from rendering.problems import Refused, problem
from rendering.readers.smf.strands import Played, start_of
from rendering.timeline import half_up

AS_PLAYED = "none"
FINEST = 192
_STEP = re.compile(r"1/([1-9][0-9]{0,2})")


def grid_of(text: str) -> tuple[Fraction, ...]:
    """Return the steps of a grid in whole notes: "1/16", or several at once, "1/16+1/24"; () for "none".

    Raises Refused for what is no grid.
    """
    if text == AS_PLAYED:
        return ()
    found = []
    for step in text.split("+"):
        match = _STEP.fullmatch(step)
        if match is None or int(match[1]) > FINEST:
            raise Refused([problem("bad-grid", text=text[:40])])
        found.append(Fraction(1, int(match[1])))
    return tuple(found)


class Grid:
    """Moves notes to the nearest line of a grid.

    moved     how many notes begin elsewhere now; furthest: by how many Units at most
    merged    how many fell on the place of another note of their key and are one with it
    """

    def __init__(self, steps: tuple[Fraction, ...], quarter: int) -> None:
        """`quarter` in Units; every step is a whole number of them."""
        self.steps: list[int] = [int(4 * quarter * step) for step in steps]
        self.moved: int = 0
        self.furthest: int = 0
        self.merged: int = 0

    def set(self, notes: list[Played]) -> list[Played]:
        """Return the notes, in Units, on the grid; none gets shorter than a step."""
        if not self.steps:
            return notes
        found: dict[tuple[int, int], Played] = {}
        for note in map(self.note, notes):
            other = found.setdefault((note.on, note.key), note)
            if other is not note:
                self.merged += 1
                found[note.on, note.key] = max(other, note, key=_end)
        return sorted(found.values(), key=start_of)

    def note(self, note: Played) -> Played:
        on = self.nearest(note.on)
        self.moved += on != note.on
        self.furthest = max(self.furthest, abs(on - note.on))
        return note._replace(on=on, off=max(self.nearest(note.off), on + min(self.steps)))

    def nearest(self, unit: int) -> int:
        """Return the nearest line; of two equally near ones that of the step named first."""
        return min((half_up(unit, step) * step for step in self.steps), key=lambda line: abs(line - unit))


def _end(note: Played) -> int:
    return note.off
