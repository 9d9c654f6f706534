"""Attributes: divisions, keys, meters, staves, clefs, transpositions."""

from __future__ import annotations

from bisect import bisect_right

from lxml import etree
from lxml.etree import _Element

from rendering.score import Measure, Part
from rendering.writers.musicxml.pitches import interval, written_fifths

BASS_BELOW = 57  # a staff whose notes lie lower on the average gets a bass clef


class Attributes:
    """Writes the attributes of one part; `fifths` is the written key in force, `semitones_at` the transposition."""

    def __init__(self, part: Part, unit: int, staves: int) -> None:
        self.part: Part = part
        self.unit: int = unit
        self.staves: int = staves
        self.fifths: int = 0
        self.semitones: int = 0
        self.changes: list[int] = [u for u, _ in part.transpose]

    def semitones_at(self, unit: int) -> int:
        """Return what is added to a note written at a Unit to get the sounding one."""
        i = bisect_right(self.changes, unit) if self.changes else 0
        return self.part.transpose[i - 1][1] if i else 0

    def at_start(self, element: _Element, measure: Measure, before: Measure | None) -> None:
        """Append what changes where a measure starts; all of it where there is none before."""
        semitones = self.semitones_at(measure.start)
        fifths = written_fifths(measure.key, semitones)
        attributes = etree.Element("attributes")
        if before is None:
            etree.SubElement(attributes, "divisions").text = str(self.unit)
        if before is None or fifths != self.fifths:
            etree.SubElement(etree.SubElement(attributes, "key"), "fifths").text = str(fifths)
        if before is None or measure.meter != before.meter:
            _add_time(attributes, measure.meter)
        if before is None:
            self.staves_and_clefs(attributes)
        if semitones != self.semitones:
            _add_transpose(attributes, semitones)
        self.fifths, self.semitones = fifths, semitones
        if len(attributes):
            element.append(attributes)

    def inside(self, element: _Element, measure: Measure) -> None:
        """Append the transpositions that change inside a measure, walking back to their places."""
        end = measure.start + measure.length
        now = end
        for unit, semitones in self.part.transpose:
            if measure.start < unit < end and semitones != self.semitones:
                tag, length = ("backup", now - unit) if unit < now else ("forward", unit - now)
                etree.SubElement(etree.SubElement(element, tag), "duration").text = str(length)
                _add_transpose(etree.SubElement(element, "attributes"), semitones)
                self.semitones, now = semitones, unit

    def staves_and_clefs(self, attributes: _Element) -> None:
        if self.staves > 1:
            etree.SubElement(attributes, "staves").text = str(self.staves)
        for staff in range(1, self.staves + 1):
            clef = etree.SubElement(attributes, "clef", {"number": str(staff)} if self.staves > 1 else {})
            sign, line = self.clef(staff)
            etree.SubElement(clef, "sign").text = sign
            if line:
                etree.SubElement(clef, "line").text = line

    def clef(self, staff: int) -> tuple[str, str]:
        """Return sign and line of the clef in which a staff's notes lie best."""
        keys = [key for line in self.part.lines if line.staff == staff for key in line.key]
        if self.part.instruments[0].unpitched:
            return "percussion", ""
        return ("F", "4") if keys and sum(keys) < BASS_BELOW * len(keys) else ("G", "2")


def _add_time(attributes: _Element, meter: tuple[int, int]) -> None:
    """Append a time signature; (0, 0) is senza misura."""
    time = etree.SubElement(attributes, "time")
    if not meter[1]:
        etree.SubElement(time, "senza-misura")
        return
    etree.SubElement(time, "beats").text = str(meter[0])
    etree.SubElement(time, "beat-type").text = str(meter[1])


def _add_transpose(attributes: _Element, semitones: int) -> None:
    """Append a transposition, in letters, semitones and octaves."""
    letters, rest, octaves = interval(semitones)
    transpose = etree.SubElement(attributes, "transpose")
    etree.SubElement(transpose, "diatonic").text = str(letters)
    etree.SubElement(transpose, "chromatic").text = str(rest)
    if octaves:
        etree.SubElement(transpose, "octave-change").text = str(octaves)
