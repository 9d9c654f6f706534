"""Rows that keep the service honest: idempotency keys, the audit log, counters."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models

from mappings.models.base import SortedRow
from mappings.models.people import Token, User


class IdempotencyKey(models.Model):
    """A create that was answered, kept for a day, so that a repeated request gets the same answer."""

    actor = models.CharField(max_length=80)
    key = models.CharField(max_length=100)
    fingerprint = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(null=True)
    location = models.CharField(max_length=300, default="", blank=True)
    etag = models.CharField(max_length=80, default="", blank=True)
    body = models.JSONField(null=True)
    secret = models.BooleanField(default=False)  # the answer held a secret, which is not kept
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints: ClassVar[list[Any]] = [models.UniqueConstraint(fields=["actor", "key"], name="idempotency_key_once")]
        indexes: ClassVar[list[models.Index]] = [models.Index(fields=["at"], name="idempotency_key_age")]


class Audit(SortedRow):
    """Who did what to which row, from which version to which; append-only, one row a service call."""

    actor = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, db_index=False)
    actor_label = models.CharField(max_length=254)
    token = models.ForeignKey(Token, on_delete=models.PROTECT, related_name="+", null=True, db_index=False)
    verb = models.CharField(max_length=40)
    subject_kind = models.CharField(max_length=20)
    subject_id = models.UUIDField()
    from_version = models.PositiveIntegerField(null=True)
    to_version = models.PositiveIntegerField(null=True)
    request_id = models.CharField(max_length=32, default="", blank=True)
    details = models.JSONField(default=dict)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints: ClassVar[list[Any]] = [models.UniqueConstraint("team", models.F("sort").desc(), name="audit_sort")]
        indexes: ClassVar[list[models.Index]] = [models.Index(fields=["subject_id", "sort"], name="audit_subject")]


class Counter(models.Model):
    """How often something happened in a window of time, for throttles that all processes share."""

    key = models.CharField(max_length=100)
    window = models.BigIntegerField()
    count = models.PositiveIntegerField(default=0)

    class Meta:
        constraints: ClassVar[list[Any]] = [models.UniqueConstraint(fields=["key", "window"], name="counter_once")]
