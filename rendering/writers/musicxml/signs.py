"""The marks of a note as its articulations, ornaments, technical indications and lines."""

from __future__ import annotations

from itertools import pairwise

from lxml import etree
from lxml.etree import _Element

from rendering.marks import BIT, element_mark, mask, names
from rendering.readers.signs import OWN_MARKS
from rendering.score import Line, Part
from rendering.writers.musicxml.elements import Shape, add_shape, shapes_of
from rendering.writers.musicxml.pitches import STEPS, Pitch
from rendering.writers.musicxml.planning import Plan
from rendering.writers.musicxml.values import PLAIN, Value

# What stands on each note of a chord; the rest stands on its first note, for all.
OF_EACH_NOTE = OWN_MARKS | mask("arpeggio", "arpeggio down")
FINGERED = 1 << BIT["fingered tremolo"]
PAIRED = {"glissando": 1 << BIT["glissando"], "slide": 1 << BIT["portamento"]}
QUARTERS = {shape: quarters for quarters, shape in PLAIN.items()}
FLAGS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5, "256th": 6}
MOST_STROKES = 8
# Ornament -> the steps whose accidentals it shows.
NEIGHBOURS: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("mordent", "schleifer"), ("below",)),
    **dict.fromkeys(("inverted-mordent", "shake"), ("above",)),
    **dict.fromkeys((
        "turn", "delayed-turn", "inverted-turn", "delayed-inverted-turn", "vertical-turn", "inverted-vertical-turn", "haydn",
    ), ("above", "below")),
}  # fmt: skip
SIDES: dict[int, tuple[str, ...]] = {1 << BIT[element_mark("ornaments", tag)]: sides for tag, sides in NEIGHBOURS.items()}  # by mark
LONG = frozenset({"mordent", "inverted-mordent"})  # signs that MusicXML has a long form of
ACCIDENTALS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
LETTERS = "CDEFGAB"
Gestures = dict[int, list[tuple[str, str]]]  # row -> (element, "start" or "stop")


class SignWriter:
    """Writes the marks at the notes of one part."""

    def __init__(self, part: Part, plan: Plan) -> None:
        self.part: Part = part
        self.plan: Plan = plan
        self.shapes: dict[int, Shape] = shapes_of(plan.family)
        self.struck: str = element_mark("tremolo", "single", plan.family)  # what strokes mean: a tremolo, a roll
        self.gestures: list[Gestures] = [_gestures(line) for line in part.lines]
        self.second: set[int] = set()  # lines in which the next fingered tremolo is the second note of its pair

    def write(self, notations: _Element, number: int, row: int, n: int, value: Value, pitch: Pitch | None) -> None:
        """Append the marks of the note in a row of line `number`, the n-th of its chord."""
        marks = self.plan.own[number][row]
        source = self.part.lines[number].source[row]
        groups: dict[str, _Element] = {}
        strokes = self.strokes(source, value, fingered=bool(marks & FINGERED))
        for name in names(marks & OF_EACH_NOTE if n else marks):
            shape = self.shapes.get(BIT[name])
            if shape is None or shape.tag in PAIRED:
                continue
            if shape.tag == "tremolo" or (strokes and name == self.struck):
                shape = self.tremolo(number, strokes, fingered=bool(marks & FINGERED))
                strokes = 0
            elif shape.tag == "arpeggiate":
                shape = _rolled(shape, self.part.rolls.get(source, ""))
            group = _group(notations, groups, shape.group)
            add_shape(group, shape)
            if shape.tag in NEIGHBOURS:
                self.neighbours(group, shape.tag, source, pitch)
        if strokes and self.part.strokes[source].exact:
            add_shape(_group(notations, groups, "ornaments"), self.tremolo(number, strokes, fingered=False))
        for tag, kind in [] if n else self.gestures[number].get(row, []):
            etree.SubElement(notations, tag, type=kind, number="1")

    def strokes(self, source: int, value: Value, *, fingered: bool) -> int:
        """Return the strokes through the stem of a note of this value that its repeats ask for; 0 where it has none."""
        strokes = self.part.strokes.get(source)
        if strokes is None or not value.length:
            return 0
        times = (2 if fingered else 1) * value.length / strokes.repeat
        halvings = round(times / float(QUARTERS[value.type, value.dots])).bit_length() - 1
        return min(max(halvings - FLAGS.get(value.type, 0), 0), MOST_STROKES)

    def tremolo(self, number: int, strokes: int, *, fingered: bool) -> Shape:
        """Return the element of a tremolo with its strokes; without any it is as fast as can be.

        The notes of a fingered tremolo come in pairs: one starts it, the next stops it.
        """
        if not fingered:
            kind = "single" if strokes else "unmeasured"
        elif number in self.second:
            self.second.discard(number)
            kind = "stop"
        else:
            self.second.add(number)
            kind = "start"
        return Shape("ornaments", "tremolo", (("type", kind),), str(strokes))

    def neighbours(self, group: _Element, tag: str, source: int, pitch: Pitch | None) -> None:
        """Append the accidentals of the steps that an ornament plays, where the score says which they are."""
        ornament = self.part.ornaments.get(source)
        if ornament is None or pitch is None:
            return
        if ornament.long and tag in LONG:
            group[-1].set("long", "yes")
        for side, semitones, steps in (("above", ornament.upper, 1), ("below", ornament.lower, -1)):
            accidental = ACCIDENTALS.get(_alter(pitch, semitones, steps), "")
            if side in NEIGHBOURS[tag] and accidental:
                etree.SubElement(group, "accidental-mark", placement=side).text = accidental


def _group(notations: _Element, groups: dict[str, _Element], name: str) -> _Element:
    """Return the element that holds a group, made where it is the first of it; `notations` for none."""
    if not name:
        return notations
    if name not in groups:
        groups[name] = etree.SubElement(notations, name)
    return groups[name]


def _rolled(shape: Shape, number: str) -> Shape:
    """Return an arpeggio's element with the number by which chords of several staves are one."""
    valid = number.isdecimal() and 1 <= int(number) <= 16
    return shape._replace(attributes=(("number", number), *shape.attributes)) if valid else shape


def _alter(pitch: Pitch, semitones: int, steps: int) -> int:
    """Return the alteration of the step so many steps from a pitch that sounds so many semitones from it."""
    octaves, place = divmod(LETTERS.index(pitch.step) + steps, 7)
    distance = STEPS[LETTERS[place]] + 12 * octaves - STEPS[pitch.step]
    return round(semitones + float(pitch.alter or 0) - distance)


def _gestures(line: Line) -> Gestures:
    """Return the ends of glissandos and slides: the first belong to the note left, these to the one reached."""
    found: Gestures = {}
    heads = [row for row in range(len(line)) if not row or line.offset[row] != line.offset[row - 1] or line.grace[row - 1]]
    for tag, mark in PAIRED.items():
        if not any(line.marks[row] & mark for row in heads):
            continue
        own, other = ("start", "stop") if tag == "glissando" else ("stop", "start")
        for row in heads:
            if line.marks[row] & mark:
                found.setdefault(row, []).append((tag, own))
        for before, after in pairwise(heads):
            here, there = (before, after) if own == "start" else (after, before)
            if line.marks[here] & mark:
                found.setdefault(there, []).append((tag, other))
    return {row: sorted(ends, reverse=True) for row, ends in found.items()}
