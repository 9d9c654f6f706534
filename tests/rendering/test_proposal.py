"""What is proposed from a summary is what a render then does."""

from __future__ import annotations

from fixtures import demo
from rendering.documents import read
from rendering.inspecting import inspect
from rendering.maps.document import ArticulationMap
from rendering.pipeline import render
from rendering.proposal import propose
from rendering.templates import Template


def test_the_proposal_is_what_a_render_does() -> None:
    for file in demo.TEMPLATES:
        template = read(Template, file.body)
        maps = {t.id: read(ArticulationMap, (demo.FOLDER / str(t.map.file)).read_bytes()) for t in template.tracks}
        rows = propose(inspect(demo.SCORE)["parts"], template, maps)
        done = render(demo.SCORE, template=template, template_maps=maps).report["tracks"]
        assert all(row["problems"] == [] for row in rows)
        assert {(row["part"], track) for row in rows for track in row["tracks"]} == {(p, t["id"]) for t in done for p in t["parts"]}


def test_a_part_that_no_track_plays_is_told() -> None:
    template = read(Template, demo.TEMPLATES[0].body)
    maps = {t.id: read(ArticulationMap, (demo.FOLDER / str(t.map.file)).read_bytes()) for t in template.tracks}
    part = {"id": "P9", "name": "Trombone", "sound": "brass.trombone", "players": "", "numbers": []}
    assert propose([part], template, maps) == [
        {
            "part": "P9",
            "name": "Trombone",
            "tracks": [],
            "problems": ["Trombone: no track of the template plays its sound (brass.trombone) – the part is silent"],
        }
    ]
