"""Metronome marks: a number, a range, or one note value that is as long as another; swing."""

from __future__ import annotations

import re
from fractions import Fraction

from lxml.etree import _Element

from rendering.readers.cursor import TYPES, Cursor
from rendering.readers.numbers import decimal_of, rounded, text_of, whole_of

_NUMBER = r"[0-9]{1,6}(?:\.[0-9]{1,6})?"
_RANGE = re.compile(rf"({_NUMBER})\s*[-–—]\s*({_NUMBER})")


def read_metronome(cursor: Cursor, metronome: _Element) -> None:
    """Note "unit = number" as a speed, "unit = unit" as a ratio, two rows of equal length as swing."""
    units = beat_units(metronome)
    number = text_of(metronome, "per-minute")
    if len(units) == 1 and number:
        between = _RANGE.search(number)
        speed = speed_of(number)
        if speed:
            value = min(rounded(speed * units[0] * 1000), 10**8)
            cursor.sign("metronome", value=value, number=between.group().replace(" ", "") if between else "")
        return
    groups = [[u] for u in units] if len(units) == 2 else note_groups(metronome)
    if len(groups) != 2 or not all(sum(g) for g in groups):
        return
    old, new = (sum(group, Fraction(0)) for group in groups)
    if old == new and len(groups[1]) == 2 and groups[1][0] != groups[1][1]:
        part = groups[1][0] / groups[1][1]
        cursor.sign("swing", number=f"{part.numerator}:{part.denominator}", value=rounded(1000 * new))
    else:
        cursor.sign("modulation", number=str(Fraction(new, old)))


def speed_of(number: str) -> Fraction:
    """Return the number in a text, of a range its middle; 0 without one."""
    between = _RANGE.search(number)
    found = between.groups() if between else re.findall(_NUMBER, number)[:1]
    return sum((decimal_of(n) or Fraction(0) for n in found), Fraction(0)) / max(len(found), 1)


def beat_units(metronome: _Element) -> list[Fraction]:
    """Return the note values in quarters, with their dots and tied values."""
    found: list[Fraction] = []
    dots, last = 0, Fraction(0)
    for child in metronome:
        if child.tag == "beat-unit":
            dots, last = 0, TYPES.get(text_of(child), Fraction(0))
            found.append(last)
        elif child.tag == "beat-unit-dot" and found and dots < 9:
            dots += 1
            found[-1] += last / 2**dots
        elif child.tag == "beat-unit-tied" and found:
            found[-1] += sum(beat_units(child), Fraction(0))
    return found


def note_groups(metronome: _Element) -> list[list[Fraction]]:
    """Return the lengths in quarters of the notes on both sides of a relation; [] without one."""
    groups: list[list[Fraction]] = [[]]
    for child in metronome:
        if child.tag == "metronome-relation":
            groups.append([])
        elif child.tag == "metronome-note":
            length = TYPES.get(text_of(child, "metronome-type"), Fraction(0))
            length *= 2 - Fraction(1, 2 ** min(len(child.findall("metronome-dot")), 9))
            actual = whole_of(child.findtext("metronome-tuplet/actual-notes"), 1, 999) or 1
            normal = whole_of(child.findtext("metronome-tuplet/normal-notes"), 1, 999) or 1
            groups[-1].append(length * normal / actual)
    return groups if len(groups) == 2 else []


def read_swing(cursor: Cursor, swing: _Element) -> None:
    """Note how long the first and second of two swung notes are; a second of 0 is straight."""
    if swing.find("straight") is not None:
        cursor.sign("swing", number="1:0", value=1000)
        return
    first, second = (whole_of(swing.findtext(name), 1, 99) for name in ("first", "second"))
    if first and second:
        cursor.sign("swing", number=f"{first}:{second}", value=500 if text_of(swing, "swing-type") == "16th" else 1000)
