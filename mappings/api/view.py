"""What all views share: the actor, the gate, bodies, pages, answers. A method without a declared action is refused."""

from __future__ import annotations

import hashlib
import io
import uuid
from collections.abc import Callable
from typing import Any, ClassVar, TypeVar
from urllib.parse import urlencode

from django.db import models
from django.db.models import QuerySet
from django.http import HttpResponse
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from mappings import access, exchange
from mappings.access import Actor
from mappings.api import queries
from mappings.api.once import Secret
from mappings.api.parsers import demand_length
from mappings.api.preconditions import etag, expected_version, unchanged
from mappings.blobs import Upload
from mappings.errors import Forbidden, NotFound
from mappings.exchange import DocumentModel
from mappings.grants import GRANTS

RowT = TypeVar("RowT", bound=models.Model)
BodyT = TypeVar("BodyT", bound=DocumentModel)
SIGNED_IN = "signed in"  # the action of views that belong to no team
PRIVATE, FOREVER = "private, no-cache", "private, max-age=31536000, immutable"


class View(APIView):
    """Base of all views.

    actions     method -> action of the grants table; SIGNED_IN where no team is concerned
    body_limit  bytes of a body
    """

    actions: ClassVar[dict[str, str]] = {}
    body_limit: ClassVar[int] = 256 << 10
    http_method_names = ["get", "post", "put", "delete", "head"]  # noqa: RUF012 - the framework declares it so
    received: Upload | None = None

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Authenticate, then refuse what no action is declared for."""
        super().initial(request, *args, **kwargs)
        demand_length(request.META)
        if self.action is None and hasattr(self, str(request.method).lower()):
            raise Forbidden
        grant = GRANTS.get(self.action or "")
        if grant and grant.session and self.actor.token:
            raise Forbidden

    def finalize_response(self, request: Request, response: Any, *args: Any, **kwargs: Any) -> Any:
        """Return the response; the temporary file of an upload has served."""
        if self.received is not None:
            self.received.file.close()
        return super().finalize_response(request, response, *args, **kwargs)

    @property
    def action(self) -> str | None:
        """The declared action of this request; a HEAD is a GET."""
        method = self.request.method or ""
        return self.actions.get("GET" if method == "HEAD" else method)

    @property
    def actor(self) -> Actor:
        """Who asks."""
        actor: Any = self.request.auth  # the authenticators put it there
        assert isinstance(actor, Actor)  # noqa: S101 - a view without an actor must not go on
        return actor

    def fetch(self, model: type[RowT], pk: uuid.UUID, *related: str) -> RowT:
        """Return a row through the gate, for this request's action."""
        return access.fetch(self.actor, model, pk, str(self.action), *related)

    def body(self) -> bytes:
        """Return the raw JSON body."""
        data: Any = self.request.data
        return data if isinstance(data, bytes) else b""

    def upload(self) -> Upload:
        """Return the file that was sent; an empty body is an empty file."""
        data: Any = self.request.data
        return data if isinstance(data, Upload) else Upload(file=io.BytesIO(), digest=hashlib.sha256().hexdigest(), size=0, head=b"")

    def body_digest(self) -> str:
        """Return the SHA-256 of the body, hex."""
        data: Any = self.request.data
        return data.digest if isinstance(data, Upload) else hashlib.sha256(self.body()).hexdigest()

    def read(self, model: type[BodyT]) -> BodyT:
        """Return the body as a model, or refuse it with all its errors."""
        return exchange.parse(model, self.body())

    def expected(self, row: Any) -> int | None:
        """Return the version that If-Match expects; None for any."""
        return expected_version(self.request, row)

    def item(self, data: Any, tag: str, *, status: int = 200, cache: str = PRIVATE, **headers: str) -> HttpResponse:
        """Return an item with its tag; 304 without a body where the client has it already."""
        said = {"ETag": tag, "Cache-Control": cache, **headers}
        if self.request.method in ("GET", "HEAD") and unchanged(self.request, tag):
            return HttpResponse(status=304, headers=said)
        return Response(data, status=status, headers=said)

    def raw(self, data: bytes | str, media_type: str, tag: str, *, cache: str = PRIVATE, **headers: str) -> HttpResponse:
        """Return stored bytes as they are."""
        said = {"ETag": tag, "Cache-Control": cache, **{name.replace("_", "-"): value for name, value in headers.items()}}
        if unchanged(self.request, tag):
            return HttpResponse(status=304, headers=said)
        return HttpResponse(data, content_type=media_type, headers=said)

    def created(self, data: dict[str, Any], location: str, row: Any = None, more: str = "", *, secret: bool = False) -> Response:
        """Return 201 with Location, and ETag where the row has a version; a `secret` is not kept for a repeated request."""
        tag = {"ETag": etag(row, more)} if row is not None else {}
        kind = Secret if secret else Response
        return kind(data, status=201, headers={"Location": location, "Cache-Control": PRIVATE, **tag})

    def page(self, rows: QuerySet[Any], shape: Callable[[Any], dict[str, Any]], order: str = "-sort") -> Response:
        """Return one page of a list: `{"items": […], "next": address or null}`. The field of `order` is unique in the list."""
        limit = queries.number(self.request, "limit", 50, 1, 100)
        field, down = order.removeprefix("-"), order.startswith("-")
        place = queries.position(self.request)
        if place is not None:
            rows = rows.filter(**{f"{field}__{'lt' if down else 'gt'}": _place(rows, field, place)})
        found = list(rows.order_by(order)[: limit + 1])
        following = None
        if len(found) > limit:
            last = _value(found[limit - 1], field)
            following = f"{self.request.path}?{urlencode({**self.request.query_params.dict(), 'cursor': queries.cursor(last)})}"
        return Response({"items": [shape(row) for row in found[:limit]], "next": following}, headers={"Cache-Control": PRIVATE})


def _place(rows: QuerySet[Any], field: str, place: str) -> Any:
    """Return a cursor's place as the field's type; NotFound where it cannot be one."""
    kind = rows.model
    for name in field.split("__"):
        found = kind._meta.get_field(name)  # noqa: SLF001 - Django's documented way to a field
        kind = found.related_model or kind
    if isinstance(found, models.IntegerField):
        if not (place.isascii() and place.isdigit() and len(place) < 19):
            raise NotFound
        return int(place)
    if "\x00" in place:
        raise NotFound
    return place


def _value(row: Any, field: str) -> Any:
    for name in field.split("__"):
        row = getattr(row, name)
    return row
