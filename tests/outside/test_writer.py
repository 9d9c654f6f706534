"""What the writer writes, read by others: music21, Verovio; and scores of the corpus through the writer and back.

music21's durations and Verovio's places are compared with the neutral score that was written. Percussion
without pitch is left out: both read it as something of their own.
"""

from __future__ import annotations

import random
import warnings
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest
from lxml import etree

from fixtures import demo
from rendering.marks import mask
from rendering.pipeline import load
from rendering.readers import Limits
from rendering.score import TIE_START, TIE_STOP, TIE_THROUGH, Part, Score
from rendering.writers import write_musicxml
from rendering.writers.musicxml.slurs import slurs_of
from rendering.writers.musicxml.straight import straight
from tests.musicxml_schema import faults
from tests.outside.reading import CORPUS, corpus_files, lilypond_files
from tests.outside.test_oracles import GRID, SLACK, verovio_notes
from tests.rendering.made_sketches import sketch

# A sketch with two hands, triplets, a slur and a pedal: what was played, set to a grid, as a score.
SKETCH = sketch("""
    0 1 - tempo 600000
    0 1 - meter 3/4
    0 2 - name Piano
    5 2 1 note 43 1430
    2 2 1 note 50 1440
    0 2 1 note 67 460
    482 2 1 note 71 150
    640 2 1 note 72 158
    801 2 1 note 74 155
    0 2 1 controller 64 127
    958 2 1 note 76 470
    1440 2 1 note 48 700
    1441 2 1 note 64 240
    1680 2 1 note 67 250
    1926 2 1 note 72 960
    2600 2 1 controller 64 0
""")
# The demo transposes and changes its meter, the rag has endings, ties over bar lines and two staves.
READ_BY_OTHERS = ("lamps-along-the-weir", "joplin/maple_leaf_rag.mxl", "a sketch")


@cache
def score_named(name: str) -> Score:
    if name == "a sketch":
        return load(SKETCH, grid="1/16+1/24")[0]
    path = demo.FOLDER / f"{name}.musicxml" if "/" not in name else CORPUS / name
    return load(path.read_bytes(), Limits.none())[0]


def pitched(score: Score) -> list[Part]:
    return [part for part in score.parts if not any(i.unpitched for i in part.instruments)]


def sounding(part: Part, unit: int) -> Iterator[tuple[Fraction, int, Fraction]]:
    """Yield (onset, key, length) in quarters of the notes that sound, ties merged, without grace notes."""
    for line in part.lines:
        held: dict[int, list[int]] = {}
        done: list[list[int]] = []
        for note in map(line.note, range(len(line))):
            if note.grace:
                continue
            before = held.pop(note.key, None)
            if before is None or before[1] != note.offset or note.tie not in {TIE_STOP, TIE_THROUGH}:
                before = [note.offset, note.offset, note.key]
                done.append(before)
            before[1] = note.offset + note.duration
            if note.tie in {TIE_START, TIE_THROUGH}:
                held[note.key] = before
        yield from ((Fraction(a, unit), key, Fraction(b - a, unit)) for a, b, key in done)


def read_by_music21(data: bytes) -> Counter[tuple[Fraction, int, Fraction]]:
    import music21

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        whole = music21.converter.parseData(data.decode(), format="musicxml").toSoundingPitch()
        found: Counter[tuple[Fraction, int, Fraction]] = Counter()
        for part in whole.parts:
            for note in part.stripTies().flatten().notes:
                if note.duration.isGrace or isinstance(note, music21.note.Unpitched | music21.percussion.PercussionChord):
                    continue
                length = Fraction(note.quarterLength).limit_denominator(100_000)
                found.update((Fraction(note.offset).limit_denominator(100_000), p.midi, length) for p in note.pitches)
    return found


@pytest.mark.parametrize("name", READ_BY_OTHERS)
def test_music21_reads_the_same_notes(name: str) -> None:
    score = score_named(name)
    data, problems = write_musicxml(score)
    assert problems == []
    ours = Counter(row for part in pitched(score) for row in sounding(part, score.unit))
    assert read_by_music21(data) == ours


def near(ours: Counter[tuple[int, int]], theirs: Counter[tuple[int, int]]) -> Counter[tuple[int, int]]:
    """Return what of (ticks, key) is in `ours` alone, places being equal within the other's rounding."""
    left = ours - theirs
    spare = theirs - ours
    for tick, key in list(left.elements()):
        match = next((t for t in range(tick - SLACK, tick + SLACK + 1) if spare[t, key]), None)
        if match is not None:
            left[tick, key] -= 1
            spare[match, key] -= 1
    return +left + +spare


@pytest.mark.parametrize("name", READ_BY_OTHERS)
def test_verovio_plays_the_same_notes(name: str) -> None:
    """Places in their measures, over all measures as they are played: repeats and endings included."""
    score = score_named(name)
    data, _ = write_musicxml(score)
    played = straight(score)
    theirs, _ = verovio_notes(data)
    starts = [m.start for m in played.measures]
    ours: Counter[tuple[int, int]] = Counter()
    for part in pitched(played):
        for onset, key, _ in sounding(part, played.unit):
            inside = onset * played.unit - max(s for s in starts if s <= onset * played.unit)
            ours[round(inside * GRID / played.unit), key] += 1
    drums = {row[1] for part in played.parts if part not in pitched(played) for row in sounding(part, played.unit)}
    found = Counter((n.ticks, n.key) for n in theirs.elements() if n.key or not drums)
    assert near(ours, found) == Counter()


def differing(data: bytes) -> Counter[str]:
    """Return what comes back otherwise, by kind; the document is valid."""
    written, problems = write_musicxml(load(data, Limits.none())[0])
    assert faults(written) == []
    return Counter(str(dict(p.arguments)["what"]) for p in problems if p.code == "written-otherwise")


# What comes back otherwise, file by file, and why.
ONE_OF_A_CHORD = "a slur from another voice ends at one note of a chord, which alone is legato"
STROKES = "a single stroke on a dotted note inside a triplet: without the dot it divides otherwise"
TABLE: dict[str, tuple[int, str]] = {
    "liliuokalani/aloha_oe.mxl": (4, ONE_OF_A_CHORD),
    "schumann_robert/dichterliebe_no2.xml": (1, ONE_OF_A_CHORD),
    "schumann_robert/opus48no2.mxl": (1, ONE_OF_A_CHORD),
    "schoenberg/opus19/movement2.mxl": (1, ONE_OF_A_CHORD),
    "schumann_clara/opus17/movement3.xml": (15, ONE_OF_A_CHORD),
    "beethoven/opus59no1/movement3.mxl": (1, ONE_OF_A_CHORD),
    "schubert/Lindenbaum.xml": (2, "durations that overlap by rounding: a chord whose notes end at different times, one of them slurred"),
    "23e-Tuplets-Tremolo.xml": (8, STROKES),
}
SAMPLE = sorted(random.Random(9).sample(corpus_files(), 16))


@pytest.mark.parametrize("path", SAMPLE, ids=[str(p.relative_to(CORPUS)) for p in SAMPLE])
def test_a_sample_of_the_corpus_comes_back(path: Path) -> None:
    assert differing(path.read_bytes()).total() == TABLE.get(str(path.relative_to(CORPUS)), (0, ""))[0]


def test_the_lilypond_suite_comes_back() -> None:
    found = {path.name: differing(path.read_bytes()).total() for path in lilypond_files()}
    assert len(found) == 143
    assert {name: n for name, n in found.items() if n} == {name: n for name, (n, _) in TABLE.items() if "/" not in name}


@pytest.mark.deep
def test_the_whole_corpus_comes_back() -> None:
    found = {str(path.relative_to(CORPUS)): differing(path.read_bytes()).total() for path in corpus_files()}
    assert len(found) == 654
    assert {name: n for name, n in found.items() if n} == {name: n for name, (n, _) in TABLE.items() if "/" in name}


SHOWN = {"staccato": ("Staccato", "stacc"), "accent": ("Accent", "acc"), "marcato": ("StrongAccent", "marc"), "tenuto": ("Tenuto", "ten")}
NAMED = {125: "ppp", 250: "pp", 375: "p", 500: "mp", 625: "mf", 750: "f", 875: "ff", 1000: "fff"}


def marks_on_the_page(score: Score) -> Counter[str]:
    """Return how many chords bear each of some marks; the notes that a tie goes on to are drawn without."""
    found: Counter[str] = Counter()
    for part in score.parts:
        for line in part.lines:
            chords = {(o, g > 0, r if g else 0): m for r, (o, g, m) in enumerate(zip(line.offset, line.grace, line.marks, strict=True))}
            found.update(name for marks in chords.values() for name in (*SHOWN, "portato") if marks & mask(name))
    return found


def dynamics_on_the_page(score: Score) -> Counter[str]:
    """Return how often each dynamic is written, fp and sf left out."""
    struck = {(i, v.offset) for i, part in enumerate(score.parts) for v in part.levels if v.kind == "attack"}
    levels = ((i, v) for i, part in enumerate(score.parts) for v in part.levels if v.kind == "mark")
    return Counter(NAMED[v.level] for i, v in levels if (i, v.offset) not in struck and v.level in NAMED)


def test_music21_reads_the_same_marks_and_dynamics() -> None:
    import music21

    score = score_named("lamps-along-the-weir")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        whole = music21.converter.parseData(write_musicxml(score)[0].decode(), format="musicxml")
    notes = [n for part in whole.parts for n in part.flatten().notes]
    theirs = Counter(type(a).__name__ for n in notes for a in n.articulations)
    ours = marks_on_the_page(score)
    assert {name: theirs[kind] for name, (kind, _) in SHOWN.items()} == {name: ours[name] for name in SHOWN}
    values = Counter(d.value for part in whole.parts for d in part.flatten().getElementsByClass(music21.dynamics.Dynamic))
    assert {v: n for v, n in values.items() if v in NAMED.values()} == dynamics_on_the_page(score)
    wedges = Counter(
        type(w).__name__ for part in whole.parts for w in part.flatten().spanners if isinstance(w, music21.dynamics.DynamicWedge)
    )
    pins = Counter({1: "Crescendo", -1: "Diminuendo"}[pin.direction] for part in score.parts for pin in part.hairpins)
    assert wedges == pins


def test_verovio_draws_the_same_marks_dynamics_and_slurs() -> None:
    import verovio

    score = score_named("lamps-along-the-weir")
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions({"breaks": "none"})
    assert toolkit.loadData(write_musicxml(score)[0].decode())
    drawn = etree.fromstring(toolkit.getMEI().encode())
    signs = Counter(sign for a in drawn.iter("{*}artic") for sign in (a.get("artic") or "").split())
    ours = marks_on_the_page(score)
    ours.update({"staccato": ours["portato"], "tenuto": ours["portato"]})  # Verovio draws portato as both
    assert {name: signs[sign] for name, (_, sign) in SHOWN.items()} == {name: ours[name] for name in SHOWN}
    dynamics = Counter("".join(d.itertext()).strip() for d in drawn.iter("{*}dynam"))
    assert {v: n for v, n in dynamics.items() if v in NAMED.values()} == dynamics_on_the_page(score)
    assert len(list(drawn.iter("{*}hairpin"))) == sum(len(part.hairpins) for part in score.parts)
    slurs = sum(len(slurs_of(line).starts) for part in score.parts for line in part.lines)
    assert len(list(drawn.iter("{*}slur"))) == slurs > 0
