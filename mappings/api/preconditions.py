"""ETag, If-Match, If-None-Match: a tag names a head row's state, "<id>.<version>"; what follows a "-" is for caches only."""

from __future__ import annotations

import re
from typing import Any

from rest_framework.request import Request

from mappings.errors import PreconditionRequired, Stale

TAG = re.compile(r'(?:W/)?"([^".]+)\.(\d{1,9})(?:-[^"]*)?"')


def etag(row: Any, more: str = "") -> str:
    """Return the tag of a row's state; `more` names what may change without an edit (a reading's end)."""
    return f'"{row.pk}.{row.version}{"-" + more if more else ""}"'


def expected_version(request: Request, row: Any) -> int | None:
    """Return the version that If-Match names; None for `*`.

    PreconditionRequired without the header, Stale for other rows' tags and for garbage. A proxy that compresses
    makes the tag weak: since it names a state and not bytes, W/ is let through.
    """
    sent = request.headers.get("If-Match")
    if sent is None:
        raise PreconditionRequired
    if sent.strip() == "*":
        return None
    versions = [int(version) for pk, version in TAG.findall(sent) if pk == str(row.pk)]
    if not versions:
        raise Stale(current={"version": row.version})
    return max(versions)


def unchanged(request: Request, tag: str) -> bool:
    """Return whether the client has this state already."""
    sent = request.headers.get("If-None-Match", "")
    known = {each.strip().removeprefix("W/") for each in sent.split(",")}
    return sent.strip() == "*" or tag in known
