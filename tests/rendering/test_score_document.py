"""The neutral score as JSON: written and read it is the same score, and renders to the same bytes."""

from __future__ import annotations

import json
from dataclasses import fields
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from fixtures import demo
from rendering.codes import message
from rendering.documents import schemas
from rendering.pipeline import Limits, Rendering, load, render, render_score
from rendering.problems import Refused
from rendering.score import Hairpin, Instrument, Level, Line, Ornament, Part, Score, Strokes
from rendering.score_document import PartDocument, ScoreDocument, is_score_document, read_score, write_score
from tests.outside.reading import CORPUS, HARD, LILYPOND
from tests.rendering.golden_files import made_map
from tests.rendering.notation import read_notation
from tests.rendering.strategies import scores

RUN = settings(deadline=None, max_examples=40)
WORDS = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc", "Zl", "Zp")), max_size=12)
UNIT = st.integers(0, 15_360)
STRINGS = made_map({"articulations": [{"id": "bowed", "triggers": [{"keyswitch": 24}], "lead_ms": {"first": 60}}]})


@st.composite
def full_scores(draw: st.DrawFn) -> Score:
    """Scores with something in every field."""
    score = draw(scores())
    score.title = draw(WORDS)
    score.rehearsal = [(u, draw(WORDS)) for u in sorted(draw(st.lists(UNIT, max_size=3)))]
    score.unread = draw(st.lists(st.tuples(WORDS, st.just("P1"), UNIT, st.integers(0, 4)), max_size=2))
    for part in score.parts:
        _fill(draw, part)
    return score


def _fill(draw: st.DrawFn, part: Part) -> None:
    sources = sorted({s for line in part.lines for s in line.source})
    part.name = draw(WORDS)
    part.instruments = [
        Instrument("I1", draw(WORDS), "strings.violin", draw(st.sampled_from(["", "solo", "ensemble"])), draw(st.integers(-1, 127))),
        Instrument("I2", "", "drum.slit-drum", "", -1, unpitched=True, drum_key=draw(st.integers(-1, 127))),
    ]
    part.transpose = draw(st.lists(st.tuples(UNIT, st.integers(-24, 24)), max_size=2))
    kinds = st.sampled_from(["mark", "sound", "note", "once", "attack"])
    part.levels += sorted(Level(draw(UNIT), 1, "1", draw(kinds), draw(st.integers(0, 1000)), 1) for _ in range(draw(st.integers(0, 3))))
    part.levels.sort()
    part.pedals = sorted(tuple(sorted(pair)) for pair in draw(st.lists(st.tuples(UNIT, UNIT), max_size=2)))  # type: ignore[type-var]
    chosen = draw(st.lists(st.sampled_from(sources), max_size=3, unique=True)) if sources else []
    part.ornaments = {s: Ornament(draw(st.integers(0, 3)), draw(st.integers(-3, 0)), -3, draw(st.booleans())) for s in chosen}
    part.strokes = {s: Strokes(draw(st.integers(30, 480)), draw(st.booleans())) for s in chosen}
    part.rolls = {s: draw(WORDS) for s in chosen}
    words: dict[str, int] = {"": 0}
    for line in part.lines:
        line.lyric = [words.setdefault(draw(st.sampled_from(["", "la", "ré", "“o”"])), len(words)) for _ in line.lyric]
        line.cents = [draw(st.sampled_from([-50, 0, 0, 14])) for _ in line.cents]
        line.instrument = [draw(st.integers(0, 1)) for _ in line.instrument]
    part.lyrics = list(words)


def plain(value: Any) -> Any:
    """Return a score as nested plain values, so that two can be compared."""
    if isinstance(value, Score | Part):
        return {f.name: plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, Line):
        return {name: getattr(value, name) for name in Line.__slots__}
    return [plain(v) for v in value] if isinstance(value, list) else value


@RUN
@given(score=full_scores())
def test_written_and_read_it_is_the_same(score: Score) -> None:
    body = write_score(score)
    again = read_score(body)
    assert plain(again) == plain(score)
    assert write_score(again) == body
    Draft202012Validator(schemas([ScoreDocument])["score"]).validate(json.loads(body))


def test_every_field_of_a_score_is_in_the_document() -> None:
    """A field that is added to the score without one in the document would be lost in silence."""
    assert {f.name for f in fields(Score)} == ScoreDocument.model_fields.keys() - {"kind", "edition"}
    kept_in_rows = {"lyrics"}
    assert {f.name for f in fields(Part)} - kept_in_rows == set(PartDocument.model_fields)


@pytest.mark.parametrize("name", ["demo", *list(HARD)[4:6], "31c-MetronomeMarks.xml", "03aa-Rhythm-Durations.xml"])
def test_real_scores_render_the_same_from_json(name: str) -> None:
    """Byte for byte, but for the text with the digests and what was told while the page was read."""
    data = demo.SCORE if name == "demo" else ((LILYPOND if name.endswith(".xml") else CORPUS) / name).read_bytes()
    score, _ = load(data)
    again, problems = load(write_score(score))
    assert problems == []
    assert plain(again) == plain(score)
    one, two = (render_score(s, maps=[(p.id, STRINGS) for p in s.parts]) for s in (score, again))
    assert one.files == two.files


def test_the_pipeline_takes_json_by_content() -> None:
    """A score of the same content, as MusicXML and as JSON after white space or a byte order mark."""
    score, _ = load(demo.SCORE)
    body = write_score(score)
    whole = without_digest(render(demo.SCORE))
    assert without_digest(render(body)) == whole
    assert without_digest(render(b"\n  " + body)) == whole
    assert without_digest(render(b"\xef\xbb\xbf" + body)) == whole
    assert not is_score_document(b"[{}]")
    assert not is_score_document(demo.SCORE)
    assert not is_score_document(b"")


def without_digest(made: Rendering) -> list[list[int]]:
    return [t.scheduled.events for t in made.run.tracks]


# ── What is refused ──


def small(**changes: Any) -> dict[str, Any]:
    """Return the document of a small score with fields of it, of its part or of its line changed."""
    document: dict[str, Any] = json.loads(write_score(read_notation("voice 1: C5:h D5:h | E5:w |")))
    part, line = document["parts"][0], document["parts"][0]["lines"][0]
    for name, value in changes.items():
        ({"notes": line} | dict.fromkeys(("levels", "hairpins", "pedals", "id"), part)).get(name, document)[name] = value
    return document


def refused(document: Any, limits: Limits | None = None) -> list[str]:
    with pytest.raises(Refused) as refusal:
        load(json.dumps(document).encode() if not isinstance(document, bytes) else document, limits)
    return [message(found) for found in refusal.value.problems]


def note(offset: int, duration: int, key: int = 60, marks: tuple[str, ...] = (), grace: int = 0, instrument: int = 0) -> list[Any]:
    return [offset, duration, key, 0, list(marks), 0, 0, grace, "", 1, instrument]


MEASURE = {"ordinal": 1, "number": "1", "start": 0, "length": 3840, "meter": [4, 4]}
REFUSED = " – the document is not accepted"


@pytest.mark.parametrize(("changes", "sentences"), [
    ({"edition": 2}, ["/edition: the value must be 1"]),
    ({"unit": 0}, ["/unit: the number must be 1 or more"]),
    ({"colour": 1}, ["/colour: the field “colour” is not known here"]),
    ({"notes": [note(0, 960, 128)]}, ["/parts/0/lines/0/notes/0/2: the number must be 127 or less"]),
    ({"notes": [note(0, 960, marks=("stacato",))]},
     ["/parts/0/lines/0/notes/0/4/0: there is no mark “stacato”; the nearest are staccato, marcato, staccatissimo"]),
    ({"notes": [note(0, 960, marks=("trill",))]},
     ["/parts/0/lines/0/notes/0: trill is a name for maps; a score says which of trill half, trill whole"]),
    ({"notes": [note(960, 960), note(0, 960)]}, ["/parts/0/lines/0/notes/1: it begins at 0, before the one ahead of it at 960"]),
    ({"notes": [note(0, 0)]}, ["/parts/0/lines/0/notes/0: grace notes, and no others, have the duration 0; this one has 0"]),
    ({"notes": [note(0, 60, grace=1)]}, ["/parts/0/lines/0/notes/0: grace notes, and no others, have the duration 0; this one has 60"]),
    ({"notes": [note(7000, 960)]}, ["/parts/0/lines/0/notes/0: the note ends at 7960, and the last measure at 7680"]),
    ({"notes": [note(0, 960, instrument=2)]}, ["/parts/0/lines/0/notes/0: the part has no instrument 2, for it has 1"]),
    ({"measures": [MEASURE, MEASURE]},
     ["/measures/1: measure 1 does not begin where the one before it ends, or its ordinal is not its place",
      "/parts/0/lines/0/notes/2: the note ends at 7680, and the last measure at 3840"]),
    ({"itinerary": [[1, 3, 1]]}, ["/itinerary/0: measures 1 to 3 are not a run of the 2 measures"]),
    ({"itinerary": [[2, 1, 1]]}, ["/itinerary/0: measures 2 to 1 are not a run of the 2 measures"]),
    ({"tempo": [[960, 500_000], [0, 400_000]]}, ["/tempo/1: it begins at 0, before the one ahead of it at 960"]),
    ({"levels": [[960, 0, "", "mark", 500, 0], [0, 0, "", "mark", 500, 0]]},
     ["/parts/0/levels/1: it begins at 0, before the one ahead of it at 960"]),
    ({"hairpins": [[960, 480, 0, "", 1, False]]}, ["/parts/0/hairpins/0: it ends at 480, before it begins at 960"]),
    ({"pedals": [[960, 480]]}, ["/parts/0/pedals/0: it ends at 480, before it begins at 960"]),
    ({"parts": []}, []),
])  # fmt: skip
def test_what_is_refused(changes: dict[str, Any], sentences: list[str]) -> None:
    if not sentences:
        assert load(json.dumps(small(**changes)).encode())[0].parts == []
        return
    assert [told.removesuffix(REFUSED) for told in refused(small(**changes))] == sentences


def test_two_parts_of_one_id() -> None:
    document = small()
    document["parts"] *= 2
    assert refused(document) == ["/parts/1/id: a part before this one has the id “P1” too" + REFUSED]


def test_all_errors_at_once() -> None:
    document = small(notes=[note(960, 960), note(0, 0)], itinerary=[[1, 3, 1]], tempo=[[960, 1], [0, 1]])
    assert len(refused(document)) == 4


@pytest.mark.parametrize(("limits", "sentence"), [
    (Limits(raw_bytes=100), "score: the file has {size} bytes, 100 are allowed – nothing is read"),
    (Limits(parts=0), "score: the score has more than the 0 parts allowed – nothing is read"),
    (Limits(voices=0), "score: a part has more than the 0 voices allowed – nothing is read"),
    (Limits(notes=2), "score: the score has more than the 2 notes allowed – nothing is read"),
    (Limits(played=1), "score: with its repeats the score would play more than the 1 measures allowed – nothing is read"),
])  # fmt: skip
def test_limits(limits: Limits, sentence: str) -> None:
    body = json.dumps(small()).encode()
    assert refused(body, limits)[0] == sentence.format(size=len(body))


def test_longer_than_a_midi_file_can_be() -> None:
    """SMF 1.0: a delta time has at most 28 bits; half of that is kept for what comes around the music."""
    score = read_notation("voice 1: C5:w | D5:w |")
    score.itinerary = [(1, 2, 1)] * 20_000
    with pytest.raises(Refused) as refusal:
        render_score(score)
    assert [message(found) for found in refusal.value.problems] == [
        "score: as played it lasts 160000 quarter notes, and at 960 ticks each a MIDI file can hold 139810 – nothing is rendered"
    ]


@settings(RUN, max_examples=25)
@given(score=full_scores())
def test_any_sound_score_renders(score: Score) -> None:
    """Whatever the document allows is rendered and proven, ornaments, strokes and pedals too."""
    made = render_score(score, maps=[(p.id, STRINGS) for p in score.parts])
    assert made.report["proof"]["disagree"] == []


def test_sorted_fields_of_a_hairpin() -> None:
    """The columns of a row are those of the type, in its order."""
    score = read_notation("voice 1: =p < C5:h D5:h / |")
    (part,) = json.loads(write_score(score))["parts"]
    assert part["hairpins"] == [list(Hairpin(0, 3840, 0, "", 1, niente=False))]
