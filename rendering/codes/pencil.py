"""Problem codes of pencil marks: of the document, and of laying it over a score."""

from __future__ import annotations

from rendering.problems import Code

REFUSED = "the document is not accepted"

PENCIL_DOCUMENTS: dict[str, Code] = {
    "beat-spelling": Code(
        severity="error",
        what="a beat is a whole number or a fraction from 1 on, such as 3 or 5/2",
        consequence=REFUSED,
    ),
    "pencil-kind": Code(
        severity="error",
        what="a pencil mark has exactly one of add, remove, level, hairpin, tempo, slur and syllable",
        consequence=REFUSED,
    ),
    "pencil-until": Code(
        severity="error",
        what="hairpins and slurs have an “until”, levels, tempos and syllables have none",
        consequence=REFUSED,
    ),
    "pencil-doubled": Code(
        severity="error",
        what="another pencil mark already has the id {id}",
        consequence=REFUSED,
        example={"id": "“m41”"},
    ),
}

PENCIL_MARKS: dict[str, Code] = {
    "pencil-lost": Code(
        severity="warning",
        what="there is nothing here that the pencil mark {id} could be on",
        consequence="it is not played",
        example={"id": "m41"},
    ),
}
