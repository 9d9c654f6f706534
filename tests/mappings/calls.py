"""Requests of tests in one line."""

from __future__ import annotations

import json
from typing import Any

from django.test import Client

from tests.mappings.world import JSON

API = "/api/v1"


def call(client: Client, method: str, path: str, body: Any = None, *, match: str | None = None, key: str | None = None) -> Any:
    """Return the answer to a request below /api/v1; bytes are sent as a file, all else as JSON."""
    headers = {name: value for name, value in (("if-match", match), ("idempotency-key", key)) if value is not None}
    data = body if isinstance(body, bytes) else b"" if body is None else json.dumps(body).encode()
    kind = "application/octet-stream" if isinstance(body, bytes) else JSON
    return client.generic(method, API + path, data, content_type=kind, headers=headers)


def problem(answer: Any) -> tuple[int, str, list[tuple[str, str]]]:
    """Return (status, code, [(pointer or parameter, code)]) of a refusal."""
    body = answer.json()
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert body["status"] == answer.status_code
    found = [(it.get("pointer", it.get("parameter", "")), it["code"]) for it in body.get("errors", [])]
    return answer.status_code, body["type"].removeprefix("urn:ripieno:problem:"), found


def resolve(document: Any, pointer: str) -> Any:
    """Return the part of a document that a JSON pointer names (RFC 6901); KeyError or IndexError where it names nothing."""
    for escaped in pointer.split("/")[1:]:
        step = escaped.replace("~1", "/").replace("~0", "~")
        document = document[int(step)] if isinstance(document, list) else document[step]
    return document
