"""Counters that all processes share, against those who try too often."""

from __future__ import annotations

import time

from django.db import transaction
from django.db.models import F

from mappings.errors import TooMany
from mappings.models import Counter


@transaction.atomic
def hit(key: str, *, most: int, seconds: int) -> None:
    """Count one try in the current window of time; TooMany beyond the most."""
    now = int(time.time())
    window = now - now % seconds
    row, _ = Counter.objects.get_or_create(key=key[:100], window=window)
    Counter.objects.filter(pk=row.pk).update(count=F("count") + 1)
    if row.count >= most:
        raise TooMany(f"too many tries – try again in {window + seconds - now} s", retry_after=window + seconds - now)
