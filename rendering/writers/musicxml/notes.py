"""Notes and rests as elements."""

from __future__ import annotations

from typing import NamedTuple

from lxml import etree
from lxml.etree import _Element

from rendering.score import GRACE_SLASHED, GRACE_WITH, TIE_RING, TIE_START, TIE_STOP, TIE_THROUGH, Instrument, Line, Part
from rendering.writers.musicxml.attributes import Attributes
from rendering.writers.musicxml.layout import Layer, Segment
from rendering.writers.musicxml.loudness import levels_of_notes
from rendering.writers.musicxml.partlist import clean
from rendering.writers.musicxml.pitches import STEPS, Pitch, pitch_of
from rendering.writers.musicxml.planning import Plan
from rendering.writers.musicxml.signs import SignWriter
from rendering.writers.musicxml.values import Value

GRACE_VALUE = Value(0, "eighth", 0)
NATURALS = {key: step for step, key in STEPS.items()}
Bracket = tuple[bool, bool]  # a tuplet starts, one stops
NO_BRACKET: Bracket = (False, False)


class Writing(NamedTuple):
    """One note that is being written: a row of a line (`number`), the n-th of its chord; its value, `first` and `last` segment of it.

    `grace` = it is a grace note, which its value says nothing about; `start` in Units.
    """

    number: int
    line: Line
    row: int
    n: int
    start: int
    value: Value
    grace: bool
    first: bool
    last: bool
    bracket: Bracket


class NoteWriter:
    """Writes the notes of one part."""

    def __init__(self, part: Part, plan: Plan, instruments: list[str], attributes: Attributes) -> None:
        self.part: Part = part
        self.plan: Plan = plan
        self.instruments: list[str] = instruments if len(instruments) > 1 else []
        self.staves: int = attributes.staves
        self.attributes: Attributes = attributes
        self.levels: dict[int, str] = levels_of_notes(part)
        self.signs: SignWriter = SignWriter(part, plan)

    def write(self, measure: _Element, layer: Layer, segment: Segment, bracket: Bracket) -> None:
        """Append the notes of a segment, with the grace notes before it."""
        line = self.part.lines[layer.line]
        if segment.first:
            for chord in segment.chord.graces:
                for n, row in enumerate(chord):
                    self._note(measure, Writing(layer.line, line, row, n, segment.start, GRACE_VALUE, True, True, True, NO_BRACKET))
        if segment.value is not None:
            for n, row in enumerate(segment.chord.rows):
                ends = segment.first, segment.last, NO_BRACKET if n else bracket
                self._note(measure, Writing(layer.line, line, row, n, segment.start, segment.value, False, *ends))

    def _note(self, measure: _Element, it: Writing) -> None:
        """Append one note, its children in the order that the schema asks for."""
        line, row = it.line, it.row
        note = etree.SubElement(measure, "note")
        percent = self.levels.get(line.source[row]) if it.first else None
        if percent is not None:
            note.set("dynamics", percent)
        only = self.part.only.get(line.source[row])
        if only:
            note.set("time-only", ",".join(map(str, only)))
        if it.grace:
            etree.SubElement(note, "grace", self._grace(line, row))
        if it.n:
            etree.SubElement(note, "chord")
        pitch = self._pitch(note, it)
        if not it.grace:
            etree.SubElement(note, "duration").text = str(it.value.length)
        ties = _ties(line.tie[row], it.first, it.last)
        for kind in ties:
            etree.SubElement(note, "tie", type=kind)
        if self.instruments:
            etree.SubElement(note, "instrument", id=self.instruments[line.instrument[row]])
        etree.SubElement(note, "voice").text = clean(line.voice)
        _add_type(note, it.value)
        if self.staves > 1:
            etree.SubElement(note, "staff").text = str(line.staff)
        self._notations(note, it, ties, pitch)
        if it.first and line.lyric[row]:
            _add_lyrics(note, self.part.lyrics[line.lyric[row]])

    def _grace(self, line: Line, row: int) -> dict[str, str]:
        """Return the attributes of a grace note: its stroke, and whose time it takes where the score says so."""
        found = {"slash": "yes"} if line.grace[row] & ~GRACE_WITH == GRACE_SLASHED else {}
        steal = self.part.steals.get(line.source[row])
        if steal is not None:
            unit = self.attributes.unit
            made = -(-1000 * steal.made // unit) * unit / 1000  # to the thousandth of a quarter from which it is read
            said = (("steal-time-previous", steal.previous / 10), ("steal-time-following", steal.following / 10), ("make-time", made))
            found |= {name: f"{value:.3f}".rstrip("0").rstrip(".") for name, value in said if value}
        return found

    def _pitch(self, note: _Element, it: Writing) -> Pitch | None:
        """Append the pitch and return it; None for a note without."""
        key, instrument = it.line.key[it.row], self.part.instruments[it.line.instrument[it.row]]
        if _is_unpitched(instrument, key):
            unpitched = etree.SubElement(note, "unpitched")
            if instrument.drum_key < 0:
                _add_pitch(unpitched, Pitch(NATURALS[key % 12], "", key // 12 - 1), "display-")
            return None
        written = key - self.attributes.semitones_at(it.start)
        pitch = pitch_of(written, it.line.cents[it.row], self.attributes.fifths)
        _add_pitch(etree.SubElement(note, "pitch"), pitch, "")
        return pitch

    def _notations(self, note: _Element, it: Writing, ties: list[str], pitch: Pitch | None) -> None:
        notations = etree.Element("notations")
        for kind in ties:
            etree.SubElement(notations, "tied", type=kind)
        if it.last and it.line.tie[it.row] == TIE_RING:
            etree.SubElement(notations, "tied", type="let-ring")
        slurs, slur = self.plan.slurs[it.number], str(it.number % 6 + 1)
        if it.last and it.row in slurs.stops:
            etree.SubElement(notations, "slur", type="stop", number=slur)
        if it.first and it.row in slurs.starts:
            etree.SubElement(notations, "slur", type="start", number=slur)
        _add_bracket(notations, it.bracket)
        if it.first:
            self.signs.write(notations, it.number, it.row, it.n, it.value, pitch)
        if len(notations):
            note.append(notations)


def _is_unpitched(instrument: Instrument, key: int) -> bool:
    """Say whether a note without pitch is read back to this key: its instrument's, else the one of its place on the staff."""
    return instrument.unpitched and (instrument.drum_key == key if instrument.drum_key >= 0 else key % 12 in NATURALS and key > 11)


def _add_pitch(parent: _Element, pitch: Pitch, prefix: str) -> None:
    etree.SubElement(parent, f"{prefix}step").text = pitch.step
    if pitch.alter:
        etree.SubElement(parent, "alter").text = pitch.alter
    etree.SubElement(parent, f"{prefix}octave").text = str(pitch.octave)


def _ties(tie: int, first: bool, last: bool) -> list[str]:
    """Return the ties of one segment: those of its note, and those between the segments."""
    stops = not first or tie in {TIE_STOP, TIE_THROUGH}
    starts = not last or tie in {TIE_START, TIE_THROUGH}
    return ["stop"] * stops + ["start"] * starts


def _add_bracket(notations: _Element, bracket: Bracket) -> None:
    for here, kind in zip(bracket, ("start", "stop"), strict=True):
        if here:
            etree.SubElement(notations, "tuplet", type=kind)


def _add_type(note: _Element, value: Value) -> None:
    etree.SubElement(note, "type").text = value.type
    for _ in range(value.dots):
        etree.SubElement(note, "dot")
    if value.actual != value.normal:
        ratio = etree.SubElement(note, "time-modification")
        etree.SubElement(ratio, "actual-notes").text = str(value.actual)
        etree.SubElement(ratio, "normal-notes").text = str(value.normal)


def _add_lyrics(note: _Element, text: str) -> None:
    """Append the verses of a note; verse n stands on line n of its text."""
    for number, verse in enumerate(text.split("\n"), 1):
        if verse:
            lyric = etree.SubElement(note, "lyric", number=str(number))
            etree.SubElement(lyric, "syllabic").text = "single"
            etree.SubElement(lyric, "text").text = clean(verse)


def add_rest(measure: _Element, value: Value, voice: str, staff: int, bracket: Bracket, *, whole: bool = False) -> None:
    """Append a rest; `whole` = of a full measure, whatever its length. `staff` 0 = the part has one."""
    note = etree.SubElement(measure, "note")
    etree.SubElement(note, "rest", {"measure": "yes"} if whole else {})
    etree.SubElement(note, "duration").text = str(value.length)
    etree.SubElement(note, "voice").text = clean(voice)
    if not whole:
        _add_type(note, value)
    if staff:
        etree.SubElement(note, "staff").text = str(staff)
    if any(bracket):
        _add_bracket(etree.SubElement(note, "notations"), bracket)
