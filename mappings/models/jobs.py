"""What readings and renders share: the row itself owns state, attempt and lease."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

TRIES = 3


class Leased(models.Model):
    """A row that a carrier works on.

    attempt      raised by each claim; every later write of the carrier compares it, so that an older carrier changes nothing
    lease_until  until when the carrier is believed to live; None = nobody carries it
    step         what is being done, for people; progress: thousandths of that step
    reason       why it ended as it did; "" where it ended well
    WAITING, RUNNING, FAILED, CANCELLED  the values of `state` that mean these
    """

    state = models.CharField(max_length=9)
    attempt = models.PositiveSmallIntegerField(default=0)
    lease_until = models.DateTimeField(null=True)
    cancel_requested_at = models.DateTimeField(null=True)
    step = models.CharField(max_length=30, default="", blank=True)
    progress = models.PositiveSmallIntegerField(default=0)
    reason = models.CharField(max_length=300, default="", blank=True)
    started_at = models.DateTimeField(null=True)
    settled_at = models.DateTimeField(null=True)

    WAITING: ClassVar[str]
    RUNNING: ClassVar[str]
    FAILED: ClassVar[str]
    CANCELLED: ClassVar[str]

    class Meta:
        abstract = True

    @classmethod
    def waiting(cls) -> models.Q:
        """Return the condition that nobody has begun, or that the last carrier gave the row back."""
        return models.Q(state=cls.WAITING, lease_until=None)
