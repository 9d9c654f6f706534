"""Every failure of the API as problem+json (RFC 9457), in one shape."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import PermissionDenied, RequestDataTooBig
from django.db import OperationalError
from django.http import Http404
from rest_framework import exceptions
from rest_framework.response import Response

from mappings.api.authentication import request_id
from mappings.errors import ServiceError

MEDIA_TYPE = "application/problem+json"

# Statuses that the framework raises: code, title.
FRAMEWORK = {
    400: ("bad-request", "The request cannot be understood"),
    401: ("not-signed-in", "Sign in, or send a token"),
    403: ("forbidden", "Your role or your token does not allow this"),
    404: ("not-found", "There is nothing here"),
    405: ("method-not-allowed", "This address does not know that method"),
    406: ("not-acceptable", "The answer cannot be given in the types that were asked for"),
    413: ("too-large", "Too large"),
    415: ("unsupported-media-type", "The body's media type is not taken here"),
    503: ("busy", "The database is busy; try again"),
}


def handler(error: Exception, context: dict[str, Any]) -> Response | None:
    """Return the answer for an exception; None (an internal error) for one that nobody foresaw."""
    if isinstance(error, ServiceError):
        response = _service(error)
    else:
        status = _status(error)
        if status is None:
            return None
        code, title = FRAMEWORK[status]
        detail = str(error.detail) if isinstance(error, exceptions.APIException) else ""
        response = Response(body(status, code, title, detail), status=status)
        _headers(response, error)
    response.content_type = MEDIA_TYPE
    response.data["request_id"] = request_id(context["request"])
    return response


def body(status: int, code: str, title: str, detail: str = "", **members: Any) -> dict[str, Any]:
    """Return the members of a problem; empty ones are left out."""
    said = {"type": f"urn:ripieno:problem:{code}", "title": title, "status": status, "detail": detail, **members}
    return {name: value for name, value in said.items() if value not in ("", [])}


def _service(error: ServiceError) -> Response:
    said = body(error.status, error.code, error.title, error.detail, errors=error.errors, **error.members)
    response = Response(said, status=error.status)
    retry_after = getattr(error, "retry_after", None)
    if retry_after is not None:
        response["Retry-After"] = str(retry_after)
    return response


def _status(error: Exception) -> int | None:
    if isinstance(error, exceptions.APIException):
        return error.status_code if error.status_code in FRAMEWORK else None
    known: tuple[tuple[type[Exception], int], ...] = (
        (Http404, 404),
        (PermissionDenied, 403),
        (RequestDataTooBig, 413),
        (OperationalError, 503),
    )
    return next((status for kind, status in known if isinstance(error, kind)), None)


def _headers(response: Response, error: Exception) -> None:
    asks = getattr(error, "auth_header", None)
    if asks:
        response["WWW-Authenticate"] = asks
    if response.status_code == 503:
        response["Retry-After"] = "1"
