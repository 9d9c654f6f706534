"""The vocabulary of marks: table, elements, families; words are read by `rendering.marks.lexicon`.

The vocabulary is data, one tab-separated file each: marks, cancels (what *arco*, *ord.* … end), words (wordings
by family and language), families (of instruments), standards (why an element or glyph is no mark), m2_123 and
m2_123_mutes. A new mark is a row in marks.tsv with its source, and at least one sign or wording that asks for
it; `rendering.marks.checks.faults` says what a change has broken. `rendering.marks.published` shows the whole.
"""

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
