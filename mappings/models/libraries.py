"""Sample libraries and their virtual instruments."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from mappings.models.base import ArchivedQuerySet, SortedRow, in_list, name_key


class Named(SortedRow):
    """A row with a name that is unique, folded, among its unarchived siblings; archiving frees the name."""

    name = models.CharField(max_length=100)
    name_key = models.CharField(max_length=200, editable=False)
    version = models.PositiveIntegerField(default=1)
    at = models.DateTimeField(auto_now_add=True)
    archived_at = models.DateTimeField(null=True)

    objects: ClassVar[Any] = ArchivedQuerySet.as_manager()

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save, with the name folded for comparison."""
        self.name_key = name_key(self.name)
        super().save(*args, **kwargs)


class Library(Named):
    """A sample library that the team works with."""

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["team", "name_key"], condition=Q(archived_at=None), name="library_name_once"),
            models.UniqueConstraint("team", models.F("sort").desc(), name="library_sort"),
        ]


PLAYERS = ("", "solo", "ensemble")


class Instrument(Named):
    """A virtual instrument of a library. `sound` is a MusicXML instrument sound; `players` "" means either."""

    library = models.ForeignKey(Library, on_delete=models.PROTECT, related_name="instruments", db_index=False)
    sound = models.CharField(max_length=100)
    players = models.CharField(max_length=8, default="", blank=True)

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["library", "name_key"], condition=Q(archived_at=None), name="instrument_name_once"),
            models.UniqueConstraint("team", models.F("sort").desc(), name="instrument_sort"),
            in_list("players", PLAYERS, "instrument_players"),
        ]
