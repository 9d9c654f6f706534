"""Templates of tracks: a head row, immutable revisions, derived rows of tracks."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from mappings.models.base import TeamRow
from mappings.models.libraries import Named
from mappings.models.maps import Map, Revision


class Template(Named):
    """The head of a template; fields as of `Map`."""

    current = models.PositiveIntegerField(default=1)
    origin_digest = models.CharField(max_length=64, null=True)

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["team", "name_key"], condition=Q(archived_at=None), name="template_name_once"),
            models.UniqueConstraint("team", models.F("sort").desc(), name="template_sort"),
        ]


class TemplateRevision(Revision):
    """One state of a template."""

    template = models.ForeignKey(Template, on_delete=models.PROTECT, related_name="revisions", db_index=False)

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["template", "number"], name="template_revision_once"),
            models.CheckConstraint(condition=Q(number__gt=0), name="template_revision_number"),
        ]


class TemplateTrack(TeamRow):
    """A track of a template's current revision; derived. `pinned` is the map's revision, None = follows."""

    template = models.ForeignKey(Template, on_delete=models.CASCADE, related_name="tracks", db_index=False)
    position = models.PositiveIntegerField()
    track = models.CharField(max_length=100)
    name = models.CharField(max_length=200)
    map = models.ForeignKey(Map, on_delete=models.PROTECT, related_name="tracks")
    pinned = models.PositiveIntegerField(null=True)
    channel = models.PositiveSmallIntegerField(null=True)
    port = models.PositiveSmallIntegerField(null=True)

    class Meta:
        constraints: ClassVar[list[Any]] = [models.UniqueConstraint(fields=["template", "position"], name="template_track_once")]
