"""What holds of everything that is written out: time and loudness stay as written, and samples come first."""

from __future__ import annotations

import json
from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import given

from rendering.marks import mask, names
from rendering.ornaments import WRITABLE
from rendering.perform import Played
from rendering.pipeline import Rendering, render_score
from rendering.report import report_text
from rendering.resolve.choosing import WRITTEN
from rendering.score import Score
from tests.rendering.golden_files import made_map
from tests.rendering.notation import read_notation
from tests.rendering.strategies import scores
from tests.rendering.test_laws import RUN, rendered

PLAIN = made_map({"articulations": [{"id": "plain"}]})
FINGERED = mask("fingered tremolo")
ROLLED = mask("arpeggio", "arpeggio down")
STRUCK = mask("flam", "drag", "ruff")
Piece = tuple[int, int, int, int]  # on, off, level, marks that were written out


def pieces(line: Played) -> dict[tuple[int, int], list[Piece]]:
    """Return (source, pass) -> what is played for a note."""
    found: dict[tuple[int, int], list[Piece]] = {}
    for on, off, level, marks, source, number in zip(
        line.on, line.off, line.level, line.marks, line.source, line.number, strict=True
    ):  # fmt: skip
        found.setdefault((source, number), []).append((on, off, level, marks >> WRITTEN))
    return found


def written_and_played(made: Rendering) -> list[tuple[Played, Played]]:
    return [
        (line, voice.line)
        for part, track in zip(made.run.parts, made.run.tracks, strict=True)
        for line, voice in zip(part.lines, track.voices, strict=True)
    ]


@RUN
@given(score=scores())
def test_written_out_notes_fill_the_written_length_exactly(score: Score) -> None:
    """One after the other without gap; but rolled notes begin later, strokes come before the beat and shorten what was before."""
    for line, played in written_and_played(rendered(score, PLAIN)):
        found = pieces(played)
        strokes = {row[0] for rows in found.values() for row in rows if row[3] & STRUCK}
        for on, off, source, number in zip(line.on, line.off, line.source, line.number, strict=True):
            rows = found[source, number]
            done = rows[0][3]
            if not done & FINGERED:
                assert all(a[1] == b[0] for a, b in pairwise(rows) if not {a[1], b[0]} & strokes)
                assert rows[0][0] == on or (rows[0][0] > on and done & ROLLED) or (rows[0][0] < on and done & STRUCK)
                assert rows[-1][1] == off or rows[-1][1] in strokes or rows[-1][1] == rows[-1][0] + 1
            assert all(a[1] <= b[0] for a, b in pairwise(rows))
            assert all(a < b for a, b, _, _ in rows)


@RUN
@given(score=scores())
def test_levels_are_those_of_the_page(score: Score) -> None:
    """Without a hairpin the written one; with one, between those of its ends."""
    for line, played in written_and_played(rendered(score, PLAIN)):
        found = pieces(played)
        bounds = [level for _, _, first, last in line.ramps for level in (first, last)]
        for level, source, number in zip(line.level, line.source, line.number, strict=True):
            for _, _, got, _ in found[source, number]:
                assert min([level, *bounds]) <= got <= max([level, *bounds])


def test_two_notes_in_alternation_share_both_lengths() -> None:
    made = rendered(read_notation("voice 1: C5:q[fingered_tremolo] E5:q[fingered_tremolo] r:h |"), PLAIN)
    ((_, played),) = written_and_played(made)
    assert sum(b - a for a, b in zip(played.on, played.off, strict=True)) == 1920
    assert (played.on[0], played.off[-1]) == (0, 1920)
    assert Counter(played.source) == {1: 6, 2: 6}


def music_of(mark: str) -> str:
    word = mark.replace(" ", "_")
    if mark in names(ROLLED) or mark == "non arpeggio":
        return f"r:h C4+E4+G4:h[{word}] |"
    return f"r:q C4:q[{word}] E4:q[{word}] r:q |" if mark == "fingered tremolo" else f"r:q C4:q[{word}] E4:h |"


@pytest.mark.parametrize("mark", names(WRITABLE))
def test_a_map_that_has_the_sample_plays_the_sample(mark: str) -> None:
    score = read_notation(f"voice 1: {music_of(mark)}")
    body = {"articulations": [
        {"id": "plain", "triggers": [{"controller": 20, "value": 0}]},
        {"id": "own", "plays": [[mark]], "triggers": [{"controller": 20, "value": 1}]},
    ]}  # fmt: skip
    made = rendered(score, made_map(body))
    ((line, played),) = written_and_played(made)
    assert played is line
    (outcomes,) = made.report["tracks"][0]["marks"].values()
    assert outcomes.keys() == {"exact"}


@pytest.mark.parametrize("mark", names(WRITABLE))
def test_without_one_it_is_written_out_and_counted_once(mark: str) -> None:
    made = rendered(read_notation(f"voice 1: {music_of(mark)}"), PLAIN)
    ((line, played),) = written_and_played(made)
    written = len(line)
    assert made.report["tracks"][0]["notes"] == made.report["score"]["notes"] == written
    (outcomes,) = made.report["tracks"][0]["marks"].values()
    assert outcomes == {"written-out": sum(marks & mask(mark) > 0 for marks in line.marks)}
    assert len(played) > written or mark in {"non arpeggio", "arpeggio", "arpeggio down"}
    rows = json.loads(made.files["notes.json"])["rows"]
    assert any(row[-1].endswith(f"written-out: {mark}") for row in rows)
    assert "written-out" in report_text(made.report)


def test_a_stand_in_is_nearer_than_single_notes() -> None:
    """The shared rule: a tremolo stands in for a roll."""
    body = {"articulations": [
        {"id": "struck", "triggers": [{"controller": 20, "value": 0}]},
        {"id": "tremolo", "plays": [["tremolo"]], "triggers": [{"controller": 20, "value": 1}]},
    ]}  # fmt: skip
    made = rendered(read_notation("voice 1: C4:w[roll] |"), made_map(body))
    assert made.report["tracks"][0]["marks"] == {"roll": {"stand-in": 1}}


def test_a_sample_that_another_mark_needs_the_place_of_is_written_out() -> None:
    """One memory holds both: pizzicato ranks higher, and what the tremolo asks for is not lost."""
    body = {"articulations": [
        {"id": "bowed", "triggers": [{"controller": 20, "value": 0}]},
        {"id": "tremolo", "plays": [["tremolo"]], "triggers": [{"controller": 20, "value": 1}]},
        {"id": "plucked", "plays": [["pizzicato"]], "triggers": [{"controller": 20, "value": 2}]},
    ]}  # fmt: skip
    made = rendered(read_notation("voice 1: C4:w[pizzicato,tremolo] |"), made_map(body))
    assert made.report["tracks"][0]["marks"] == {"pizzicato": {"exact": 1}, "tremolo": {"written-out": 1}}


def test_of_two_marks_that_fill_a_note_the_higher_is_written_out() -> None:
    made = rendered(read_notation("voice 1: =mf C5:w[trill_whole,turn] |"), PLAIN)
    assert made.report["tracks"][0]["marks"] == {"trill whole": {"written-out": 1}, "turn": {"plain": 1}}
    told = [p["message"] for p in made.report["problems"] if p["code"] == "not-written-out"]
    sentence = "no sample plays turn, and it cannot be written out: another mark of the note is written out"
    assert told == [f"Violin, measure 1, beat 1: {sentence} – the note is played without it"]


@pytest.mark.parametrize(
    ("music", "mark", "why"),
    [
        ("C5:t[turn] r:t r:s r:e r:q r:h |", "turn", "the note is too short"),
        ("C5:q[glissando] r:q r:h |", "glissando", "no other pitch follows at once"),
        ("C5:q[fingered_tremolo] E5:h[tenuto] r:q |", "fingered tremolo", "no note of equal length follows at once"),
        ("C5:q[arpeggio] r:q r:h |", "arpeggio", "no other note is rolled with it"),
        ("C5:t D5:t[ruff] r:s r:e r:q r:h |", "ruff", "there is no time before it"),
    ],
)
def test_what_cannot_be_written_out_is_told(music: str, mark: str, why: str) -> None:
    score = read_notation(f"tempo 240\nvoice 1: =mf {music}")
    made = render_score(score, maps=[("P1", PLAIN)])
    assert made.report["tracks"][0]["marks"][mark] == {"plain": 1}
    (told,) = [p["message"] for p in made.report["problems"] if p["code"] == "not-written-out"]
    assert told.endswith(f": no sample plays {mark}, and it cannot be written out: {why} – the note is played without it")
