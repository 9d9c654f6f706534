"""Answers about scores and renders."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Literal
from uuid import UUID

from pydantic import Field, RootModel

from mappings import models
from mappings.api.shapes.base import Json, Shape
from mappings.exchange import Finding, Report
from mappings.services.revisions import parsed


class Score(Shape):
    """A score; `state` is that of its newest version, whose number is `current`."""

    id: UUID
    team: UUID
    title: str
    version: int
    current: int
    state: Literal["reading", "ready", "refused"]
    at: datetime


def score(row: Any) -> Json:
    """Return the answer for a score annotated with the state of its newest version, `current_state`."""
    return Score(
        id=row.pk, team=row.team_id, title=row.title, version=row.version, current=row.current, state=row.current_state, at=row.at
    ).json_data()  # fmt: skip


class ScoreVersion(Shape):
    """One file of a score. `summary` and `problems` are null until it is read; `reason` says why it was refused."""

    score: UUID
    number: int
    state: Literal["reading", "ready", "refused"]
    digest: str
    size: int
    media_type: str
    reason: str
    summary: dict[str, Any] | None = Field(description="parts, measures and marks, as `inspect` prints them")
    problems: list[Finding] | None
    made_by: str
    at: datetime
    settled_at: datetime | None


def score_version(row: models.ScoreVersion) -> Json:
    """Return the answer for a version whose blob (without data), documents and author are joined."""
    said = _version(row)
    said["summary"] = parsed(row.summary) if row.summary else None
    said["problems"] = parsed(row.problems)["problems"] if row.problems else None
    return said


def listed_version(row: models.ScoreVersion) -> Json:
    """Return the answer for a version in a list, without what was read in it."""
    return {name: value for name, value in _version(row).items() if name not in ("summary", "problems")}


def _version(row: models.ScoreVersion) -> Json:
    return ScoreVersion(
        score=row.score_id, number=row.number, state=row.state, digest=row.blob.digest, size=row.blob.size, media_type=row.blob.media_type,
        reason=row.reason, summary=None, problems=None, made_by=row.made_by.name, at=row.at, settled_at=row.settled_at,
    ).json_data()  # fmt: skip


class ListedVersion(Shape):
    """One file of a score, without what was read in it."""

    score: UUID
    number: int
    state: Literal["reading", "ready", "refused"]
    digest: str
    size: int
    media_type: str
    reason: str
    made_by: str
    at: datetime
    settled_at: datetime | None


class Render(Shape):
    """A render. `progress` is in thousandths; `notes` and `agree` are those of the proof, null until it is done."""

    id: UUID
    team: UUID
    score: UUID
    score_version: int
    template: UUID | None
    template_revision: int | None
    inputs_digest: str
    engine_version: str
    state: Literal["queued", "running", "done", "failed", "cancelled"]
    attempt: int
    progress: int
    reason: str
    notes: int | None
    agree: int | None
    rerun_of: UUID | None
    same_files: bool | None = Field(description="of a re-run: whether it made the same files as the render it repeats")
    made_by: str
    at: datetime
    started_at: datetime | None
    settled_at: datetime | None
    pruned_at: datetime | None


def render(row: models.Render) -> Json:
    """Return the answer for a render whose score version, template revision and author are joined."""
    template = row.template_revision
    return Render(
        id=row.pk, team=row.team_id, score=row.score_version.score_id, score_version=row.score_version.number,
        template=template.template_id if template else None, template_revision=template.number if template else None,
        inputs_digest=row.inputs_digest, engine_version=row.engine_version, state=row.state, attempt=row.attempt, progress=row.progress,
        reason=row.reason, notes=row.notes, agree=row.agree, rerun_of=row.rerun_of_id, same_files=row.same_files,
        made_by=row.made_by.name, at=row.at, started_at=row.started_at, settled_at=row.settled_at, pruned_at=row.pruned_at,
    ).json_data()  # fmt: skip


class Problems(Shape):
    """What was found in a score that could not be rendered; never empty."""

    kind: Literal["problems"]
    edition: Literal[1]
    problems: list[Finding]


class Outcome(RootModel[Report | Problems]):
    """What a render came to: its report, or why there is nothing to report."""


class RenderInput(Shape):
    """One frozen input. `ref` is the track's id for a map; `map` and `revision` say where a map's document came from."""

    role: Literal["score", "template", "map"]
    ref: str
    digest: str
    map: UUID | None
    revision: int | None
    made_by: str | None


class RenderInputs(Shape):
    """All inputs of a render: the document that `inputs_digest` names, and the rows that hold what it lists."""

    document: dict[str, Any]
    items: list[RenderInput]


class RenderFile(Shape):
    """One file that a render made."""

    name: str
    media_type: str
    size: int
    digest: str
    href: str


class RenderFiles(Shape):
    """The files of a render, by name."""

    items: list[RenderFile]


def render_file(row: models.RenderFile, href: str) -> RenderFile:
    """Return the answer for a file whose blob (without data) is joined."""
    return RenderFile(name=row.name, media_type=row.blob.media_type, size=row.blob.size, digest=row.blob.digest, href=href)


class ProposedPart(Shape):
    """Where one part goes by itself; without tracks it would be silent."""

    part: str
    name: str
    tracks: list[str]
    problems: list[str]


class Proposal(Shape):
    """A row for each part, in the order of the score."""

    parts: list[ProposedPart]


def proposal(rows: list[Json]) -> Json:
    """Return the answer."""
    return Proposal(parts=[ProposedPart(**row) for row in rows]).json_data()
