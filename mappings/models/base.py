"""What all rows share: random public ids, a team, the order of lists, names that are compared folded."""

from __future__ import annotations

import time
import unicodedata
import uuid
from collections.abc import Collection
from typing import Any, ClassVar, Protocol, Self

from django.db import IntegrityError, models, transaction


class Viewer(Protocol):
    """Who looks: what querysets need to know of an actor."""

    @property
    def user_id(self) -> uuid.UUID | None:
        """Id of the user; None for nobody."""

    @property
    def team_ids(self) -> Collection[uuid.UUID]:
        """Ids of the teams whose rows may be seen."""

    @property
    def owned_team_ids(self) -> Collection[uuid.UUID]:
        """Ids of those of them that the actor owns."""


def name_key(name: str) -> str:
    """Return a name as it is compared: NFKC, case folded, without outer and doubled spaces."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


class Row(models.Model):
    """A row with a random public id: ids tell neither order nor number."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)

    class Meta:
        abstract = True


class TeamQuerySet(models.QuerySet[Any]):
    """Rows of teams."""

    def visible_to(self, viewer: Viewer) -> Self:
        """Return the rows of the viewer's teams."""
        return self.filter(team_id__in=viewer.team_ids)


class ArchivedQuerySet(TeamQuerySet):
    """Rows of teams that can be archived."""

    def visible_to(self, viewer: Viewer) -> Self:
        """Return the rows of the viewer's teams, without archived ones."""
        return super().visible_to(viewer).filter(archived_at=None)


class TeamRow(Row):
    """A row that belongs to a team. The team stands on each row, also where it could be derived: one filter, one index prefix."""

    team = models.ForeignKey("mappings.Team", on_delete=models.PROTECT, related_name="+")

    objects: ClassVar[Any] = TeamQuerySet.as_manager()

    class Meta:
        abstract = True


class SortedRow(TeamRow):
    """A row in lists: `sort` is unique in its team and rises with time, so that a cursor never loops and never skips."""

    team = models.ForeignKey("mappings.Team", on_delete=models.PROTECT, related_name="+", db_index=False)
    sort = models.BigIntegerField(editable=False)

    class Meta:
        abstract = True

    def insert(self) -> None:
        """Insert with the next free `sort`: microseconds of now, or one more than the team's last."""
        for attempt in range(10):
            self.sort = self._next_sort() + attempt
            try:
                with transaction.atomic():
                    self.save(force_insert=True)
            except IntegrityError:
                if not self._sort_is_taken():
                    raise
            else:
                return
        raise IntegrityError(f"no free place in the list of {self._meta.model_name}s after ten tries")

    def _next_sort(self) -> int:
        now = time.time_ns() // 1000
        later = type(self).objects.filter(team_id=self.team_id, sort__gte=now)
        last = later.order_by("-sort").values_list("sort", flat=True).first()
        return now if last is None else last + 1

    def _sort_is_taken(self) -> bool:
        return type(self).objects.filter(team_id=self.team_id, sort=self.sort).exists()


def in_list(field: str, values: Collection[str], name: str) -> models.CheckConstraint:
    """Return the constraint that a field holds one of the values."""
    return models.CheckConstraint(condition=models.Q(**{f"{field}__in": sorted(values)}), name=name)
