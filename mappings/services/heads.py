"""What the services of all head rows share: the lock, the version, names that are free or taken."""

from __future__ import annotations

from typing import Any, Protocol, TypeVar

from django.db import IntegrityError, models, transaction
from django.utils import timezone

from mappings.errors import Conflict, NotFound, Stale
from mappings.models.base import SortedRow, name_key


class Head(Protocol):
    """A row that has a version."""

    pk: Any
    version: int


HeadT = TypeVar("HeadT", bound=models.Model)


def hold(row: HeadT, expected: int | None) -> HeadT:
    """Return the row as it is now, locked until the transaction ends; None expects any state.

    Stale where the expected version is not the current one, NotFound where the row was archived meanwhile.
    """
    manager: Any = type(row)._default_manager  # noqa: SLF001 - Django's documented name for a model's first manager
    now: Any = manager.select_for_update(no_key=True).filter(pk=row.pk, archived_at=None).first()
    if now is None:
        raise NotFound
    if expected is not None and expected != now.version:
        raise Stale(current={"version": now.version})
    held: HeadT = now
    return held


def bump(row: Any, *fields: str) -> int:
    """Save the fields of a held row under its next version, which is returned."""
    row.version += 1
    row.save(update_fields=["version", *fields])
    version: int = row.version
    return version


def rename(row: Any, name: str, siblings: models.QuerySet[Any], *fields: str) -> None:
    """Save a held row under a name (and further fields) and its next version; Conflict where a sibling has the name."""
    row.name, before = name, row.version
    refuse_taken(siblings.exclude(pk=row.pk), name)
    try:
        with transaction.atomic():
            bump(row, "name", "name_key", *fields)
    except IntegrityError:
        row.version = before
        refuse_taken(siblings.exclude(pk=row.pk), name)
        raise


def insert_named(row: SortedRow, name: str, siblings: models.QuerySet[Any]) -> None:
    """Insert a row whose name must be free among its siblings; Conflict where it is taken."""
    refuse_taken(siblings, name)
    try:
        row.insert()
    except IntegrityError:  # a rival took the name between the look and the insert
        refuse_taken(siblings, name)
        raise


def refuse_taken(siblings: models.QuerySet[Any], name: str) -> None:
    """Raise Conflict where an unarchived sibling has this name."""
    if siblings.filter(name_key=name_key(name), archived_at=None).exists():
        raise Conflict(f"name: “{name}” is taken here – choose another one", code="name-taken")


def archive(row: Any) -> int:
    """Archive a held row under its next version, which is returned."""
    row.archived_at = timezone.now()
    return bump(row, "archived_at")
