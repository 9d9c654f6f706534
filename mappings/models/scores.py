"""Scores and their versions: the files as they were sent, and what was read in them."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from mappings.models.base import ArchivedQuerySet, SortedRow, TeamQuerySet, TeamRow, in_list
from mappings.models.jobs import TRIES, Leased
from mappings.models.keeping import Blob, Document
from mappings.models.people import User


class Score(SortedRow):
    """The head of a score; `current` is the number of its newest version."""

    title = models.CharField(max_length=200)
    version = models.PositiveIntegerField(default=1)
    current = models.PositiveIntegerField(default=1)
    at = models.DateTimeField(auto_now_add=True)
    archived_at = models.DateTimeField(null=True)

    objects: ClassVar[Any] = ArchivedQuerySet.as_manager()

    class Meta:
        constraints: ClassVar[list[Any]] = [models.UniqueConstraint("team", models.F("sort").desc(), name="score_sort")]

    def __str__(self) -> str:
        return self.title


class ScoreVersion(TeamRow, Leased):
    """One file of a score.

    state     reading, ready or refused
    summary   what was read (parts, measures, marks); None until ready
    problems  what was found while reading; None until read
    """

    WAITING = RUNNING = "reading"
    FAILED = CANCELLED = "refused"
    STATES = ("reading", "ready", "refused")

    score = models.ForeignKey(Score, on_delete=models.PROTECT, related_name="versions", db_index=False)
    number = models.PositiveIntegerField()
    blob = models.ForeignKey(Blob, on_delete=models.PROTECT, related_name="+")
    summary = models.ForeignKey(Document, on_delete=models.PROTECT, related_name="+", null=True)
    problems = models.ForeignKey(Document, on_delete=models.PROTECT, related_name="+", null=True)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", db_index=False)
    at = models.DateTimeField(auto_now_add=True)

    objects: ClassVar[Any] = TeamQuerySet.as_manager()

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["score", "number"], name="score_version_once"),
            in_list("state", ("reading", "ready", "refused"), "score_version_state"),
            models.CheckConstraint(condition=Q(attempt__lte=TRIES), name="score_version_attempt"),
            models.CheckConstraint(condition=Q(state="reading") | Q(lease_until=None), name="score_version_lease"),
        ]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["lease_until"], condition=Q(state="reading"), name="score_version_open"),
        ]
