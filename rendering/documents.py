"""Documents at the door: bytes in, a frozen model or every problem out; and the canonical bytes back.

A document is read once into its model and written once; those bytes are its identity. `read` reports
all errors together, each with a JSON pointer (RFC 6901) that resolves in the document as it was sent.
"""

from __future__ import annotations

import hashlib
import json
import unicodedata
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Annotated, Any, ClassVar, TypeVar, get_args

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError
from pydantic_core import ErrorDetails, PydanticCustomError

from rendering.codes.documents import DOCUMENTS
from rendering.problems import Place, Problem, Refused, problem

DEEPEST = 64  # levels of nesting; no document of ours needs ten
MOST_PROBLEMS = 200
TAG = "\x01"  # begins the tags of unions: no key of an accepted document holds a control character

CONFIG = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)


class DocumentModel(BaseModel):
    """Base of every document and of its parts: strict, frozen, no unknown fields, no infinities."""

    model_config = CONFIG
    most_values: ClassVar[int] = 0  # values that one may hold in all; 0 = as many as fit into the body


M = TypeVar("M", bound=BaseModel)


def shown(text: object) -> str:
    """Return what a document says, for a sentence: in quotation marks, printable, at most 40 characters."""
    plain = "".join(c if c.isprintable() else "�" for c in str(text))
    return f"“{plain if len(plain) <= 40 else plain[:39] + '…'}”"


def _without_controls(text: str) -> str:
    if any(unicodedata.category(c) in {"Cc", "Cs", "Zl", "Zp"} for c in text):
        raise PydanticCustomError("control_character", "control character")
    return text


def _with_substance(text: str) -> str:
    if text != text.strip() or not text:
        raise PydanticCustomError("blank_text", "blank")
    return text


Line = Annotated[str, Field(max_length=200), AfterValidator(_without_controls)]
Name = Annotated[Line, AfterValidator(_with_substance)]


def canonical(document: BaseModel) -> bytes:
    """Return a document's canonical bytes: UTF-8, keys in model order, defaults left out, no spaces."""
    return document.model_dump_json(by_alias=True, exclude_defaults=True).encode()


def digest(data: bytes) -> str:
    """Return the SHA-256 of canonical bytes as 64 hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def read(model: type[M], body: bytes) -> M:
    """Return the document that `body` holds, as `model`.

    Raises Refused with every problem found: `not-json`, `too-deep`, `key-unprintable` (these three alone),
    `duplicate-key`, `shape.*` and the model's own codes.
    """
    text, sent = parse(body)
    most, held = getattr(model, "most_values", 0), sum(len(value) for _, value in _walk(sent))
    if most and held > most:
        raise Refused([problem("too-many-values", Place(pointer=""), held=held, most=most)])
    problems = list(_doubled(sent))
    try:
        document = model.model_validate_json(text, context={})
    except ValidationError as failed:
        raise Refused(limited(problems + _shape(sent, failed))) from None
    if problems:
        raise Refused(limited(problems))
    return document


def schemas(models: Iterable[type[BaseModel]]) -> dict[str, dict[str, Any]]:
    """Return the JSON Schemas (2020-12) of documents as they may be sent, by kind; of one without a kind, by its name."""
    return {_kind(model): model.model_json_schema(by_alias=True, mode="validation") for model in models}


def _kind(model: type[BaseModel]) -> str:
    field = model.model_fields.get("kind")
    return str(get_args(field.annotation)[0]) if field else model.__name__.lower()


def parse(body: bytes) -> tuple[str, Any]:
    """Return the text of a JSON document and its value; raises Refused if it is no JSON or nested too deep."""
    try:
        text = body.decode("utf-8-sig")
        sent = json.loads(text, object_pairs_hook=_Object.of, parse_constant=_no_constant)
    except UnicodeDecodeError as wrong:
        raise Refused([_not_json(f"byte {wrong.start} is not UTF-8")]) from None
    except json.JSONDecodeError as wrong:
        raise Refused([_not_json(f"line {wrong.lineno}, column {wrong.colno} cannot be read")]) from None
    except RecursionError:
        raise Refused([problem("too-deep", Place(pointer=""), deepest=DEEPEST)]) from None
    except ValueError:
        raise Refused([_not_json("it holds a number that JSON does not have")]) from None
    found = [p for path, value in _walk(sent) for p in _unreadable(path, value)]
    if found:
        raise Refused(limited(found))
    return text, sent


class _Object(dict[str, Any]):
    """A JSON object that remembers which of its keys came more than once."""

    __slots__ = ("doubled",)
    doubled: tuple[str, ...]

    @classmethod
    def of(cls, pairs: list[tuple[str, Any]]) -> _Object:
        made = cls(pairs)
        made.doubled = ()
        if len(made) != len(pairs):
            times = Counter(key for key, _ in pairs)
            made.doubled = tuple(key for key in made if times[key] > 1)
        return made


def _no_constant(name: str) -> None:
    raise ValueError(name)


def _not_json(why: str) -> Problem:
    return problem("not-json", Place(pointer=""), why=why)


def _walk(sent: Any) -> Iterator[tuple[tuple[str | int, ...], Any]]:
    """Yield (path, value) of every object and list, outermost first, no deeper than one past the limit."""
    waiting: list[tuple[tuple[str | int, ...], Any]] = [((), sent)]
    while waiting:
        path, value = waiting.pop()
        if isinstance(value, dict | list):
            yield path, value
            if len(path) < DEEPEST:
                inner: Iterable[tuple[str | int, Any]] = value.items() if isinstance(value, dict) else enumerate(value)
                waiting += [((*path, step), v) for step, v in inner if isinstance(v, dict | list)]


def _unreadable(path: tuple[str | int, ...], value: Any) -> Iterator[Problem]:
    if len(path) >= DEEPEST:
        yield problem("too-deep", Place(pointer=""), deepest=DEEPEST)
    elif isinstance(value, dict):
        for key in value:
            if not key.isprintable() and any(unicodedata.category(c) in {"Cc", "Cs"} for c in key):
                yield problem("key-unprintable", Place(pointer=escaped(path)), field=shown(key))


def _doubled(sent: Any) -> Iterator[Problem]:
    for path, value in _walk(sent):
        if isinstance(value, _Object):
            for key in value.doubled:
                yield problem("duplicate-key", Place(pointer=escaped((*path, key))), field=shown(key))


def escaped(path: Iterable[str | int]) -> str:
    """Return the JSON pointer of a path of keys and indexes."""
    return "".join("/" + str(step).replace("~", "~0").replace("/", "~1") for step in path)


def pointer(sent: Any, steps: Iterable[str | int]) -> str:
    """Return the JSON pointer of the part of `sent` that a validation error names.

    The steps of an error also hold tags of unions, and may end at something absent: both are left out,
    so that the pointer always resolves.
    """
    at: Any = sent
    path: list[str | int] = []
    for step in steps:
        known: Any = at if isinstance(at, dict) else range(len(at)) if isinstance(at, list) else ()
        if step in known:
            at = at[step]
            path.append(step)
    return escaped(path)


def _shape(sent: Any, failed: ValidationError) -> list[Problem]:
    errors = failed.errors(include_url=False, include_input=False)
    # "Too short" is also said of a list that only lost an item which was itself refused.
    holders = {error["loc"][:depth] for error in errors for depth in range(len(error["loc"]))}
    told = [error for error in errors if error["type"] != "too_short" or error["loc"] not in holders]
    found = [_as_problem(sent, error) for error in told[: 2 * MOST_PROBLEMS]]
    return found + [_more(len(told) - len(found))] * (len(told) > len(found))


def _more(count: int) -> Problem:
    return problem("more-problems", Place(pointer=""), count=count)


def _as_problem(sent: Any, error: ErrorDetails) -> Problem:
    kind = error["type"].replace("_", "-")
    if kind == "json-invalid":  # the strict parser refuses what Python's lets through: half of a surrogate pair
        return _not_json("it holds half of a surrogate pair")
    code = next((c for c in (kind, f"shape.{kind}") if c in DOCUMENTS), "shape.other")
    last = error["loc"][-1] if error["loc"] else ""
    known: dict[str, str | int] = {"field": f"item {last + 1}" if isinstance(last, int) else shown(last)}
    for name, value in error.get("ctx", {}).items():
        said = value() if callable(value) else value  # what is dear to say is looked up for the errors that are listed
        known[name] = said if isinstance(said, int) else str(said)
    needed = {name: known[name] for name in DOCUMENTS[code].example}
    return problem(code, Place(pointer=pointer(sent, error["loc"])), **needed)


def limited(problems: Iterable[Problem]) -> list[Problem]:
    """Return problems each once; of more than 200 the first, and how many are not listed."""
    unique = list(dict.fromkeys(problems))
    if len(unique) <= MOST_PROBLEMS:
        return unique
    rest = [dict(found.arguments)["count"] if found.code == "more-problems" else 1 for found in unique[MOST_PROBLEMS:]]
    return [*unique[:MOST_PROBLEMS], _more(sum(map(int, rest)))]
