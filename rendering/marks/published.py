"""The marks table as data, for the API and the command line."""

from __future__ import annotations

from functools import cache
from typing import TypedDict

from rendering.marks.families import belongs
from rendering.marks.table import AXES, BIT, CANCELS, EITHER, MARKS, Mark, names
from rendering.marks.tables import listed, rows

SECOND_HAND = "second hand"


class WordingRow(TypedDict):
    """The wordings of one mark in one language: `status` is "checked", "memory", "practice" or "standard"."""

    language: str
    families: list[str]
    wordings: list[str]
    reach: str
    status: str
    source: str


class ClassRow(TypedDict):
    """A class of M2-123; `known` says that it comes second hand."""

    attribute_type: str
    subclass: str
    known: str


class MarkRow(TypedDict):
    """One mark as published.

    rank     1 = the axis whose loss is worst
    cancels  marks whose passage ends where this one begins, those that no instrument shares left out
    either   the collective name that maps may use for it ("trill"); "" = none
    """

    name: str
    axis: str
    rank: int
    reach: str
    cancels: list[str]
    families: list[str]
    either: str
    musicxml: list[str]
    smufl: list[str]
    mei: list[str]
    m2_123: list[ClassRow]
    m2_123_mute: str
    wordings: list[WordingRow]
    source: str


def marks_table() -> list[MarkRow]:
    """Return every mark in order of rank (1 = the axis whose loss is worst), JSON-able."""
    words = _words()
    return [_row(mark, words.get(mark.name, [])) for mark in MARKS]


def _row(mark: Mark, words: list[WordingRow]) -> MarkRow:
    return MarkRow(
        name=mark.name,
        axis=mark.axis,
        rank=1 + AXES.index(mark.axis),
        reach=mark.reach,
        cancels=[name for name in names(CANCELS[BIT[mark.name]]) if _meet(mark, MARKS[BIT[name]])],
        families=list(mark.families),
        either=next((name for name, all_of in EITHER.items() if mark.name in all_of), ""),
        musicxml=list(mark.musicxml),
        smufl=list(mark.smufl),
        mei=list(mark.mei),
        m2_123=[ClassRow(attribute_type=kind, subclass=sub, known=SECOND_HAND) for kind, sub in mark.m2_123],
        m2_123_mute=_mutes().get(mark.name, ""),
        wordings=words,
        source=mark.source,
    )


def _meet(one: Mark, other: Mark) -> bool:
    """Say whether some instrument may be asked for both marks."""
    if "any" in one.families + other.families:
        return True
    return any(belongs(a, b) or belongs(b, a) for a in one.families for b in other.families)


@cache
def _mutes() -> dict[str, str]:
    return {name: row["value"] for row in rows("m2_123_mutes.tsv") for name in listed(row["marks"], "|")}


@cache
def _words() -> dict[str, list[WordingRow]]:
    found: dict[str, list[WordingRow]] = {}
    for row in rows("words.tsv"):
        if row["kind"] == "mark":
            for name in listed(row["means"]):
                found.setdefault(name, []).append(_wording(row))
    return found


def _wording(row: dict[str, str]) -> WordingRow:
    return WordingRow(
        language=row["language"],
        families=listed(row["families"]),
        wordings=listed(row["wordings"], "|"),
        reach=row["reach"],
        status=row["status"],
        source=row["source"],
    )
