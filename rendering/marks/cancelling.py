"""The cancel table: what *arco*, *ord.*, *senza sord.* and their like end, and what they leave alone."""

from __future__ import annotations

from typing import NamedTuple

from rendering.marks.table import mask_of
from rendering.marks.tables import listed, rows


class Rule(NamedTuple):
    """One row: the marks whose passage ends, (marks, marks) of which the first become the second, the source.

    elements  MusicXML's "group/value" (glyphs: "smufl/name") that ask for it, with "@family" where only that
              family means it
    """

    removes: int
    becomes: tuple[tuple[int, int], ...]
    elements: tuple[str, ...]
    source: str


def _read() -> dict[str, Rule]:
    found: dict[str, Rule] = {}
    for row in rows("cancels.tsv"):
        pairs = [listed(pair, ">") for pair in listed(row["becomes"])]
        becomes = tuple((mask_of([old]), mask_of([new])) for old, new in pairs)
        found[row["name"]] = Rule(mask_of(listed(row["ends"])), becomes, tuple(listed(row["musicxml"], "|")), row["source"])
    return found


RULES: dict[str, Rule] = _read()
