"""A document checked without being stored."""

from __future__ import annotations

from typing import ClassVar

from drf_spectacular.types import OpenApiTypes
from rest_framework.request import Request
from rest_framework.response import Response

from mappings.api.schema import describe
from mappings.api.shapes import maps as shapes
from mappings.api.view import SIGNED_IN, View
from mappings.services import checking


class DocumentCheck(View):
    """Everything that is wrong with a document."""

    actions: ClassVar = {"POST": SIGNED_IN}
    body_limit: ClassVar[int] = 1 << 20

    @describe("Check a map or template, all errors at once; stores nothing", {200: shapes.Checked}, body=OpenApiTypes.OBJECT)
    def post(self, request: Request) -> Response:
        """Return what was found; a document that cannot be taken is an answer, too."""
        return Response(checking.check(self.body()))
