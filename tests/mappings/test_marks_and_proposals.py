"""The vocabulary over the API, and where the parts of a score would go."""

from __future__ import annotations

import json
from uuid import uuid4

from fixtures import demo
from mappings import blobs, exchange, models
from mappings.services import templates
from rendering.inspecting import inspect
from rendering.marks import MARKS
from tests.mappings.calls import problem
from tests.mappings.world import World, template_document


def read(world: World) -> models.ScoreVersion:
    """Give the house's score the summary of the demo, as its reading would."""
    version = world.ours.score.versions.get()
    summary = blobs.keep_document(version.team_id, exchange.freeze_json("score-summary", inspect(demo.SCORE)))
    models.ScoreVersion.objects.filter(pk=version.pk).update(summary=summary)
    return version


def test_all_marks_are_told_with_their_words(world: World) -> None:
    answer = world.clients["cleo"].get("/api/v1/marks")
    rows = answer.json()["marks"]
    assert [row["name"] for row in rows] == [mark.name for mark in MARKS]
    spiccato = next(row for row in rows if row["name"] == "spiccato")
    assert (spiccato["axis"], spiccato["reach"]) == ("connection", "passage")
    assert any("spicc" in word for words in spiccato["wordings"] for word in words["wordings"])
    again = world.clients["cleo"].get("/api/v1/marks", headers={"If-None-Match": answer.headers["ETag"]})
    assert again.status_code == 304


def test_a_proposal_says_which_tracks_play_which_part(world: World) -> None:
    path = f"/api/v1/scores/{world.ours.score.pk}/versions/{read(world).number}/assignment"
    alone = world.clients["cleo"].get(path).json()["parts"]
    assert [(row["part"], row["tracks"]) for row in alone] == [(row["part"], [row["part"]]) for row in alone]
    document = template_document(str(world.ours.map.pk), "Two Violins")
    read_in = exchange.parse(exchange.Template, json.dumps(document).encode())
    made = templates.create(world.ours.actor, team=world.ours.team, name=None, document=read_in)
    rows = world.clients["cleo"].get(f"{path}?template={made.head.pk}").json()["parts"]
    by_name = {row["name"]: row for row in rows}
    track = document["tracks"][0]["id"]
    assert by_name["Violin 1"]["tracks"] == [track]
    assert by_name["Timpani"]["tracks"] == []
    assert by_name["Timpani"]["problems"] == ["Timpani: no track of the template plays its sound (drum.timpani) – the part is silent"]


def test_an_unknown_and_a_foreign_template_read_alike(world: World) -> None:
    path = f"/api/v1/scores/{world.ours.score.pk}/versions/{read(world).number}/assignment"
    answers = [problem(world.clients["ada"].get(f"{path}?template={pk}")) for pk in (uuid4(), world.theirs.template.pk)]
    assert answers[0] == answers[1]
    assert answers[0][0] == 422
