"""The one gate: who asks, what they see, what they may do.

Lists go through `Model.objects.visible_to(actor)`, single rows through `fetch`, ids inside of bodies through
`reference`. A row that is not visible does not exist: its answer is that of a random id.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from django.db import models

from mappings.errors import Forbidden, Invalid, NotFound
from mappings.grants import GRANTS, ROLE, Role
from mappings.models import Membership, Team, Token, User


@dataclass(frozen=True, slots=True, kw_only=True)
class Actor:
    """Who acts: a user, directly or by a token, with the roles that hold now. Made once, at the edge."""

    user: User
    token: Token | None = None
    roles: Mapping[uuid.UUID, Role] = field(default_factory=dict)
    request_id: str = ""

    @property
    def user_id(self) -> uuid.UUID:
        """Id of the user."""
        return self.user.pk

    @property
    def team_ids(self) -> list[uuid.UUID]:
        """Ids of the teams whose rows the actor sees."""
        return list(self.roles)

    @property
    def owned_team_ids(self) -> list[uuid.UUID]:
        """Ids of the teams that the actor owns."""
        return [team for team, role in self.roles.items() if role is Role.OWNER]

    @property
    def key(self) -> str:
        """Name of the actor for idempotency keys and throttles."""
        return f"token:{self.token.pk}" if self.token else f"user:{self.user.pk}"

    def may(self, team_id: uuid.UUID, action: str) -> bool:
        """Return whether the actor may do this in this team."""
        grant, role = GRANTS[action], self.roles.get(team_id)
        return role is not None and role >= grant.role and not (grant.session and self.token)


def actor_of(user: User, token: Token | None = None, request_id: str = "") -> Actor:
    """Return the actor for a user: all their teams; by a token its team only, and no more than its scopes allow."""
    memberships = Membership.objects.filter(user=user, team__archived_at=None)
    if token:
        memberships = memberships.filter(team_id=token.team_id)
    roles = {team: ROLE[role] for team, role in memberships.values_list("team_id", "role")}
    if token and token.scopes == "read":
        roles = dict.fromkeys(roles, Role.READER)
    return Actor(user=user, token=token, roles=roles, request_id=request_id)


RowT = TypeVar("RowT", bound=models.Model)


def fetch(actor: Actor, model: type[RowT], pk: uuid.UUID, action: str, *related: str) -> RowT:
    """Return the row, with related rows joined; NotFound where it is not visible, Forbidden where the role is too weak."""
    rows = model.objects.visible_to(actor).select_related(*related) if related else model.objects.visible_to(actor)  # type: ignore[attr-defined]
    row: RowT | None = rows.filter(pk=pk).first()
    if row is None:
        raise NotFound
    demand(actor, team_id(row), action)
    return row


def demand(actor: Actor, team: uuid.UUID, action: str) -> None:
    """Raise Forbidden unless the actor may do this in this team."""
    if not actor.may(team, action):
        raise Forbidden


def reference(actor: Actor, model: type[RowT], pk: uuid.UUID, *, action: str, team: uuid.UUID, pointer: str) -> RowT:
    """Return the row that a body names; another team's id and one without rights read like an unknown id: Invalid."""
    row: RowT | None = model.objects.visible_to(actor).filter(pk=pk).first()  # type: ignore[attr-defined]
    if row is None or team_id(row) != team or not actor.may(team, action):
        raise unknown(pointer)
    return row


def unknown(pointer: str) -> Invalid:
    """Return the refusal of an id, or of a number, that names nothing."""
    return Invalid(errors=[{"pointer": pointer, "code": "unknown-reference", "detail": "This names nothing that this team has."}])


def team_id(row: models.Model) -> uuid.UUID:
    """Return the id of the team that a row belongs to; of a team, its own."""
    found: uuid.UUID = row.pk if isinstance(row, Team) else row.team_id  # type: ignore[attr-defined]
    return found
