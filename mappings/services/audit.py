"""The log of who did what."""

from __future__ import annotations

import uuid
from typing import Any

from django.db import models

from mappings.access import Actor, team_id
from mappings.models import Audit


def record(
    actor: Actor,
    verb: str,
    subject: models.Model,
    *,
    team: uuid.UUID | None = None,
    from_version: int | None = None,
    to_version: int | None = None,
    **details: Any,
) -> None:
    """Append one row; called once in each service, inside its transaction."""
    Audit(
        team_id=team or team_id(subject),
        actor=actor.user,
        actor_label=f"{actor.user.name} <{actor.user.email}>",
        token=actor.token,
        verb=verb,
        subject_kind=type(subject).__name__.lower(),
        subject_id=subject.pk,
        from_version=from_version,
        to_version=to_version,
        request_id=actor.request_id,
        details=details,
    ).insert()
