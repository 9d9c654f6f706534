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

# The published codes of refusals: status, and an example of the sentence (or of what it is said of, where there is none).
PUBLISHED: dict[str, tuple[int, str]] = {
    "bad-request": (400, "a Host header that is not this service's"),
    "not-json": (400, "document: this is not JSON: line 3, column 5 cannot be read – the document is not accepted"),
    "not-signed-in": (401, "The token is unknown, expired or revoked."),
    "forbidden": (403, "a reader who saves a map"),
    "not-found": (404, "an id of another team, or of nothing"),
    "method-not-allowed": (405, 'Method "PATCH" not allowed.'),
    "not-acceptable": (406, "Could not satisfy the request Accept header."),
    "in-use": (409, "map: templates use it – take it out of them first"),
    "last-owner": (409, "role: this is the team's last owner – make somebody else an owner first"),
    "name-taken": (409, "name: “Reed Strings” is taken here – choose another one"),
    "no-report": (409, "render: it has no report: cancelled"),
    "not-read-yet": (409, "score: this version is still being read – try again in a moment"),
    "not-settled": (409, "render: it is not done yet – ask again in a moment"),
    "settled": (409, "render: it is settled already – there is nothing to cancel"),
    "shown-once": (409, "secret: it was shown once and is not kept – make a new one"),
    "gone": (410, "files: they were dropped – run the render again for new ones"),
    "length-required": (411, "body: its length is not said – send Content-Length"),
    "stale": (412, "an ETag of a state that has passed"),
    "team-full": (413, "team storage: 5000 bytes do not fit, 100 of 4000 are in use – nothing was stored"),
    "too-large": (413, "body: it has more than 1048576 bytes – nothing was stored"),
    "unsupported-media-type": (415, 'Unsupported media type "multipart/form-data" in request.'),
    "empty-body": (422, "body: the body is empty – nothing was stored"),
    "invalid": (422, "a document with an unknown mark; `errors` say where"),
    "key-reused": (422, "Idempotency-Key: it was used for another request – use a new key"),
    "not-a-score": (422, "body: this is neither MusicXML, nor a zip of it, nor MIDI – nothing was stored"),
    "score-refused": (422, "score: this version was refused: the file was read and refused"),
    "precondition-required": (428, "a save without If-Match"),
    "queue-full": (429, "renders: 22 of 22 wait already – try again when one is done"),
    "too-many": (429, "too many tries – try again in 120 s"),
    "internal-error": (500, "a fault of the service"),
    "busy": (503, "a lock that was held for too long"),
}
# The codes of single faults that the service itself finds; those of documents and scores are published by the engine.
FAULTS: dict[str, str] = {
    "expiry": "This must be within a year from now.",
    "key-spelling": "1 to 100 visible ASCII characters are expected.",
    "name-too-long": "A map's name has 100 characters at most.",
    "no-instrument": "Another team needs an instrument of its own.",
    "no-template": "This needs a template.",
    "parameter": "A whole number from 1 to 100 is expected.",
    "unknown-kind": "The kind must be one of articulation-map, template.",
    "unknown-mark": "There is no such mark.",
    "unknown-reference": "This names nothing that this team has.",
}


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
