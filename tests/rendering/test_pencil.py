"""Pencil marks: the document, and what each kind does to a score whose file stays as it is."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from rendering.__main__ import main
from rendering.codes import message
from rendering.documents import canonical, digest, read
from rendering.marks import names
from rendering.pencil import PencilMarks, apply, check_pencil
from rendering.pipeline import render_score
from rendering.problems import Refused
from rendering.score import SLUR_ARRIVES, SLUR_LEAVES, Hairpin, Level, Score
from rendering.score_document import write_score
from tests.rendering.notation import read_notation

Json = dict[str, Any]
HEAD = {"kind": "pencil-marks", "edition": 1}


def pencil(*items: Json, **head: Any) -> PencilMarks:
    """Return pencil marks of these items, which get ids; "at" may be "ORDINAL:BEAT" in part P1."""
    made = [{"id": f"m{n}", **item, "at": anchor(item.get("at", "1:1"))} for n, item in enumerate(items, 1)]
    for item in made:
        if isinstance(item.get("until"), str):
            ordinal, beat = item["until"].split(":")
            item["until"] = {"ordinal": int(ordinal), "beat": beat}
    return read(PencilMarks, json.dumps(HEAD | head | {"items": made}).encode())


def anchor(at: Any) -> Json:
    if not isinstance(at, str):
        return {"part": "P1"} | at
    ordinal, beat = at.split(":")
    return {"part": "P1", "ordinal": int(ordinal), "beat": beat}


def pencilled(notation: str | Score, *items: Json) -> Score:
    """Return the score with the items on it; nothing was lost, and the score itself is as it was."""
    score = read_notation(notation) if isinstance(notation, str) else notation
    before = write_score(score)
    found, problems = apply(score, pencil(*items))
    assert problems == []
    assert write_score(score) == before
    return found


def marks(score: Score, part: int = 0, line: int = 0) -> list[str]:
    return [", ".join(names(m)) for m in score.parts[part].lines[line].marks]


FOUR = "voice 1: C5:q D5:q E5:q F5:q | G5:h A5:h |"


# ── Marks ──


def test_a_mark_on_one_note() -> None:
    assert marks(pencilled(FOUR, {"at": "1:2", "add": ["staccato", "accent"]})) == ["", "staccato, accent", "", "", "", ""]


def test_a_passage_goes_up_to_and_with_its_last_note() -> None:
    found = pencilled(FOUR, {"at": "1:3", "until": "2:1", "add": ["pizzicato"]})
    assert marks(found) == ["", "", "pizzicato", "pizzicato", "pizzicato", ""]


def test_beats_are_fractions_of_the_meters_unit() -> None:
    text = "meter 6/8\nvoice 1: C5:e D5:s E5:s F5:e G5:q. |"
    found = pencilled(text, {"at": "1:5/2", "add": ["staccato"]}, {"at": "1:4", "add": ["tenuto"]})
    assert marks(found) == ["", "", "staccato", "", "tenuto"]


def test_a_new_answer_to_a_question_takes_the_place_of_the_old_one() -> None:
    found = pencilled("voice 1: {sul_ponticello,con_sordino} C5:h D5:h |", {"at": "1:1", "add": ["sul tasto"]})
    assert marks(found) == ["sul tasto, con sordino", "sul ponticello, con sordino"]


def test_marks_are_taken_away() -> None:
    text = "voice 1: {pizzicato} C5:h[staccato] D5:h[trill_half] |"
    found = pencilled(text, {"until": "1:3", "remove": ["pizzicato", "trill"]}, {"at": "1:1", "remove": ["accent"]})
    assert marks(found) == ["staccato", ""]


def test_one_note_of_a_chord_counted_from_below() -> None:
    text = "voice 1: G5+C5+E5:h D5:h |"
    found = pencilled(text, {"at": {"ordinal": 1, "beat": "1", "chord": 2}, "add": ["accent"]})
    line = found.parts[0].lines[0]
    assert [k for k, m in zip(line.key, line.marks, strict=True) if m] == [76]  # E5


def test_staff_and_voice_narrow_an_anchor() -> None:
    text = "voice 1: C5:w |\nvoice 2: C4:w |"
    both = pencilled(text, {"add": ["accent"]})
    one = pencilled(text, {"at": {"ordinal": 1, "beat": "1", "voice": "2"}, "add": ["accent"]})
    assert [marks(both, line=i) for i in (0, 1)] == [["accent"], ["accent"]]
    assert [marks(one, line=i) for i in (0, 1)] == [[""], ["accent"]]


def test_grace_notes_are_meant_when_they_are_named() -> None:
    text = "voice 1: C5:g D5:g E5:h F5:h |"
    assert marks(pencilled(text, {"add": ["accent"]})) == ["", "", "accent", ""]
    named = pencilled(text, {"at": {"ordinal": 1, "beat": "1", "grace": 2}, "add": ["accent"]})
    assert marks(named) == ["", "accent", "", ""]


def test_grace_notes_inside_a_passage_take_its_state_alone() -> None:
    found = pencilled("voice 1: C5:h D5:g E5:h |", {"until": "1:3", "add": ["pizzicato", "staccato"]})
    assert marks(found) == ["pizzicato, staccato", "pizzicato", "pizzicato, staccato"]


# ── Slurs, loudness, tempo, syllables ──


def test_a_slur_joins_what_no_rest_parts() -> None:
    line = pencilled("voice 1: C5:q D5:q r:q F5:q |", {"at": "1:1", "until": "1:4", "slur": True}).parts[0].lines[0]
    assert line.slur == [SLUR_LEAVES, SLUR_ARRIVES, 0]
    assert [names(m) for m in line.marks] == [["legato"]] * 3


def test_dots_under_a_slur_are_portato_where_they_are() -> None:
    """Strings, winds and voices play dots under a slur as portato; a piano plays both."""
    dotted = "voice 1: C5:q[staccato] D5:q[staccato] E5:h |"
    strings = pencilled(dotted, {"until": "1:2", "slur": True})
    piano = pencilled("part P1 Piano keyboard.piano\n" + dotted, {"until": "1:2", "slur": True})
    assert (marks(strings)[0], marks(piano)[0]) == ("portato", "legato, staccato")


def test_a_slur_is_taken_away() -> None:
    line = pencilled("voice 1: (C5:q D5:q E5:q F5:q) |", {"at": "1:2", "until": "1:3", "slur": False}).parts[0].lines[0]
    assert line.slur == [SLUR_LEAVES, SLUR_ARRIVES, SLUR_LEAVES, SLUR_ARRIVES]
    line = pencilled("voice 1: (C5:h D5:h) |", {"until": "1:3", "slur": False}).parts[0].lines[0]
    assert (line.slur, line.marks) == ([0, 0], [0, 0])


def test_a_dynamic_replaces_the_one_at_its_place() -> None:
    found = pencilled("voice 1: =p C5:h =f D5:h |", {"at": "1:1", "level": 250}, {"at": "1:2", "level": 437})
    assert found.parts[0].levels == [
        Level(0, 0, "", "mark", 250, 0), Level(960, 0, "", "mark", 437, 0), Level(1920, 0, "", "mark", 750, 0),
    ]  # fmt: skip


def test_a_dynamic_of_one_note() -> None:
    found = pencilled("voice 1: =p C5+E5:h^once D5:h |", {"at": {"ordinal": 1, "beat": "1", "chord": 1}, "level": 900})
    assert [(v.kind, v.level, v.source) for v in found.parts[0].levels] == [("mark", 375, 0), ("note", 900, 1), ("once", 0, 2)]


def test_a_hairpin() -> None:
    item = {"at": "1:2", "until": "2:1", "hairpin": {"direction": "diminuendo", "niente": True}}
    assert pencilled(FOUR, item).parts[0].hairpins == [Hairpin(960, 3840, 0, "", -1, niente=True)]


def test_a_tempo_is_everybodys() -> None:
    found = pencilled("tempo 120\n" + FOUR, {"at": "2:1", "tempo": 90_000}, {"at": "1:1", "tempo": 60_000})
    assert found.tempo == [(0, 1_000_000), (3840, 666_667)]


def test_syllables() -> None:
    found = pencilled(FOUR, {"at": "1:1", "syllable": "Ky"}, {"at": "1:2", "syllable": "ri"}, {"at": "1:1", "syllable": ""})
    line = found.parts[0].lines[0]
    assert [found.parts[0].lyrics[n] for n in line.lyric] == ["", "ri", "", "", "", ""]


# ── What finds nothing ──


@pytest.mark.parametrize(("item", "where"), [
    ({"at": {"part": "P9", "ordinal": 1, "beat": "1"}, "add": ["accent"]}, "P9, measure 1, beat 1"),
    ({"at": "3:1", "add": ["accent"]}, "Violin, measure 3, beat 1"),
    ({"at": "1:3/2", "add": ["accent"]}, "Violin, measure 1, beat 3/2"),
    ({"at": "1:5", "level": 500}, "Violin, measure 1, beat 5"),
    ({"at": "1:1", "until": "1:1", "slur": True}, "Violin, measure 1, beat 1"),
    ({"at": "1:2", "until": "1:1", "hairpin": {"direction": "crescendo"}}, "Violin, measure 1, beat 2"),
    ({"at": {"ordinal": 1, "beat": "1", "staff": 2}, "add": ["accent"]}, "Violin, measure 1, beat 1, staff 2"),
    ({"at": {"ordinal": 1, "beat": "1", "chord": 2}, "add": ["accent"]}, "Violin, measure 1, beat 1"),
])  # fmt: skip
def test_a_mark_without_a_note_is_told_and_the_rest_is_done(item: Json, where: str) -> None:
    found, problems = apply(read_notation(FOUR), pencil(item, {"at": "2:3", "add": ["tenuto"]}))
    assert [message(p) for p in problems] == [f"{where}: there is nothing here that the pencil mark m1 could be on – it is not played"]
    assert marks(found)[-1] == "tenuto"


# ── The document ──


@pytest.mark.parametrize(("item", "told"), [
    ({"at": "1:0", "add": ["accent"]}, "/items/0/at/beat: a beat is a whole number or a fraction from 1 on, such as 3 or 5/2"),
    ({"at": "1:1/2", "add": ["accent"]}, "/items/0/at/beat: a beat is a whole number or a fraction from 1 on, such as 3 or 5/2"),
    ({"at": "1:٣", "add": ["accent"]}, "/items/0/at/beat: a beat is a whole number or a fraction from 1 on, such as 3 or 5/2"),
    ({"at": "1:1"}, "/items/0: a pencil mark has exactly one of add, remove, level, hairpin, tempo, slur and syllable"),
    ({"add": ["accent"], "level": 5}, "/items/0: a pencil mark has exactly one of add, remove, level, hairpin, tempo, slur and syllable"),
    ({"slur": True}, "/items/0: hairpins and slurs have an “until”, levels, tempos and syllables have none"),
    ({"level": 5, "until": "1:2"}, "/items/0: hairpins and slurs have an “until”, levels, tempos and syllables have none"),
    ({"add": ["stacato"]}, "/items/0/add/0: there is no mark “stacato”; the nearest are staccato, marcato, staccatissimo"),
    ({"level": 1001}, "/items/0/level: the number must be 1000 or less"),
])  # fmt: skip
def test_errors_of_the_document(item: Json, told: str) -> None:
    with pytest.raises(Refused) as caught:
        pencil(item)
    assert [message(p).split(" – ")[0] for p in caught.value.problems] == [told]


def test_checks_of_the_whole_document() -> None:
    found = check_pencil(pencil({"id": "a", "add": ["trill"]}, {"id": "a", "level": 5}))
    assert [message(p) for p in found] == [
        "/items/1/id: another pencil mark already has the id “a” – the document is not accepted",
        "/items/0/add/0: trill is a name for maps; a score says which of trill half, trill whole – the document is not accepted",
    ]


def test_canonical_bytes_leave_defaults_out_and_are_stable() -> None:
    made = pencil({"at": "1:6/4", "add": ["accent"]}, score_version=3)
    body = canonical(made)
    assert body == (
        b'{"kind":"pencil-marks","edition":1,"score_version":3,"items":[{"id":"m1","at":{"part":"P1","ordinal":1,"beat":"3/2"},'
        b'"add":["accent"]}]}'
    )
    assert canonical(read(PencilMarks, body)) == body


# ── The render ──


def test_a_render_with_pencil_marks_names_them() -> None:
    score, made = read_notation(FOUR), pencil({"at": "1:1", "add": ["staccato"]}, {"at": "9:1", "level": 5})
    run = render_score(score, pencil=made)
    assert run.report["inputs"]["pencil"] == digest(canonical(made))
    assert run.report["tracks"][0]["marks"] == {"staccato": {"shaped": 1}}
    assert [p["code"] for p in run.report["problems"] if p["code"].startswith("pencil")] == ["pencil-lost"]
    assert "pencil" not in render_score(score).report["inputs"]
    assert marks(score) == [""] * 6


def test_the_command_line_takes_pencil_marks(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    score, marked = tmp_path / "score.json", tmp_path / "pencil.json"
    score.write_bytes(write_score(read_notation("tempo 120\n" + FOUR)))
    marked.write_bytes(canonical(pencil({"at": "1:1", "add": ["staccato"]})))
    assert main(["check", str(marked)]) == 0
    assert main(["render", str(score), "--pencil", str(marked), "-o", str(tmp_path / "out")]) == 0
    report = json.loads((tmp_path / "out" / "report.json").read_text())
    assert report["tracks"][0]["marks"] == {"staccato": {"shaped": 1}}
    assert main(["write", str(score), "--pencil", str(marked), "-o", str(tmp_path / "out.musicxml")]) == 0
    assert (tmp_path / "out.musicxml").read_text().count("<staccato/>") == 1
    marked.write_bytes(canonical(pencil({"id": "a", "level": 1}, {"id": "a", "level": 2})))
    assert main(["check", str(marked)]) == 1
    capsys.readouterr()
    assert main(["render", str(score), "--pencil", str(marked), "-o", str(tmp_path / "none")]) == 2
    assert capsys.readouterr().err == "/items/1/id: another pencil mark already has the id “a” – the document is not accepted\n"
