"""The place of a walk through a MusicXML part, and the note being read.

A flat walk over the wanted elements is a third faster than a nested one: an element only leaves its
text here, and the note is put together when the next thing begins.
"""

from __future__ import annotations

from fractions import Fraction
from math import lcm

from lxml.etree import _Element

from rendering.problems import Place, Problem, Refused, problem
from rendering.readers.asread import LineAsRead, PartAsRead, ScoreAsRead, Sign
from rendering.readers.limits import Limits
from rendering.readers.numbers import decimal_of, rounded, text_of, whole_of
from rendering.readers.signs import OWN_MARKS, ElementMasks, masks_of
from rendering.score import GRACE_PLAIN, GRACE_SLASHED, GRACE_WITH, Instrument, Ornament

STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
BASE_UNIT = 960  # Units per quarter: room for all divisions in common use
MOST_UNIT = 24_000
NO_DIRECTION = (0, False, 0, "", "")
STEAL_ATTRIBUTES = ("steal-time-previous", "steal-time-following", "make-time")
STEALS = frozenset(STEAL_ATTRIBUTES)
MOST_QUARTERS = 100_000  # a longer duration is a slip of the file
TYPES = {
    "1024th": Fraction(1, 256), "512th": Fraction(1, 128), "256th": Fraction(1, 64), "128th": Fraction(1, 32),
    "64th": Fraction(1, 16), "32nd": Fraction(1, 8), "16th": Fraction(1, 4), "eighth": Fraction(1, 2),
    "quarter": Fraction(1), "half": Fraction(2), "whole": Fraction(4), "breve": Fraction(8),
    "long": Fraction(16), "maxima": Fraction(32),
}  # fmt: skip


class Cursor:
    """Where the walk is, and what the note under it has said so far.

    values     tag -> text of the note's plain children
    now        Units from the start of the measure; furthest: the most that any voice has reached
    own        index of the part's own instrument, which plays notes that name none
    units      text of a duration -> Units, in the divisions in force
    direction  (offset in Units, meant for playing, staff, voice, placement) of the direction being read
    """

    __slots__ = (
        "chord_at", "chord_marks", "chord_source", "direction", "divisions", "fifths", "furthest", "harmonic", "instrument",
        "instruments", "keys", "limits", "lines", "lyric_numbers", "marks", "masks", "measure", "notes",
        "now", "open", "ornament", "own", "part", "problems", "rare", "roll", "score", "slurs", "source", "strokes",
        "tie", "tied", "trills", "units", "values",
        "verses",
    )  # fmt: skip

    def __init__(self, score: ScoreAsRead, limits: Limits) -> None:
        self.score: ScoreAsRead = score
        self.limits: Limits = limits
        self.problems: list[Problem] = []
        self.notes: int = 0
        self.open: _Element | None = None
        self.values: dict[str, str | None] = {}
        self.keys: dict[tuple[str | None, str | None, str | None], tuple[int, int]] = {}
        self.begin_part(PartAsRead(id="", name=""))
        self.begin_note()

    def begin_part(self, part: PartAsRead) -> None:
        """Start at the first measure of a part, with what holds there until the file says otherwise."""
        self.part: PartAsRead = part
        self.instruments: dict[str, int] = {row.id: i for i, row in enumerate(part.instruments)}
        self.lines: dict[tuple[str | None, str | None], LineAsRead] = {}
        self.own: int = 0
        self.lyric_numbers: dict[str, int] = {"": 0}
        self.divisions: Fraction = Fraction(1)
        self.units: dict[str, int] = {}
        self.masks: ElementMasks = masks_of(part.family)
        self.fifths: int = 0
        self.measure: int = -1
        self.trills: tuple[_Element, _Element, dict[tuple[str, str], int]] | None = None
        self.direction: tuple[int, bool, int, str, str] = NO_DIRECTION
        self.source: int = 0
        self.now: int = 0
        self.furthest: int = 0
        self.chord_at: int = 0
        self.chord_source: int = 0
        self.chord_marks: int = 0

    def begin_note(self) -> None:
        self.marks: int = 0
        self.tie: int = 0
        self.tied: int = 0
        self.verses: dict[int, str] = {}
        self.instrument: str | None = None
        self.harmonic: str = ""
        self.strokes: tuple[int, bool] | None = None
        self.ornament: Ornament | None = None
        self.roll: str = ""
        self.rare: bool = False
        self.slurs: list[tuple[int, str]] = []

    # -- durations -------------------------------------------------------------------------------

    def set_divisions(self, text: str) -> None:
        """Take over a `<divisions>`; the score's unit grows where the new divisions need it."""
        divisions = decimal_of(text)
        if divisions is None or not 0 < divisions <= 1_000_000:
            self.report("bad-divisions", text=text.strip()[:40])
            return
        self.divisions = divisions
        self.units = {}
        unit = lcm(self.score.unit, divisions.numerator)
        if unit <= MOST_UNIT:
            self.rescale(unit // self.score.unit)
        elif self.score.unit % divisions.numerator:
            self.report("divisions-too-fine", divisions=str(divisions))

    def rescale(self, factor: int) -> None:
        """Multiply all Units read so far by `factor`."""
        if factor == 1:
            return
        self.score.unit *= factor
        for part in {id(p): p for p in [*self.score.parts, self.part]}.values():
            part.rescale(factor)
        self.now *= factor
        self.furthest *= factor
        self.chord_at *= factor

    def length(self, text: str) -> int:
        """Return the Units of a duration's text; 0 with a problem where it is no number."""
        duration = decimal_of(text)
        if duration is None or not 0 <= duration <= MOST_QUARTERS * self.divisions:
            self.report("bad-duration", text=text.strip()[:40])
            duration = Fraction(0)
        found = self.units[text] = rounded(duration / self.divisions * self.score.unit)
        return found

    def length_of(self, element: _Element) -> int:
        """Return the Units of a backup's or forward's duration."""
        text = element.findtext("duration") or "0"
        length = self.units.get(text, -1)
        return length if length >= 0 else self.length(text)

    def length_of_type(self, note: _Element) -> int:
        """Return the Units that a note without a duration should have, by its type and dots."""
        length = TYPES.get(text_of(note, "type"), Fraction(0))
        dots = min(len(note.findall("dot")), 9)
        return int(length * (2 - Fraction(1, 2**dots)) * self.score.unit)

    # -- places and limits ----------------------------------------------------------------------------------

    def place(self) -> Place:
        number = self.score.numbers[self.measure] if 0 <= self.measure < len(self.score.numbers) else ""
        return Place(part=self.part.id, part_name=self.part.name, measure=number, ordinal=self.measure + 1)

    def allow(self, code: str, count: int, most: int) -> None:
        """Raise Refused when a count is over its limit."""
        if count > most:
            raise Refused([problem(code, most=most)])

    def report(self, code: str, **arguments: str | int) -> None:
        self.problems.append(problem(code, self.place(), **arguments))

    def sign(self, kind: str, text: str = "", number: str = "", value: int = 0, place: str = "") -> None:
        """Keep something written at the place of the walk, with what its direction says; see `Sign`."""
        self.allow("too-many-signs", len(self.part.signs) + 1, self.limits.notes)
        shift, exact, staff, voice, above = self.direction
        self.part.signs.append(Sign(kind, self.measure, self.now, shift, exact, staff, voice, text, number, value, place or above))

    def note_sign(self, kind: str, text: str = "", number: str = "") -> None:
        """Keep something written at the note that is being read, for its staff and voice."""
        self.allow("too-many-signs", len(self.part.signs) + 1, self.limits.notes)
        at = self.chord_at if "chord" in self.values else self.now
        staff, voice = self.values.get("staff"), (self.values.get("voice") or "").strip()
        self.part.signs.append(Sign(kind, self.measure, at, staff=whole_of(staff, 1, 99) or 0, voice=voice, text=text, number=number))

    # -- notes -----------------------------------------------------------------------------------

    def end_note(self) -> None:
        """Put the note together that the walk has just left."""
        note, values = self.open, self.values
        if note is None:
            return
        self.open = None
        text = values.get("duration")
        if text is not None:
            length = self.units.get(text, -1)
            if length < 0:
                length = self.length(text)
        else:
            length = 0 if "grace" in values else self.length_of_type(note)
        if "chord" in values:
            start = self.chord_at
        else:
            start = self.chord_at = self.now
            self.now = start + length
            self.chord_source = self.source
            self.chord_marks = self.marks
        if "rest" not in values and "cue" not in values:
            if length or "grace" in values:
                self.add_note(note, start, length)
            else:
                self.report("note-without-length")

    def add_note(self, note: _Element, start: int, length: int) -> None:
        values = self.values
        name = (values.get("staff"), values.get("voice"))
        line = self.lines.get(name) or self.new_line(name)
        row = len(line.offset)
        if not line.segments or line.segments[-1][1] != self.measure:
            line.segments.append((row, self.measure))
        step = values.get("step")
        if step is not None:
            pitch = (step, values.get("alter"), values.get("octave"))
            key, cents = self.keys.get(pitch) or self.new_key(pitch)
            if cents:
                line.cents[row] = cents
        else:
            key = self.unpitched_key(line, row)
        line.offset.append(start)
        line.duration.append(length)
        line.key.append(key)
        line.source.append(self.source)
        line.marks.append(self.marks)
        if self.tie or self.tied:
            line.tie[row] = self.tie or self.tied
        if "grace" in values:
            self.add_grace(note, line, row)
        if self.instrument is not None or self.own:
            self.add_instrument(line, row)
        if self.verses:
            line.lyric[row] = self.lyric_number()
        if self.slurs or self.rare or has_extras(note):
            self.add_rare(note, line, row)
        if self.marks != self.chord_marks:
            self.share_marks()

    def share_marks(self) -> None:
        """Give all members of a chord the marks that stand on some of them."""
        before = self.chord_marks & ~OWN_MARKS
        self.chord_marks = before | self.marks & ~OWN_MARKS
        if before == self.chord_marks:
            line = self.lines[self.values.get("staff"), self.values.get("voice")]
            line.marks[-1] |= before
            return
        for line in self.part.lines.values():
            row = len(line.source) - 1
            while row >= 0 and line.source[row] >= self.chord_source:
                line.marks[row] |= self.chord_marks & ~OWN_MARKS
                row -= 1

    def new_line(self, name: tuple[str | None, str | None]) -> LineAsRead:
        """Return the line of a staff and voice as their elements name them, made if it is new."""
        staff, voice = (name[0] or "1").strip(), (name[1] or "1").strip()
        key = (int(staff) if staff.isdecimal() and len(staff) < 4 else 1, voice)
        line = self.part.lines.get(key)
        if line is None:
            line = self.part.lines[key] = LineAsRead(*key)
            self.allow("too-many-voices", len(self.part.lines), self.limits.voices)
        self.lines[name] = line
        return line

    def new_key(self, pitch: tuple[str | None, str | None, str | None]) -> tuple[int, int]:
        """Return key and cents of (step, alter, octave); the nearest key, middle C with a problem where unreadable."""
        step, alter, octave = ((text or "").strip() for text in pitch)
        whole, part = whole_of(octave, -99, 99), decimal_of(alter or "0")
        if step in STEPS and whole is not None and part is not None:
            cents = 100 * (STEPS[step] + 12 * (whole + 1)) + rounded(100 * part)
        else:
            self.report("bad-pitch", text=f"{step} {alter} {octave}"[:40])
            cents = 6000
        key = (cents + 50) // 100
        if not 0 <= key <= 127:
            self.report("pitch-out-of-range", text=f"{step}{octave}"[:40])
            key = min(max(key, 0), 127)
            cents = 100 * key
        self.keys[pitch] = key, cents - 100 * key
        return self.keys[pitch]

    def unpitched_key(self, line: LineAsRead, row: int) -> int:
        """Return the key sent for an unpitched note: its instrument's, else its place on the staff."""
        line.unpitched.add(row)
        index = self.instruments.get(self.instrument, self.own) if self.instrument is not None else self.own
        instrument = self.part.instruments[index]
        if not instrument.unpitched:
            instrument = self.part.instruments[index] = instrument._replace(unpitched=True)
        if instrument.drum_key >= 0:
            return instrument.drum_key
        step, octave = self.values.get("display-step"), self.values.get("display-octave")
        return self.new_key((step or "E", None, octave or "4"))[0]

    def add_grace(self, note: _Element, line: LineAsRead, row: int) -> None:
        grace = note.find("grace")
        kind = GRACE_SLASHED if grace is not None and grace.get("slash") == "yes" else GRACE_PLAIN
        line.grace[row] = kind + GRACE_WITH if "chord" in self.values else kind
        if grace is not None and not STEALS.isdisjoint(grace.keys()):
            before, after, made = (decimal_of(grace.get(name)) or Fraction(0) for name in STEAL_ATTRIBUTES)
            parts = (rounded(10 * before), rounded(10 * after), rounded(1000 * made / self.divisions))
            line.steals[row] = parts[0], parts[1], parts[2]

    def add_instrument(self, line: LineAsRead, row: int) -> None:
        index = self.own
        if self.instrument is not None:
            index = self.instruments.get(self.instrument, -1)
            if index < 0:
                self.report("unknown-instrument", id=self.instrument[:40])
                index = self.own
        if index:
            line.instrument[row] = index

    def change_instrument(self, change: Instrument) -> None:
        """From here on the notes of an instrument are played on another; what is not said stays as it was."""
        self.allow("too-many-signs", len(self.part.instruments) + 1, self.limits.notes)
        before = self.instruments.get(change.id, 0)
        old = self.part.instruments[before]
        self.part.instruments.append(
            old._replace(name=change.name or old.name, sound=change.sound or old.sound, players=change.players or old.players)
        )
        self.instruments[change.id] = len(self.part.instruments) - 1
        if before == self.own:
            self.own = len(self.part.instruments) - 1

    def add_rare(self, note: _Element, line: LineAsRead, row: int) -> None:
        """Keep what few notes have: slurs, harmonics, a dynamic of their own, passes."""
        for kind, number in sorted(self.slurs):
            line.slurs.append((row, kind, number, self.source))
        if self.harmonic:
            line.harmonics[row] = self.harmonic
        if self.strokes:
            halvings, exact = self.strokes
            line.strokes[row] = times_struck(note, halvings, Fraction(line.duration[row], self.score.unit)), exact
        if self.ornament:
            line.ornaments[row] = self.ornament
        if self.roll:
            line.rolls[row] = self.roll
        percent = note.get("dynamics")
        if percent is not None:
            level = self.percentage(percent)
            if level >= 0:
                line.levels.append((row, level))
        passes = note.get("time-only")
        if passes is not None:
            line.passes[row] = passes[:40]
        if note.get("pizzicato") == "yes":
            line.marks[row] |= self.masks.get("note", "pizzicato")

    def lyric_number(self) -> int:
        """Return the number of the note's text in its part: verse n stands on line n."""
        whole = "\n".join(self.verses.get(n, "") for n in range(1, max(self.verses) + 1))
        number = self.lyric_numbers.get(whole)
        if number is None:
            number = self.lyric_numbers[whole] = len(self.part.lyrics)
            self.part.lyrics.append(whole)
        return number

    def percentage(self, text: str) -> int:
        """Return thousandths for a percentage of the forte that MusicXML sets at velocity 90; -1 for no number."""
        percent = decimal_of(text)
        if percent is None:
            self.report("bad-number", text=text[:40])
            return -1
        return min(max(rounded(percent * 900 / 127), 0), 1000)


def times_struck(note: _Element, halvings: int, quarters: Fraction) -> int:
    """Return how often a note is struck when one repeat is a quarter halved so often; by its type, else its duration."""
    dots = min(len(note.findall("dot")), 9)
    written = TYPES.get(text_of(note, "type"), Fraction(0)) * (2 - Fraction(1, 2**dots)) or quarters
    return max(rounded(written * 2**halvings), 1)


def has_extras(note: _Element) -> bool:
    """Say whether a note has one of the attributes that change how it sounds."""
    return note.get("dynamics") is not None or note.get("time-only") is not None or note.get("pizzicato") is not None
