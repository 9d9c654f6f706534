"""The report and the rows of notes: their shape, their sums, their sentences."""

from __future__ import annotations

import json
from collections import Counter
from functools import cache
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from fixtures import demo
from rendering.documents import digest, read, schemas
from rendering.maps.document import ArticulationMap
from rendering.marks import names
from rendering.outcomes import count_outcomes, totals
from rendering.perform import Played
from rendering.pipeline import Rendering, render, render_score
from rendering.proof import Verdict
from rendering.rendered import Options
from rendering.report import proof_sentence, report, report_text, summary
from rendering.report_document import Report
from rendering.resolve import Voice
from rendering.templates import Template
from rendering.trace import COLUMNS
from tests.outside.reading import CORPUS
from tests.rendering.golden_files import Golden, golden_files, made_map
from tests.rendering.notation import read_notation

SCHEMA = schemas([Report])["report"]
STRINGS = made_map({
    "articulations": [
        {"id": "bowed", "name": "Bowed", "triggers": [{"keyswitch": 24}], "lead_ms": {"first": 50}},
        {"id": "plucked", "name": "Plucked", "plays": [["pizzicato"]], "triggers": [{"keyswitch": 25}]},
    ],
})  # fmt: skip
SMALL = """
play 1-1 1-2
voice 1: C5:h[pizzicato,con_sordino] D5:h[staccato] | =f E5:h~ E5:q F7:q |
voice 2: r:w | r:h C1:h[accent] |
"""


@cache
def small() -> Rendering:
    score = read_notation(SMALL)
    score.title = "Small"
    score.unread = [("con forza", "P1", 3840, 1)]
    return render_score(score, maps=[("P1", STRINGS)], digests={"score": digest(b"")})


@cache
def of_demo(library: str) -> Rendering:
    template = read(Template, (demo.FOLDER / f"{library}-template.json").read_bytes())
    maps = {t.id: read(ArticulationMap, (demo.FOLDER / str(t.map.file)).read_bytes()) for t in template.tracks}
    return render(demo.SCORE, template=template, template_maps=maps)


@cache
def general_midi(name: str) -> Rendering:
    return render(demo.SCORE if name == "demo" else (CORPUS / name).read_bytes())


def check_shape(made: Rendering) -> None:
    """The document is what its published schema says, and reads back as the model with nothing lost."""
    body = made.files["report.json"]
    assert json.loads(body) == made.report
    assert list(Draft202012Validator(SCHEMA).iter_errors(json.loads(body))) == []
    again = read(Report, body).model_dump(mode="json", by_alias=True, exclude_unset=True)
    assert again == made.report


@pytest.mark.parametrize("path", golden_files(), ids=lambda path: path.stem)
def test_shape_of_golden_reports(path: Any) -> None:
    check_shape(Golden(path).render())


@pytest.mark.parametrize("name", ["demo", "beethoven/opus133.mxl", "joplin/maple_leaf_rag.mxl", "demos/drum_sample.xml"])
def test_shape_of_other_reports(name: str) -> None:
    check_shape(general_midi(name))


@pytest.mark.parametrize("library", ["tarn-house", "copperfold"])
def test_shape_of_the_demos_reports(library: str) -> None:
    check_shape(of_demo(library))


def test_a_wrong_report_is_refused() -> None:
    validator = Draft202012Validator(SCHEMA)
    assert not validator.is_valid(small().report | {"kind": "reports"})
    assert not validator.is_valid({name: value for name, value in small().report.items() if name != "proof"})
    assert not validator.is_valid(small().report | {"extra": 1})


# ── Sums ──


def written_marks(made: Rendering) -> dict[str, Counter[str]]:
    """Return part id -> how many of its written notes that sound bear each mark; a tied chain is one note."""
    found = {}
    for part in made.run.parts:
        marks = {source: mask for line in part.lines for source, mask in zip(line.source, line.marks, strict=True)}
        found[part.part.id] = Counter(name for mask in marks.values() for name in names(mask))
    return found


def check_sums(made: Rendering) -> None:
    document = made.report
    proof, problems = document["proof"], document["problems"]
    assert proof["agree"] + proof["yielded"] + sum("note" in d for d in proof["disagree"]) == proof["notes"]
    for track in document["tracks"]:
        assert track["outcomes"] == totals(track["marks"])
        assert sum(track["outcomes"].values()) == sum(sum(row.values()) for row in track["marks"].values())
    codes = Counter({p["code"]: 0 for p in problems})
    for p in problems:
        codes[p["code"]] += p["count"]
    outcomes = Counter[str]()
    for track in document["tracks"]:
        outcomes.update(track["outcomes"])
    assert codes["mark-plain"] == outcomes["plain"]
    assert codes["mark-stand-in"] == outcomes["stand-in"]


def check_marks_are_counted_once(made: Rendering) -> None:
    """Each mark of each written note has exactly one outcome, where each part has one track."""
    written = written_marks(made)
    for track in made.report["tracks"]:
        (part,) = track["parts"]
        assert {mark: sum(row.values()) for mark, row in track["marks"].items()} == dict(written[part])
    assert sum(track["notes"] for track in made.report["tracks"]) == made.report["score"]["notes"]


@pytest.mark.parametrize("name", ["demo", "beethoven/opus59no1/movement2.mxl", "schumann_robert/opus41no1/movement1.mxl"])
def test_counts_add_up(name: str) -> None:
    check_sums(general_midi(name))
    check_marks_are_counted_once(general_midi(name))


@pytest.mark.parametrize("library", ["tarn-house", "copperfold"])
def test_counts_of_the_demo_add_up(library: str) -> None:
    check_sums(of_demo(library))


def test_counts_of_a_small_score() -> None:
    """Measure 1 is played twice: its notes count once; the note on a switch key is silent."""
    (track,) = small().report["tracks"]
    assert track["marks"] == {
        "pizzicato": {"exact": 1}, "staccato": {"shaped": 1}, "accent": {"silent": 1}, "con sordino": {"plain": 1},
    }  # fmt: skip
    assert track["outcomes"] == {"exact": 1, "shaped": 1, "plain": 1, "silent": 1}
    assert list(track["outcomes"]) == ["exact", "shaped", "plain", "silent"]
    assert small().report["score"] == {
        "title": "Small", "measures": 2, "played": 3, "notes": 7, "parts": [{"id": "P1", "name": "Violin", "notes": 5}],
    }  # fmt: skip
    assert small().report["proof"] == {"notes": 6, "agree": 6, "yielded": 0, "disagree": []}
    check_sums(small())


def test_where_passes_differ_the_worst_counts() -> None:
    """A note heard exact in one pass, shaped in the next, plain in the third is plain; merged is worse than exact only."""
    made = small()
    t = made.run.tracks[0]
    exact = next(d for d in t.decisions if d.outcomes and d.outcomes[0][1] == 0)
    bit = exact.outcomes[0][0]
    decisions = []
    for n, outcome in enumerate((0, 1, 5)):
        changed = {name: getattr(exact, name) for name in exact.__slots__} | {"index": n, "outcomes": ((bit, outcome),)}
        decisions.append(type(exact)(**changed))
    line = Played(1, "1")
    line.source = [7, 7, 7, 8]
    voices = [Voice(0, line, [0, 2, 1, 0])]
    assert count_outcomes(voices, decisions, []) == {"pizzicato": {"exact": 1, "plain": 1}}
    assert count_outcomes(voices, decisions, [(0, 3)]) == {"pizzicato": {"merged": 1, "plain": 1}}


def test_equal_problems_are_told_once_with_their_count() -> None:
    made = render_score(read_notation("voice 1: C5:q[key_click] D5:q[key_click] E5:q E5:q[key_click] |"), maps=[("P1", STRINGS)])
    assert [(p["message"], p["count"]) for p in made.report["problems"]] == [
        ("Violin, measure 1, beat 1: Strings cannot play key click – played as Bowed", 3)
    ]


def test_errors_come_first() -> None:
    order = ["error", "warning", "remark"]
    ranks = [order.index(p["severity"]) for p in small().report["problems"]]
    assert ranks == sorted(ranks)
    assert {0, 1} <= set(ranks)


# ── Sentences ──


def test_the_report_as_text() -> None:
    assert report_text(small().report).splitlines() == [
        "Small",
        "7 notes on 1 tracks; marks: 1 exact, 1 shaped, 1 plain, 1 silent; proof 100 %: 6 of 6 notes heard as chosen, 0 yielded",
        "",
        "Violin (port 1, channel 1, Strings): 7 notes; 1 exact, 1 shaped, 1 plain, 1 silent",
        "    pizzicato: 1 exact",
        "    staccato: 1 shaped",
        "    accent: 1 silent",
        "    con sordino: 1 plain",
        (
            "error: Violin, measure 2, beat 3, voice 2: key 24 is a switch of Strings"
            " – the note is silent, for it would change the articulation"
        ),
        "warning: Violin, measure 1, beat 1, voice 1: Strings cannot play con sordino – played as Plucked",
        (
            "warning: Violin, measure 2, beat 4, voice 1: key 101 is outside the range of Strings, 36 to 100"
            " – sent all the same; it may not sound"
        ),
        "unread: “con forza” in Violin, measure 2",
    ]
    assert small().files["report.txt"].decode() == report_text(small().report)


def test_preroll_is_told() -> None:
    made = render_score(read_notation("meter 3/4\nvoice 1: C5:h. |"), maps=[("P1", STRINGS)])
    assert made.report["preroll"] == {"measures": 1, "ticks": 2880}
    assert "pre-roll: 1 measures (2880 ticks)" in report_text(made.report).splitlines()


def test_the_proof_in_words() -> None:
    sentence = proof_sentence({"notes": 400, "agree": 396, "yielded": 3, "disagree": [{"heard": "5 ticks late"}]})
    assert sentence == "proof 99.75 %: 396 of 400 notes heard as chosen, 3 yielded, 1 disagree"
    assert proof_sentence({"notes": 0, "agree": 0, "yielded": 0, "disagree": []}).startswith("proof 100 %: 0 of 0")


def test_a_disagreement_is_an_error_with_its_place() -> None:
    """The sentence and the place of a note, of which a verdict says that it is late."""
    made = render_score(read_notation("voice 1: C5:h D5:h |"), maps=[("P1", STRINGS)])
    made.run.tracks[0].verdict = Verdict(notes=2, agree=1, disagree=[(0, 1, "5 ticks late")])
    document = report(made.run)
    assert document["proof"]["disagree"] == [
        {"part": "P1", "part_name": "Violin", "measure": "1", "ordinal": 1, "beat": "3", "note": 2, "heard": "5 ticks late"}
    ]
    assert [p["message"] for p in document["problems"] if p["severity"] == "error"] == [
        "Violin, measure 1, beat 3: the simulated listener hears something else: 5 ticks late – the files are not proven; please report it"
    ]
    assert summary(document).endswith("proof 50.00 %: 1 of 2 notes heard as chosen, 0 yielded, 1 disagree")


def test_choices_and_inputs() -> None:
    options = Options(ppq=480, restate="note", lead="track", preroll=2, in_tie="restrike", tempo=90_000)
    made = render_score(read_notation("voice 1: C5:w |"), maps=[("P1", STRINGS)], options=options, digests={"score": digest(b"x")})
    assert made.report["choices"] == {
        "ppq": 480, "restate": "note", "lead": "track", "preroll": 2, "tracks": "used", "in_tie": "restrike", "tempo": 90_000,
        "left_over": "report", "grid": "none",
    }  # fmt: skip
    assert made.report["inputs"].keys() == {"score", "map:P1"}
    assert made.report["tracks"][0]["delay_ms"] == 50
    check_shape(made)


# ── notes.json ──


def rows_of(made: Rendering) -> list[dict[str, Any]]:
    table = json.loads(made.files["notes.json"])
    assert table["columns"] == list(COLUMNS)
    return [dict(zip(table["columns"], row, strict=True)) for row in table["rows"]]


def test_columns_of_notes() -> None:
    wanted = "note pass part track key on off heard level articulations outcomes reason"
    assert list(COLUMNS) == wanted.split()


def test_rows_of_a_small_score() -> None:
    """50 ms of lead are 96 ticks; an unslurred note ends a tick before the next one of its voice is sent."""
    rows = [[row[name] for name in COLUMNS[:9]] for row in rows_of(small())]
    assert rows == [
        [1, 1, "P1", "P1", 72, 0, 1823, 0, 625],
        [2, 1, "P1", "P1", 74, 1824, 2880, 1920, 625],
        [1, 2, "P1", "P1", 72, 3840, 5663, 3840, 625],
        [2, 2, "P1", "P1", 74, 5664, 6720, 5760, 625],
        [3, 2, "P1", "P1", 76, 7584, 10463, 7680, 750],
        [5, 2, "P1", "P1", 101, 10464, 11520, 10560, 750],
        [8, 2, "P1", "P1", 24, None, None, None, 750],
    ]
    first, silent = rows_of(small())[0], rows_of(small())[-1]
    assert first["articulations"] == ["plucked"]
    assert first["outcomes"] == {"pizzicato": "exact", "con sordino": "plain"}
    assert first["reason"] == "plays Plucked; plain: con sordino"
    assert silent["outcomes"] == {"accent": "silent"}
    assert silent["reason"] == "not sent: its key is a switch"


def test_rows_of_notes_that_gave_way() -> None:
    """A merged note has no time of its own and says so; a note whose lead is cut is heard late."""
    made = render_score(
        read_notation("voice 1: C5:w |\nvoice 2: C5:h[tenuto] r:h |"), maps=[("P1", STRINGS)], options=Options(preroll="none")
    )
    kept, merged = rows_of(made)
    assert (kept["on"], kept["off"], kept["heard"]) == (0, 3840, 96)
    assert (merged["on"], merged["off"]) == (None, None)
    assert merged["outcomes"] == {"tenuto": "merged"}


@pytest.mark.parametrize("library", ["tarn-house", "copperfold"])
def test_rows_agree_with_the_report(library: str) -> None:
    """One row for each played note; per track and mark the worst outcomes of the written notes are the report's counts."""
    made = of_demo(library)
    rows = rows_of(made)
    rank = ["exact", "shaped", "written-out", "merged", "stand-in", "plain", "silent"]
    for track in made.report["tracks"]:
        own = [row for row in rows if row["track"] == track["id"]]
        assert len(own) == track["notes"]
        worst: dict[tuple[str, int, str], int] = {}
        for row in own:
            for mark, outcome in row["outcomes"].items():
                place = (row["part"], row["note"], mark)
                worst[place] = max(worst.get(place, 0), rank.index(outcome))
        counts = Counter((mark, rank[outcome]) for (_, _, mark), outcome in worst.items())
        assert counts == {(mark, o): n for mark, row in track["marks"].items() for o, n in row.items()}
