"""Notes and rests as elements."""

from __future__ import annotations

from itertools import pairwise

from lxml import etree
from lxml.etree import _Element

from rendering.marks import BIT, names
from rendering.score import GRACE_SLASHED, GRACE_WITH, TIE_RING, TIE_START, TIE_STOP, TIE_THROUGH, Instrument, Line, Part
from rendering.writers.musicxml.attributes import Attributes
from rendering.writers.musicxml.elements import Shape, add_shape, shapes_of
from rendering.writers.musicxml.layout import Layer, Segment
from rendering.writers.musicxml.loudness import levels_of_notes
from rendering.writers.musicxml.partlist import clean
from rendering.writers.musicxml.pitches import STEPS, Pitch, pitch_of
from rendering.writers.musicxml.planning import Plan
from rendering.writers.musicxml.values import Value

# What stands on one note of a chord for itself; the rest stands on its first note, for all.
OF_EACH_NOTE = sum(1 << BIT[f"string {n}"] for n in ("I", "II", "III", "IV", "V", "VI")) | 1 << BIT["open string"]
FINGERED = 1 << BIT["fingered tremolo"]
PAIRED = {"glissando": 1 << BIT["glissando"], "slide": 1 << BIT["portamento"]}
GRACE_TYPE = "eighth"
NATURALS = {key: step for step, key in STEPS.items()}
Bracket = tuple[bool, bool]  # a tuplet starts, one stops


class NoteWriter:
    """Writes the notes of one part."""

    def __init__(self, part: Part, plan: Plan, instruments: list[str], attributes: Attributes) -> None:
        self.part: Part = part
        self.plan: Plan = plan
        self.instruments: list[str] = instruments if len(instruments) > 1 else []
        self.staves: int = attributes.staves
        self.attributes: Attributes = attributes
        self.shapes: dict[int, Shape] = shapes_of(plan.family)
        self.levels: dict[int, str] = levels_of_notes(part)
        self.gestures: list[set[tuple[int, str, str]]] = [_gestures(line) for line in part.lines]
        self.second: set[int] = set()  # lines in which the next fingered tremolo is the second note of its pair

    def write(self, measure: _Element, layer: Layer, segment: Segment, bracket: Bracket) -> None:
        """Append the notes of a segment, with the grace notes before it."""
        line = self.part.lines[layer.line]
        if segment.first:
            for chord in segment.chord.graces:
                for n, row in enumerate(chord):
                    self._note(measure, layer.line, line, row, n, None, bracket)
        if segment.value is not None:
            for n, row in enumerate(segment.chord.rows):
                self._note(measure, layer.line, line, row, n, segment, bracket if n == 0 else (False, False))

    def _note(self, measure: _Element, number: int, line: Line, row: int, n: int, segment: Segment | None, bracket: Bracket) -> None:
        """Append one note, the n-th of its chord, in the order of elements that the schema asks for."""
        value = segment.value if segment is not None else None
        first, last = (segment.first, segment.last) if segment is not None else (True, True)
        note = etree.SubElement(measure, "note")
        percent = self.levels.get(line.source[row]) if first else None
        if percent is not None:
            note.set("dynamics", percent)
        if value is None:
            etree.SubElement(note, "grace", {"slash": "yes"} if line.grace[row] & ~GRACE_WITH == GRACE_SLASHED else {})
        if n:
            etree.SubElement(note, "chord")
        self._pitch(note, line, row, segment.start if segment is not None else line.offset[row])
        if value is not None:
            etree.SubElement(note, "duration").text = str(value.length)
        ties = _ties(line.tie[row], first, last)
        for kind in ties:
            etree.SubElement(note, "tie", type=kind)
        if self.instruments:
            etree.SubElement(note, "instrument", id=self.instruments[line.instrument[row]])
        etree.SubElement(note, "voice").text = clean(line.voice)
        _add_type(note, value)
        if self.staves > 1:
            etree.SubElement(note, "staff").text = str(line.staff)
        self._notations(note, number, line, row, n, first, last, ties, bracket if value is not None else (False, False))
        if first and line.lyric[row]:
            _add_lyrics(note, self.part.lyrics[line.lyric[row]])

    def _pitch(self, note: _Element, line: Line, row: int, unit: int) -> None:
        key, instrument = line.key[row], self.part.instruments[line.instrument[row]]
        if _is_unpitched(instrument, key):
            unpitched = etree.SubElement(note, "unpitched")
            if instrument.drum_key < 0:
                _add_pitch(unpitched, Pitch(NATURALS[key % 12], "", key // 12 - 1), "display-")
        else:
            _add_pitch(
                etree.SubElement(note, "pitch"),
                pitch_of(key - self.attributes.semitones_at(unit), line.cents[row], self.attributes.fifths),
                "",
            )

    def _notations(
        self, note: _Element, number: int, line: Line, row: int, n: int, first: bool, last: bool, ties: list[str], bracket: Bracket
    ) -> None:
        notations = etree.Element("notations")
        for kind in ties:
            etree.SubElement(notations, "tied", type=kind)
        if last and line.tie[row] == TIE_RING:
            etree.SubElement(notations, "tied", type="let-ring")
        slurs, slur = self.plan.slurs[number], str(number % 6 + 1)
        if last and row in slurs.stops:
            etree.SubElement(notations, "slur", type="stop", number=slur)
        if first and row in slurs.starts:
            etree.SubElement(notations, "slur", type="start", number=slur)
        for starts, kind in zip(bracket, ("start", "stop"), strict=True):
            if starts:
                etree.SubElement(notations, "tuplet", type=kind)
        if first:
            self._marks(notations, number, row, n)
        if len(notations):
            note.append(notations)

    def _marks(self, notations: _Element, number: int, row: int, n: int) -> None:
        """Append the marks that are written at the note, articulations and their like in groups."""
        marks = self.plan.own[number][row]
        if n:
            marks &= OF_EACH_NOTE
        groups: dict[str, _Element] = {}
        for name in names(marks):
            shape = self.shapes.get(BIT[name])
            if shape is None or shape.tag in PAIRED:
                continue
            if shape.tag == "tremolo" and marks & FINGERED:
                shape = self._fingered(number, shape)
            if shape.group and shape.group not in groups:
                groups[shape.group] = etree.SubElement(notations, shape.group)
            add_shape(groups[shape.group] if shape.group else notations, shape)
        for _, tag, kind in sorted(g for g in self.gestures[number] if g[0] == row and not n):
            etree.SubElement(notations, tag, type=kind, number="1")

    def _fingered(self, number: int, shape: Shape) -> Shape:
        """The notes of a fingered tremolo come in pairs: one starts it, the next stops it."""
        if number in self.second:
            self.second.discard(number)
            return shape._replace(attributes=(("type", "stop"),))
        self.second.add(number)
        return shape


def _gestures(line: Line) -> set[tuple[int, str, str]]:
    """Return (row, element, "start" or "stop") of glissandos and slides: the first belong to the note left, these to the one reached."""
    found: set[tuple[int, str, str]] = set()
    heads = [row for row in range(len(line)) if not row or line.offset[row] != line.offset[row - 1] or line.grace[row - 1]]
    for tag, mark, own, other in (("glissando", PAIRED["glissando"], "start", "stop"), ("slide", PAIRED["slide"], "stop", "start")):
        found |= {(row, tag, own) for row in heads if line.marks[row] & mark}
        neighbours = pairwise(heads) if own == "start" else ((b, a) for a, b in pairwise(heads))
        found |= {(b, tag, other) for a, b in neighbours if line.marks[a] & mark}
    return found


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


def _add_type(note: _Element, value: Value | None) -> None:
    etree.SubElement(note, "type").text = value.type if value is not None else GRACE_TYPE
    if value is None:
        return
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
        notations = etree.SubElement(note, "notations")
        for starts, kind in zip(bracket, ("start", "stop"), strict=True):
            if starts:
                etree.SubElement(notations, "tuplet", type=kind)
