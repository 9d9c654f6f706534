"""A plain reading of MusicXML to compare the engine's reader with: slow, exact, no code in common.

Only what sounds: onset, length and key of notes, with ties merged, repeats and endings played out.
Times are Fractions of a quarter note from the start; parts are aligned at every bar line by the
longest of them; a short first measure is filled up to its meter, its notes at its end.
"""

from __future__ import annotations

import io
import re
import zipfile
from fractions import Fraction
from math import floor
from typing import NamedTuple

from lxml import etree
from lxml.etree import _Element as Element

from tests.outside.plain_repeats import played_order

STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


class Written(NamedTuple):
    """One sounding note as written; `offset` from the start of its measure (index from 0)."""

    measure: int
    offset: Fraction
    length: Fraction
    key: int
    grace: bool
    begins: bool  # a tie leads on from it
    staff: str
    voice: str
    source: int  # ordinal of the note element in its part, from 1


class Sounding(NamedTuple):
    """One note as heard."""

    onset: Fraction
    length: Fraction
    key: int
    source: int


class Reading(NamedTuple):
    """parts: id -> notes as written; `shift`: how far a pickup's notes move; order: measures as played."""

    parts: dict[str, list[Written]]
    lengths: list[Fraction]
    shift: Fraction
    order: list[int]


def document(data: bytes) -> Element:
    """Return the root of a MusicXML file, unpacked where it is a container."""
    if data[:2] == b"PK":
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            listed = re.findall(rb'full-path="([^"]+)"', archive.read("META-INF/container.xml"))
            data = archive.read(listed[0].decode())
    return etree.fromstring(data, etree.XMLParser(load_dtd=False, no_network=True, resolve_entities=False))


def measures_of(root: Element) -> dict[str, list[Element]]:
    """Return part id -> its measures; of a time-wise file, the parts of each measure."""
    if root.tag == "score-partwise":
        return {part.get("id", ""): part.findall("measure") for part in root.findall("part")}
    found: dict[str, list[Element]] = {}
    for part in root.findall("measure/part"):
        found.setdefault(part.get("id", ""), []).append(part)
    return found


def number(element: Element, path: str, default: str = "0") -> Fraction:
    return Fraction((element.findtext(path) or default).strip())


def key_of(note: Element, drums: dict[str, int], transpose: int) -> int:
    """Return the sounding key; of an unpitched note its instrument's key, else its place on the staff."""
    if note.find("pitch") is not None:
        place = STEPS[note.findtext("pitch/step", "").strip()] + floor(number(note, "pitch/alter") + Fraction(1, 2))
        return place + 12 * int(number(note, "pitch/octave") + 1) + transpose
    instrument = note.find("instrument")
    name = instrument.get("id", "") if instrument is not None else next(iter(drums), "")
    step = note.findtext("unpitched/display-step", "E").strip()
    return drums.get(name, STEPS[step] + 12 * int(number(note, "unpitched/display-octave", "4") + 1))


class Part:
    """The walk through one part."""

    def __init__(self, score_part: Element | None) -> None:
        midi = score_part.findall("midi-instrument[midi-unpitched]") if score_part is not None else []
        self.drums = {m.get("id", ""): int(number(m, "midi-unpitched")) - 1 for m in midi}
        self.divisions = Fraction(1)
        self.transpose: dict[str, int] = {}
        self.notes: list[Written] = []
        self.lengths: list[Fraction] = []
        self.source = 0

    def measure(self, index: int, measure: Element) -> None:
        now = chord = longest = Fraction(0)
        for child in measure:
            length = number(child, "duration") / self.divisions
            if child.tag == "attributes":
                self.attributes(child)
            elif child.tag in {"backup", "forward"}:
                now = max(now + (length if child.tag == "forward" else -length), Fraction(0))
            elif child.tag == "note":
                self.source += 1
                chord = chord if child.find("chord") is not None else now
                self.add(index, child, chord, length)
                now = max(now, chord + length) if child.find("chord") is None else now
            longest = max(longest, now)
        self.lengths.append(longest)

    def attributes(self, element: Element) -> None:
        self.divisions = number(element, "divisions", str(self.divisions))
        for change in element.findall("transpose"):
            self.transpose[change.get("number", "")] = int(number(change, "chromatic") + 12 * number(change, "octave-change"))

    def add(self, index: int, note: Element, start: Fraction, length: Fraction) -> None:
        if note.find("rest") is not None or note.find("cue") is not None:
            return
        staff = note.findtext("staff", "1").strip()
        key = key_of(note, self.drums, self.transpose.get(staff, self.transpose.get("", 0)))
        ties = {t.get("type") for t in note.findall("tie") or note.findall("notations/tied")}
        grace, voice = note.find("grace") is not None, note.findtext("voice", "1").strip()
        self.notes.append(Written(index, start, length, key, grace, "start" in ties, staff, voice, self.source))


def meter_of(parts: list[list[Element]], index: int, before: Fraction) -> Fraction:
    """Return the length a measure should have, by the last time signature up to it; `before` where none is new."""
    for time in (t for measures in parts if index < len(measures) for t in measures[index].iterfind("attributes/time")):
        pairs = list(zip(time.findall("beats"), time.findall("beat-type"), strict=True))
        sums = [sum(map(int, (b.text or "").split("+"))) * Fraction(4, int(u.text or 1)) for b, u in pairs if u.text != "0"]
        if sum(sums):
            return Fraction(sum(sums))
    return before


def read(data: bytes) -> Reading:
    root = document(data)
    parts = measures_of(root)
    walked = {name: Part(root.find(f"part-list/score-part[@id='{name}']")) for name in parts}
    for name, measures in parts.items():
        for index, measure in enumerate(measures):
            walked[name].measure(index, measure)
    count = max(map(len, parts.values()), default=0)
    lengths = [max(p.lengths[i] for p in walked.values() if i < len(p.lengths)) for i in range(count)]
    meter, shift = Fraction(4), Fraction(0)
    for index in range(count):
        meter = meter_of(list(parts.values()), index, meter)
        if index == 0 and count > 1 and 0 < lengths[0] < meter:
            shift = meter - lengths[0]
        lengths[index] = meter if shift and index == 0 else lengths[index] or meter
    return Reading({name: p.notes for name, p in walked.items()}, lengths, shift, played_order(list(parts.values()), count))


def play(reading: Reading) -> dict[str, list[Sounding]]:
    """Return part id -> sounding notes by onset, then key; graces left out, ties merged."""
    starts = [sum((reading.lengths[m] for m in reading.order[:i]), Fraction(0)) for i in range(len(reading.order))]
    return {name: merge(notes, reading, starts) for name, notes in reading.parts.items()}


def merge(notes: list[Written], reading: Reading, starts: list[Fraction]) -> list[Sounding]:
    by_measure: dict[int, list[Written]] = {}
    for note in sorted(notes, key=lambda n: n.offset):
        by_measure.setdefault(note.measure, []).append(note)
    heard: list[Sounding] = []
    tied: dict[tuple[int, Fraction], int] = {}  # (key, end) -> index into heard
    for index, start in zip(reading.order, starts, strict=True):
        for note in (n for n in by_measure.get(index, ()) if not n.grace):
            onset = start + note.offset + (reading.shift if index == 0 else 0)
            row = tied.pop((note.key, onset), None)
            if row is None:
                row = len(heard)
                heard.append(Sounding(onset, Fraction(0), note.key, note.source))
            heard[row] = heard[row]._replace(length=onset + note.length - heard[row].onset)
            if note.begins:
                tied[note.key, onset + note.length] = row
    return sorted(heard)
