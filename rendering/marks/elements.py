"""What MusicXML's elements and values, and SMuFL's glyphs, mean as marks."""

from __future__ import annotations

from rendering.marks.families import kin
from rendering.marks.table import MARKS


def _read() -> tuple[dict[tuple[str, str], str], dict[tuple[str, str, str], str], dict[str, str]]:
    plain: dict[tuple[str, str], str] = {}
    by_family: dict[tuple[str, str, str], str] = {}
    glyphs: dict[str, str] = {}
    for mark in MARKS:
        for element in mark.musicxml:
            path, _, family = element.partition("@")
            group, _, value = path.partition("/")
            if family:
                by_family[(group, value, family)] = mark.name
            else:
                plain[(group, value)] = mark.name
        glyphs.update(dict.fromkeys(mark.smufl, mark.name))
    return plain, by_family, glyphs


# (group, element or value) -> mark: ("articulations", "staccato"), ("mute", "cup"), ("beater", "bow").
# A trill-mark stands as "trill whole" (MusicXML: trill-step is whole unless said), a harmonic as natural:
# whoever reads the file knows better where it says so.
ELEMENT_MARKS, FAMILY_ELEMENT_MARKS, GLYPH_MARKS = _read()


def element_mark(group: str, value: str, family: str = "") -> str:
    """Return the mark that an element (or an enumerated value) means in a family; "" when it means none.

    A stopped sign is "stopped" for brass, a left-hand pizzicato for strings, "muffled" for timpani.
    """
    for kind in kin(family):
        if found := FAMILY_ELEMENT_MARKS.get((group, value, kind)):
            return found
    return ELEMENT_MARKS.get((group, value), "")
