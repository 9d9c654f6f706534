"""What is answered when no view answers: problem+json under /api, a plain page elsewhere."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render

SENTENCES = {
    400: ("bad-request", "The request cannot be understood"),
    403: ("forbidden", "The request was not sent from a page of this service"),
    404: ("not-found", "There is nothing here"),
    500: ("internal-error", "The service failed; it is not your fault"),
}


def answer(request: HttpRequest, status: int) -> HttpResponse:
    """Return the answer for a status of SENTENCES."""
    code, title = SENTENCES[status]
    if not request.path.startswith("/api"):
        return render(request, "mappings/error.html", {"title": title}, status=status)
    body = {"type": f"urn:ripieno:problem:{code}", "title": title, "status": status, "request_id": getattr(request, "ripieno_id", "")}
    return JsonResponse(body, status=status, content_type="application/problem+json")


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001
    """handler400."""
    return answer(request, 400)


def permission_denied(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001
    """handler403."""
    return answer(request, 403)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001
    """handler404."""
    return answer(request, 404)


def server_error(request: HttpRequest) -> HttpResponse:
    """handler500."""
    return answer(request, 500)


def csrf_failure(request: HttpRequest, reason: str = "", **kwargs: Any) -> HttpResponse:  # noqa: ARG001
    """The answer to a form without its CSRF token."""
    return answer(request, 403)
