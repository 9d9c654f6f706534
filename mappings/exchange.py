"""The door to the engine's documents: bytes from outside in, frozen texts and refusals out."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any, TypeVar

from mappings.blobs import Frozen
from mappings.errors import Invalid, Item, NotJson, ServiceError
from rendering.codes import message, severity
from rendering.documents import DocumentModel, Line, Name, canonical, digest, read
from rendering.maps.document import ArticulationMap, MarkName, Sound
from rendering.marks import BIT, EITHER, MARKS, expand
from rendering.marks.published import marks_table
from rendering.problems import Place, Problem, Refused
from rendering.proposal import propose
from rendering.rendered import ENGINE, Options
from rendering.report_document import Finding, Report
from rendering.templates import Preroll, Rule, Template

__all__ = [
    "ArticulationMap",
    "DocumentModel",
    "Finding",
    "Line",
    "MarkName",
    "Name",
    "Preroll",
    "Report",
    "Rule",
    "Sound",
    "Template",
    "accepted",
    "default_options",
    "engine_version",
    "freeze",
    "freeze_json",
    "item",
    "mark_rows",
    "marks_named",
    "marks_table",
    "parse",
    "propose",
    "refusal",
]

ModelT = TypeVar("ModelT", bound=DocumentModel)
NOT_JSON = {"not-json", "too-deep"}


def engine_version() -> str:
    """Return the version of the engine that renders here."""
    return ENGINE


def default_options() -> dict[str, Any]:
    """Return every choice of a render with its default."""
    return dict(asdict(Options()))


def parse(model: type[ModelT], body: bytes) -> ModelT:
    """Return what a JSON body holds; NotJson or Invalid with every error at once, each with its pointer."""
    try:
        return read(model, body)
    except Refused as refused:
        raise refusal(refused.problems) from None


def refusal(problems: Iterable[Problem], prefix: str = "") -> ServiceError:
    """Return the exception that says these problems, their pointers put behind a prefix."""
    found = list(problems)
    kind = NotJson if any(p.code in NOT_JSON for p in found) else Invalid
    return kind(errors=[item(p, prefix) for p in found])


def item(found: Problem, prefix: str = "") -> Item:
    """Return a problem as it is sent: pointer (or where), code, severity, detail."""
    where = found.place if found.place.pointer is None else Place(pointer=prefix + found.place.pointer)
    at = {"pointer": where.pointer} if where.pointer is not None else {}
    return {
        **at,
        "code": found.code,
        "severity": severity(found),
        "detail": message(Problem(code=found.code, place=where, arguments=found.arguments)),
    }


def accepted(problems: list[Problem], prefix: str) -> list[Item]:
    """Return problems as items; Invalid, with all of them, if there is any error."""
    if any(severity(p) == "error" for p in problems):
        raise refusal(problems, prefix)
    return [item(p, prefix) for p in problems]


def freeze(document: DocumentModel) -> Frozen:
    """Return a document of the engine as it is kept: its canonical bytes as text."""
    body = canonical(document)
    said = json.loads(body)
    return Frozen(kind=said["kind"], edition=said["edition"], body=body.decode(), digest=digest(body))


def freeze_json(kind: str, document: Mapping[str, Any]) -> Frozen:
    """Return a JSON object that the service or the engine wrote (a report, a list of inputs) as it is kept."""
    said: dict[str, Any] = {"kind": kind, "edition": 1} | dict(document)
    body = json.dumps(said, ensure_ascii=False, separators=(",", ":")).replace("\x00", "")
    return Frozen(kind=said["kind"], edition=said["edition"], body=body, digest=digest(body.encode()))


def marks_named(name: str) -> tuple[str, ...]:
    """Return the marks that a name stands for; empty for an unknown one."""
    return expand(name) if name in BIT or name in EITHER else ()


# How well a map plays a mark, best first.
HOW = ("exact", "in set", "stand-in")


def mark_rows(document: ArticulationMap) -> list[tuple[str, str, str]]:
    """Return (axis, mark, how) of each mark that a map can play, each once with its best way; by rank of the mark."""
    best: dict[str, str] = {}
    for how, name in _ways(document):
        for mark in expand(name):
            best[mark] = min(best.get(mark, how), how, key=HOW.index)
    return [(mark.axis, mark.name, best[mark.name]) for mark in MARKS if mark.name in best]


def _ways(document: ArticulationMap) -> Iterable[tuple[str, str]]:
    for articulation in document.articulations:
        for marks in articulation.plays:
            yield from (("exact" if len(marks) == 1 else "in set", name) for name in marks)
    for rule in document.stand_ins:
        yield "stand-in", rule.for_
