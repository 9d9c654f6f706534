"""What the reading tests share: the files of the music21 package, and the engine's reading of one of them."""

from __future__ import annotations

from fractions import Fraction
from importlib.util import find_spec
from pathlib import Path
from typing import NamedTuple

from rendering.annotate import annotate
from rendering.problems import Problem
from rendering.readers import Limits, read
from rendering.score import Score
from rendering.unfold import unfold
from tests.outside import plain_reader

_SPEC = find_spec("music21")
assert _SPEC is not None
assert _SPEC.origin is not None
MUSIC21 = Path(_SPEC.origin).parent
CORPUS = MUSIC21 / "corpus"
LILYPOND = MUSIC21 / "musicxml" / "lilypondTestSuite"

# The hardest files of the corpus, and what makes each hard.
HARD = {
    "beethoven/opus59no1/movement2.mxl": "15 measures that a part does not fill",
    "beethoven/opus59no3/movement2.mxl": "pizz. and arco, an overfull measure, ties across voices",
    "beethoven/opus132.mxl": "UTF-16, ties that only start, several movements in one file",
    "beethoven/opus133.mxl": "trills, grace notes, changing meters",
    "schumann_robert/opus41no1/movement1.mxl": "accents, hairpins, a part with divisions of its own",
    "haydn/opus74no1/movement1.mxl": "staccato, fermatas",
    "weber/concertino_clarinet.mxl": "a transposing instrument, grace notes at the end of a measure",
    "joplin/maple_leaf_rag.mxl": "a pickup, endings",
}


class Row(NamedTuple):
    """One written note, for comparing."""

    onset: Fraction
    length: Fraction
    key: int
    grace: bool
    ties_on: bool
    staff: int
    voice: str
    source: int


def corpus_files() -> list[Path]:
    """Return all MusicXML files of the corpus, in the order of their names."""
    return sorted(p for ending in ("mxl", "xml", "musicxml") for p in CORPUS.rglob(f"*.{ending}"))


def lilypond_files() -> list[Path]:
    return sorted(p for p in LILYPOND.iterdir() if p.suffix in {".xml", ".mxl"})


def read_whole(data: bytes) -> tuple[Score, list[Problem]]:
    """Return a file as the engine reads, annotates and unfolds it, without limits, with all problems."""
    as_read, problems = read(data, Limits.none())
    score, found = annotate(as_read)
    return score, [*problems, *found, *unfold(score, as_read, Limits.none())]


def order_of(score: Score) -> list[int]:
    """Return the ordinals of measures as played."""
    return [m for first, last, _ in score.itinerary for m in range(first, last + 1)]


def rows_of(score: Score) -> dict[str, list[Row]]:
    """Return part id -> its written notes."""
    unit = score.unit
    return {
        part.id: sorted(
            Row(
                Fraction(note.offset, unit), Fraction(note.duration, unit), note.key, note.grace > 0,
                note.tie in {1, 3}, line.staff, line.voice, note.source,
            )
            for line in part.lines
            for note in map(line.note, range(len(line)))
        )
        for part in score.parts
    }  # fmt: skip


def plain_rows(reading: plain_reader.Reading) -> dict[str, list[Row]]:
    """Return the same of a plain reading."""
    starts = [sum(reading.lengths[:i], Fraction(0)) for i in range(len(reading.lengths))]
    return {
        name: sorted(
            Row(
                starts[n.measure] + n.offset + (reading.shift if n.measure == 0 else 0), n.length, n.key, n.grace,
                n.begins, int(n.staff), n.voice, n.source,
            )
            for n in notes
        )
        for name, notes in reading.parts.items()
    }  # fmt: skip


def differences(data: bytes) -> tuple[list[tuple[str, str, Row]], int, bool]:
    """Compare both readings; return (part, "plain only" or "engine only", note), how many notes, same playing order."""
    score, _ = read_whole(data)
    reading = plain_reader.read(data)
    ours, plain = rows_of(score), plain_rows(reading)
    found = []
    for name in ours.keys() | plain.keys():
        a, b = set(ours.get(name, ())), set(plain.get(name, ()))
        found += [(name, "plain only", row) for row in sorted(b - a)] + [(name, "engine only", row) for row in sorted(a - b)]
    same = [m - 1 for m in order_of(score)] == reading.order
    return found, sum(map(len, plain.values())), same
