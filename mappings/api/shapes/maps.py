"""Answers about libraries, instruments, maps and templates."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Literal
from uuid import UUID

from pydantic import Field

from mappings import models
from mappings.api.shapes.base import Fault, Json, Shape
from mappings.services.revisions import Saved


class Library(Shape):
    """A sample library."""

    id: UUID
    team: UUID
    name: str
    version: int
    at: datetime


def library(row: models.Library) -> Json:
    """Return the answer for a library."""
    return Library(id=row.pk, team=row.team_id, name=row.name, version=row.version, at=row.at).json_data()


class Instrument(Shape):
    """A virtual instrument."""

    id: UUID
    team: UUID
    library: UUID
    name: str
    sound: str
    players: Literal["", "solo", "ensemble"]
    version: int
    at: datetime


def instrument(row: models.Instrument) -> Json:
    """Return the answer for an instrument."""
    return Instrument(
        id=row.pk, team=row.team_id, library=row.library_id, name=row.name, sound=row.sound, players=row.players, version=row.version,
        at=row.at,
    ).json_data()  # fmt: skip


class MapHead(Shape):
    """The head of an articulation map; `revision` is the current one's number."""

    id: UUID
    team: UUID
    instrument: UUID
    name: str
    sound: str
    version: int
    revision: int
    origin_digest: str | None = Field(description="digest of the document that it was copied from")
    at: datetime


class SavedMap(MapHead):
    """A map just saved: its document's digest, and what was remarked on it."""

    digest: str
    problems: list[Fault]


def _map(row: models.Map) -> Json:
    return {
        "id": row.pk, "team": row.team_id, "instrument": row.instrument_id, "name": row.name, "sound": row.sound, "version": row.version,
        "revision": row.current, "origin_digest": row.origin_digest, "at": row.at,
    }  # fmt: skip


def map_(row: models.Map) -> Json:
    """Return the answer for a map."""
    return MapHead(**_map(row)).json_data()


def saved_map(saved: Saved[models.Map]) -> Json:
    """Return the answer for a map just saved."""
    return _without_absent(SavedMap(**_map(saved.head), **_saved(saved)))


def _saved(saved: Saved[Any]) -> Json:
    return {"digest": saved.revision.document.digest, "problems": saved.problems}


def _without_absent(shape: Shape) -> Json:
    said = shape.json_data()
    said["problems"] = [{name: value for name, value in fault.items() if value is not None} for fault in said["problems"]]
    return said


class TemplateHead(Shape):
    """The head of a template; `revision` is the current one's number."""

    id: UUID
    team: UUID
    name: str
    version: int
    revision: int
    origin_digest: str | None = Field(description="digest of the document that it was copied from")
    at: datetime


class SavedTemplate(TemplateHead):
    """A template just saved: its document's digest, and what was remarked on it."""

    digest: str
    problems: list[Fault]


def _template(row: models.Template) -> Json:
    return {
        "id": row.pk, "team": row.team_id, "name": row.name, "version": row.version, "revision": row.current,
        "origin_digest": row.origin_digest, "at": row.at,
    }  # fmt: skip


def template(row: models.Template) -> Json:
    """Return the answer for a template."""
    return TemplateHead(**_template(row)).json_data()


def saved_template(saved: Saved[models.Template]) -> Json:
    """Return the answer for a template just saved."""
    return _without_absent(SavedTemplate(**_template(saved.head), **_saved(saved)))


class Revision(Shape):
    """One state of a map or template."""

    number: int
    digest: str
    note: str
    restored_from: int | None
    made_by: str
    at: datetime


def revision(row: Any) -> Json:
    """Return the answer for a revision whose document and author are joined."""
    return Revision(
        number=row.number, digest=row.document.digest, note=row.note, restored_from=row.restored_from, made_by=row.made_by.name, at=row.at
    ).json_data()


class Change(Shape):
    """One difference between two revisions; the pointer of something removed leads into the earlier one."""

    pointer: str
    change: Literal["added", "removed", "changed", "moved"]
    from_: Any = Field(default=None, alias="from")
    to: Any = None


class Difference(Shape):
    """What differs between two revisions: as a list of places, and as text."""

    from_: int = Field(alias="from")
    to: int
    changes: list[Change]
    text: str


def difference(before: int, to: int, changes: list[Json], text: str) -> Json:
    """Return the answer for the difference of two revisions."""
    return {"from": before, "to": to, "changes": changes, "text": text}


class Checked(Shape):
    """What a check of a document found; `digest` is that of its canonical form, null where it cannot be taken."""

    kind: str | None
    digest: str | None
    problems: list[Fault]


class Drift(Shape):
    """A track whose map has gone on: *behind* a newer revision, or *moved* since this template's last render."""

    track: str
    name: str
    map: UUID
    pinned: int | None
    current: int
    drift: Literal["behind", "moved"]
    rendered: int | None = Field(description="the revision of the last render, for a track that follows")
    changes: list[Change]
    lost: list[str] = Field(description="marks that the newer revision no longer plays")
    gained: list[str]


class Drifts(Shape):
    """The drifting tracks of a template, in order."""

    items: list[Drift]
