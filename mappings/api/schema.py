"""How operations are described in the OpenAPI document: one helper that also lists every refusal."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from drf_spectacular.contrib.pydantic import PydanticExtension
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.plumbing import ResolvedComponent
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiExample, OpenApiParameter, OpenApiResponse, extend_schema
from pydantic import create_model
from pydantic.json_schema import model_json_schema

from mappings.api.examples import BODIES, INVALID
from mappings.api.shapes.base import Problem, Shape

PROBLEM = "application/problem+json"
REFUSALS = {
    400: "The body is not JSON.",
    401: "Nobody is signed in, or the token is unknown, expired or revoked.",
    403: "The role or the token is too weak.",
    404: "Absent, archived, or another team's.",
    406: "None of the types asked for can be given.",
    409: "Something else stands in the way; `type` says what.",
    410: "The files were dropped.",
    411: "The body's length is not said.",
    412: "It was changed meanwhile; `current` says what is there now, `changes` how it differs from what was sent.",
    413: "The body is over its limit, or the team's storage is full.",
    415: "The body's media type is not taken here.",
    422: "Read, but refused; `errors` say where and why, all at once.",
    428: "If-Match is missing.",
    429: "Too many at once; `Retry-After` says when to try again.",
    503: "The database is busy; `Retry-After` says when to try again.",
}
_ALWAYS, _BODY, _MATCH = (401, 404, 406, 503), (400, 411, 413, 415, 422), (412, 428)


class Described(AutoSchema):
    """Operation names from address and method, the same for ever."""

    def get_operation_id(self) -> str:
        """Return the view's name and the method: "map_document_put"."""
        words = "".join(f"_{c.lower()}" if c.isupper() else c for c in type(self.view).__name__.removesuffix("View")).lstrip("_")
        return f"{words}_{self.method.lower()}"

    def get_tags(self) -> list[str]:
        """Return the module of the view: one chapter of the page each."""
        return [type(self.view).__module__.rsplit(".", 1)[-1]]


QUERY: dict[str, tuple[Any, str]] = {
    "cursor": (str, "Where the page begins: as `next` gives it."),
    "library": (OpenApiTypes.UUID, "Only those of this library."),
    "mark": (str, "Only maps that play this mark."),
    "note": (str, "What the revision is for, in a few words."),
    "q": (str, "Only those whose name contains this."),
    "score": (OpenApiTypes.UUID, "Only those of this score."),
    "sound": (str, "Only those of this instrument sound, or of one below it."),
    "subject": (OpenApiTypes.UUID, "Only what concerns this row."),
    "template": (OpenApiTypes.UUID, "The template, in its current revision."),
    "title": (str, "The score's title; else the file's is taken."),
}
LIMIT = OpenApiParameter("limit", {"type": "integer", "minimum": 1, "maximum": 100, "default": 50}, description="Items of a page.")


def describe(
    summary: str,
    answers: Mapping[Any, Any],
    *,
    body: Any = None,
    query: Sequence[str | OpenApiParameter] = (),
    match: bool = False,
    once: bool = False,
    refusals: Sequence[int] = (),
) -> Callable[[Any], Any]:
    """Return the decorator that describes one method of a view.

    answers   status -> model, or None for no content; (status, media type) -> type for what is not JSON
    match     it needs If-Match; once: it takes an Idempotency-Key; refusals: statuses beside those of all operations
    """
    writes = body is not None or once or match
    statuses = {*_ALWAYS, *refusals, *(_MATCH if match else ()), *((*_BODY, 403) if writes else ()), *([422] if query else ())}
    headers = [*([MATCH] if match else []), *([KEY] if once else []), *([LOCATION] if 201 in answers else [])]
    return extend_schema(
        summary=summary,
        request={body[0]: body[1]} if isinstance(body, tuple) else body,
        responses={**{status: _answer(shape) for status, shape in answers.items()}, **_refusals(statuses)},
        parameters=[*map(_parameter, query), *headers],
        examples=_examples(body, statuses),
    )


def _examples(body: Any, statuses: set[int]) -> list[OpenApiExample]:
    """Return the example of the body, and that of a refusal."""
    name = getattr(body, "__name__", "")
    sent = [OpenApiExample(name, BODIES[name], request_only=True)] if name in BODIES else []
    refused = [OpenApiExample("Refused", INVALID, response_only=True, status_codes=["422"], media_type=PROBLEM)] if 422 in statuses else []
    return [*sent, *refused]


LOCATION = OpenApiParameter("Location", str, OpenApiParameter.HEADER, response=[201], description="The address of what was made.")
MATCH = OpenApiParameter(
    "If-Match", str, OpenApiParameter.HEADER, required=True, description='The ETag of the state that is changed; "*" for any.'
)
KEY = OpenApiParameter(
    "Idempotency-Key",
    {"type": "string", "pattern": "^[\\x21-\\x7e]{1,100}$"},
    OpenApiParameter.HEADER,
    description="A name for this request: sent again with it, it is answered as before and done once.",
)


def _parameter(asked: str | OpenApiParameter) -> OpenApiParameter:
    if isinstance(asked, OpenApiParameter):
        return asked
    if asked == "limit":
        return LIMIT
    kind, description = QUERY[asked]
    return OpenApiParameter(asked, kind, description=description)


def number_parameter(name: str) -> OpenApiParameter:
    """Return the parameter for a revision's number."""
    return OpenApiParameter(name, {"type": "integer", "minimum": 1, "maximum": 1_000_000_000}, description="Number of a revision.")


@functools.cache
def paged(item: type[Shape]) -> type[Shape]:
    """Return the shape of a page of items; `next` is the address of the following page, null on the last one."""
    fields: dict[str, Any] = {"items": (list[item], ...), "next": (str | None, ...)}  # type: ignore[valid-type]
    return create_model(f"{item.__name__}Page", __base__=Shape, __doc__=f"A page of a list, {item.__name__}s.", **fields)


def file_of(*media_types: str) -> dict[tuple[int, str], Any]:
    """Return the answers of an address that gives a file of one of these types."""
    return {(200, media_type): OpenApiTypes.BINARY for media_type in media_types}


def _answer(shape: Any) -> Any:
    if shape is None:
        return OpenApiResponse(description="Done.")
    said = (shape.__doc__ or "").splitlines()[0] if isinstance(shape, type) else "The file."
    return OpenApiResponse(shape, description=said)


def _refusals(statuses: set[int]) -> dict[Any, Any]:
    return {(status, PROBLEM): OpenApiResponse(Problem, description=REFUSALS[status]) for status in sorted(statuses)}


class Documents(PydanticExtension):  # type: ignore[no-untyped-call]
    """Documents as they may be sent (a key by number or name), and loud where two models share a name."""

    priority = 1

    def map_serializer(self, auto_schema: Any, direction: str) -> Any:
        """Return the JSON Schema of a model, with its parts as components."""
        mode: Any = "serialization" if issubclass(self.target, Shape) else "validation"
        schema = model_json_schema(self.target, ref_template="#/components/schemas/{model}", mode=mode)
        for name, part in schema.pop("$defs", {}).items():
            component = ResolvedComponent(  # type: ignore[no-untyped-call]
                name=name, type=ResolvedComponent.SCHEMA, object=name, schema=part
            )
            if component in auto_schema.registry and auto_schema.registry[component].schema != part:
                raise ValueError(f"two schemas are called {name}")
            auto_schema.registry.register_on_missing(component)
        return schema


class Bearer(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """How tokens are sent."""

    target_class = "mappings.api.authentication.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        """Return the scheme."""
        return {"type": "http", "scheme": "bearer"}


class Cookie(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """How a session is sent."""

    target_class = "mappings.api.authentication.CookieAuthentication"
    name = "session"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        """Return the scheme."""
        return {"type": "apiKey", "in": "cookie", "name": "sessionid"}
