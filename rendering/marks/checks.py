"""What the shipped tables promise, checked: the tests run it, imports do not."""

from __future__ import annotations

from collections.abc import Iterator

from rendering.marks.cancelling import RULES
from rendering.marks.elements import ELEMENT_MARKS, key_of
from rendering.marks.families import PARENT
from rendering.marks.table import AXES, EITHER, MARKS, mask_of
from rendering.marks.tables import TableError, listed, rows
from rendering.marks.wordings import ELSEWHERE, listed_for

STATUSES = ("checked", "memory", "standard", "practice")
LANGUAGES = ("it", "de", "fr", "en", "sym")
FAMILIES = ("any", *PARENT)


def faults() -> list[str]:
    """Return what is wrong in the tables, one sentence each with file and row; [] when they hold."""
    return [*_in_marks(), *_in_elements(), *_in_rules(), *_in_words(), *_in_standards(), *_reached(), *_in_families()]


def _in_marks() -> Iterator[str]:
    seen: set[str] = set(EITHER)
    for mark in MARKS:
        if mark.name in seen:
            yield f"marks.tsv, {mark.name}: the name stands twice"
        seen.add(mark.name)
        if mark.name != mark.name.casefold() and not mark.name.startswith("sul ") and not mark.name.startswith("string "):
            yield f"marks.tsv, {mark.name}: not in lower case"
        if mark.axis not in AXES:
            yield f"marks.tsv, {mark.name}: no axis {mark.axis!r}"
        if mark.reach not in {"note", "passage"}:
            yield f"marks.tsv, {mark.name}: no reach {mark.reach!r}"
        if not mark.source:
            yield f"marks.tsv, {mark.name}: no source"
        for family in mark.families:
            if family not in FAMILIES:
                yield f"marks.tsv, {mark.name}: no family {family!r}"
        yield from _unknown(f"marks.tsv, {mark.name}", mark.ends)


def _unknown(where: str, items: tuple[str, ...] | list[str]) -> Iterator[str]:
    for item in items:
        try:
            mask_of([item])
        except TableError as error:
            yield f"{where}: {error}"


def _in_elements() -> Iterator[str]:
    """An element, a value or a glyph has one meaning in one family."""
    seen: dict[str, str] = {}
    listed_paths = [(mark.name, mark.musicxml + mark.smufl + mark.mei) for mark in MARKS]
    for name, paths in [*listed_paths, *((name, rule.elements) for name, rule in RULES.items())]:
        for path in paths:
            if path in seen:
                yield f"{name}: {path} already means {seen[path]}"
            seen[path] = name
            if key_of(path)[2] not in {"", *PARENT}:
                yield f"{name}: {path} names no family"


def _in_rules() -> Iterator[str]:
    for name, rule in RULES.items():
        if not rule.removes:
            yield f"cancels.tsv, {name}: ends nothing"
        if not rule.source:
            yield f"cancels.tsv, {name}: no source"


def _in_words() -> Iterator[str]:
    for number, row in enumerate(rows("words.tsv"), start=2):
        where = f"words.tsv, line {number}"
        if row["kind"] == "end" and row["means"] not in RULES:
            yield f"{where}: no rule {row['means']!r}"
        elif row["kind"] == "mark":
            yield from _unknown(where, listed(row["means"]))
        elif row["kind"] not in {"end", *ELSEWHERE}:
            yield f"{where}: no kind {row['kind']!r}"
        for column, allowed in (("status", STATUSES), ("language", LANGUAGES), ("alone", ("", "yes", "only"))):
            if row[column] not in allowed:
                yield f"{where}: no {column} {row[column]!r}"
        if not row["source"] or not row["wordings"]:
            yield f"{where}: no source or no wording"
        for family in listed(row["families"]):
            if family not in FAMILIES:
                yield f"{where}: no family {family!r}"
    for family in FAMILIES:
        try:
            listed_for(family)
        except TableError as error:
            yield str(error)


def _in_standards() -> Iterator[str]:
    """Every row says either which marks or why none."""
    for name, columns in (
        ("standards.tsv", ("standard", "list", "item")),
        ("m2_123.tsv", ("class", "subclass")),
        ("m2_123_mutes.tsv", ("value",)),
    ):
        for row in rows(name):
            where = f"{name}, {' '.join(row[column] for column in columns)}"
            if bool(row["marks"]) == bool(row["why_none"]):
                yield f"{where}: marks or a reason, not both and not neither"
            if not row["source"]:
                yield f"{where}: no source"
            yield from _unknown(where, [item for group in listed(row["marks"], "|") for item in listed(group.replace("+", ","))])


def _reached() -> Iterator[str]:
    """A mark that nothing in a score can ask for is no mark."""
    worded = {name for row in rows("words.tsv") if row["kind"] == "mark" for name in listed(row["means"])}
    for mark in MARKS:
        if not mark.musicxml and not mark.smufl and not mark.mei and mark.name not in worded:
            yield f"marks.tsv, {mark.name}: no sign and no wording leads to it"


def _in_families() -> Iterator[str]:
    for row in rows("families.tsv"):
        if row["family"] not in PARENT or row["by"] not in {"sound", "name", "guess", "ending"} or not row["source"]:
            yield f"families.tsv, {row['family']} by {row['by']}: no such family or way, or no source"


def standing(group: str, value: str) -> str:
    """Return what the tables say of a MusicXML element or value: a mark, a reason why it is none, or "".

    `group` is the parent element ("technical") or the enumeration ("beater-value").
    """
    element_group = {"direction-type": "direction"}.get(group, group.removesuffix("-value").removesuffix("-type") or group)
    for name in dict.fromkeys((group, element_group)):
        if found := ELEMENT_MARKS.get((name, value)):
            return found
    return _reasons().get((group, value)) or _reasons().get((group, "*"), "")


def _reasons() -> dict[tuple[str, str], str]:
    return {
        (row["list"], row["item"]): row["marks"] or row["why_none"]
        for row in rows("standards.tsv")
        if row["standard"].startswith("MusicXML")
    }
