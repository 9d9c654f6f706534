"""What MusicXML's elements and values, and SMuFL's glyphs, mean as marks."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from rendering.marks.cancelling import RULES
from rendering.marks.families import kin
from rendering.marks.table import MARKS, mask_of
from rendering.marks.tables import listed, rows

Key = tuple[str, str, str]  # group, element or value, family ("" = any)


def key_of(path: str) -> Key:
    """Return a path of the tables in parts: "technical/stopped@timpani" -> ("technical", "stopped", "timpani")."""
    element, _, family = path.partition("@")
    group, _, value = element.partition("/")
    return group, value, family


def _keys(meanings: Iterable[tuple[str, tuple[str, ...]]]) -> dict[Key, str]:
    return {key_of(path): name for name, paths in meanings for path in paths}


_MARKS: dict[Key, str] = _keys((mark.name, mark.musicxml) for mark in MARKS)
_ENDS: dict[Key, str] = _keys((name, rule.elements) for name, rule in RULES.items())

# (group, element or value) -> mark: ("articulations", "staccato"), ("mute", "cup"), ("beater", "bow").
# A trill-mark stands as "trill whole" (MusicXML: trill-step is whole unless said), a harmonic as natural:
# whoever reads the file knows better where it says so.
ELEMENT_MARKS: dict[tuple[str, str], str] = {key[:2]: name for key, name in _MARKS.items() if not key[2]}
# The same where one family differs: (group, element or value, family) -> mark.
FAMILY_ELEMENT_MARKS: dict[Key, str] = {key: name for key, name in _MARKS.items() if key[2]}
# SMuFL's canonical glyph name -> mark, where one mark is all that the glyph means.
GLYPH_MARKS: dict[str, str] = {glyph: mark.name for mark in MARKS for glyph in mark.smufl}


def element_mark(group: str, value: str, family: str = "") -> str:
    """Return the mark that an element (or an enumerated value) means in a family; "" when it means none.

    A stopped sign is "stopped" for brass, a left-hand pizzicato for strings, "muffled" for timpani.
    """
    return _nearest(_MARKS, group, value, family)


def element_ends(group: str, value: str, family: str = "") -> int:
    """Return the marks that an element or value ends ("string-mute" "off"; "open" on a brass note); 0 = none."""
    rule = _nearest(_ENDS, group, value, family)
    return RULES[rule].removes if rule else 0


def _nearest(meanings: dict[Key, str], group: str, value: str, family: str) -> str:
    for kind in (*kin(family), ""):
        if found := meanings.get((group, value, kind)):
            return found
    return ""


@cache
def _glyphs() -> dict[str, int]:
    found = {glyph: mask_of([name]) for glyph, name in GLYPH_MARKS.items()}
    for row in rows("standards.tsv"):
        if row["standard"].startswith("SMuFL") and row["marks"]:
            found |= dict.fromkeys(row["item"].split(), mask_of(listed(row["marks"])))
    return found


def glyph_mask(glyph: str) -> int:
    """Return the marks that a glyph asks for, by its canonical SMuFL name; 0 when it is no mark."""
    return _glyphs().get(glyph, 0)
