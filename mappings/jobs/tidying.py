"""What is swept out now and then: left-over folders, old keys and counters, files that nothing refers to any more."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Exists, F, OuterRef, QuerySet
from django.db.models.functions import Length
from django.utils import timezone

from mappings.jobs import children
from mappings.models import Blob, Counter, IdempotencyKey, RenderFile, RenderInput, ScoreVersion, Team

KEYS_LIVE = timedelta(hours=24)
BLOBS_LIVE = timedelta(days=7)
AT_ONCE = 100


def tidy() -> None:
    """Do all of it; any number of processes may do so at once."""
    children.tidy()
    now = timezone.now()
    IdempotencyKey.objects.filter(at__lt=now - KEYS_LIVE).delete()
    Counter.objects.filter(window__lt=(now - KEYS_LIVE).timestamp()).delete()
    for blob in _unreferenced()[:AT_ONCE]:
        _drop(blob)


def _unreferenced() -> QuerySet[Any]:
    """Return old blobs that no version, input or file refers to, annotated with what they take (`taken`, bytes)."""
    users = [Exists(model.objects.filter(blob=OuterRef("pk"))) for model in (ScoreVersion, RenderInput, RenderFile)]
    old = Blob.objects.defer("data").filter(at__lt=timezone.now() - BLOBS_LIVE).annotate(taken=Length("data"))
    unused: QuerySet[Any] = old.exclude(users[0]).exclude(users[1]).exclude(users[2])
    return unused


def _drop(blob: Any) -> None:
    """Delete a blob and give its bytes back to the team; one that came into use meanwhile stays."""
    try:
        with transaction.atomic():
            deleted, _ = Blob.objects.filter(pk=blob.pk).delete()
            if deleted:
                Team.objects.filter(pk=blob.team_id).update(bytes_used=F("bytes_used") - blob.taken)
    except IntegrityError:  # ProtectedError is one, too
        return
