"""What can be wrong with an input, as data.

A user's mistake, a guess and a loss are each a `Problem`: a code, a place and arguments.
The sentence is made from the tables in `rendering.codes` when a report is written, so that
the engine never formats text in its hot path.

Exceptions (raised only when nothing can be produced)::

    RenderingError
    └── Refused        carries the problems that explain it
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

Severity = Literal["error", "warning", "remark"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where in a score or a document something is.

    Score places: `measure` is the printed number, `ordinal` counts measures from 1, `beat` is
    "n/d" or "n" from 1 in the meter's unit, `note` counts the part's `<note>` elements from 1 in
    document order, `pass_number` counts playings from 1. Document places: `pointer` (RFC 6901).
    A field that does not apply is 0 or "".
    """

    part: str = ""
    part_name: str = ""
    measure: str = ""
    ordinal: int = 0
    beat: str = ""
    staff: int = 0
    voice: str = ""
    note: int = 0
    pass_number: int = 0
    pointer: str | None = None


NOWHERE = Place()


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One finding. `code` is a key of `rendering.codes.CODES`, which also holds its severity."""

    code: str
    place: Place = NOWHERE
    arguments: tuple[tuple[str, str | int], ...] = ()


def problem(code: str, place: Place = NOWHERE, **arguments: str | int) -> Problem:
    """Return a Problem whose arguments are given by name, as its code's template names them."""
    return Problem(code=code, place=place, arguments=tuple(sorted(arguments.items())))


@dataclass(frozen=True, slots=True, kw_only=True)
class Code:
    """One row of a published list of problem codes.

    `what` and `consequence` are `str.format` templates over the problem's arguments; the sentence
    shown is "WHERE: WHAT – CONSEQUENCE". `example` holds arguments for the published example.
    """

    severity: Severity
    what: str
    consequence: str
    example: dict[str, str | int] = field(default_factory=dict)


class RenderingError(Exception):
    """Root of the exceptions that this package raises on purpose."""


class Refused(RenderingError):
    """Nothing can be produced from this input; `problems` say why (never empty)."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__(", ".join(p.code for p in self.problems))
