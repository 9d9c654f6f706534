"""Another team's ids in every id field of every body: each reads like an id that names nothing."""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterator
from typing import Any

import pytest
from django.core.management import call_command

from mappings import models
from tests.mappings.calls import call
from tests.mappings.policy import POLICY, Row, address, render_body
from tests.mappings.world import House, World, map_document, template_document

RANDOM = uuid.UUID("0d5c8a52-5f2c-4a52-9b58-0a4d7d1f6f10")


class Field:
    """An id field of a body: the operation, where in the body, and what it may name."""

    def __init__(self, method: str, route: str, pointer: str, names: str, **more: Any) -> None:
        self.method, self.route, self.pointer, self.names, self.more = method, route, pointer, names, more

    def __repr__(self) -> str:
        return f"{self.method} {self.route} {self.pointer}"


T, M, P, I = "teams/<uuid:team>", "maps/<uuid:map>", "templates/<uuid:template>", "instruments/<uuid:instrument>"
FIELDS = [
    Field("PUT", I, "/library", "library"),
    Field("POST", f"{T}/maps", "/instrument", "instrument"),
    Field("PUT", M, "/instrument", "instrument"),
    Field("POST", f"{M}/fork", "/team", "team"),
    Field("POST", f"{M}/fork", "/instrument", "instrument"),
    Field("POST", f"{T}/templates", "/document/tracks/0/map/id", "map"),
    Field("PUT", f"{P}/document", "/tracks/0/map/id", "map"),
    Field("POST", f"{T}/renders", "/score", "score"),
    Field("POST", f"{T}/renders", "/template", "template"),
]
BODIES = {
    ("POST", f"{M}/fork"): lambda h: {"name": "A Copy", "team": str(h.team.pk), "instrument": str(h.instrument.pk)},
    ("POST", f"{T}/renders"): render_body,
    ("POST", f"{T}/templates"): lambda h: {"document": template_document(str(h.map.pk), "Fell Template")},
    ("POST", f"{T}/maps"): lambda h: {"instrument": str(h.instrument.pk), "document": map_document("Fell Violins")},
}


def row_of(field: Field) -> Row:
    return next(row for row in POLICY if (row.method, row.route) == (field.method, field.route))


def body_of(field: Field, house: House, pk: uuid.UUID) -> Any:
    make: Any = BODIES.get((field.method, field.route)) or row_of(field).body
    body = make(house)
    *path, last = field.pointer.split("/")[1:]
    inner = body
    for step in path:
        inner = inner[int(step)] if isinstance(inner, list) else inner[step]
    inner[last] = str(pk)
    return body


def ask(field: Field, world: World, pk: uuid.UUID) -> tuple[int, Any]:
    row = row_of(field)
    path = address(row, world, world.ours).removeprefix("/api/v1")
    answer = call(world.clients["ada"], field.method, path, body_of(field, world.ours, pk), match="*" if row.match else None)
    said = {name: value for name, value in answer.json().items() if name != "request_id"}
    return answer.status_code, said


@pytest.mark.parametrize("field", FIELDS, ids=repr)
def test_a_foreign_id_reads_like_an_unknown_one(field: Field, world: World) -> None:
    before = models.Audit.objects.count()
    foreign = ask(field, world, getattr(world.theirs, field.names).pk)
    assert foreign == ask(field, world, RANDOM)
    status, said = foreign
    pointer = field.pointer.removesuffix("/id") if field.names == "map" else field.pointer
    assert (status, [(e["pointer"], e["code"]) for e in said["errors"]]) == (422, [(pointer, "unknown-reference")])
    assert models.Audit.objects.count() == before


def id_fields(schema: Any, components: Any, at: str = "") -> Iterator[str]:
    """Yield the pointer of each id in a request schema; the map of a template's track is the one id that is a plain text."""
    if "$ref" in schema:
        name = schema["$ref"].rsplit("/", 1)[1]
        if name == "MapReference":
            yield f"{at}/id"
        else:
            yield from id_fields(components[name], components, at)
    for kind in ("anyOf", "oneOf"):
        for each in schema.get(kind, []):
            yield from id_fields(each, components, at)
    if schema.get("format") == "uuid":
        yield at
    for name, each in schema.get("properties", {}).items():
        yield from id_fields(each, components, f"{at}/{name}")
    if "items" in schema:
        yield from id_fields(schema["items"], components, f"{at}/0")


def test_every_id_field_of_every_body_is_tried(tmp_path: Any) -> None:
    call_command("spectacular", "--format", "openapi-json", "--file", str(tmp_path / "schema.json"))
    schema = json.loads((tmp_path / "schema.json").read_bytes())
    found = set()
    for path, operations in schema["paths"].items():
        for method, operation in operations.items():
            for content in operation.get("requestBody", {}).get("content", {}).values():
                fields = id_fields(content["schema"], schema["components"]["schemas"])
                found |= {(method.upper(), path.removeprefix("/api/v1/"), pointer) for pointer in fields}
    tried = {(f.method, f.route.replace("<uuid:", "{").replace(">", "}"), f.pointer) for f in FIELDS}
    # A check stores nothing and looks nothing up: an id in its body names nothing.
    assert {item for item in found if item[1] != "documents/check"} == tried


@pytest.mark.parametrize(("path", "parameter"), [("maps", "library"), ("renders", "score"), ("audit", "subject")])
def test_a_foreign_id_in_a_filter_finds_nothing(path: str, parameter: str, world: World) -> None:
    theirs = {"library": world.theirs.library, "score": world.theirs.score, "subject": world.theirs.map}[parameter]
    ours = {"library": world.ours.library, "score": world.ours.score, "subject": world.ours.map}[parameter]
    base = f"/teams/{world.ours.team.pk}/{path}?{parameter}="
    assert call(world.clients["ada"], "GET", f"{base}{theirs.pk}").json()["items"] == []
    assert call(world.clients["ada"], "GET", f"{base}{ours.pk}").json()["items"] != []
