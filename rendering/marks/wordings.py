"""The lexicon's wordings, gathered into one dictionary a family."""

from __future__ import annotations

from functools import cache, lru_cache
from typing import NamedTuple

from rendering.marks.table import CANCELS, MARKS, mask_of, names
from rendering.marks.tables import TableError, listed, rows

# Kinds of wordings that are no marks: read, so that they are not listed as unread.
ELSEWHERE = ("simile", "tempo", "dynamics", "navigation", "notation", "expression")
_RULES_MARK, _RULES_END = "mark", "end"


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


class Rule(NamedTuple):
    """One row of the cancel table: what ends, and what turns into what."""

    removes: int
    becomes: tuple[tuple[int, int], ...]
    source: str


def rules() -> dict[str, Rule]:
    """Return the cancel table: name of the rule -> what it ends ("arco", "ordinary", "senza sordino" …)."""
    found: dict[str, Rule] = {}
    for row in rows("cancels.tsv"):
        items = listed(row["ends"])
        kept = mask_of(item[1:] for item in items if item.startswith("!"))
        ended = mask_of(item for item in items if not item.startswith("!"))
        turned = [listed(pair, ">") for pair in listed(row["becomes"])]
        becomes = tuple((mask_of([old]), mask_of([new])) for old, new in turned)
        found[row["name"]] = Rule(ended & ~kept, becomes, row["source"])
    return found


def ended_by(marks: int) -> int:
    """Return the passage marks that end where `marks` begin together."""
    found = 0
    for name in names(marks):
        found |= CANCELS[_BITS[name]]
    return found & ~marks


_BITS = {mark.name: bit for bit, mark in enumerate(MARKS)}


def _wording(row: dict[str, str], ends: dict[str, Rule]) -> Wording:
    memory = row["status"] == "memory"
    if row["kind"] == _RULES_MARK:
        marks = mask_of(listed(row["means"]))
        if row["reach"] == "note":
            return Wording("marks", 0, 0, marks, (), row["alone"], memory)
        return Wording("marks", marks, ended_by(marks), 0, (), row["alone"], memory)
    if row["kind"] == _RULES_END:
        rule = ends[row["means"]]
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
def by_family() -> dict[str, dict[tuple[str, ...], Wording]]:
    """Return family (and "any") -> forms -> wording, as listed for that very family.

    TableError when a wording means two things to one family.
    """
    from rendering.marks.lexicon import tokens  # the lexicon reads texts and wordings alike

    ends = rules()
    found: dict[str, dict[tuple[str, ...], Wording]] = {}
    for row in rows("words.tsv"):
        wording = _wording(row, ends)
        for text in listed(row["wordings"], "|"):
            forms = tuple(token.form for token in tokens(text))
            for family in listed(row["families"]):
                _add(found.setdefault(family, {}), forms, wording, family)
    return found


def _common() -> dict[tuple[str, ...], Wording]:
    """Return the wordings for an unknown instrument: those that mean one thing wherever they are listed.

    Strings and winds outvote the rest: "con sord." is a mute, though timpani and old pianos differ.
    """
    seen: dict[tuple[str, ...], list[Wording]] = {}
    for families in (("strings", "woodwind", "brass"), tuple(by_family())):
        listed_here: dict[tuple[str, ...], list[Wording]] = {}
        for family in families:
            for forms, wording in by_family()[family].items():
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
        words |= by_family().get(family, {})
    merged = by_family()["any"] | words
    return Dictionary(merged, max(len(forms) for forms in merged))
