"""Lists: every item once, in one order, at a pinned number of queries."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from typing import Any

import pytest

from mappings import blobs, exchange, models
from mappings.models import base
from mappings.services import maps, renders, scores
from tests.mappings.calls import call, problem
from tests.mappings.files import upload
from tests.mappings.policy import POLICY
from tests.mappings.world import TINY_SCORE, World, map_document, mark_done, mark_ready


def frozen_document() -> Any:
    return exchange.parse(exchange.ArticulationMap, json.dumps(map_document()).encode())


def many_maps(world: World, count: int) -> None:
    """Make maps the way an import does: one after the other, all within one tick of a clock that stands."""
    document = blobs.keep_document(world.ours.team.pk, exchange.freeze(frozen_document()))
    for n in range(count):
        row = models.Map(team=world.ours.team, instrument=world.ours.instrument, name=f"Map {n}", sound="strings.violin")
        row.insert()
        models.MapRevision.objects.create(team=world.ours.team, map=row, number=1, document=document, made_by=world.ada)


def walk(world: World, path: str, between: Callable[[int], None] = lambda _: None) -> list[str]:
    """Return the ids of a list, page by page; `between` is called after each page with its number."""
    found: list[str] = []
    following, page = path, 0
    while following:
        answer = call(world.clients["cleo"], "GET", following.removeprefix("/api/v1")).json()
        found += [item["id"] for item in answer["items"]]
        following, page = answer["next"], page + 1
        between(page)
    return found


def test_2500_maps_of_one_moment_are_walked_once_each_while_more_are_made(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    now = time.time_ns()
    monkeypatch.setattr(base.time, "time_ns", lambda: now)
    many_maps(world, 2499)
    there = {str(pk) for pk in models.Map.objects.filter(team=world.ours.team).values_list("pk", flat=True)}
    document, made = frozen_document(), []

    def one_more(page: int) -> None:
        saved = maps.create(
            world.ours.actor, team=world.ours.team, instrument=world.ours.instrument.pk, name=f"New {page}", document=document
        )
        made.append(str(saved.head.pk))

    found = walk(world, f"/teams/{world.ours.team.pk}/maps?limit=100", one_more)
    assert len(found) == len(set(found)), "an item came twice"
    assert there <= set(found), "an item was skipped"
    assert (len(there), len(made)) == (2500, 25)
    newest_first = list(models.Map.objects.filter(pk__in=found).order_by("-sort").values_list("pk", flat=True))
    assert found == [str(pk) for pk in newest_first]


@pytest.mark.parametrize("cursor", ["%00", "x", "bm8", "LTE", "OTk5OTk5OTk5OTk5OTk5OTk5OTk5OTk5", "w6TDpA", "%F0%9F%8E%BB"])
def test_a_garbled_cursor_is_not_found(cursor: str, world: World) -> None:
    assert call(world.clients["ada"], "GET", f"/teams/{world.ours.team.pk}/maps?cursor={cursor}").status_code == 404


@pytest.mark.parametrize("limit", ["0", "101", "-1", "1.5", "x", "", "²", "9" * 5000])
def test_a_limit_out_of_bounds_is_refused(limit: str, world: World) -> None:
    answer = call(world.clients["ada"], "GET", f"/teams/{world.ours.team.pk}/maps?limit={limit}")
    assert problem(answer) == (422, "invalid", [("limit", "parameter")])


def test_a_page_keeps_its_filters(world: World) -> None:
    many_maps(world, 4)
    answer = call(world.clients["ada"], "GET", f"/teams/{world.ours.team.pk}/maps?q=map&limit=2&sound=strings").json()
    names = [item["name"] for item in answer["items"]]
    while answer["next"]:
        answer = call(world.clients["ada"], "GET", answer["next"].removeprefix("/api/v1")).json()
        names += [item["name"] for item in answer["items"]]
    assert names == ["Map 3", "Map 2", "Map 1", "Map 0"]


# Queries of a page: the token with its user, the roles, the team, the page. Each join counts once, however long the page is.
PAGES = {
    "teams": 3,
    "teams/<uuid:team>/members": 4,
    "teams/<uuid:team>/audit": 4,
    "teams/<uuid:team>/libraries": 4,
    "libraries/<uuid:library>/instruments": 4,
    "teams/<uuid:team>/maps": 4,
    "maps/<uuid:map>/revisions": 4,
    "teams/<uuid:team>/templates": 4,
    "templates/<uuid:template>/revisions": 4,
    "teams/<uuid:team>/scores": 4,
    "scores/<uuid:score>/versions": 4,
    "teams/<uuid:team>/renders": 4,
}
SESSION_PAGES = {"teams/<uuid:team>/tokens": 5}  # session, user, roles, team, page


def more(world: World) -> None:
    """Put a dozen of everything into the world, so that a query for each row would show."""
    team, actor = world.ours.team, world.ours.actor
    many_maps(world, 12)
    for n in range(12):
        user = models.User.objects.create_user(f"member{n}@moor.invalid", f"Member {n}")
        models.Membership.objects.create(team=team, user=user, role="reader")
        maps.save(
            actor,
            row=world.ours.map,
            expected=None,
            document=exchange.parse(exchange.ArticulationMap, json.dumps(map_document(key_offset=n + 1)).encode()),
        )
        version = scores.create(actor, team=team, title=f"Score {n}", upload=upload(TINY_SCORE))
        mark_ready(version)
        scores.add_version(actor, score=world.ours.score, expected=None, upload=upload(TINY_SCORE))
        mark_done(renders.create(actor, team=team, asked=renders.Asked(score=version.score_id, template=world.ours.template.pk)))


def page_routes() -> set[str]:
    return {
        row.route
        for row in POLICY
        if row.method == "GET"
        and row.route.split("/")[-1]
        in {
            "teams",
            "members",
            "tokens",
            "audit",
            "libraries",
            "instruments",
            "maps",
            "revisions",
            "templates",
            "scores",
            "versions",
            "renders",
        }
    }


def test_every_list_has_its_number_of_queries() -> None:
    assert page_routes() == {*PAGES, *SESSION_PAGES}


@pytest.mark.parametrize(("route", "queries"), [*PAGES.items(), *SESSION_PAGES.items()])
def test_the_number_of_queries_of_a_list(route: str, queries: int, world: World, django_assert_num_queries: Any) -> None:
    more(world)
    path = route
    for name in ("team", "library", "map", "template", "score"):
        path = path.replace(f"<uuid:{name}>", str(getattr(world.ours, name).pk))
    client = world.clients["ada" if route in SESSION_PAGES else "reading"]
    call(client, "GET", f"/{path}")  # the first use of a token in a day is written down
    with django_assert_num_queries(queries):
        answer = call(client, "GET", f"/{path}?limit=100")
    assert answer.status_code == 200
    if route not in (
        "teams",
        "libraries/<uuid:library>/instruments",
        "teams/<uuid:team>/libraries",
        "teams/<uuid:team>/templates",
        "templates/<uuid:template>/revisions",
        "teams/<uuid:team>/tokens",
    ):
        assert len(answer.json()["items"]) > 10


def test_a_request_by_token_costs_two_queries_before_it_does_anything(world: World, django_assert_num_queries: Any) -> None:
    call(world.clients["reading"], "GET", "/me")
    with django_assert_num_queries(2):
        assert call(world.clients["reading"], "GET", "/me").status_code == 200
