"""A score beside the same score written and read back: what differs, note by note.

A note may come back as several that are tied, where a bar line or no single value parts it; its marks
are those of the first of them. Numbers of notes in their part, ids and spellings are not compared.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import zip_longest
from typing import NamedTuple

from rendering.marks import names
from rendering.score import (
    SLUR_ARRIVES,
    SLUR_LEAVES,
    TIE_RING,
    TIE_START,
    TIE_STOP,
    TIE_THROUGH,
    Hairpin,
    Level,
    Line,
    Part,
    Score,
)
from rendering.timeline import DEFAULT_MICROS, half_up
from rendering.writers.musicxml.signs import SIDES

TEMPO_SLACK = 1  # thousandths of a quarter a minute, to which tempo is read
NAMED = frozenset((0, 63, *range(125, 1001, 125)))  # levels that have a name; others are written as percentages
Place = tuple[Fraction, int, bool]  # quarters, key, whether it is a grace note


class Difference(NamedTuple):
    """One thing that came back otherwise: index of the part (-1 = of the score), source of the note (0 = none), Unit (-1 = none), what."""

    part: int
    source: int
    unit: int
    what: str


def differences(score: Score, back: Score) -> list[Difference]:
    """Return what differs between a score and its copy; [] when nothing does."""
    found = list(_of_scores(score, back))
    for index, (part, other) in enumerate(zip(score.parts, back.parts, strict=False)):
        found += (Difference(index, *rest) for rest in _of_parts(part, other, score.unit, back.unit))
    return found


def _of_scores(score: Score, back: Score) -> Iterator[Difference]:
    if len(score.parts) != len(back.parts):
        yield Difference(-1, 0, -1, "number of parts")
    if _played(score) != _played(back):
        yield Difference(-1, 0, -1, "order of measures")
    for m, n in zip_longest(score.measures, back.measures):
        if m is None or n is None:
            yield Difference(-1, 0, -1, "number of measures")
            break
        if Fraction(m.start, score.unit) != Fraction(n.start, back.unit) or Fraction(m.length, score.unit) != Fraction(n.length, back.unit):
            yield Difference(-1, 0, m.start, "length of measure")
        elif m.meter != n.meter:
            yield Difference(-1, 0, m.start, "meter")
    ours, theirs = _tempo(score), _tempo(back)
    for unit in sorted(ours.keys() | theirs.keys()):
        if abs(ours.get(unit, 0) - theirs.get(unit, 0)) > TEMPO_SLACK:
            yield Difference(-1, 0, int(unit * score.unit), "tempo")


def _played(score: Score) -> list[int]:
    return [m for first, last, _ in score.itinerary for m in range(first, last + 1)]


def _tempo(score: Score) -> dict[Fraction, int]:
    """Return quarters -> thousandths of a quarter a minute, where they change; before the first it is the default."""
    found: dict[Fraction, int] = {}
    now = 0
    for unit, micros in [*([] if score.tempo and not score.tempo[0][0] else [(0, int(DEFAULT_MICROS))]), *score.tempo]:
        if micros != now:
            now = micros
            found[Fraction(unit, score.unit)] = half_up(60_000_000_000, micros)
    return found


Found = tuple[int, int, str]  # source, Unit, what


def _of_parts(part: Part, other: Part, unit: int, back: int) -> Iterator[Found]:
    if part.name != other.name and part.name:
        yield 0, -1, "name"
    for one, two in zip_longest(part.instruments, other.instruments):
        if (
            one is None
            or two is None
            or (one.sound, one.players, one.program, one.drum_key) != (two.sound, two.players, two.program, two.drum_key)
        ):
            yield 0, -1, "instruments"
    theirs = {(line.staff, line.voice): line for line in other.lines}
    for line in part.lines:
        if len(line):
            yield from _Lines(part, line, unit, other, theirs.pop((line.staff, line.voice), Line(line.staff, line.voice)), back).compare()
    yield from ((0, line.offset[0] * unit // back, "voice") for line in theirs.values() if len(line))
    yield from _of_levels(part, other, unit, back)


class _Lines:
    """One line beside its copy; `free` holds the rows of the copy that are not yet matched, by place."""

    def __init__(self, part: Part, line: Line, unit: int, other: Part, copy: Line, back: int) -> None:
        self.part, self.line, self.unit = part, line, unit
        self.other, self.copy, self.back = other, copy, back
        self.free: dict[Place, list[int]] = {}
        for row in reversed(range(len(copy))):
            self.free.setdefault((Fraction(copy.offset[row], back), copy.key[row], copy.grace[row] > 0), []).append(row)

    def take(self, place: Place) -> int:
        rows = self.free.get(place)
        return rows.pop() if rows else -1

    def compare(self) -> Iterator[Found]:
        line = self.line
        heads = [
            self.take((Fraction(line.offset[row], self.unit), line.key[row], line.grace[row] > 0))
            for row in range(len(line))
        ]  # fmt: skip
        for row, head in enumerate(heads):
            for what in self.of_notes(row, head) if head >= 0 else ["onset or key"]:
                yield line.source[row], line.offset[row], what
        for rows in self.free.values():
            yield from ((0, self.copy.offset[row] * self.unit // self.back, "a note more") for row in rows)

    def of_notes(self, row: int, head: int) -> Iterator[str]:
        line, copy = self.line, self.copy
        if line.marks[row] != copy.marks[head]:
            yield f"marks {_names(line.marks[row])} as {_names(copy.marks[head])}"
        if (line.cents[row], line.grace[row]) != (copy.cents[head], copy.grace[head]):
            yield "cents or grace"
        if self.part.lyrics[line.lyric[row]] != self.other.lyrics[copy.lyric[head]]:
            yield "lyric"
        if line.instrument[row] != copy.instrument[head]:
            yield "instrument"
        if (line.slur[row] ^ copy.slur[head]) & SLUR_ARRIVES or _stops(line.tie[row]) != _stops(copy.tie[head]):
            yield "tie or slur"
        if self.strokes(self.part, line, row, self.unit) != self.strokes(self.other, copy, head, self.back):
            yield "strokes through the stem"
        if self.ornament(row, head):
            yield "ornament"
        if self.rare(self.part, line, row, self.unit) != self.rare(self.other, copy, head, self.back):
            yield "passes, or the time of a grace note"
        end = Fraction(line.offset[row] + line.duration[row], self.unit)
        last = self.last_of(head, end)
        if Fraction(copy.offset[last] + copy.duration[last], self.back) != end:
            yield "length"
        elif (line.slur[row] ^ copy.slur[last]) & SLUR_LEAVES or _starts(line.tie[row]) != _starts(copy.tie[last]):
            yield "tie or slur"

    def strokes(self, part: Part, line: Line, row: int, unit: int) -> tuple[Fraction, bool]:
        found = part.strokes.get(line.source[row])
        return (Fraction(found.repeat, unit), found.exact) if found is not None else (Fraction(0), False)

    def rare(self, part: Part, line: Line, row: int, unit: int) -> tuple[tuple[int, ...], tuple[int, int, Fraction]]:
        source = line.source[row]
        previous, following, made = part.steals.get(source) or (0, 0, 0)
        return part.only.get(source, ()), (previous, following, Fraction(made, unit))

    def ornament(self, row: int, head: int) -> bool:
        """Say whether an ornament's neighbours, or the number of a rolled chord, have come back otherwise."""
        source, back = self.line.source[row], self.copy.source[head]
        if self.part.rolls.get(source, "") != self.other.rolls.get(back, ""):
            return True
        ours, theirs = self.part.ornaments.get(source), self.other.ornaments.get(back)
        if ours is None or theirs is None:
            return ours is not None
        sides = {side for mark, found in SIDES.items() if self.line.marks[row] & mark for side in found}
        upper, lower = ours.upper != theirs.upper and "above" in sides, ours.lower != theirs.lower and "below" in sides
        return upper or lower or ours.long != theirs.long

    def last_of(self, row: int, end: Fraction) -> int:
        """Return the last row of a chain of ties that begins at `row` and reaches no further than `end`."""
        copy = self.copy
        while (now := Fraction(copy.offset[row] + copy.duration[row], self.back)) < end and _starts(copy.tie[row]):
            following = self.take((now, copy.key[row], False))
            if following < 0 or not _stops(copy.tie[following]):
                break
            row = following
        return row


def _names(marks: int) -> str:
    return "+".join(names(marks)) or "none"


def _stops(tie: int) -> bool:
    return tie in {TIE_STOP, TIE_THROUGH}


def _starts(tie: int) -> int:
    return TIE_RING if tie == TIE_RING else int(tie in {TIE_START, TIE_THROUGH})


def _of_levels(part: Part, other: Part, unit: int, back: int) -> Iterator[Found]:
    pairs = ((_levels(part, unit), _levels(other, back), "dynamics"), (_hairpins(part, unit), _hairpins(other, back), "hairpins"))
    for ours, theirs, what in pairs:
        yield from ((0, int(quarters * unit), what) for quarters, _ in sorted(ours ^ theirs))


def _levels(part: Part, unit: int) -> set[tuple[Fraction, str]]:
    """Return the levels of a part as (quarters, the rest): a level by percentage is one whatever its kind was.

    The level of a note that a tie goes on to is never played.
    """
    whole = len({line.staff for line in part.lines}) < 2
    notes = {
        line.source[row]: f"{line.staff}/{line.voice}/{line.key[row]}"
        for line in part.lines for row in range(len(line)) if not _stops(line.tie[row])
    }  # fmt: skip
    return {_level(v, unit, whole, notes) for v in part.levels if not v.source or v.source in notes}


def _level(level: Level, unit: int, whole: bool, notes: dict[int, str]) -> tuple[Fraction, str]:
    quarters = Fraction(level.offset, unit)
    if level.source:
        value = "" if level.kind == "once" else level.level
        return quarters, f"{level.kind} {value} {notes[level.source]}"
    kind = "mark" if level.kind == "mark" and level.level in NAMED else "percentage"
    return quarters, f"{kind} {level.level} {0 if whole else level.staff}/{level.voice}"


def _hairpins(part: Part, unit: int) -> set[tuple[Fraction, str]]:
    whole = len({line.staff for line in part.lines}) < 2
    return {_hairpin(pin, unit, whole) for pin in part.hairpins}


def _hairpin(pin: Hairpin, unit: int, whole: bool) -> tuple[Fraction, str]:
    rest = f"{Fraction(pin.stop, unit)} {0 if whole else pin.staff}/{pin.voice} {pin.direction} {pin.niente}"
    return Fraction(pin.start, unit), rest
