"""The demo's files: valid by the standard's own schema, sound as documents, and nothing left lying about."""

from __future__ import annotations

import json
from collections import Counter
from functools import cache

import pytest

from fixtures import demo
from rendering.documents import read
from rendering.maps.checks import check
from rendering.maps.compile import compile_map
from rendering.maps.document import ArticulationMap
from rendering.pipeline import Rendering, render
from rendering.templates import Template, check_template
from tests.musicxml_schema import faults

INSTRUMENTS = [instrument for library in demo.LIBRARIES for instrument in library.instruments]
MAPS = {instrument.file: read(ArticulationMap, instrument.body) for instrument in INSTRUMENTS}


def test_the_score_is_valid_musicxml_4() -> None:
    # Source: musicxml.xsd Version 4.0, W3C Music Notation Community Group
    assert faults(demo.SCORE) == []


def test_the_schema_does_find_faults() -> None:
    assert faults(demo.SCORE.replace(b"<octave>4</octave>", b"<octave>44</octave>", 1))


@pytest.mark.parametrize("file", MAPS)
def test_a_map_has_no_problem(file: str) -> None:
    assert check(MAPS[file]) == []


@pytest.mark.parametrize("file", MAPS)
def test_a_map_compiles_to_one_entry_an_articulation(file: str) -> None:
    assert [entry.id for entry in compile_map(MAPS[file]).entries] == [it.id for it in MAPS[file].articulations]


@pytest.mark.parametrize("template", demo.TEMPLATES, ids=lambda template: template.file)
def test_a_template_has_no_problem(template: demo.TemplateFile) -> None:
    document = read(Template, template.body)
    maps = {track.id: MAPS[track.map.file or ""] for track in document.tracks}
    assert check_template(document, maps) == []


@pytest.mark.parametrize("template", demo.TEMPLATES, ids=lambda template: template.file)
def test_a_template_can_be_bound_to_stored_maps(template: demo.TemplateFile) -> None:
    bound = read(Template, template.bound({file: f"id of {file}" for file in MAPS}))
    by_file = read(Template, template.body)
    assert [track.map.id for track in bound.tracks] == [f"id of {track.map.file}" for track in by_file.tracks]


def test_every_file_belongs_to_the_demo() -> None:
    named = {demo.SCORE_FILE, *(demo.FOLDER / i.file for i in INSTRUMENTS), *(demo.FOLDER / t.file for t in demo.TEMPLATES)}
    lying = {p for p in demo.FOLDER.rglob("*") if p.suffix in {".json", ".musicxml"}}
    assert lying == named


def test_names_agree_with_the_documents() -> None:
    assert [t.name for t in demo.TEMPLATES] == [json.loads(t.body)["name"] for t in demo.TEMPLATES]
    assert demo.TITLE.encode() in demo.SCORE


# What the second library has no sample of; better rendering may only shorten these lists.
PLAIN = {
    "tarn-house-template.json": {},
    "copperfold-template.json": {"con sordino": 40, "natural harmonic": 1},
}


@cache
def rendered(file: str) -> Rendering:
    template = next(t for t in demo.TEMPLATES if t.file == file)
    document = read(Template, template.body)
    return render(demo.SCORE, template=document, template_maps={track.id: MAPS[track.map.file or ""] for track in document.tracks})


def marks(file: str, outcome: str) -> Counter[str]:
    found: Counter[str] = Counter()
    for track in rendered(file).report["tracks"]:
        found.update({mark: outcomes.get(outcome, 0) for mark, outcomes in track["marks"].items()})
    return +found


@pytest.mark.parametrize("file", PLAIN)
def test_the_same_score_is_proven_whole_on_each_library(file: str) -> None:
    proof = rendered(file).report["proof"]
    assert (proof["disagree"], proof["yielded"], proof["agree"]) == ([], 0, proof["notes"])


@pytest.mark.parametrize("file", PLAIN)
def test_no_more_is_lost_than_the_library_lacks(file: str) -> None:
    assert marks(file, "plain") <= Counter(PLAIN[file])
    assert marks(file, "silent") == Counter()


@pytest.mark.parametrize("file", PLAIN)
def test_no_part_is_left_over_and_nothing_unread(file: str) -> None:
    report = rendered(file).report
    assert [p for track in report["tracks"] for p in track["parts"]] == [f"P{n}" for n in range(1, 15)]
    assert report["unread"] == []


def test_on_general_midi_the_trills_and_rolls_of_the_demo_are_written_out() -> None:
    report = render(demo.SCORE).report
    found: Counter[tuple[str, str]] = Counter()
    for track in report["tracks"]:
        for mark, outcomes in track["marks"].items():
            found.update({(mark, outcome): n for outcome, n in outcomes.items()})
    assert {key: n for key, n in found.items() if key[0] in {"roll", "trill half", "trill whole"}} == {
        ("roll", "written-out"): 15,
        ("trill whole", "written-out"): 4,
    }
    assert report["proof"]["disagree"] == []
    assert "not-written-out" not in {p["code"] for p in report["problems"]}


def test_a_swap_changes_switches_and_no_note() -> None:
    heard = [sorted((row[0], row[2], row[1]) for row in json.loads(rendered(file).files["notes.json"])["rows"]) for file in PLAIN]
    assert heard[0] == heard[1]
