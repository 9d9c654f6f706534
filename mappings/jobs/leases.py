"""Who carries a row: one conditional UPDATE each to take it, to stay its carrier, to end it."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import Count, F, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.utils import timezone

from mappings.models import Render, ScoreVersion
from mappings.models.jobs import TRIES

Row = Any  # a Render or a ScoreVersion
Model = type[Render] | type[ScoreVersion]


class Gone(Exception):
    """Cancelled, or another attempt holds the row."""


def _lost(model: Model, now: datetime) -> Q:
    return Q(state=model.RUNNING, lease_until__lt=now)


def claim(model: Model, pk: uuid.UUID) -> Row | None:
    """Return the row, taken by this attempt; None where it is taken, settled, cancelled, given up, or its team's turn is not yet."""
    now = timezone.now()
    rows = model.objects.filter(model.waiting() | _lost(model, now), pk=pk, cancel_requested_at=None, attempt__lt=TRIES)
    if model is Render:
        rows = rows.alias(busy=_running_in_team(now)).filter(busy__lt=settings.RUNNING_PER_TEAM)
    won = rows.update(
        state=model.RUNNING, attempt=F("attempt") + 1, lease_until=now + settings.LEASE, started_at=Coalesce("started_at", now), progress=0
    )
    return model.objects.get(pk=pk) if won else None


def _running_in_team(now: datetime) -> Coalesce:
    """How many other renders of the row's team are being carried: no team may take all slots."""
    others = Render.objects.filter(team=OuterRef("team"), state="running", lease_until__gte=now).exclude(pk=OuterRef("pk"))
    return Coalesce(Subquery(others.order_by().values("team").annotate(n=Count("pk")).values("n")), 0)


def _mine(row: Row) -> QuerySet[Any]:
    rows: QuerySet[Any] = type(row).objects.filter(pk=row.pk, state=row.RUNNING, attempt=row.attempt, lease_until__isnull=False)
    return rows


def beat(row: Row, progress: int) -> None:
    """Prolong the lease and note the progress; Gone where the row is cancelled or another attempt's."""
    alive = _mine(row).filter(cancel_requested_at=None)
    if not alive.update(lease_until=timezone.now() + settings.LEASE, progress=progress):
        raise Gone


def settle(row: Row, state: str, reason: str = "", **fields: Any) -> bool:
    """End the row; False, and nothing written, where another attempt holds it."""
    ended = _mine(row).update(state=state, reason=reason[:300], lease_until=None, settled_at=timezone.now(), **fields)
    return bool(ended)


@contextmanager
def settling(row: Row) -> Iterator[bool]:
    """Hold the row in a transaction while it is settled with its files; yields False where another attempt holds it."""
    with transaction.atomic():
        yield _mine(row).select_for_update().first() is not None


def sweep(model: Model) -> list[uuid.UUID]:
    """Settle cancelled rows without a carrier and rows given up; return the ids to be carried, oldest first."""
    now = timezone.now()
    open_rows, ended = model.waiting() | _lost(model, now), {"lease_until": None, "settled_at": now}
    cancelled = model.objects.filter(open_rows, cancel_requested_at__isnull=False)
    cancelled.update(state=model.CANCELLED, reason="cancelled", **ended)
    given_up = model.objects.filter(_lost(model, now), attempt__gte=TRIES)
    given_up.update(state=model.FAILED, reason=f"its carrier was lost {TRIES} times – given up", **ended)
    order = "sort" if model is Render else "at"
    return list(model.objects.filter(open_rows).order_by(order).values_list("pk", flat=True)[:200])
