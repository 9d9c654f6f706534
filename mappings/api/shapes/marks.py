"""Answers about the vocabulary of marks."""

from __future__ import annotations

from typing import Any

from pydantic import Field

from mappings import exchange
from mappings.api.shapes.base import Json, Shape


class Marks(Shape):
    """The marks table; each row has name, axis, rank, reach, what it cancels, signs of open standards, wordings and source."""

    marks: list[dict[str, Any]] = Field(description="highest rank first; a loss of an earlier axis is worse")


def marks() -> Json:
    """Return the answer."""
    return Marks(marks=[dict(row) for row in exchange.marks_table()]).json_data()
