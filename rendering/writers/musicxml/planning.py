"""How each mark of a part is written: at its note, by a slur, or in words that hold until others end them."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, field
from typing import NamedTuple

from rendering.annotate.passages import kept_beside
from rendering.annotate.slurs import LEGATO
from rendering.marks import BIT, family_of, names
from rendering.marks.lexicon import apply
from rendering.readers.asread import family_of_program
from rendering.score import Line, Part
from rendering.writers.musicxml.elements import is_glyph, shapes_of
from rendering.writers.musicxml.passages import PEDALS, Step, mask_of_words, steps, words_of
from rendering.writers.musicxml.reach import EVERYWHERE, Reach, Scope
from rendering.writers.musicxml.slurs import Slurs, legato_by_slur, slurs_of

PEDAL_UP, PEDAL_DOWN = 0, 1


class Said(NamedTuple):
    """A step to be written at a Unit, and for whom."""

    unit: int
    scope: Scope
    step: Step


@dataclass(slots=True, kw_only=True)
class Plan:
    """How the marks of a part are written; `own` holds by line and row the marks that are written at the note."""

    family: str
    own: list[list[int]]
    slurs: list[Slurs]
    said: list[Said] = field(default_factory=list)


class Wish(NamedTuple):
    """What one note needs: all its marks, those written at itself, and those left to the state that it stands in."""

    marks: int
    own: int
    state: int


def plan_marks(part: Part, reach: Reach) -> Plan:
    """Return how the marks of a part are written."""
    family = family_as_read(part)
    slurs = [slurs_of(line) for line in part.lines]
    planner = _Planner(part, reach, family, slurs)
    notes = _by_unit(part.lines)
    pedals = sorted([*((up, PEDAL_UP) for _, up in part.pedals), *((down, PEDAL_DOWN) for down, _ in part.pedals)])
    for unit in sorted({*notes, *(unit for unit, _ in pedals)}):
        while pedals and pedals[0][0] == unit:
            planner.pedal(*pedals.pop(0))
        planner.place(unit, notes.get(unit, {}))
    return Plan(family=family, own=planner.own, slurs=slurs, said=planner.said)


def family_as_read(part: Part) -> str:
    """Return the family that the reader will find for the part: by sound, names, program."""
    own = part.instruments[0]
    return family_of(own.sound, part.name) or family_of("", own.name) or family_of_program(own.program)


def _by_unit(lines: list[Line]) -> dict[int, dict[int, list[int]]]:
    """Return Unit -> line -> its rows there."""
    found: dict[int, dict[int, list[int]]] = {}
    for i, line in enumerate(lines):
        for row, unit in enumerate(line.offset):
            found.setdefault(unit, {}).setdefault(i, []).append(row)
    return found


class _Planner:
    """Goes through a part in the order of time; `states` are those that the words so far have left, by line."""

    def __init__(self, part: Part, reach: Reach, family: str, slurs: list[Slurs]) -> None:
        self.part = part
        self.reach = reach
        self.family = family
        self.slurs = slurs
        self.shapes = shapes_of(family)
        self.at_note = sum(1 << bit for bit, shape in self.shapes.items() if not is_glyph(shape))
        self.glyphs = sum(1 << bit for bit, shape in self.shapes.items() if is_glyph(shape))
        self.in_words = mask_of_words(family)
        self.here = words_of(family).here
        self.states = [0] * len(part.lines)
        self.own = [[0] * len(line) for line in part.lines]
        self.said: list[Said] = []
        self.wishes: dict[tuple[int, int], Wish] = {}

    def place(self, unit: int, rows: dict[int, list[int]]) -> None:
        """Say at a Unit what its notes need beyond what is said already."""
        wanted = {}
        for i, at in rows.items():
            notes = [self.wish(i, row) for row in at]
            notes = self.say_here(unit, i, notes)
            wanted[i], notes = self.target(self.states[i], notes)
            for row, note in zip(at, notes, strict=True):
                self.own[i][row] = note.own
        if any(self.states[i] != target for i, target in wanted.items()):
            for lines in self.agreeing(wanted):
                self.say(unit, lines, wanted)

    def pedal(self, unit: int, change: int) -> None:
        """Write a pedal that is known to the Unit; one that is lifted after the last measure is lifted at its end."""
        step = PEDALS[change]
        self.said.append(Said(min(unit, self.reach.end), EVERYWHERE, step))
        self.states = [apply(state, step.action) for state in self.states]

    def wish(self, i: int, row: int) -> Wish:
        marks = self.part.lines[i].marks[row]
        slurred = legato_by_slur(self.part.lines[i], self.slurs[i], row)
        known = self.wishes.get((marks, slurred))
        if known is None:
            own = marks & self.at_note | slurred
            known = self.wishes[marks, slurred] = Wish(marks, own, marks & ~own)
        return known

    def say_here(self, unit: int, i: int, notes: list[Wish]) -> list[Wish]:
        """Say what has words for the notes at one place alone; what has only a glyph is written at its note."""
        if all(not note.state & ~self.in_words for note in notes):
            return notes
        shared = -1
        for note in notes:
            shared &= note.state & ~self.in_words
        for name in names(shared):
            step = self.here.get(BIT[name])
            if step is None:
                shared &= ~(1 << BIT[name])
            else:
                self.said.append(Said(unit, self.reach.scopes([i], unit)[-1], step))
        return [_moved(note, note.state & ~self.in_words & (shared | self.glyphs)) for note in notes]

    def target(self, state: int, notes: list[Wish]) -> tuple[int, list[Wish]]:
        """Return the state that gives the notes what they need, and the notes.

        Where a mark at a note hides the state that it needs, words say both; what no words can say becomes a glyph.
        """
        if _fits(state, notes):
            return state, notes
        for tried in (notes, [self.in_words_alone(note) for note in notes]):
            target = self.fitting(state, tried)
            if target is not None:
                return target, tried
        needed = self.needed(notes)
        missing = [note.marks & ~(needed & kept_beside(note.own) | note.own) for note in notes]
        notes = [_moved(note, lost & self.glyphs) for note, lost in zip(notes, missing, strict=True)]
        return self.needed(notes), notes

    def fitting(self, state: int, notes: list[Wish]) -> int | None:
        """Return a state that gives the notes what they need; of the one in force goes on what they hide. None: there is none."""
        needed, hidden = self.needed(notes), -1
        for note in notes:
            hidden &= ~kept_beside(note.own)
        return next((target for target in (needed | state & hidden, needed) if _fits(target, notes)), None)

    def in_words_alone(self, note: Wish) -> Wish:
        """Return the wish with everything left to the state that words can say."""
        own = note.own & ~(self.in_words & ~LEGATO)
        return Wish(note.marks, own, note.marks & ~own)

    def needed(self, notes: list[Wish]) -> int:
        found = 0
        for note in notes:
            found |= note.state & self.in_words
        return found

    def agreeing(self, wanted: dict[int, int]) -> list[list[int]]:
        """Return lines in groups that can be told together: all that have notes here, those of a staff, or one."""
        everyone = list(wanted)
        if len({(self.states[i], wanted[i]) for i in everyone}) == 1:
            return [everyone]
        found: list[list[int]] = []
        for staff in sorted({self.part.lines[i].staff for i in everyone}):
            lines = [i for i in everyone if self.part.lines[i].staff == staff]
            together = len({(self.states[i], wanted[i]) for i in lines}) == 1
            found += [lines] if together else [[i] for i in lines]
        return [lines for lines in found if self.states[lines[0]] != wanted[lines[0]]]

    def say(self, unit: int, lines: list[int], wanted: dict[int, int]) -> None:
        """Write what leads these lines from their state to the one wanted, as widely as it upsets no other line."""
        said, state = steps(self.states[lines[0]], wanted[lines[0]], self.family)
        for scope in self.reach.scopes(lines, unit):
            told = {i: state if i in lines else _after(self.states[i], said) for i in self.reach.lines(scope, unit)}
            if not any(self.upset(i, new, unit, wanted) for i, new in told.items() if i not in lines):
                break
        self.said += [Said(unit, scope, step) for step in said]
        for i, new in told.items():
            self.states[i] = new

    def upset(self, i: int, state: int, unit: int, wanted: dict[int, int]) -> bool:
        """Say whether a line's next note would stand in a wrong state, and did not before."""
        if i in wanted:
            return state != wanted[i]
        row = bisect_left(self.part.lines[i].offset, unit)
        if row == len(self.part.lines[i]):
            return False
        note = [self.wish(i, row)]
        return _fits(self.states[i], note) and not _fits(state, note)


def _after(state: int, said: tuple[Step, ...]) -> int:
    for step in said:
        state = apply(state, step.action)
    return state


def _moved(note: Wish, marks: int) -> Wish:
    """Return the wish with marks written at the note that were left to its state."""
    return Wish(note.marks, note.own | marks, note.state & ~marks)


def _fits(state: int, notes: list[Wish]) -> bool:
    return all(state & kept_beside(note.own) | note.own == note.marks for note in notes)
