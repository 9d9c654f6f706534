"""The lexicon's wordings, gathered into one dictionary a family."""

from __future__ import annotations

from functools import cache, lru_cache
from typing import NamedTuple

from rendering.marks.cancelling import RULES
from rendering.marks.families import PARENT
from rendering.marks.table import BIT, CANCELS, mask_of, names
from rendering.marks.tables import TableError, listed, rows
from rendering.marks.tokens import tokens

# Kinds of wordings that are no marks: read, so that they are not listed as unread.
ELSEWHERE = ("simile", "tempo", "dynamics", "navigation", "notation", "expression")


class Wording(NamedTuple):
    """What one wording does; `alone`: "" always, "yes" where the rest is understood, "only" by itself."""

    kind: str
    adds: int
    removes: int
    here: int
    becomes: tuple[tuple[int, int], ...]
    alone: str
    from_memory: bool


class Dictionary(NamedTuple):
    """Forms -> wording, and how many forms the longest has."""

    words: dict[tuple[str, ...], Wording]
    longest: int

    def find(self, forms: tuple[str, ...]) -> Wording | None:
        """Return the wording of these forms; "div. a 3." is "div. a 3", and "#" stands for any figure."""
        found = self.words.get(forms)
        if found is None and len(forms) > 1:
            low = tuple(form.lower() for form in forms)
            found = self.words.get(low) or self.words.get((*low[:-1], low[-1].rstrip(".")))
        if found is None and any(form[0].isdigit() for form in forms):
            found = self.words.get(tuple("#" if form[0].isdigit() else form for form in forms))
        return found


def ended_by(marks: int) -> int:
    """Return the passage marks that end where `marks` begin together."""
    found = 0
    for name in names(marks):
        found |= CANCELS[BIT[name]]
    return found & ~marks


def _wording(row: dict[str, str]) -> Wording:
    memory = row["status"] == "memory"
    if row["kind"] == "mark":
        marks = mask_of(listed(row["means"]))
        if row["reach"] == "note":
            return Wording("marks", 0, 0, marks, (), row["alone"], memory)
        return Wording("marks", marks, ended_by(marks), 0, (), row["alone"], memory)
    if row["kind"] == "end":
        if row["means"] not in RULES:
            raise TableError(f"words.tsv: no rule {row['means']!r}")
        rule = RULES[row["means"]]
        return Wording("marks", 0, rule.removes, 0, rule.becomes, row["alone"], memory)
    if row["kind"] not in ELSEWHERE:
        raise TableError(f"words.tsv: no kind {row['kind']!r}")
    return Wording(row["kind"], 0, 0, 0, (), row["alone"], False)


def _surer(old: Wording, new: Wording) -> Wording:
    """Return one wording listed twice with one meaning: as sure, and as free, as the better of the two."""
    order = ("", "yes", "only")
    alone = min(old.alone, new.alone, key=order.index)
    return old._replace(alone=alone, from_memory=old.from_memory and new.from_memory)


def _add(words: dict[tuple[str, ...], Wording], forms: tuple[str, ...], new: Wording, family: str) -> None:
    old = words.get(forms)
    if old is not None:
        if old._replace(alone="", from_memory=False) != new._replace(alone="", from_memory=False):
            raise TableError(f"words.tsv: {' '.join(forms)!r} means two things to {family}")
        new = _surer(old, new)
    words[forms] = new


@cache
def _rows() -> tuple[tuple[tuple[str, ...], list[str], Wording], ...]:
    """Return the rows of the lexicon: families, wordings, what they do."""
    return tuple(
        (tuple(listed(row["families"])), listed(row["wordings"], "|"), _wording(row)) for row in rows("words.tsv")
    )  # fmt: skip


@cache
def listed_for(family: str) -> dict[tuple[str, ...], Wording]:
    """Return forms -> wording, as listed for that very family (or "any").

    TableError when a wording means two things to it.
    """
    found: dict[tuple[str, ...], Wording] = {}
    for families, texts, wording in _rows():
        if family in families:
            for text in texts:
                _add(found, tuple(token.form for token in tokens(text)), wording, family)
    return found


def _common() -> dict[tuple[str, ...], Wording]:
    """Return the wordings for an unknown instrument: those that mean one thing wherever they are listed.

    Strings and winds outvote the rest: "con sord." is a mute, though timpani and old pianos differ.
    """
    seen: dict[tuple[str, ...], list[Wording]] = {}
    for families in (("strings", "woodwind", "brass"), ("any", *PARENT)):
        listed_here: dict[tuple[str, ...], list[Wording]] = {}
        for family in families:
            for forms, wording in listed_for(family).items():
                listed_here.setdefault(forms, []).append(wording)
        seen = listed_here | seen
    return {forms: all_of[0] for forms, all_of in seen.items() if len({w[:5] for w in all_of}) == 1}


@lru_cache(maxsize=64)
def dictionary(families: tuple[str, ...]) -> Dictionary:
    """Return the dictionary of a family, given with those it belongs to, nearest first.

    What a nearer family says wins over what a farther one says; () = an unknown instrument.
    """
    words: dict[tuple[str, ...], Wording] = {} if families else _common()
    for family in reversed(families):
        words |= listed_for(family)
    merged = listed_for("any") | words
    return Dictionary(merged, max(len(forms) for forms in merged))
