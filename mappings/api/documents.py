"""What maps and templates have in common: the document, its revisions, their difference, an earlier one restored."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ClassVar
from uuid import UUID

from django.http import HttpResponse
from rest_framework.response import Response

from mappings.api import bodies, queries
from mappings.api.preconditions import etag
from mappings.api.shapes import maps as shapes
from mappings.api.view import FOREVER, View
from mappings.errors import NotFound
from mappings.services import diff, revisions

JSON = "application/json"


class HeadView(View):
    """Base of the views of one kind of head row.

    model, document  the row and its document's model
    save, restore    services; saved  the answer for what they return
    """

    body_limit: ClassVar[int] = 1 << 20
    model: ClassVar[Any]
    document: ClassVar[Any]
    save: ClassVar[Callable[..., Any]]
    restore: ClassVar[Callable[..., Any]]
    saved: ClassVar[Callable[..., Any]]

    def stored(self, pk: UUID) -> HttpResponse:
        """Return the current document, byte for byte as it was hashed."""
        row = self.fetch(self.model, pk)
        revision = revisions.current(row)
        return self.raw(revision.document.body, JSON, etag(row), Revision=str(revision.number))

    def store(self, pk: UUID) -> HttpResponse:
        """Save the body as the next revision; the same content is no new one."""
        row = self.fetch(self.model, pk)
        expected = self.expected(row)
        note = queries.text(self.request, "note", 200)
        saved = type(self).save(self.actor, row=row, expected=expected, document=self.read(self.document), note=note)
        return self._answer(saved)

    def _answer(self, saved: Any) -> HttpResponse:
        return self.item(type(self).saved(saved), etag(saved.head), Revision=str(saved.revision.number))

    def listed(self, pk: UUID) -> Response:
        """Return a page of revisions, newest first."""
        row = self.fetch(self.model, pk)
        found = row.revisions.select_related("document", "made_by").defer("document__body")
        return self.page(found, shapes.revision, "-number")

    def numbered(self, pk: UUID, number: int) -> HttpResponse:
        """Return one revision's document, which never changes."""
        row = self.fetch(self.model, pk)
        found = row.revisions.select_related("document").filter(number=number).first()
        if found is None:
            raise NotFound
        return self.raw(found.document.body, JSON, f'"{found.document.digest}"', cache=FOREVER, Revision=str(number))

    def difference(self, pk: UUID) -> Response:
        """Return what differs between two revisions; without numbers, between the last two."""
        row = self.fetch(self.model, pk)
        to = queries.number(self.request, "to", row.current, 1, 1_000_000_000)
        before = queries.number(self.request, "from", max(1, to - 1), 1, 1_000_000_000)
        old, new = (self._body(row, number) for number in (before, to))
        changes = diff.changes(old, new)
        return Response(shapes.difference(before, to, changes, diff.text(old, new)))

    def _body(self, row: Any, number: int) -> str:
        found = row.revisions.filter(number=number).values_list("document__body", flat=True).first()
        if found is None:
            raise NotFound
        body: str = found
        return body

    def restored(self, pk: UUID) -> HttpResponse:
        """Save an old revision's content as the next revision."""
        row = self.fetch(self.model, pk)
        number = self.read(bodies.Restore).revision
        return self._answer(type(self).restore(self.actor, row=row, expected=self.expected(row), number=number))
