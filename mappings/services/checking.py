"""A document checked without being stored."""

from __future__ import annotations

import json
from typing import Any

from mappings import exchange
from mappings.errors import Invalid, NotJson
from mappings.services import maps, templates

KINDS: dict[str, tuple[Any, Any]] = {
    "articulation-map": (exchange.ArticulationMap, maps.checked),
    "template": (exchange.Template, templates.checked_alone),
}


def check(body: bytes) -> dict[str, Any]:
    """Return `{"kind", "digest", "problems"}`: of a document that cannot be taken the digest is None. NotJson for what is no JSON."""
    kind = _kind(body)
    model, checked = KINDS[kind]
    try:
        document: Any = exchange.parse(model, body)
        return {"kind": kind, "digest": exchange.freeze(document).digest, "problems": checked(document)}
    except Invalid as refused:
        return {"kind": kind, "digest": None, "problems": refused.errors}


def _kind(body: bytes) -> str:
    """Return the kind that a document says it is; Invalid for one that has no checks."""
    try:
        said = json.loads(body)
    except (ValueError, RecursionError):
        exchange.parse(exchange.ArticulationMap, body)  # says exactly what is wrong with it
        raise NotJson from None
    kind = said.get("kind") if isinstance(said, dict) else None
    if not isinstance(kind, str) or kind not in KINDS:
        known = ", ".join(KINDS)
        pointer = "/kind" if isinstance(said, dict) and "kind" in said else ""
        raise Invalid(errors=[{"pointer": pointer, "code": "unknown-kind", "detail": f"The kind must be one of {known}."}])
    return kind
