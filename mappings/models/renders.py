"""Renders: frozen inputs, a state, files and a report."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.db.models import F, Q

from mappings.models.base import SortedRow, TeamQuerySet, TeamRow, in_list
from mappings.models.jobs import TRIES, Leased
from mappings.models.keeping import Blob, Document
from mappings.models.maps import Map
from mappings.models.people import User
from mappings.models.scores import ScoreVersion
from mappings.models.templates import TemplateRevision

STATES = ("queued", "running", "done", "failed", "cancelled")
OPEN = ("queued", "running")


class Render(SortedRow, Leased):
    """One run over frozen inputs.

    inputs, inputs_digest  the document that lists every input by digest, and its digest
    notes, agree           notes of the playback proof, and those heard as chosen
    same_files             of a re-run: whether its files are those of the render it repeats; None = nothing to compare
    pruned_at              when the files were dropped; the row, the inputs and the report stay
    """

    WAITING, RUNNING, FAILED, CANCELLED = "queued", "running", "failed", "cancelled"

    score_version = models.ForeignKey(ScoreVersion, on_delete=models.PROTECT, related_name="renders")
    template_revision = models.ForeignKey(TemplateRevision, on_delete=models.PROTECT, related_name="renders", null=True)
    inputs = models.ForeignKey(Document, on_delete=models.PROTECT, related_name="+")
    inputs_digest = models.CharField(max_length=64)
    engine_version = models.CharField(max_length=40)
    rerun_of = models.ForeignKey("self", on_delete=models.PROTECT, related_name="reruns", null=True)
    report = models.ForeignKey(Document, on_delete=models.PROTECT, related_name="+", null=True)
    notes = models.PositiveIntegerField(null=True)
    agree = models.PositiveIntegerField(null=True)
    same_files = models.BooleanField(null=True)
    pruned_at = models.DateTimeField(null=True)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", db_index=False)
    at = models.DateTimeField(auto_now_add=True)

    objects: ClassVar[Any] = TeamQuerySet.as_manager()

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint("team", F("sort").desc(), name="render_sort"),
            in_list("state", STATES, "render_state"),
            models.CheckConstraint(
                condition=Q(state="running", lease_until__isnull=False) | (~Q(state="running") & Q(lease_until=None)), name="render_lease"
            ),
            models.CheckConstraint(condition=Q(attempt__lte=TRIES), name="render_attempt"),
            models.CheckConstraint(condition=Q(agree=None) | Q(agree__lte=F("notes")), name="render_agree"),
        ]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["team"], condition=Q(state__in=OPEN), name="render_open_of_team"),
            models.Index(fields=["state", "lease_until"], condition=Q(state__in=OPEN), name="render_open"),
        ]


class RenderInput(TeamRow):
    """One frozen input. `ref` is the track's id for a map, else ""; `map` and `number` say where a map document came from."""

    render = models.ForeignKey(Render, on_delete=models.CASCADE, related_name="frozen", db_index=False)
    role = models.CharField(max_length=12)
    ref = models.CharField(max_length=100, default="", blank=True)
    document = models.ForeignKey(Document, on_delete=models.PROTECT, related_name="+", null=True)
    blob = models.ForeignKey(Blob, on_delete=models.PROTECT, related_name="+", null=True)
    map = models.ForeignKey(Map, on_delete=models.PROTECT, related_name="+", null=True)
    number = models.PositiveIntegerField(null=True)

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["render", "role", "ref"], name="render_input_once"),
            models.CheckConstraint(
                condition=Q(document=None, blob__isnull=False) | Q(document__isnull=False, blob=None), name="render_input_one"
            ),
        ]


class RenderFile(TeamRow):
    """One file that a render made. `name` holds at most one folder: "all.mid", "tracks/01 Violins.mid"."""

    render = models.ForeignKey(Render, on_delete=models.CASCADE, related_name="files", db_index=False)
    name = models.CharField(max_length=200)
    blob = models.ForeignKey(Blob, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[Any]] = [models.UniqueConstraint(fields=["render", "name"], name="render_file_once")]
