"""What all answers share, faults, and the one shape of failures."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict

Json = dict[str, Any]


class Shape(BaseModel):
    """Base of all answers."""

    model_config = ConfigDict(extra="forbid")

    def json_data(self) -> Json:
        """Return the answer as plain JSON values."""
        return self.model_dump(mode="json", by_alias=True)


class Fault(Shape):
    """One fault or remark: where (a pointer into the body as sent, or a place in the score), a code, a sentence."""

    model_config = ConfigDict(extra="allow")

    code: str
    detail: str
    pointer: str | None = None
    severity: Literal["error", "warning", "remark"] | None = None


class Problem(Shape):
    """A refusal (RFC 9457). `type` ends with a code of the published list."""

    model_config = ConfigDict(extra="allow")

    type: str
    title: str
    status: int
    detail: str | None = None
    errors: list[Fault] | None = None
    request_id: str | None = None
