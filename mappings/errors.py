"""What a service call can refuse, as exceptions that know their published code and HTTP status.

::

    ServiceError
    ├── NotJson              400  the body is not JSON, or not JSON with one value a key
    ├── NotSignedIn          401
    ├── Forbidden            403  visible, but the role or the scope is too weak
    ├── NotFound             404  absent, archived, or another team's: one answer for all three
    ├── Conflict             409  a name taken, a row in use, a render not settled, a last owner
    ├── Gone                 410  files that were pruned
    ├── LengthRequired       411
    ├── Stale                412  If-Match names another state
    ├── TooLarge             413  the body, or what the team may store
    ├── Invalid              422  read, but refused; `errors` say where and why
    ├── PreconditionRequired 428
    └── TooMany              429  a full queue, too many tries
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, ClassVar

Item = dict[str, Any]


class ServiceError(Exception):
    """Root of what a service refuses. `code` ends the problem's type; `detail` is the sentence for people."""

    status: ClassVar[int] = 400
    title: ClassVar[str] = "Refused"
    code: str = "refused"

    def __init__(self, detail: str = "", *, code: str = "", errors: Iterable[Item] = (), **members: Any) -> None:
        self.code = code or type(self).code
        self.detail = detail
        self.errors = list(errors)
        self.members: Mapping[str, Any] = members
        super().__init__(detail or self.title)


class NotJson(ServiceError):
    """The body is not JSON."""

    status, title, code = 400, "The body is not JSON", "not-json"


class NotSignedIn(ServiceError):
    """Nobody is signed in."""

    status, title, code = 401, "Sign in, or send a token", "not-signed-in"


class Forbidden(ServiceError):
    """The actor sees the row, but may not do this."""

    status, title, code = 403, "Your role or your token does not allow this", "forbidden"


class NotFound(ServiceError):
    """There is no such row for this actor."""

    status, title, code = 404, "There is nothing here", "not-found"


class Conflict(ServiceError):
    """The state of other rows forbids it."""

    status, title, code = 409, "Something else stands in the way", "conflict"


class Gone(ServiceError):
    """What was asked for was here once."""

    status, title, code = 410, "The files were dropped", "gone"


class LengthRequired(ServiceError):
    """The body's length is not said."""

    status, title, code = 411, "Say the body's length", "length-required"


class Stale(ServiceError):
    """If-Match names a state that is not the current one."""

    status, title, code = 412, "It was changed meanwhile", "stale"


class TooLarge(ServiceError):
    """The body is over its limit."""

    status, title, code = 413, "Too large", "too-large"


class Invalid(ServiceError):
    """The body was read, but cannot be taken; `errors` hold pointer, code and detail of each fault."""

    status, title, code = 422, "The body cannot be taken as it is", "invalid"


class PreconditionRequired(ServiceError):
    """If-Match is missing."""

    status, title, code = 428, "Say with If-Match which state you change", "precondition-required"


class TooMany(ServiceError):
    """Too many at once. `retry_after` is in seconds."""

    status, title, code = 429, "Too many at once", "too-many"

    def __init__(self, detail: str, *, retry_after: int, code: str = "") -> None:
        super().__init__(detail, code=code)
        self.retry_after = retry_after
