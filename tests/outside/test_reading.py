"""The reader against a plain reading of the same bytes: every note's place, length, key, tie, staff and voice.

The plain reader is slow, exact (Fractions) and shares no code with the engine. Files: music21's corpus and
the LilyPond project's MusicXML test suite, both read from the installed music21 package.
"""

from __future__ import annotations

import random
from itertools import pairwise
from pathlib import Path

import pytest

from rendering.marks import BIT
from tests.outside import plain_reader
from tests.outside.reading import CORPUS, HARD, corpus_files, differences, lilypond_files, read_whole, rows_of

# Where the order of playing differs from the plain reader's, which knows repeats and endings alone, and why.
OTHER_ORDER = {
    **dict.fromkeys((f"schumann_clara/polonaise_op1n{n}.mxl" for n in (1, 2, 3, 4)), "da capo al fine, in sound elements"),
    "handel/rinaldo/Lascia_chio_pianga.mxl": "dal segno al fine, in sound elements",
    "beethoven/opus18no5.mxl": "the words Menuetto D.C., in the middle of a whole quartet",
    "beethoven/opus59no2/movement3.mxl": "the words Da Capo",
    "beethoven/opus59no3/movement3.mxl": "the words Menuetto da Capo, then a coda",
    "haydn/opus1no1/movement4.mxl": "the words M.D.C.",
    "mozart/k156/movement3.mxl": "the words Menuetto da capo senza Ritornello",
    "mozart/k80/movement3.mxl": "the words Menuetto da capo",
    "mozart/k80/movement4.mxl": "the words Da Capo ma senza replicarlo, then a coda",
    "45d-Repeats-Nested-Alternatives.xml": "endings 2 of 3 and 5 without a repeat: repeats are played without endings, with a problem",
    "45f-Repeats-InvalidEndings.xml": "no sense on purpose: the repeat is played without endings, with a problem",
}  # fmt: skip


def check(path: Path, name: str) -> int:
    found, notes, same_order = differences(path.read_bytes())
    assert found == []
    assert same_order == (name not in OTHER_ORDER)
    return notes


@pytest.mark.parametrize("name", HARD)
def test_hard_files_are_read_as_plainly(name: str) -> None:
    assert check(CORPUS / name, name) > 1000


def test_the_lilypond_suite_is_read_as_plainly() -> None:
    files = lilypond_files()
    assert len(files) == 143
    assert sum(check(path, path.name) for path in files) == 1770


SAMPLE = sorted(random.Random(3).sample(corpus_files(), 24))


@pytest.mark.parametrize("path", SAMPLE, ids=[str(p.relative_to(CORPUS)) for p in SAMPLE])
def test_a_sample_of_the_corpus_is_read_as_plainly(path: Path) -> None:
    check(path, str(path.relative_to(CORPUS)))


@pytest.mark.deep
def test_the_whole_corpus_is_read_as_plainly() -> None:
    files = corpus_files()
    assert len(files) == 654
    assert sum(check(path, str(path.relative_to(CORPUS))) for path in files) == 450_566


@pytest.mark.parametrize(("name", "pizz", "arco"), [
    ("beethoven/opus59no1/movement2.mxl", 4, 3),
    ("beethoven/opus59no3/movement2.mxl", 14, 10),
])  # fmt: skip
def test_each_pizz_and_arco_changes_the_notes(name: str, pizz: int, arco: int) -> None:
    data = (CORPUS / name).read_bytes()
    words = [w.text or "" for w in plain_reader.document(data).iter("words")]
    assert (sum("pizz" in w for w in words), sum("arco" in w for w in words)) == (pizz, arco)
    plucked = 1 << BIT["pizzicato"]
    turns = []
    for part in read_whole(data)[0].parts:
        for line in part.lines:
            states = [False, *(bool(m & plucked) for m in line.marks)]
            turns += [b for a, b in pairwise(states) if a != b]
    assert (turns.count(True), turns.count(False)) == (pizz, arco)


def test_a_clarinet_in_b_flat_sounds_a_tone_lower_than_written() -> None:
    data = (CORPUS / "weber/concertino_clarinet.mxl").read_bytes()
    root = plain_reader.document(data)
    assert root.findtext("part[1]/measure/attributes/transpose/chromatic") == "-2"
    written = {row.source: row.key + 2 for row in rows_of(read_whole(data)[0])["P1"]}
    notes = root.findall("part[1]/measure/note")
    pitched = {i: note for i, note in enumerate(notes, 1) if note.find("pitch") is not None}
    assert written == {i: plain_reader.key_of(note, {}, 0) for i, note in pitched.items()}


def test_ties_that_only_start_are_all_kept() -> None:
    data = (CORPUS / "beethoven/opus132.mxl").read_bytes()
    text = plain_reader.document(data)
    assert (len(text.findall(".//tie[@type='start']")), len(text.findall(".//tie[@type='stop']"))) == (752, 0)
    assert sum(row.ties_on for rows in rows_of(read_whole(data)[0]).values() for row in rows) == 752
