"""Idempotency-Key: a create that is sent twice is done once."""

from __future__ import annotations

from collections import Counter

import pytest
from django.apps import apps
from django.core import serializers

from mappings import models
from tests.mappings.calls import call, problem
from tests.mappings.threads import at_once
from tests.mappings.world import TINY_SCORE, World, signed_in, soon


def test_a_repeated_create_gets_the_first_answer(world: World) -> None:
    path, body = f"/teams/{world.ours.team.pk}/libraries", {"name": "Fell Library"}
    first, second = (call(world.clients["ben"], "POST", path, body, key="k-1") for _ in range(2))
    assert (first.status_code, second.status_code) == (201, 201)
    assert first.json() == second.json()
    assert (first.headers["Location"], first.headers["ETag"]) == (second.headers["Location"], second.headers["ETag"])
    assert ("Idempotent-Replayed" in first.headers, second.headers["Idempotent-Replayed"]) == (False, "true")
    assert models.Library.objects.filter(name="Fell Library").count() == 1


def test_a_key_with_another_body_is_refused(world: World) -> None:
    path = f"/teams/{world.ours.team.pk}/libraries"
    call(world.clients["ben"], "POST", path, {"name": "Fell Library"}, key="k-1")
    assert problem(call(world.clients["ben"], "POST", path, {"name": "Other"}, key="k-1"))[:2] == (422, "key-reused")
    assert not models.Library.objects.filter(name="Other").exists()


def test_a_key_belongs_to_who_sent_it(world: World) -> None:
    path = f"/teams/{world.ours.team.pk}/libraries"
    assert call(world.clients["ben"], "POST", path, {"name": "Fell Library"}, key="k-1").status_code == 201
    assert call(world.clients["ada"], "POST", path, {"name": "Other"}, key="k-1").status_code == 201
    assert call(world.clients["writing"], "POST", path, {"name": "Third"}, key="k-1").status_code == 201


def test_a_failed_create_leaves_its_key_free(world: World) -> None:
    path = f"/teams/{world.ours.team.pk}/libraries"
    assert call(world.clients["ben"], "POST", path, {"name": ""}, key="k-1").status_code == 422
    assert call(world.clients["ben"], "POST", path, {"name": "Moor Library"}, key="k-1").status_code == 409
    assert models.IdempotencyKey.objects.count() == 0
    assert call(world.clients["ben"], "POST", path, {"name": "Fell Library"}, key="k-1").status_code == 201


@pytest.mark.parametrize("key", ["", "with space", "x" * 101, "naïve"])
def test_a_key_is_visible_ascii(key: str, world: World) -> None:
    answer = call(world.clients["ben"], "POST", f"/teams/{world.ours.team.pk}/libraries", {"name": "Fell"}, key=key)
    assert (answer.status_code, answer.json()["errors"][0]["header"]) == (422, "Idempotency-Key")


def test_an_upload_is_known_by_its_content(world: World) -> None:
    path = f"/teams/{world.ours.team.pk}/scores"
    first, second = (call(world.clients["ben"], "POST", path, TINY_SCORE, key="k-1") for _ in range(2))
    assert first.json()["id"] == second.json()["id"]
    assert problem(call(world.clients["ben"], "POST", path, TINY_SCORE + b" ", key="k-1"))[:2] == (422, "key-reused")


def test_a_secret_is_shown_once_and_kept_nowhere(world: World) -> None:
    path = f"/teams/{world.ours.team.pk}/tokens"
    body = {"name": "for a script", "scopes": ["read"], "expires_at": soon().isoformat()}
    made = call(world.clients["ada"], "POST", path, body, key="k-1")
    again = call(world.clients["ada"], "POST", path, body, key="k-1")
    assert (problem(again)[:2], again.json()["id"]) == ((409, "shown-once"), made.json()["id"])
    secret = made.json()["secret"].split("_")[2]
    for model in apps.get_app_config("mappings").get_models():
        assert secret not in serializers.serialize("json", model.objects.all()), model


def test_of_ten_racing_creates_with_one_key_one_is_done(open_world: World) -> None:
    path, before = f"/teams/{open_world.ours.team.pk}/libraries", models.Audit.objects.count()
    clients = [signed_in(open_world.ben) for _ in range(10)]
    answers = at_once(10, lambda n: call(clients[n], "POST", path, {"name": "Fell Library"}, key="k-1"))
    assert Counter(answer.status_code for answer in answers) == {201: 10}
    assert len({answer.json()["id"] for answer in answers}) == 1
    assert Counter("Idempotent-Replayed" in answer.headers for answer in answers) == {True: 9, False: 1}
    assert models.Library.objects.filter(name="Fell Library").count() == 1
    assert models.Audit.objects.count() == before + 1


def test_of_ten_racing_creates_of_one_name_one_is_done(open_world: World) -> None:
    path = f"/teams/{open_world.ours.team.pk}/libraries"
    clients = [signed_in(open_world.ben) for _ in range(10)]
    answers = at_once(10, lambda n: call(clients[n], "POST", path, {"name": f"FELL {'l' if n % 2 else 'L'}ibrary"}))
    assert Counter(answer.status_code for answer in answers) == {201: 1, 409: 9}
