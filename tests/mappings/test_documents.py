"""Documents through the database: the bytes that were hashed are the bytes that come back; broken ones are told where."""

from __future__ import annotations

import hashlib
import json
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fixtures import demo
from mappings import exchange, models
from tests.mappings.calls import call, resolve
from tests.mappings.world import World, map_document

SETTINGS = {"deadline": None, "suppress_health_check": [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]}
NAMES = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zl", "Zp", "Zs"]), min_size=1, max_size=30)


def stored(world: World, document: Any) -> tuple[Any, Any]:
    """Save a document and return the answers to saving and to reading."""
    path = f"/maps/{world.ours.map.pk}/document"
    return call(world.clients["ada"], "PUT", path, document, match="*"), call(world.clients["ada"], "GET", path)


@given(
    names=st.lists(NAMES, min_size=3, max_size=3), offset=st.integers(-24, 24), points=st.lists(st.integers(0, 127), min_size=1, max_size=5)
)
@settings(max_examples=40, **SETTINGS)
def test_what_is_stored_is_what_was_hashed(world: World, names: list[str], offset: int, points: list[int]) -> None:
    loudness = {"by": "velocity", "points": [[n * 100, value] for n, value in enumerate(points)]}
    document = map_document(names[0], key_offset=offset, loudness=loudness)
    document["articulations"][0]["name"], document["articulations"][1]["name"] = names[1], names[2]
    saved, read = stored(world, document)
    assert saved.status_code == 200, saved.content
    assert hashlib.sha256(read.content).hexdigest() == saved.json()["digest"]
    assert exchange.freeze(exchange.parse(exchange.ArticulationMap, read.content)).body.encode() == read.content
    row = models.Document.objects.get(team=world.ours.team, digest=saved.json()["digest"])
    assert hashlib.sha256(row.body.encode()).hexdigest() == row.digest


@pytest.mark.parametrize("instrument", [i for library in demo.LIBRARIES for i in library.instruments], ids=lambda i: i.file)
def test_every_map_of_the_demo_comes_back_with_its_digest(instrument: demo.Instrument, world: World) -> None:
    saved, read = stored(world, json.loads(instrument.body))
    assert saved.status_code == 200
    assert hashlib.sha256(read.content).hexdigest() == saved.json()["digest"]
    again, _ = stored(world, json.loads(read.content))
    assert again.json()["version"] == saved.json()["version"], "its own canonical form is another document"


def paths(value: Any, at: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Return the path of every part of a document, the whole first."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [at, *(path for key, each in inner for path in paths(each, (*at, key)))]


WRONG = st.one_of(
    st.none(), st.booleans(), st.integers(-(2**70), 2**70), st.floats(allow_nan=False, allow_infinity=False), st.text(max_size=20),
    st.just([]), st.just({}), st.lists(st.integers(), max_size=3), st.dictionaries(st.text(max_size=5), st.integers(), max_size=2),
)  # fmt: skip


def broken(draw: Any) -> Any:
    """Return a sound map in which up to three parts are replaced, removed or added."""
    document = json.loads(draw(st.sampled_from([i.body for library in demo.LIBRARIES for i in library.instruments])))
    for _ in range(draw(st.integers(1, 3))):
        path = draw(st.sampled_from(paths(document)))
        holder, wrong = document, draw(WRONG)
        for step in path[:-1]:
            holder = holder[step]
        if not path:
            return wrong
        act = draw(st.sampled_from(["replace", "remove", "add"]))
        if act == "replace":
            holder[path[-1]] = wrong
        elif act == "remove":
            del holder[path[-1]]
        elif isinstance(holder, dict):
            holder[draw(st.text(max_size=8))] = wrong
        else:
            holder.insert(0, wrong)
    return document


PYTHON = ("dict", "tuple", "NoneType", "Traceback", "pydantic", "ArticulationMap", "<class", "object at", "float", "bool")


def check_refusal(world: World, document: Any) -> None:
    before = models.MapRevision.objects.count()
    answer = call(world.clients["ada"], "PUT", f"/maps/{world.ours.map.pk}/document", document, match="*")
    assert answer.status_code in (200, 400, 422), answer.content
    if answer.status_code == 200:  # what was broken still makes sense
        return
    assert models.MapRevision.objects.count() == before
    sent = json.loads(json.dumps(document))
    faults = answer.json()["errors"]
    assert faults
    for fault in faults:
        resolve(sent, fault["pointer"])
        assert " – " in fault["detail"]
        words = fault["detail"].split("“")[0] + fault["detail"].rsplit("”", 1)[-1]
        assert not any(name in words.removeprefix(fault["pointer"]) for name in PYTHON), fault


@given(data=st.data())
@settings(max_examples=80, **SETTINGS)
def test_a_broken_document_is_told_where(world: World, data: Any) -> None:
    check_refusal(world, broken(data.draw))


@pytest.mark.deep
@given(data=st.data())
@settings(max_examples=10_000, **SETTINGS)
def test_ten_thousand_broken_documents_are_told_where(world: World, data: Any) -> None:
    check_refusal(world, broken(data.draw))


# ── The check, which stores nothing ──


def check(world: World, body: Any) -> Any:
    return call(world.clients["cleo"], "POST", "/documents/check", body)


def test_the_check_tells_everything_and_stores_nothing(world: World) -> None:
    before = models.Document.objects.count()
    good = check(world, map_document()).json()
    assert (good["kind"], good["problems"]) == ("articulation-map", [])
    assert good["digest"] == models.MapRevision.objects.get(map=world.ours.map).document.digest
    bad = check(world, map_document(range={"lowest": 20, "highest": 100})).json()
    assert (bad["digest"], [it["code"] for it in bad["problems"]]) == (None, ["range-below-usual", "switch-in-range", "switch-in-range"])
    tracks = [{"id": name, "name": name, "map": {"file": f"{name}.json"}, "channel": 1} for name in ("a", "b")]
    template = {"kind": "template", "edition": 1, "name": "T", "tracks": tracks}
    assert [it["code"] for it in check(world, template).json()["problems"]] == ["channel-taken"]
    assert models.Document.objects.count() == before


@pytest.mark.parametrize(("body", "status", "pointer"), [
    ({}, 422, ""), ([], 422, ""), ("x", 422, ""), ({"kind": "report"}, 422, "/kind"),
    ({"kind": ["template"]}, 422, "/kind"), (None, 400, ""),
])  # fmt: skip
def test_the_check_of_what_is_no_document(body: Any, status: int, pointer: str, world: World) -> None:
    answer = check(world, body)
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (status, pointer)
