"""The vocabulary of marks: table, elements, families; words are read by `rendering.marks.lexicon`."""

from __future__ import annotations

from rendering.marks.elements import ELEMENT_MARKS, GLYPH_MARKS, element_ends, element_mark, glyph_mask
from rendering.marks.families import belongs, family_of, kin
from rendering.marks.table import (
    AXES,
    AXIS_MASK,
    BIT,
    CANCELS,
    EITHER,
    MARKS,
    PASSAGE,
    WEIGHT,
    Mark,
    expand,
    mask,
    names,
    nearest,
)

__all__ = [
    "AXES",
    "AXIS_MASK",
    "BIT",
    "CANCELS",
    "EITHER",
    "ELEMENT_MARKS",
    "GLYPH_MARKS",
    "MARKS",
    "PASSAGE",
    "WEIGHT",
    "Mark",
    "belongs",
    "element_ends",
    "element_mark",
    "expand",
    "family_of",
    "glyph_mask",
    "kin",
    "mask",
    "names",
    "nearest",
]
