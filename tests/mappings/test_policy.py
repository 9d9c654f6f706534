"""Who may do what: every route and method of the API, by everybody."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.db import transaction
from django.urls import URLPattern, URLResolver, get_resolver

from mappings import models
from mappings.grants import ROLE
from tests.mappings.policy import POLICY, Row, address, send
from tests.mappings.world import World

METHODS = ("get", "post", "put", "patch", "delete")
# Addresses outside of /api that need no row: pages and health.
PAGES = {"", "sign-in", "sign-out", "livez", "readyz"}


def routes(patterns: list[URLPattern | URLResolver], prefix: str = "") -> Iterator[tuple[str, URLPattern]]:
    for entry in patterns:
        route = prefix + str(entry.pattern)
        if isinstance(entry, URLResolver):
            yield from routes(entry.url_patterns, route)
        else:
            yield route, entry


def served() -> set[tuple[str, str]]:
    """Return (method, route below /api/v1/) of everything that the resolver knows."""
    found = set()
    for route, entry in routes(get_resolver().url_patterns):
        if route in PAGES:
            continue
        assert route.startswith("api/v1/"), f"{route} is neither a page nor below /api/v1/"
        view = getattr(entry.callback, "view_class", None) or entry.callback.cls
        allowed = [method for method in METHODS if hasattr(view, method) and method in view.http_method_names]
        found |= {(method.upper(), route.removeprefix("api/v1/")) for method in allowed}
    return found


def test_every_route_has_a_row() -> None:
    assert served() == {(row.method, row.route) for row in POLICY}


def expected(row: Row, name: str) -> int:
    """Return the status for somebody: 401 who is nobody, 404 a stranger, 403 who is too weak."""
    if row.need == "public":
        return row.status
    if name in ("anonymous", "expired"):
        return 401
    token = name in ("reading", "writing")
    if token and row.session:
        return 403
    if row.need == "anyone":
        return row.status
    if name == "dan":
        return 404
    if row.need == "token":  # Ada's token: nobody but she, who owns the team, sees it
        return row.status if name == "ada" else 404
    role = {"ada": "owner", "ben": "editor", "cleo": "reader", "reading": "reader", "writing": "owner"}[name]
    return row.status if ROLE[role] >= ROLE[row.need] else 403


# What a policy by role alone does not say.
EXCEPTIONS = {
    ("DELETE", "teams/<uuid:team>/members/<uuid:user>", "ben"): 204,  # he may leave
}


@pytest.mark.parametrize("row", POLICY, ids=lambda row: f"{row.method} {row.route}")
def test_everybody_gets_what_the_policy_says(row: Row, world: World) -> None:
    if row.prepare:
        row.prepare(world.ours)
    path = address(row, world, world.ours)
    found, wanted = {}, {}
    for name, client in world.clients.items():
        before = models.Audit.objects.count()
        with transaction.atomic():
            answer = send(row, client, path, world.ours)
            written = models.Audit.objects.count() - before
            transaction.set_rollback(True)
        status = EXCEPTIONS.get((row.method, row.route, name), expected(row, name))
        found[name], wanted[name] = (answer.status_code, written), (status, row.audits if status < 300 else 0)
        assert status < 400 or answer.headers["Content-Type"] == "application/problem+json", answer.content
    assert found == wanted


@pytest.mark.parametrize("row", [row for row in POLICY if "<uuid:" in row.route], ids=lambda row: f"{row.method} {row.route}")
def test_a_stranger_reads_the_same_as_for_a_random_id(row: Row, world: World) -> None:
    """A row of another team must not be told from one that never was: not by status, not by a word, not by a header."""
    real = send(row, world.clients["dan"], address(row, world, world.ours), world.ours)
    path = address(row, world, world.ours)
    for pk in (world.ours.team.pk, world.ours.token.pk, *(getattr(world.ours, name).pk for name in HEADS)):
        path = path.replace(str(pk), "0d5c8a52-5f2c-4a52-9b58-0a4d7d1f6f10")
    random = send(row, world.clients["dan"], path, world.ours)
    assert (real.status_code, said(real)) == (random.status_code, said(random))
    assert set(real.headers) == set(random.headers)


HEADS = ("library", "instrument", "map", "template", "score", "render")


def said(answer: object) -> dict[str, object]:
    """Return a problem without the request's own id."""
    body = answer.json()  # type: ignore[attr-defined]
    return {name: value for name, value in body.items() if name != "request_id"}


def test_a_token_sees_its_own_team_only(world: World) -> None:
    """Ada founds a second team; her token for the first one does not show it, her session does."""
    made = world.clients["ada"].post("/api/v1/teams", {"name": "Second"}, content_type="application/json").json()
    assert world.clients["ada"].get(f"/api/v1/teams/{made['id']}").status_code == 200
    assert world.clients["writing"].get(f"/api/v1/teams/{made['id']}").status_code == 404
    assert [team["name"] for team in world.clients["writing"].get("/api/v1/teams").json()["items"]] == ["Ollenmoor Players"]
