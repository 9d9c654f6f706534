"""The vocabulary of marks, as the engine knows it."""

from __future__ import annotations

from typing import ClassVar

from django.http import HttpResponse
from rest_framework.request import Request

from mappings import exchange
from mappings.api.schema import describe
from mappings.api.shapes import marks as shapes
from mappings.api.view import SIGNED_IN, View


class Marks(View):
    """All marks; a score asks for them, a map plays them."""

    actions: ClassVar = {"GET": SIGNED_IN}

    @describe("Every mark: its axis, what it ends, its signs, its wordings in four languages, its source", {200: shapes.Marks})
    def get(self, request: Request) -> HttpResponse:
        """Return the table, highest rank first."""
        return self.item(shapes.marks(), f'"marks-{exchange.engine_version()}"')
