"""Marks as the elements of a note: which element our reader takes for which mark, in a family of instruments."""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

from lxml import etree
from lxml.etree import _Element

from rendering.marks import BIT, GLYPH_MARKS, element_mark

ARTICULATIONS = (
    "accent", "strong-accent", "staccato", "tenuto", "detached-legato", "staccatissimo", "spiccato", "scoop", "plop", "doit", "falloff",
    "breath-mark", "caesura", "stress", "unstress", "soft-accent",
)  # fmt: skip
TECHNICAL = (
    "up-bow", "down-bow", "open-string", "thumb-position", "double-tongue", "triple-tongue", "stopped", "snap-pizzicato", "heel", "toe",
    "fingernails", "brass-bend", "flip", "smear", "open", "half-muted", "golpe", "tap",
)  # fmt: skip
ORNAMENTS = (
    "turn", "delayed-turn", "inverted-turn", "delayed-inverted-turn", "vertical-turn", "inverted-vertical-turn", "shake", "mordent",
    "inverted-mordent", "schleifer", "haydn",
)  # fmt: skip
HANDBELLS = (
    "belltree", "damp", "echo", "gyro", "hand martellato", "mallet lift", "mallet table", "martellato", "martellato lift",
    "muted martellato", "pluck lift", "swing",
)  # fmt: skip
STRINGS = ("1", "2", "3", "4", "5", "6")


class Shape(NamedTuple):
    """An element to be written: its group inside `notations` ("" = beside the groups), name, attributes, text, child with text."""

    group: str
    tag: str
    attributes: tuple[tuple[str, str], ...] = ()
    text: str = ""
    child: tuple[str, str] = ("", "")


@cache
def shapes_of(family: str) -> dict[int, Shape]:
    """Return bit of a mark -> the element of a note that asks for it in a family; marks without one are left out.

    Glyphs by their SMuFL names come last: few programs but ours read a mark in them.
    """
    found: dict[int, Shape] = {}
    for name, shape in [*_plain(family), *_special(family), *_glyphs()]:
        if name:
            found.setdefault(BIT[name], shape)
    return found


def _plain(family: str) -> list[tuple[str, Shape]]:
    groups = (("articulations", ARTICULATIONS), ("technical", TECHNICAL), ("ornaments", ORNAMENTS))
    return [(element_mark(group, tag, family), Shape(group, tag)) for group, tags in groups for tag in tags]


def _special(family: str) -> list[tuple[str, Shape]]:
    """Return the elements that say which mark they mean by what they hold."""
    start = (("type", "start"), ("number", "1"))
    roll = element_mark("ornaments", "trill-mark", family)
    trills = [(roll, Shape("ornaments", "trill-mark"))] if roll != "trill whole" else [
        (f"trill {step}", Shape("ornaments", "trill-mark", (("trill-step", step),))) for step in ("half", "whole")
    ]  # fmt: skip
    return [
        *trills,
        (element_mark("tremolo", "single", family), Shape("ornaments", "tremolo", (("type", "unmeasured"),), "0")),
        (element_mark("tremolo", "start", family), Shape("ornaments", "tremolo", (("type", "start"),), "0")),
        (element_mark("technical", "harmonic", family), Shape("technical", "harmonic", child=("natural", ""))),
        (element_mark("harmonic", "artificial", family), Shape("technical", "harmonic", child=("artificial", ""))),
        (element_mark("technical", "harmon-mute", family), Shape("technical", "harmon-mute", child=("harmon-closed", "yes"))),
        (element_mark("technical", "hammer-on", family), Shape("technical", "hammer-on", start, "H")),
        (element_mark("technical", "pull-off", family), Shape("technical", "pull-off", start, "P")),
        (element_mark("technical", "bend", family), Shape("technical", "bend", child=("bend-alter", "1"))),
        *((element_mark("string", n, family), Shape("technical", "string", text=n)) for n in STRINGS),
        *((element_mark("handbell", n, family), Shape("technical", "handbell", text=n)) for n in HANDBELLS),
        (element_mark("notations", "arpeggiate", family), Shape("", "arpeggiate")),
        (element_mark("arpeggiate", "down", family), Shape("", "arpeggiate", (("direction", "down"),))),
        (element_mark("notations", "non-arpeggiate", family), Shape("", "non-arpeggiate", (("type", "bottom"),))),
        (element_mark("notations", "glissando", family), Shape("", "glissando", start)),
        (element_mark("notations", "slide", family), Shape("", "slide", (("type", "stop"), ("number", "1")))),
        (element_mark("tied", "let-ring", family), Shape("", "tied", (("type", "let-ring"),))),
    ]


def _glyphs() -> list[tuple[str, Shape]]:
    return [(name, Shape("technical", "other-technical", (("smufl", glyph),))) for glyph, name in GLYPH_MARKS.items()]


def is_glyph(shape: Shape) -> bool:
    """Say whether only the name of a glyph tells what is meant."""
    return shape.tag.startswith("other-")


def add_shape(parent: _Element, shape: Shape) -> None:
    """Append the element to its group's element, or to `notations`."""
    element = etree.SubElement(parent, shape.tag, dict(shape.attributes))
    if shape.text:
        element.text = shape.text
    tag, text = shape.child
    if tag:
        etree.SubElement(element, tag).text = text or None
