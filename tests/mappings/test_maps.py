"""Maps: search, revisions, difference, restore, fork, and who stands in the way of removing them."""

from __future__ import annotations

import io
import json
from typing import Any

import mido
import pytest

from fixtures import demo
from mappings import exchange, models
from tests.mappings.calls import call, problem
from tests.mappings.world import World, join, map_document


def save(world: World, document: Any, query: str = "") -> Any:
    return call(world.clients["ada"], "PUT", f"/maps/{world.ours.map.pk}/document{query}", document, match="*")


def make(world: World, document: Any, **more: Any) -> Any:
    body = {"instrument": str(world.ours.instrument.pk), "document": document, **more}
    return call(world.clients["ada"], "POST", f"/teams/{world.ours.team.pk}/maps", body)


def found(world: World, query: str) -> list[str]:
    answer = call(world.clients["cleo"], "GET", f"/teams/{world.ours.team.pk}/maps?{query}")
    assert answer.status_code == 200, answer.content
    return sorted(item["name"] for item in answer.json()["items"])


@pytest.fixture
def shelf(world: World) -> World:
    """The world with three more maps: a viola that can tremolo, a violin that trills, a horn."""
    tremolo = map_document("Violas", sound="strings.viola")
    tremolo["articulations"][1]["plays"] = [["tremolo", "con sordino"]]
    trill = map_document("Trilling Violins", stand_ins=[{"for": "flautando", "use": ["staccato"]}])
    trill["articulations"][1]["plays"] = [["trill"], ["staccato"]]
    for document in (tremolo, trill, map_document("Hörner", sound="brass.french-horn")):
        assert make(world, document).status_code == 201
    return world


@pytest.mark.parametrize(("query", "names"), [
    ("", ["Hörner", "Moor Violins", "Trilling Violins", "Violas"]),
    ("sound=strings", ["Moor Violins", "Trilling Violins", "Violas"]),
    ("sound=strings.violin", ["Moor Violins", "Trilling Violins"]),
    ("sound=string", []),
    ("mark=con%20sordino", ["Violas"]),
    ("mark=trill%20whole", ["Trilling Violins"]),
    ("mark=trill", ["Trilling Violins"]),
    ("mark=flautando", ["Trilling Violins"]),
    ("mark=staccato&sound=brass", ["Hörner"]),
    ("q=VIOL", ["Moor Violins", "Trilling Violins", "Violas"]),
    ("q=h%C3%B6rner", ["Hörner"]),
    ("q=%25", []),
    ("library={library}", ["Hörner", "Moor Violins", "Trilling Violins", "Violas"]),
])  # fmt: skip
def test_search(query: str, names: list[str], shelf: World) -> None:
    assert found(shelf, query.format(library=shelf.ours.library.pk)) == names


@pytest.mark.parametrize("query", ["mark=stacato", "library=x", "q=%00", "sound=" + "x" * 101])
def test_a_search_that_cannot_be_meant_is_refused(query: str, world: World) -> None:
    answer = call(world.clients["cleo"], "GET", f"/teams/{world.ours.team.pk}/maps?{query}")
    assert (answer.status_code, answer.json()["errors"][0]["parameter"]) == (422, query.split("=", maxsplit=1)[0])


def test_the_rows_for_search_follow_the_current_revision(world: World) -> None:
    document = map_document()
    document["articulations"][1]["plays"] = [["spiccato"]]
    save(world, document)
    assert (found(world, "mark=staccato"), found(world, "mark=spiccato")) == ([], ["Moor Violins"])
    call(world.clients["ada"], "POST", f"/maps/{world.ours.map.pk}/restore", {"revision": 1}, match="*")
    assert (found(world, "mark=staccato"), found(world, "mark=spiccato")) == (["Moor Violins"], [])


def test_how_a_map_plays_its_marks() -> None:
    document = map_document(stand_ins=[{"for": "flautando", "use": ["sul tasto"]}, {"for": "tremolo", "use": ["staccato"]}])
    document["articulations"][1]["plays"] = [["tremolo", "con sordino"], ["tremolo"], ["harmonic"]]
    read = exchange.parse(exchange.ArticulationMap, json.dumps(document).encode())
    assert {(mark, how) for _, mark, how in exchange.mark_rows(read)} == {
        ("tremolo", "exact"), ("con sordino", "in set"), ("flautando", "stand-in"),
        ("natural harmonic", "exact"), ("artificial harmonic", "exact"),
    }  # fmt: skip


def test_every_mark_of_the_demo_is_searchable(world: World) -> None:
    for library in demo.LIBRARIES:
        for instrument in library.instruments:
            read = exchange.parse(exchange.ArticulationMap, instrument.body)
            played = {mark for _, mark, _ in exchange.mark_rows(read)}
            said = {mark for a in json.loads(instrument.body)["articulations"] for marks in a.get("plays", []) for mark in marks}
            assert {mark for name in said for mark in exchange.marks_named(name)} <= played


# ── Revisions ──


def test_revisions_are_numbered_listed_and_kept(world: World) -> None:
    save(world, map_document(key_offset=12), "?note=for%20the%20basses")
    save(world, map_document(key_offset=-12))
    listed = call(world.clients["cleo"], "GET", f"/maps/{world.ours.map.pk}/revisions").json()["items"]
    assert [(it["number"], it["note"], it["made_by"]) for it in listed] == [(3, "", "Ada"), (2, "for the basses", "Ada"), (1, "", "Ada")]
    second = call(world.clients["cleo"], "GET", f"/maps/{world.ours.map.pk}/revisions/2")
    assert (second.json()["key_offset"], second.headers["ETag"]) == (12, f'"{listed[1]["digest"]}"')
    assert call(world.clients["cleo"], "GET", f"/maps/{world.ours.map.pk}/revisions/4").status_code == 404


def test_a_restored_revision_is_a_new_one_that_says_the_same(world: World) -> None:
    save(world, map_document(key_offset=12))
    answer = call(world.clients["ben"], "POST", f"/maps/{world.ours.map.pk}/restore", {"revision": 1}, match="*")
    assert (answer.status_code, answer.headers["Revision"]) == (200, "3")
    listed = call(world.clients["cleo"], "GET", f"/maps/{world.ours.map.pk}/revisions").json()["items"]
    assert (listed[0]["restored_from"], listed[0]["digest"], listed[0]["made_by"]) == (1, listed[2]["digest"], "Ben")
    missing = call(world.clients["ben"], "POST", f"/maps/{world.ours.map.pk}/restore", {"revision": 9}, match="*")
    assert problem(missing) == (422, "invalid", [("/revision", "unknown-reference")])


def test_the_difference_matches_articulations_by_id(world: World) -> None:
    document = map_document()
    bowed, short = document["articulations"]
    plucked = {"id": "plucked", "memory": "bow", "plays": [["pizzicato"]], "triggers": [{"keyswitch": 26}]}
    document["articulations"] = [short | {"lead_ms": {"first": 30}}, bowed, plucked]
    save(world, document)
    answer = call(world.clients["cleo"], "GET", f"/maps/{world.ours.map.pk}/diff").json()
    assert {name: answer[name] for name in ("from", "to")} == {"from": 1, "to": 2}
    assert [(it["pointer"], it["change"]) for it in answer["changes"]] == [
        ("/articulations/0", "moved"), ("/articulations/0/lead_ms", "added"), ("/articulations/1", "moved"), ("/articulations/2", "added"),
    ]  # fmt: skip
    assert '+   "lead_ms": {' in answer["text"].splitlines()
    back = call(world.clients["cleo"], "GET", f"/maps/{world.ours.map.pk}/diff?from=2&to=1").json()
    assert [it["change"] for it in back["changes"]] == ["moved", "moved", "removed", "removed"]
    assert call(world.clients["cleo"], "GET", f"/maps/{world.ours.map.pk}/diff?from=2&to=2").json()["changes"] == []
    assert call(world.clients["cleo"], "GET", f"/maps/{world.ours.map.pk}/diff?from=1&to=9").status_code == 404


def test_the_tryout_plays_every_articulation_of_the_current_revision(world: World) -> None:
    path = f"/maps/{world.ours.map.pk}/tryout"
    answer = call(world.clients["cleo"], "GET", path)
    assert (answer.status_code, answer.headers["Content-Type"]) == (200, "audio/midi")
    markers = [m.text for m in mido.MidiFile(file=io.BytesIO(answer.content)).tracks[0] if m.type == "marker"]
    assert markers == ["1 Bowed", "2 Short"]
    document = map_document()
    document["articulations"][0]["name"] = "Sustained"
    save(world, document)
    assert b"1 Sustained" in call(world.clients["cleo"], "GET", path).content


# ── Names, forks, removal ──


def test_a_name_is_taken_however_it_is_written_and_freed_by_removal(world: World) -> None:
    assert problem(make(world, map_document("ＭＯＯＲ  violins")))[:2] == (409, "name-taken")
    call(world.clients["ada"], "DELETE", f"/templates/{world.ours.template.pk}", match="*")
    call(world.clients["ada"], "DELETE", f"/maps/{world.ours.map.pk}", match="*")
    assert make(world, map_document("MOOR violins")).status_code == 201


def test_a_map_in_use_is_not_removed_and_the_templates_are_named(world: World) -> None:
    answer = call(world.clients["ada"], "DELETE", f"/maps/{world.ours.map.pk}", match="*")
    assert (problem(answer)[:2], [it["name"] for it in answer.json()["templates"]]) == ((409, "in-use"), ["Moor Template"])
    assert answer.json()["detail"] == "map: templates use it – take it out of them first"


def test_what_is_in_use_is_not_removed(world: World) -> None:
    for path in (f"/libraries/{world.ours.library.pk}", f"/instruments/{world.ours.instrument.pk}"):
        assert problem(call(world.clients["ada"], "DELETE", path, match="*"))[:2] == (409, "in-use")


def test_a_fork_is_a_map_of_its_own_that_knows_its_origin(world: World) -> None:
    digest = models.MapRevision.objects.get(map=world.ours.map).document.digest
    fork = call(world.clients["ben"], "POST", f"/maps/{world.ours.map.pk}/fork", {"name": "A Copy"})
    assert (fork.status_code, fork.json()["digest"], fork.json()["origin_digest"]) == (201, digest, digest)
    save(world, map_document(key_offset=12))
    assert "key_offset" not in call(world.clients["ben"], "GET", f"/maps/{fork.json()['id']}/document").json()


def test_a_fork_into_another_team_needs_its_instrument_and_the_right_to_edit_there(world: World) -> None:
    body = {"name": "A Copy", "team": str(world.theirs.team.pk), "instrument": str(world.theirs.instrument.pk)}
    path = f"/maps/{world.ours.map.pk}/fork"
    assert problem(call(world.clients["ben"], "POST", path, body)) == (422, "invalid", [("/team", "unknown-reference")])
    join(world.theirs.team, world.ben, "reader")
    assert problem(call(world.clients["ben"], "POST", path, body))[:2] == (403, "forbidden")
    models.Membership.objects.filter(team=world.theirs.team, user=world.ben).update(role="editor")
    without = {name: value for name, value in body.items() if name != "instrument"}
    assert problem(call(world.clients["ben"], "POST", path, without))[:2] == (422, "invalid")
    made = call(world.clients["ben"], "POST", path, body)
    assert (made.status_code, made.json()["team"]) == (201, str(world.theirs.team.pk))
    assert call(world.clients["dan"], "GET", f"/maps/{made.json()['id']}/document").status_code == 200
    assert models.Team.objects.get(pk=world.theirs.team.pk).bytes_used > 0
