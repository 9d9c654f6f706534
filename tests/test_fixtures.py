"""The demo's files: valid by the standard's own schema, sound as documents, and nothing left lying about."""

from __future__ import annotations

import json

import pytest

from fixtures import demo
from rendering.documents import read
from rendering.maps.checks import check
from rendering.maps.compile import compile_map
from rendering.maps.document import ArticulationMap
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
