"""Templates: what their tracks resolve to, and how far they have drifted."""

from __future__ import annotations

from dataclasses import asdict, fields
from typing import Any

import pytest

from mappings import models
from mappings.api import bodies
from rendering.rendered import Options
from tests.mappings.calls import call, problem
from tests.mappings.world import World, map_document, mark_done, template_document


def track(name: str, map_id: Any, channel: int, **reference: Any) -> dict[str, Any]:
    return {"id": name, "name": name, "map": {"id": str(map_id), **reference}, "channel": channel}


def save(world: World, tracks: list[dict[str, Any]]) -> Any:
    document = template_document("", tracks=tracks)
    return call(world.clients["ada"], "PUT", f"/templates/{world.ours.template.pk}/document", document, match="*")


def save_map(world: World, **changes: Any) -> None:
    assert call(world.clients["ada"], "PUT", f"/maps/{world.ours.map.pk}/document", map_document(**changes), match="*").status_code == 200


@pytest.mark.parametrize(("reference", "pointer"), [
    ({"id": "0d5c8a52-5f2c-4a52-9b58-0a4d7d1f6f10"}, "/tracks/0/map"),
    ({"id": "no id at all"}, "/tracks/0/map"),
    ({"file": "violins.json"}, "/tracks/0/map"),
    ({"digest": "0" * 64}, "/tracks/0/map"),
    ({"revision": 7}, "/tracks/0/map/revision"),
], ids=["unknown", "no id", "a file", "a digest", "no such revision"])  # fmt: skip
def test_a_track_needs_a_map_of_the_team(reference: dict[str, Any], pointer: str, world: World) -> None:
    wanted = {"id": str(world.ours.map.pk)} | reference if "revision" in reference else reference
    answer = save(world, [{"id": "vn", "name": "Violins", "map": wanted, "channel": 1}])
    assert problem(answer) == (422, "invalid", [(pointer, "unknown-reference")])


def test_an_archived_map_cannot_be_taken_into_a_template(world: World) -> None:
    made = call(world.clients["ada"], "POST", f"/maps/{world.ours.map.pk}/fork", {"name": "A Copy"}).json()
    call(world.clients["ada"], "DELETE", f"/maps/{made['id']}", match="*")
    assert problem(save(world, [track("vn", made["id"], 1)])) == (422, "invalid", [("/tracks/0/map", "unknown-reference")])


def test_checks_see_the_maps_of_the_tracks(world: World) -> None:
    """A map that plays on channel 2 takes that channel from the track that has it."""
    document = map_document("Two Channels")
    document["articulations"][1]["triggers"] = [{"channel": 2}]
    body = {"instrument": str(world.ours.instrument.pk), "document": document}
    made = call(world.clients["ada"], "POST", f"/teams/{world.ours.team.pk}/maps", body)
    assert made.status_code == 201, made.content
    answer = save(world, [track("a", made.json()["id"], 1), track("b", world.ours.map.pk, 2)])
    assert problem(answer) == (422, "invalid", [("/tracks/0/map", "channel-taken")])


def test_the_rows_of_tracks_follow_the_document(world: World) -> None:
    save(world, [track("a", world.ours.map.pk, 3, revision=1), track("b", world.ours.map.pk, 4)])
    rows = models.TemplateTrack.objects.filter(template=world.ours.template).order_by("position")
    assert [(row.position, row.track, row.map_id, row.pinned, row.channel) for row in rows] == [
        (0, "a", world.ours.map.pk, 1, 3), (1, "b", world.ours.map.pk, None, 4),
    ]  # fmt: skip


def test_a_restore_that_needs_a_removed_map_says_so(world: World) -> None:
    made = call(world.clients["ada"], "POST", f"/maps/{world.ours.map.pk}/fork", {"name": "A Copy"}).json()
    save(world, [track("vn", made["id"], 1)])
    save(world, [track("vn", world.ours.map.pk, 1)])
    call(world.clients["ada"], "DELETE", f"/maps/{made['id']}", match="*")
    answer = call(world.clients["ada"], "POST", f"/templates/{world.ours.template.pk}/restore", {"revision": 2}, match="*")
    assert problem(answer) == (422, "invalid", [("/revision", "unknown-reference")])
    assert answer.json()["errors"][0]["within"] == "/tracks/0/map"


def test_a_removed_template_leaves_its_maps_free(world: World) -> None:
    call(world.clients["ada"], "DELETE", f"/templates/{world.ours.template.pk}", match="*")
    assert call(world.clients["ada"], "DELETE", f"/maps/{world.ours.map.pk}", match="*").status_code == 204


# ── Drift ──


def drift(world: World) -> list[dict[str, Any]]:
    items: list[dict[str, Any]] = call(world.clients["cleo"], "GET", f"/templates/{world.ours.template.pk}/drift").json()["items"]
    return items


def render(world: World) -> None:
    body = {"score": str(world.ours.score.pk), "template": str(world.ours.template.pk)}
    made = call(world.clients["ada"], "POST", f"/teams/{world.ours.team.pk}/renders", body).json()
    mark_done(models.Render.objects.get(pk=made["id"]))


def spiccato() -> list[dict[str, Any]]:
    articulations: list[dict[str, Any]] = map_document()["articulations"]
    articulations[1]["plays"] = [["spiccato"]]
    return articulations


def words(world: World) -> list[tuple[str, str]]:
    return [(it["track"], it["drift"]) for it in drift(world)]


def test_which_track_has_drifted_after_what(world: World) -> None:
    """A pinned track is behind as soon as its map goes on; a following one has moved only since a render."""
    models.Render.objects.all().delete()
    save(world, [track("pinned", world.ours.map.pk, 1, revision=1), track("follows", world.ours.map.pk, 2)])
    seen = [words(world)]
    save_map(world, key_offset=12)
    seen.append(words(world))
    render(world)
    seen.append(words(world))
    save_map(world, articulations=spiccato())
    seen.append(words(world))
    call(world.clients["ada"], "POST", f"/maps/{world.ours.map.pk}/restore", {"revision": 2}, match="*")
    seen.append(words(world))
    save(world, [track("pinned", world.ours.map.pk, 1, revision=4), track("follows", world.ours.map.pk, 2)])
    seen.append(words(world))
    render(world)
    seen.append(words(world))
    assert seen == [
        [],
        [("pinned", "behind")],
        [("pinned", "behind")],
        [("pinned", "behind"), ("follows", "moved")],
        [("pinned", "behind")],  # the restored revision says what was rendered
        [],
        [],
    ]


def test_drift_says_what_changed_and_which_marks_are_lost_and_gained(world: World) -> None:
    save(world, [track("pinned", world.ours.map.pk, 1, revision=1)])
    save_map(world, articulations=spiccato())
    found = drift(world)[0]
    assert {name: found[name] for name in ("pinned", "current", "rendered", "lost", "gained")} == {
        "pinned": 1, "current": 2, "rendered": None, "lost": ["staccato"], "gained": ["spiccato"],
    }  # fmt: skip
    assert [it["pointer"] for it in found["changes"]] == ["/articulations/1/plays/0/0"]


# ── What renders take from templates ──


def asked(world: World, **more: Any) -> Any:
    body = {"score": str(world.ours.score.pk), "template": str(world.ours.template.pk), **more}
    return call(world.clients["ada"], "POST", f"/teams/{world.ours.team.pk}/renders", body)


def test_following_is_resolved_when_a_render_is_made(world: World) -> None:
    save(world, [track("pinned", world.ours.map.pk, 1, revision=1), track("follows", world.ours.map.pk, 2)])
    save_map(world, key_offset=12)
    made = asked(world).json()
    save_map(world, key_offset=-12)
    items = call(world.clients["ada"], "GET", f"/renders/{made['id']}/inputs").json()["items"]
    assert {it["ref"]: it["revision"] for it in items if it["role"] == "map"} == {"pinned": 1, "follows": 2}


@pytest.mark.parametrize(("more", "pointer", "code"), [
    ({"template_revision": 9}, "/template_revision", "unknown-reference"),
    ({"score_version": 9}, "/score_version", "unknown-reference"),
    ({"assignment": [{"part": "P1", "tracks": ["vn", "oboe"]}]}, "/assignment/0/tracks/1", "unknown-reference"),
    ({"template": None, "assignment": [{"part": "P1", "tracks": ["vn"]}]}, "/assignment", "no-template"),
    ({"options": {"ppq": 7}}, "/options/ppq", "shape.greater-than-equal"),
    ({"options": {"tempo": "presto"}}, "/options/tempo", "shape.int-type"),
    ({"options": {"grid": "fine"}}, "/options/grid", "shape.other"),
    ({"options": {"speed": 1}}, "/options/speed", "shape.extra-forbidden"),
])  # fmt: skip
def test_a_render_that_cannot_be_made_is_refused(more: dict[str, Any], pointer: str, code: str, world: World) -> None:
    assert problem(asked(world, **more)) == (422, "invalid", [(pointer, code)])


def test_choices_come_from_the_body_else_from_the_template_else_from_the_defaults(world: World) -> None:
    document = template_document(str(world.ours.map.pk), choices={"restate": "note", "ppq": 480})
    call(world.clients["ada"], "PUT", f"/templates/{world.ours.template.pk}/document", document, match="*")
    made = asked(world, options={"ppq": 1920, "tempo": 96_500}).json()
    options = call(world.clients["ada"], "GET", f"/renders/{made['id']}/inputs").json()["document"]["options"]
    assert options == {**asdict(Options()), "restate": "note", "ppq": 1920, "tempo": 96_500}


def test_every_choice_of_the_engine_can_be_made(world: World) -> None:
    assert set(bodies.Options.model_fields) == {field.name for field in fields(Options)}


def test_the_same_inputs_have_the_same_digest_and_others_another(world: World) -> None:
    first, second = asked(world).json(), asked(world).json()
    other = asked(world, options={"ppq": 480}).json()
    assert (first["inputs_digest"] == second["inputs_digest"], first["inputs_digest"] == other["inputs_digest"]) == (True, False)
