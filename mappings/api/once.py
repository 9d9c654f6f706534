"""Idempotency-Key: a create that is sent twice is done once."""

from __future__ import annotations

import functools
import hashlib
import re
from collections.abc import Callable
from typing import Any

from django.db import transaction
from rest_framework.response import Response

from mappings.errors import Conflict, Invalid
from mappings.models import IdempotencyKey


class Secret(Response):
    """An answer that holds a secret: it is given once and kept nowhere."""


KEY = re.compile(r"[\x21-\x7e]{1,100}")
Post = Callable[..., Response]


def once(post: Post) -> Post:
    """Run a create once per (actor, key). Key and effect share a transaction: a failed or killed request leaves neither.

    A rival with the same key waits on the unique index until the first one commits, and is then given its answer.
    """

    @functools.wraps(post)
    def wrapper(view: Any, request: Any, *args: Any, **kwargs: Any) -> Response:
        key = request.headers.get("Idempotency-Key")
        if key is None:
            return post(view, request, *args, **kwargs)
        if not KEY.fullmatch(key):
            fault = {"header": "Idempotency-Key", "code": "key-spelling", "detail": "1 to 100 visible ASCII characters are expected."}
            raise Invalid(errors=[fault])
        fingerprint = _fingerprint(view, request)  # reads the body: before the transaction begins
        with transaction.atomic():
            row, new = IdempotencyKey.objects.get_or_create(actor=view.actor.key, key=key, defaults={"fingerprint": fingerprint})
            return _first(row, post(view, request, *args, **kwargs)) if new else _again(row, fingerprint)

    return wrapper


def _fingerprint(view: Any, request: Any) -> str:
    said = f"{request.method} {request.get_full_path()}\n{view.body_digest()}"
    return hashlib.sha256(said.encode()).hexdigest()


def _first(row: IdempotencyKey, answer: Response) -> Response:
    row.status, row.location, row.etag = answer.status_code, answer.get("Location", ""), answer.get("ETag", "")
    row.secret = isinstance(answer, Secret)
    row.body = {"id": answer.data["id"]} if row.secret else answer.data
    row.save(update_fields=["status", "location", "etag", "body", "secret"])
    return answer


def _again(row: IdempotencyKey, fingerprint: str) -> Response:
    if row.fingerprint != fingerprint:
        raise Invalid("Idempotency-Key: it was used for another request – use a new key", code="key-reused")
    if row.secret:
        raise Conflict("secret: it was shown once and is not kept – make a new one", code="shown-once", id=(row.body or {}).get("id"))
    headers = {"Location": row.location, "ETag": row.etag, "Idempotent-Replayed": "true"}
    return Response(row.body, status=row.status, headers={name: value for name, value in headers.items() if value})
