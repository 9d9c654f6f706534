"""The API's description: valid, without warnings, with examples that work; the page that shows it; the published codes."""

from __future__ import annotations

import ast
import io
import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from django.core.management import call_command
from drf_spectacular.drainage import GENERATOR_STATS

from mappings import errors, models
from mappings.api import examples
from tests.mappings.calls import call
from tests.mappings.world import World, map_document, soon

SOURCES = Path(errors.__file__).parent


@pytest.fixture(scope="module")
def schema() -> Any:
    """Return the OpenAPI document."""
    out = io.StringIO()
    call_command("spectacular", "--format", "openapi-json", "--validate", "--fail-on-warn", stdout=out)
    return json.loads(out.getvalue())


def operations(schema: Any) -> list[tuple[str, str, Any]]:
    return [(method.upper(), path, said) for path, methods in schema["paths"].items() for method, said in methods.items()]


def test_the_description_is_openapi_31_without_warnings(schema: Any) -> None:
    assert schema["openapi"] == "3.1.0"
    assert not GENERATOR_STATS


def test_every_operation_has_a_name_a_summary_and_its_refusals(schema: Any) -> None:
    names = [said["operationId"] for _, _, said in operations(schema)]
    assert len(names) == len(set(names))
    for method, path, said in operations(schema):
        assert said["summary"], (method, path)
        assert {"401", "404"} <= set(said["responses"]), (method, path)
        refusals = {status: answer for status, answer in said["responses"].items() if status >= "400"}
        for status, answer in refusals.items():
            assert list(answer["content"]) == ["application/problem+json"], (method, path, status)
        assert ("412" in refusals) == any(parameter["name"] == "If-Match" for parameter in said.get("parameters", [])), (method, path)


def test_every_create_takes_an_idempotency_key(schema: Any) -> None:
    for method, path, said in operations(schema):
        takes = any(parameter["name"] == "Idempotency-Key" for parameter in said.get("parameters", []))
        assert takes == ("201" in said["responses"]), (method, path)


def test_every_json_body_has_an_example_that_its_schema_allows(schema: Any) -> None:
    for method, path, said in operations(schema):
        content = said.get("requestBody", {}).get("content", {})
        if path == "/api/v1/documents/check" or "application/json" not in content:
            continue
        for example in content["application/json"]["examples"].values():
            validator = jsonschema.Draft202012Validator({**content["application/json"]["schema"], "components": schema["components"]})
            assert not list(validator.iter_errors(example["value"])), (method, path)


def real(body: Any, world: World) -> Any:
    """Return an example with ids of the world, each where its field says."""
    text = json.dumps(body)
    for name in ("instrument", "library", "score", "template"):
        text = text.replace(f'"{name}": "{examples.ID}"', f'"{name}": "{getattr(world.ours, name).pk}"')
    text = text.replace(f'"id": "{examples.ID}"', f'"id": "{world.ours.map.pk}"').replace('"tracks": ["vn1"]', '"tracks": ["vn"]')
    assert examples.ID not in text
    return json.loads(text)


EXAMPLES = [
    ("NewTeam", "POST", "/teams", 201), ("ChangedTeam", "PUT", "/teams/{team}", 200),
    ("ChangedMember", "PUT", "/teams/{team}/members/{ben}", 200), ("NewLibrary", "POST", "/teams/{team}/libraries", 201),
    ("ChangedLibrary", "PUT", "/libraries/{library}", 200), ("NewInstrument", "POST", "/libraries/{library}/instruments", 201),
    ("ChangedInstrument", "PUT", "/instruments/{instrument}", 200), ("NewMap", "POST", "/teams/{team}/maps", 201),
    ("ChangedMap", "PUT", "/maps/{map}", 200), ("ArticulationMap", "PUT", "/maps/{map}/document", 200),
    ("NewTemplate", "POST", "/teams/{team}/templates", 201), ("ChangedTemplate", "PUT", "/templates/{template}", 200),
    ("Template", "PUT", "/templates/{template}/document", 200), ("Restore", "POST", "/maps/{map}/restore", 200),
    ("ForkMap", "POST", "/maps/{map}/fork", 201), ("ForkTemplate", "POST", "/templates/{template}/fork", 201),
    ("ChangedScore", "PUT", "/scores/{score}", 200), ("NewRender", "POST", "/teams/{team}/renders", 201),
    ("NewToken", "POST", "/teams/{team}/tokens", 201),
]  # fmt: skip


@pytest.mark.parametrize(("name", "method", "path", "status"), EXAMPLES)
def test_the_examples_work(name: str, method: str, path: str, status: int, world: World) -> None:
    body = real(examples.BODIES[name], world)
    if name == "NewToken":  # its end is a date of the example's own time
        body["expires_at"] = soon().isoformat()
    ids = {name: getattr(world.ours, name).pk for name in ("team", "library", "instrument", "map", "template", "score")}
    answer = call(world.clients["ada"], method, path.format(**ids, ben=world.ben.pk), body, match="*")
    assert answer.status_code == status, answer.content
    assert not answer.json().get("problems"), "an example of the description is remarked on"


def test_every_example_is_tried() -> None:
    assert {name for name, *_ in EXAMPLES} == set(examples.BODIES)


def test_the_example_of_a_refusal_is_what_is_answered(world: World) -> None:
    document = json.loads(json.dumps(examples.MAP))
    document["articulations"][2]["plays"] = [["stacato"]]
    answer = call(world.clients["ada"], "PUT", f"/maps/{world.ours.map.pk}/document", document, match="*").json()
    assert {**answer, "request_id": examples.INVALID["request_id"]} == examples.INVALID


def test_the_page_shows_itself_under_the_strict_policy(world: World) -> None:
    page = world.clients["anonymous"].get("/api/v1/docs")
    policy = page.headers["Content-Security-Policy"]
    assert "unsafe" not in policy
    assert "default-src 'none'" in policy
    text = page.content.decode()
    assert "<style" not in text
    assert "style=" not in text
    assert text.count("<script") == text.count("<script src=") == 3
    script = world.clients["anonymous"].get("/api/v1/docs?script=")
    assert script.headers["Content-Type"].startswith("application/javascript")
    assert "/api/v1/schema" in script.content.decode()


# ── Published codes ──


def said_codes() -> set[str]:
    """Return every code that the sources say, as `code=…`, `"code": …` or as an exception's own."""
    found: set[str] = set()
    for path in SOURCES.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.keyword) and node.arg == "code" and isinstance(node.value, ast.Constant):
                found.add(node.value.value)
            if isinstance(node, ast.Dict) and "examples" not in path.name:
                keys = [key.value if isinstance(key, ast.Constant) else None for key in node.keys]
                found |= {v.value for k, v in zip(keys, node.values, strict=True) if k == "code" and isinstance(v, ast.Constant)}
    return {code for code in found if code}


def subclasses(kind: type[errors.ServiceError]) -> set[type[errors.ServiceError]]:
    return {kind} | {sub for each in kind.__subclasses__() for sub in subclasses(each)}


def test_every_code_is_published() -> None:
    assert said_codes() - set(errors.PUBLISHED) == set(errors.FAULTS)
    own = {kind.code: kind.status for kind in subclasses(errors.ServiceError)} | dict(framework())
    bases = {"refused", "conflict"}  # nobody raises these without a code of their own
    assert {code: status for code, status in own.items() if code not in bases}.items() <= {
        code: status for code, (status, _) in errors.PUBLISHED.items()
    }.items()


def framework() -> list[tuple[str, int]]:
    from mappings.api.problems import FRAMEWORK
    from mappings.project.errors import SENTENCES

    return [(code, status) for status, (code, _) in {**FRAMEWORK, **SENTENCES}.items()]


@pytest.mark.parametrize(("method", "path", "headers", "status", "code"), [
    ("PATCH", "/api/v1/me", {}, 405, "method-not-allowed"),
    ("GET", "/api/v1/me", {"accept": "image/png"}, 406, "not-acceptable"),
    ("GET", "/api/v1/me.json", {}, 404, "not-found"),
    ("GET", "/api/v1/me/", {}, 404, "not-found"),
    ("GET", "/api/v1/maps/{map_upper}", {}, 404, "not-found"),
    ("GET", "/api/v1/maps/x%00y", {}, 404, "not-found"),
    ("GET", "/api/v1/renders/{render}/files/a%00b", {}, 404, "not-found"),
    ("GET", "/api/v1/renders/{render}/files/..%2F..%2Fetc%2Fpasswd", {}, 404, "not-found"),
    ("POST", "/api/v1/documents/check", {"content-type": "text/plain"}, 415, "unsupported-media-type"),
])  # fmt: skip
def test_every_failure_has_the_one_shape(method: str, path: str, headers: dict[str, str], status: int, code: str, world: World) -> None:
    path = path.format(map_upper=str(world.ours.map.pk).upper(), render=world.ours.render.pk)
    kind = headers.get("content-type", "application/json")
    answer = world.clients["ada"].generic(method, path, json.dumps(map_document()), content_type=kind, headers=headers)
    said = answer.json()
    assert (answer.status_code, answer.headers["Content-Type"]) == (status, "application/problem+json")
    assert {name: said[name] for name in ("type", "status", "title")} == {
        "type": f"urn:ripieno:problem:{code}", "status": status, "title": said["title"],
    }  # fmt: skip
    assert said["request_id"] == answer.headers["X-Request-Id"]


def test_an_internal_error_is_a_problem_too(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    from mappings.services import libraries

    def fail(*_: Any, **__: Any) -> None:
        raise RuntimeError("secret words of the inside")

    monkeypatch.setattr(libraries, "create_library", fail)
    before = models.Audit.objects.count()
    answer = call(world.clients["ada"], "POST", f"/teams/{world.ours.team.pk}/libraries", {"name": "Fell"}, key="k-1")
    assert (answer.status_code, answer.json()["type"]) == (500, "urn:ripieno:problem:internal-error")
    assert b"secret words" not in answer.content
    assert (models.Audit.objects.count(), models.IdempotencyKey.objects.count()) == (before, 0)
