"""The published problem codes of the engine, one module a stage, and the sentence for a problem."""

from __future__ import annotations

from rendering.codes.choosing import CHOOSING
from rendering.codes.documents import DOCUMENTS
from rendering.codes.midi import MIDI
from rendering.codes.pencil import PENCIL_MARKS
from rendering.codes.reading import READING
from rendering.codes.writing import WRITING
from rendering.problems import Code, Place, Problem, Severity

__all__ = ["CODES", "DOCUMENTS", "RENDER", "message", "severity", "where_text"]

RENDER: dict[str, Code] = {**READING, **MIDI, **CHOOSING, **WRITING, **PENCIL_MARKS}
CODES: dict[str, Code] = {**RENDER, **DOCUMENTS}


def severity(found: Problem) -> Severity:
    """Return the severity of a problem's code; KeyError for a code that no table lists."""
    return CODES[found.code].severity


def message(found: Problem) -> str:
    """Return the sentence "WHERE: WHAT – CONSEQUENCE" of a problem."""
    code = CODES[found.code]
    values = dict(found.arguments)
    what, consequence = code.what.format(**values), code.consequence.format(**values)
    return f"{where_text(found.place)}: {what} – {consequence}"


def where_text(place: Place) -> str:
    """Return a place in words: "Violin 1, measure 12, beat 3", a JSON pointer, or "score"."""
    if place.pointer is not None:
        return place.pointer or "document"
    words = [place.part_name or place.part] if place.part or place.part_name else []
    if place.ordinal:
        words.append(f"measure {place.measure or place.ordinal}")
    if place.beat:
        words.append(f"beat {place.beat}")
    if place.staff:
        words.append(f"staff {place.staff}")
    if place.voice:
        words.append(f"voice {place.voice}")
    return ", ".join(words) or "score"
