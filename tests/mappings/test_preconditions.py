"""ETag and If-Match: whoever was first is told so, whoever comes late loses nothing."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest

from mappings import models
from tests.mappings.calls import call, problem
from tests.mappings.threads import at_once
from tests.mappings.world import World, map_document, signed_in


def put(world: World, document: Any, match: str | None) -> Any:
    return call(world.clients["ben"], "PUT", f"/maps/{world.ours.map.pk}/document", document, match=match)


def test_the_tag_is_the_heads_id_and_version(world: World) -> None:
    pk = world.ours.map.pk
    tags = {call(world.clients["ada"], "GET", f"/maps/{pk}{path}").headers["ETag"] for path in ("", "/document")}
    assert tags == {f'"{pk}.1"'}


@pytest.mark.parametrize(("tag", "status", "code"), [
    (None, 428, "precondition-required"),
    ('"{map}.2"', 412, "stale"),
    ('"{other}.1"', 412, "stale"),
    ("garbage", 412, "stale"),
    ('"{map}.99999999999999"', 412, "stale"),
], ids=["absent", "of another version", "of another row", "garbage", "of a version beyond all numbers"])  # fmt: skip
def test_a_save_needs_the_tag_of_the_current_state(tag: str | None, status: int, code: str, world: World) -> None:
    sent = tag and tag.format(map=world.ours.map.pk, other=world.theirs.map.pk)
    assert problem(put(world, map_document(key_offset=1), sent))[:2] == (status, code)
    assert models.MapRevision.objects.filter(map=world.ours.map).count() == 1


@pytest.mark.parametrize("tag", ['"{map}.1"', 'W/"{map}.1"', '"{other}.7", "{map}.1"', "*", '"{map}.1-gzip"'])
def test_tags_that_name_the_current_state(tag: str, world: World) -> None:
    """A proxy that compresses weakens or lengthens the tag: it still names the state, which is all that is asked."""
    answer = put(world, map_document(key_offset=1), tag.format(map=world.ours.map.pk, other=world.theirs.map.pk))
    assert (answer.status_code, answer.headers["ETag"], answer.headers["Revision"]) == (200, f'"{world.ours.map.pk}.2"', "2")


def test_the_same_content_is_no_new_revision_but_the_tag_is_checked(world: World) -> None:
    tag = f'"{world.ours.map.pk}.1"'
    answer = put(world, map_document(), tag)
    assert (answer.status_code, answer.headers["ETag"], answer.headers["Revision"]) == (200, tag, "1")
    assert put(world, map_document(), f'"{world.ours.map.pk}.2"').status_code == 412
    assert models.Audit.objects.filter(verb="map.save").count() == 0


def test_a_late_save_is_shown_what_is_there_and_how_it_differs(world: World) -> None:
    tag = f'"{world.ours.map.pk}.1"'
    put(world, map_document(key_offset=12), tag)
    late = put(world, map_document(bend_range=2), tag).json()
    assert {name: late["current"][name] for name in ("version", "revision")} == {"version": 2, "revision": 2}
    assert late["current"]["document"]["key_offset"] == 12
    assert late["changes"] == [
        {"pointer": "/key_offset", "change": "added", "to": 12},
        {"pointer": "/bend_range", "change": "removed", "from": 2},
    ]


def test_an_unchanged_item_is_not_sent_again(world: World) -> None:
    path = f"/api/v1/maps/{world.ours.map.pk}/document"
    first = world.clients["ada"].get(path)
    again = world.clients["ada"].get(path, headers={"if-none-match": f'"x", W/{first.headers["ETag"]}'})
    assert (again.status_code, again.content, again.headers["ETag"]) == (304, b"", first.headers["ETag"])
    put(world, map_document(key_offset=1), "*")
    assert world.clients["ada"].get(path, headers={"if-none-match": first.headers["ETag"]}).status_code == 200


def test_a_revision_never_changes_and_may_be_kept(world: World) -> None:
    answer = call(world.clients["ada"], "GET", f"/maps/{world.ours.map.pk}/revisions/1")
    assert answer.headers["Cache-Control"] == "private, max-age=31536000, immutable"


def test_of_twenty_racing_saves_with_one_tag_one_wins(open_world: World) -> None:
    pk, ben = open_world.ours.map.pk, open_world.ben
    clients = [signed_in(ben) for _ in range(20)]
    answers = at_once(20, lambda n: call(clients[n], "PUT", f"/maps/{pk}/document", map_document(key_offset=n + 1), match=f'"{pk}.1"'))
    assert Counter(answer.status_code for answer in answers) == {200: 1, 412: 19}
    assert list(models.MapRevision.objects.filter(map=pk).order_by("number").values_list("number", flat=True)) == [1, 2]
    winner = next(n for n, answer in enumerate(answers) if answer.status_code == 200)
    assert call(clients[0], "GET", f"/maps/{pk}/document").json()["key_offset"] == winner + 1


def test_ten_racing_saves_that_expect_anything_all_win_one_after_the_other(open_world: World) -> None:
    pk = open_world.ours.map.pk
    clients = [signed_in(open_world.ben) for _ in range(10)]
    answers = at_once(10, lambda n: call(clients[n], "PUT", f"/maps/{pk}/document", map_document(key_offset=n + 1), match="*"))
    assert Counter(answer.status_code for answer in answers) == {200: 10}
    numbers = list(models.MapRevision.objects.filter(map=pk).order_by("number").values_list("number", flat=True))
    assert numbers == list(range(1, 12))
    assert models.Audit.objects.filter(subject_id=pk, verb="map.save").count() == 10
