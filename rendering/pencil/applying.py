"""Pencil marks laid over a score: a new score, the old one untouched."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, field, replace

from rendering.annotate.slurs import PORTATO_FAMILIES, chord_end
from rendering.annotate.slurs import apply as join
from rendering.marks import BIT, EITHER, MARKS, PASSAGE, mask, names
from rendering.pencil.anchors import Reach, Spot, reach_of, unit_at
from rendering.pencil.document import Item, PencilMarks
from rendering.problems import Place, Problem, problem
from rendering.score import SLUR_ARRIVES, SLUR_LEAVES, Hairpin, Level, Line, Part, Score
from rendering.timeline import micros_per_quarter
from rendering.writers.musicxml.planning import family_as_read

COLUMNS = ("lyric", "marks", "slur")  # what pencil marks change of a line
LEGATO = mask("legato")
Key = tuple[int, int, str, int]  # what a level is said of: Unit, staff, voice, source


@dataclass(slots=True, kw_only=True)
class _Sheet:
    """The copy that is written on; `levels` are those of pencil marks, by part: they replace others of the same."""

    score: Score
    levels: dict[str, dict[Key, Level]] = field(default_factory=dict)


def apply(score: Score, pencil: PencilMarks) -> tuple[Score, list[Problem]]:
    """Return the score with the pencil marks on it, and those whose notes are not there.

    A mark that answers a question takes the place of the answer that was there: *sul tasto* of *sul pont.*
    Grace notes inside a passage take what holds for passages, and not what is said of single notes.
    """
    sheet = _Sheet(score=_copied(score))
    problems = [_lost(sheet.score, item) for item in pencil.items if not _Applying(sheet, item).apply()]
    for part in sheet.score.parts:
        fresh = sheet.levels.get(part.id, {})
        part.levels = sorted([*(v for v in part.levels if _key(v) not in fresh), *fresh.values()], key=_specific)
        part.hairpins.sort()
    return sheet.score, problems


def _copied(score: Score) -> Score:
    """Return a copy in which everything that pencil marks change is the copy's own."""
    return replace(score, tempo=list(score.tempo), parts=[_copied_part(part) for part in score.parts])


def _copied_part(part: Part) -> Part:
    lines = [_copied_line(line) for line in part.lines]
    return replace(part, lines=lines, levels=list(part.levels), hairpins=list(part.hairpins), lyrics=list(part.lyrics))


def _copied_line(line: Line) -> Line:
    out = copy(line)
    for name in COLUMNS:
        setattr(out, name, list(getattr(line, name)))
    return out


def _key(level: Level) -> Key:
    """A note has one level of its own; a place one for each staff and voice that is named."""
    return (0, 0, "", level.source) if level.source else (level.offset, level.staff, level.voice, 0)


def _specific(level: Level) -> tuple[int, int, int]:
    """At one Unit, what is for all of the part comes before what is for one staff, voice or note."""
    return level.offset, (level.staff > 0) + 2 * (level.voice != "") + 4 * (level.source > 0), level.source


def _lost(score: Score, item: Item) -> Problem:
    at = item.at
    name = next((part.name for part in score.parts if part.id == at.part), at.part)
    measure = score.measures[at.ordinal - 1].number if at.ordinal <= len(score.measures) else ""
    place = Place(
        part=at.part, part_name=name, measure=measure, ordinal=at.ordinal, beat=at.beat, staff=at.staff or 0, voice=at.voice or "",
    )  # fmt: skip
    return problem("pencil-lost", place, id=item.id)


class _Applying:
    """One item on its way into the score."""

    def __init__(self, sheet: _Sheet, item: Item) -> None:
        self.sheet = sheet
        self.score = sheet.score
        self.item = item
        self.scope = item.at.staff or 0, item.at.voice or ""

    def apply(self) -> bool:
        """Do what the item says; say whether anything was there to do it to."""
        if self.item.kind == "tempo":
            return self.tempo()
        reach = reach_of(self.score, self.item)
        if reach is None:
            return False
        if self.item.kind == "hairpin":
            return self.hairpin(reach)
        if self.item.kind == "level" and self.item.at.chord is None and self.item.at.grace is None:
            self.level(reach.part, Level(reach.start, *self.scope, "mark", self.item.level or 0, 0))
            return True
        if self.item.kind == "slur":
            return self.slur(reach)
        for spot in reach.spots:
            self.note(reach.part, spot)
        return bool(reach.spots)

    def tempo(self) -> bool:
        unit = unit_at(self.score, self.item.at.ordinal, self.item.at.beat)
        if unit is None:
            return False
        others = [change for change in self.score.tempo if change[0] != unit]
        self.score.tempo = sorted([*others, (unit, micros_per_quarter(self.item.tempo or 0))])
        return True

    def level(self, part: Part, level: Level) -> None:
        self.sheet.levels.setdefault(part.id, {})[_key(level)] = level

    def hairpin(self, reach: Reach) -> bool:
        pin = self.item.hairpin
        if pin is None or reach.stop <= reach.start:
            return False
        direction = 1 if pin.direction == "crescendo" else -1
        reach.part.hairpins.append(Hairpin(reach.start, reach.stop, *self.scope, direction, pin.niente))
        return True

    def note(self, part: Part, spot: Spot) -> None:
        item, line, row = self.item, part.lines[spot.line], spot.row
        if item.add is not None:
            added = mask(*item.add)
            in_passing = line.grace[row] and item.at.grace is None
            line.marks[row] = _with(line.marks[row], added & PASSAGE if in_passing else added)
        elif item.remove is not None:
            line.marks[row] &= ~mask(*(name for wide in item.remove for name in EITHER.get(wide, (wide,))))
        elif item.level is not None:
            self.level(part, Level(line.offset[row], line.staff, line.voice, "note", item.level, line.source[row]))
        elif item.syllable is not None:
            line.lyric[row] = _lyric(part, item.syllable)

    def slur(self, reach: Reach) -> bool:
        """Draw a slur in each line that has two places in reach, or take the slurs there away."""
        done = False
        for i in dict.fromkeys(spot.line for spot in reach.spots):
            line = reach.part.lines[i]
            rows = [spot.row for spot in reach.spots if spot.line == i]
            if chord_end(line, rows[0]) > rows[-1]:
                continue
            done = True
            if self.item.slur:
                join(line, [(rows[0], chord_end(line, rows[-1]))], portato=family_as_read(reach.part) in PORTATO_FAMILIES)
            else:
                _part(line, rows)
        return done


def _with(marks: int, added: int) -> int:
    """Return marks with others added; of one question the new answer counts."""
    for name in names(added):
        marks &= ~QUESTION[BIT[name]]
    return marks | added


def _questions() -> tuple[int, ...]:
    asked: dict[tuple[str, str], int] = {}
    for bit, one in enumerate(MARKS):
        asked[one.axis, one.question] = asked.get((one.axis, one.question), 0) | 1 << bit
    return tuple(asked[one.axis, one.question] for one in MARKS)


QUESTION: tuple[int, ...] = _questions()  # of each bit: the marks that answer its question


def _lyric(part: Part, syllable: str) -> int:
    if syllable not in part.lyrics:
        part.lyrics.append(syllable)
    return part.lyrics.index(syllable)


def _part(line: Line, rows: list[int]) -> None:
    """Take away the slurs between the notes in these rows; who is then joined to nobody is not legato."""
    first, last = chord_end(line, rows[0]), rows[-1]
    while last and chord_end(line, last - 1) > rows[-1]:
        last -= 1
    for row in rows:
        line.slur[row] &= ~((SLUR_LEAVES if row < last else 0) | (SLUR_ARRIVES if row >= first else 0))
        if not line.slur[row]:
            line.marks[row] &= ~LEGATO
