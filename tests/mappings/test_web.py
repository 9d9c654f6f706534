"""Pages: signing in and out, in a browser's way; health."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from mappings import models
from tests.mappings.calls import call
from tests.mappings.world import World

PASSWORD = "moor-and-weir-7"


def sign_in(client: Client, email: str, password: str = PASSWORD, **more: Any) -> Any:
    return client.post("/sign-in", {"username": email, "password": password}, **more)


@pytest.mark.parametrize("email", ["ada@moor.invalid", "ADA@Moor.invalid", " ada@moor.invalid "])
def test_signing_in_and_out(email: str, world: World) -> None:
    client = Client()
    assert sign_in(client, email).headers["Location"] == "/"
    assert client.get("/").headers["Location"] == "/api/v1/docs"
    assert client.get("/api/v1/me").json()["user"]["name"] == "Ada"
    assert client.get("/sign-out").status_code == 405
    assert client.post("/sign-out").headers["Location"] == "/sign-in"
    assert client.get("/api/v1/me").status_code == 401
    assert client.get("/").headers["Location"] == "/sign-in"


def test_a_wrong_password_says_no_more_than_a_wrong_address(world: World) -> None:
    wrong, nobody = sign_in(Client(), "ada@moor.invalid", "wrong"), sign_in(Client(), "nobody@moor.invalid", "wrong")
    sentence = "sign in: the address and the password do not fit together – check both"
    for page in (wrong, nobody):
        assert (page.status_code, sentence in page.content.decode()) == (200, True)


def test_a_closed_account_does_not_sign_in(world: World) -> None:
    models.User.objects.filter(pk=world.ada.pk).update(is_active=False)
    assert sign_in(Client(), "ada@moor.invalid").status_code == 200
    assert call(world.clients["ada"], "GET", "/me").status_code == 401


def test_guessing_is_slowed_by_account_and_by_address(world: World) -> None:
    for n in range(10):
        assert sign_in(Client(), "ada@moor.invalid", "wrong", REMOTE_ADDR=f"10.0.0.{n}").status_code == 200
    slowed = sign_in(Client(), "ADA@moor.invalid", REMOTE_ADDR="10.0.0.99")
    assert (slowed.status_code, int(slowed.headers["Retry-After"]) <= 300) == (429, True)
    for n in range(30):
        assert sign_in(Client(), f"user{n}@moor.invalid", "wrong", REMOTE_ADDR="10.0.1.1").status_code == 200
    spoofed = {"REMOTE_ADDR": "10.0.1.1", "HTTP_X_FORWARDED_FOR": "10.9.9.9"}
    assert sign_in(Client(), "ben@moor.invalid", **spoofed).status_code == 429
    assert sign_in(Client(), "ben@moor.invalid", REMOTE_ADDR="10.0.2.2").status_code == 302


def test_a_form_from_elsewhere_is_refused(world: World) -> None:
    client = Client(enforce_csrf_checks=True)
    page = sign_in(client, "ada@moor.invalid")
    assert (page.status_code, page.headers["Content-Type"]) == (403, "text/html; charset=utf-8")


def test_a_session_writes_only_with_its_csrf_token(world: World) -> None:
    client = Client(enforce_csrf_checks=True)
    client.get("/sign-in")
    form = {"username": "ada@moor.invalid", "password": PASSWORD, "csrfmiddlewaretoken": client.cookies["csrftoken"].value}
    assert client.post("/sign-in", form).status_code == 302
    path, body = f"/api/v1/teams/{world.ours.team.pk}/libraries", {"name": "Fell Library"}
    assert client.get(path).status_code == 200
    refused = client.post(path, body, content_type="application/json")
    assert (refused.status_code, refused.json()["type"]) == (403, "urn:ripieno:problem:forbidden")
    headers = {"x-csrftoken": client.cookies["csrftoken"].value}
    assert client.post(path, body, content_type="application/json", headers=headers).status_code == 201


def test_a_redirect_after_signing_in_stays_here(world: World) -> None:
    answer = Client().post("/sign-in", {"username": "ada@moor.invalid", "password": PASSWORD, "next": "https://elsewhere.invalid/"})
    assert answer.headers["Location"] == "/"


def test_pages_keep_the_strict_policy_and_have_their_headers(world: World) -> None:
    page = Client().get("/sign-in")
    assert "unsafe" not in page.headers["Content-Security-Policy"]
    wanted = {"X-Frame-Options": "DENY", "X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin"}
    assert {name: page.headers[name] for name in wanted} == wanted
    assert b"<style" not in page.content
    assert b" style=" not in page.content


def test_a_missing_page_is_a_page(world: World) -> None:
    page = Client().get("/nothing")
    assert (page.status_code, page.headers["Content-Type"]) == (404, "text/html; charset=utf-8")
    assert "There is nothing here" in page.content.decode()


@pytest.mark.django_db
def test_health() -> None:
    assert Client().get("/livez").json() == {"alive": True}
    assert Client().get("/readyz").json() == {"ready": True, "missing": []}


@pytest.mark.django_db
def test_not_ready_while_a_migration_is_missing() -> None:
    from django.db import connection
    from django.db.migrations.recorder import MigrationRecorder

    MigrationRecorder(connection).record_unapplied("mappings", "0002_refuse_updates")
    answer = Client().get("/readyz")
    assert (answer.status_code, answer.json()) == (503, {"ready": False, "missing": ["migrations"]})
