"""Articulation maps: a head row with a version, immutable revisions, derived rows for search."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from mappings.models.base import TeamRow, in_list
from mappings.models.keeping import Document
from mappings.models.libraries import Instrument, Named
from mappings.models.people import User


class Map(Named):
    """The head of an articulation map.

    version  counts every change, of content and of metadata; it names the state in an ETag
    current  number of the revision in force
    sound    of that revision's document
    """

    instrument = models.ForeignKey(Instrument, on_delete=models.PROTECT, related_name="maps", db_index=False)
    current = models.PositiveIntegerField(default=1)
    sound = models.CharField(max_length=100)
    origin_digest = models.CharField(max_length=64, null=True)

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["instrument", "name_key"], condition=Q(archived_at=None), name="map_name_once"),
            models.UniqueConstraint("team", models.F("sort").desc(), name="map_sort"),
        ]
        indexes: ClassVar[list[models.Index]] = [models.Index(fields=["team", "sound"], name="map_sound")]


class Revision(TeamRow):
    """One immutable, numbered state of a head row's document."""

    team = models.ForeignKey("mappings.Team", on_delete=models.PROTECT, related_name="+", db_index=False)
    number = models.PositiveIntegerField()
    document = models.ForeignKey(Document, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=500, default="", blank=True)
    restored_from = models.PositiveIntegerField(null=True)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", db_index=False)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        abstract = True


class MapRevision(Revision):
    """One state of a map."""

    map = models.ForeignKey(Map, on_delete=models.PROTECT, related_name="revisions", db_index=False)

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["map", "number"], name="map_revision_once"),
            models.CheckConstraint(condition=Q(number__gt=0), name="map_revision_number"),
        ]


HOW = ("exact", "in set", "stand-in")


class MapMark(TeamRow):
    """A mark that the current revision of a map can play, and how; derived, rebuilt with each revision."""

    team = models.ForeignKey("mappings.Team", on_delete=models.PROTECT, related_name="+", db_index=False)
    map = models.ForeignKey(Map, on_delete=models.CASCADE, related_name="marks", db_index=False)
    axis = models.CharField(max_length=20)
    mark = models.CharField(max_length=40)
    how = models.CharField(max_length=8)

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["map", "axis", "mark"], name="map_mark_once"),
            in_list("how", HOW, "map_mark_how"),
        ]
        indexes: ClassVar[list[models.Index]] = [models.Index(fields=["team", "mark", "map"], name="map_mark_search")]
