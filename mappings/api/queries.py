"""Query parameters, read strictly: what cannot be meant is refused, not ignored."""

from __future__ import annotations

import base64
import binascii
import unicodedata
import uuid

from rest_framework.request import Request

from mappings.errors import Invalid, NotFound


def _refused(name: str, detail: str) -> Invalid:
    return Invalid(errors=[{"parameter": name, "code": "parameter", "detail": detail}])


def text(request: Request, name: str, longest: int = 100) -> str:
    """Return a text parameter without outer spaces; "" where it is absent."""
    value: str = request.query_params.get(name, "").strip()
    if len(value) > longest or any(unicodedata.category(c) in ("Cc", "Cs") for c in value):
        raise _refused(name, f"At most {longest} characters are expected, and no control characters.")
    return value


def identifier(request: Request, name: str) -> uuid.UUID | None:
    """Return an id parameter; None where it is absent."""
    value = request.query_params.get(name)
    if value is None:
        return None
    try:
        return uuid.UUID(value)
    except ValueError:
        raise _refused(name, "An id is expected.") from None


def number(request: Request, name: str, default: int | None, low: int, high: int) -> int:
    """Return a whole number between two bounds; a default of None makes it required."""
    value = request.query_params.get(name)
    if value is None and default is not None:
        return default
    if value is None or not (value.isascii() and value.isdigit()) or not low <= int(value[:12]) <= high:
        raise _refused(name, f"A whole number from {low} to {high} is expected.")
    return int(value)


def position(request: Request) -> str | None:
    """Return the place in the list that a cursor names; None at its start; NotFound for a garbled one."""
    sent = request.query_params.get("cursor")
    if sent is None:
        return None
    try:
        return base64.urlsafe_b64decode(sent.encode("ascii") + b"=" * (-len(sent) % 4)).decode("utf-8")
    except (binascii.Error, UnicodeError, ValueError):
        raise NotFound from None


def cursor(place: object) -> str:
    """Return the cursor that names a place in a list."""
    return base64.urlsafe_b64encode(str(place).encode()).rstrip(b"=").decode("ascii")
