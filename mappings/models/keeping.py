"""Documents and blobs: written once, never changed; named by the digest of their bytes, within a team."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models

from mappings.models.base import TeamRow

BLOB_LIMIT = 64 * 1024**2  # bytes of a blob before it is deflated


class Document(TeamRow):
    """A JSON document as the exact text whose bytes were hashed; never re-serialised."""

    team = models.ForeignKey("mappings.Team", on_delete=models.PROTECT, related_name="+", db_index=False)
    digest = models.CharField(max_length=64)
    kind = models.CharField(max_length=30)
    edition = models.PositiveSmallIntegerField()
    body = models.TextField()
    size = models.PositiveIntegerField()
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints: ClassVar[list[Any]] = [models.UniqueConstraint(fields=["team", "digest"], name="document_once")]


class Blob(TeamRow):
    """Bytes of a file, deflated; `size` and `digest` are those of the bytes before."""

    team = models.ForeignKey("mappings.Team", on_delete=models.PROTECT, related_name="+", db_index=False)
    digest = models.CharField(max_length=64)
    media_type = models.CharField(max_length=100)
    size = models.PositiveIntegerField()
    data = models.BinaryField()
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["team", "digest"], name="blob_once"),
            models.CheckConstraint(condition=models.Q(size__lte=BLOB_LIMIT), name="blob_size"),
        ]
