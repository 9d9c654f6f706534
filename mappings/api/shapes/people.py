"""Answers about teams, members, tokens and the log."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, Literal
from uuid import UUID

from mappings import grants, models
from mappings.access import Actor
from mappings.api.shapes.base import Json, Shape

Role = Literal["reader", "editor", "owner"]


class Team(Shape):
    """A team, and one's role in it."""

    id: UUID
    name: str
    slug: str
    role: Role
    bytes_used: int
    version: int
    at: datetime


def team(row: models.Team, actor: Actor) -> Json:
    """Return the answer for a team; who is not in the list of its members has just made it."""
    role = actor.roles.get(row.pk, grants.Role.OWNER).word
    return Team(
        id=row.pk, name=row.name, slug=row.slug, role=role, bytes_used=row.bytes_used, version=row.version, at=row.at
    ).json_data()  # fmt: skip


class Person(Shape):
    """A user."""

    id: UUID
    name: str
    email: str


def person(row: models.User) -> Person:
    """Return the answer for a user."""
    return Person(id=row.pk, name=row.name, email=row.email)


class Me(Shape):
    """Who one is. `token` is the token's id, if one acts by a token; `teams` maps team ids to roles that hold now."""

    user: Person
    token: UUID | None
    teams: dict[UUID, Role]


def me(actor: Actor) -> Json:
    """Return the answer for the actor."""
    roles = {team: role.word for team, role in actor.roles.items()}
    return Me(user=person(actor.user), token=actor.token.pk if actor.token else None, teams=roles).json_data()


class Member(Shape):
    """A member of a team."""

    user: Person
    role: Role
    at: datetime


def member(row: models.Membership) -> Json:
    """Return the answer for a membership whose user is joined."""
    return Member(user=person(row.user), role=row.role, at=row.at).json_data()


class Token(Shape):
    """A token; its secret is kept nowhere."""

    id: UUID
    name: str
    user: Person
    scopes: list[Literal["read", "write"]]
    at: datetime
    expires_at: datetime
    last_used_on: date | None


class NewToken(Token):
    """A token just made; `secret` is shown this once."""

    secret: str


def token(row: models.Token, secret: str = "") -> Json:
    """Return the answer for a token whose user is joined; with its secret where it was just made."""
    said: Json = {
        "id": row.pk, "name": row.name, "user": person(row.user), "scopes": row.scopes.split(), "at": row.at,
        "expires_at": row.expires_at, "last_used_on": row.last_used_on,
    }  # fmt: skip
    return NewToken(**said, secret=secret).json_data() if secret else Token(**said).json_data()


class AuditRow(Shape):
    """One thing that was done. `actor` is the label of that time: it stays when the person has left."""

    id: UUID
    actor: str
    token: UUID | None
    verb: str
    subject_kind: str
    subject: UUID
    from_version: int | None
    to_version: int | None
    request_id: str
    details: dict[str, Any]
    at: datetime


def audit(row: models.Audit) -> Json:
    """Return the answer for an audit row."""
    return AuditRow(
        id=row.pk, actor=row.actor_label, token=row.token_id, verb=row.verb, subject_kind=row.subject_kind, subject=row.subject_id,
        from_version=row.from_version, to_version=row.to_version, request_id=row.request_id, details=row.details, at=row.at,
    ).json_data()  # fmt: skip
