"""Masks of marks for the elements of a note, by the family of the part."""

from __future__ import annotations

from rendering.marks import AXIS_MASK, BIT, element_mark

# What one note of a chord has for itself; all other marks of a chord are shared by its notes.
OWN_MARKS: int = AXIS_MASK[BIT["string I"]] | AXIS_MASK[BIT["open string"]]
TRILL_HALF: int = 1 << BIT["trill half"]
TRILL_WHOLE: int = 1 << BIT["trill whole"]
RING: int = 1 << BIT["laissez vibrer"]


class ElementMasks:
    """(group, element or value) -> mask, in one family; 0 for what asks nothing of the player."""

    __slots__ = ("family", "known")

    def __init__(self, family: str) -> None:
        self.family: str = family
        self.known: dict[tuple[str, str], int] = {}

    def get(self, group: str, value: str) -> int:
        found = self.known.get((group, value), -1)
        if found < 0:
            name = element_mark(group, value, self.family)
            found = self.known[group, value] = 1 << BIT[name] if name else 0
        return found


_FAMILIES: dict[str, ElementMasks] = {}


def masks_of(family: str) -> ElementMasks:
    """Return the masks of a family; one object each, as they never change."""
    if family not in _FAMILIES:
        _FAMILIES[family] = ElementMasks(family)
    return _FAMILIES[family]
