"""A name for each request, so that an answer, an audit row and a log line can be brought together."""

from __future__ import annotations

import uuid
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse


class RequestId:
    """Middleware: gives each request an own id (never the client's) and sends it back as X-Request-Id."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Return the response, named."""
        request.ripieno_id = uuid.uuid4().hex  # type: ignore[attr-defined]
        response = self.get_response(request)
        response["X-Request-Id"] = request.ripieno_id  # type: ignore[attr-defined]
        return response
