"""Tokens for programs: 256 random bits that are shown once and kept as a digest."""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets
from collections.abc import Collection
from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from mappings.access import Actor
from mappings.errors import Invalid
from mappings.models import Team, Token
from mappings.services import audit

LONGEST = timedelta(days=366)
FORM = re.compile(r"rip_([a-z0-9]{8})_([A-Za-z0-9_-]{43})")
ALPHABET = "abcdefghijklmnopqrstuvwxyz0123456789"


@transaction.atomic
def create(actor: Actor, *, team: Team, name: str, scopes: Collection[str], expires_at: datetime) -> tuple[Token, str]:
    """Return a new token of the actor for one team, and its secret, which nobody can be shown again."""
    now = timezone.now()
    if not now < expires_at <= now + LONGEST:
        raise Invalid(errors=[{"pointer": "/expires_at", "code": "expiry", "detail": "This must be within a year from now."}])
    lookup, secret = "".join(secrets.choice(ALPHABET) for _ in range(8)), secrets.token_urlsafe(32)
    stored = "read write" if "write" in scopes else "read"
    token = Token(team=team, user=actor.user, name=name, lookup=lookup, digest=_digest(secret), scopes=stored, expires_at=expires_at)
    token.save(force_insert=True)
    audit.record(actor, "token.create", token, scopes=stored)
    return token, f"rip_{lookup}_{secret}"


@transaction.atomic
def revoke(actor: Actor, *, token: Token) -> None:
    """Make a token void from the next request on."""
    if Token.objects.filter(pk=token.pk, revoked_at=None).update(revoked_at=timezone.now()):
        audit.record(actor, "token.revoke", token)


def find(sent: str) -> Token | None:
    """Return the valid token that a secret belongs to, with its user joined; None for anything else."""
    form = FORM.fullmatch(sent)
    if form is None:
        return None
    alive = Token.objects.filter(revoked_at=None, expires_at__gt=timezone.now(), user__is_active=True, team__archived_at=None)
    token: Token | None = alive.select_related("user").filter(lookup=form[1]).first()
    if token is None or not hmac.compare_digest(token.digest, _digest(form[2])):
        return None
    return token


def mark_used(token: Token) -> None:
    """Note the day of use, once a day."""
    today = timezone.now().date()
    if token.last_used_on != today:
        Token.objects.filter(pk=token.pk).update(last_used_on=today)


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
