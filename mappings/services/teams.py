"""Teams and their members."""

from __future__ import annotations

import secrets

from django.db import transaction
from django.utils import timezone
from django.utils.text import slugify

from mappings.access import Actor
from mappings.errors import Conflict, Forbidden
from mappings.grants import Role
from mappings.models import Membership, Team, Token, User
from mappings.services import audit, heads


@transaction.atomic
def create(actor: Actor, *, name: str) -> Team:
    """Return a new team that the actor owns. Its slug is made of its name, and made unique where needed."""
    if actor.token:
        raise Forbidden
    team = Team(name=name, slug=_free_slug(name))
    team.save(force_insert=True)
    Membership(team=team, user=actor.user, role=Role.OWNER.word).save(force_insert=True)
    audit.record(actor, "team.create", team, to_version=1)
    return team


def _free_slug(name: str) -> str:
    slug = slugify(name)[:50].strip("-") or "team"
    taken = Team.objects.filter(slug=slug).exists()
    return f"{slug}-{secrets.token_hex(4)}" if taken else slug


@transaction.atomic
def rename(actor: Actor, *, team: Team, expected: int | None, name: str) -> Team:
    """Return the team under another name; its slug stays, since links hold it."""
    held = heads.hold(team, expected)
    held.name = name
    version = heads.bump(held, "name")
    audit.record(actor, "team.rename", held, from_version=version - 1, to_version=version)
    return held


@transaction.atomic
def archive(actor: Actor, *, team: Team, expected: int | None) -> Team:
    """Hide a team from everybody; nothing is removed yet."""
    held = heads.hold(team, expected)
    version = heads.archive(held)
    audit.record(actor, "team.archive", held, from_version=version - 1, to_version=version)
    return held


@transaction.atomic
def set_role(actor: Actor, *, team: Team, user: User, role: str) -> Membership:
    """Return the member's membership with another role; Conflict where the team would be without an owner."""
    heads.hold(team, None)
    membership = Membership.objects.select_related("user").get(team=team, user=user)
    before, membership.role = membership.role, role
    _keep_an_owner(team, user, before, after=role)
    membership.save(update_fields=["role"])
    audit.record(actor, "member.role", user, team=team.pk, role={"from": before, "to": role})
    found: Membership = membership
    return found


@transaction.atomic
def remove_member(actor: Actor, *, team: Team, user: User) -> None:
    """End a membership, and with it the member's tokens; only owners remove others."""
    if actor.user_id != user.pk and actor.roles[team.pk] is not Role.OWNER:
        raise Forbidden
    heads.hold(team, None)
    membership = Membership.objects.get(team=team, user=user)
    _keep_an_owner(team, user, membership.role, after="")
    membership.delete()
    Token.objects.filter(team=team, user=user, revoked_at=None).update(revoked_at=timezone.now())
    audit.record(actor, "member.remove", user, team=team.pk, role={"from": membership.role, "to": ""})


def _keep_an_owner(team: Team, user: User, before: str, after: str) -> None:
    """Raise Conflict where this change takes the last owner away; the team's row is held, so counting is safe."""
    owner = Role.OWNER.word
    others = Membership.objects.filter(team=team, role=owner).exclude(user=user)
    if before == owner and after != owner and not others.exists():
        raise Conflict("role: this is the team's last owner – make somebody else an owner first", code="last-owner")
