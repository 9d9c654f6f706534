"""Which tracks of a template have drifted: *behind* a newer revision, or *moved* since the template's last render."""

from __future__ import annotations

import uuid
from typing import Any

from django.db.models import Max

from mappings import exchange
from mappings.models import MapRevision, RenderInput, Template, TemplateTrack
from mappings.services import diff, maps

Known = dict[tuple[uuid.UUID, int], MapRevision]


def tracks(template: Template) -> list[dict[str, Any]]:
    """Return one item for each drifting track, in order; tracks that are up to date are left out."""
    rows = TemplateTrack.objects.filter(template=template).select_related("map").order_by("position")
    rendered = _last_rendered(template)
    found = [(row, *_drift(row, rendered.get((row.track, row.map_id)))) for row in rows]
    drifting = [(row, word, before) for row, word, before in found if word]
    known = _revisions({(row.map_id, number) for row, _, before in drifting for number in (before, row.map.current)})
    return [_item(row, word, before, known) for row, word, before in drifting if word == "behind" or _differ(row, before, known)]


def _drift(row: TemplateTrack, rendered: int | None) -> tuple[str, int]:
    """Return the word, "" for none, and the revision to compare the current one with."""
    if row.pinned is not None:
        return ("behind", row.pinned) if row.pinned < row.map.current else ("", 0)
    return ("moved", rendered) if rendered is not None and rendered != row.map.current else ("", 0)


def _differ(row: TemplateTrack, before: int, known: Known) -> bool:
    """Return whether the revisions differ in content: a restored one says what was rendered."""
    return known[row.map_id, before].document_id != known[row.map_id, row.map.current].document_id


def _last_rendered(template: Template) -> dict[tuple[str, uuid.UUID | None], int | None]:
    """Return (track, map) -> the revision that this template's last render that ended well was made with."""
    done = RenderInput.objects.filter(role="map", render__template_revision__template=template, render__state="done")
    last = done.aggregate(last=Max("render__sort"))["last"]
    rows = done.filter(render__sort=last).values_list("ref", "map_id", "number")
    return {(track, pk): number for track, pk, number in rows}


def _revisions(wanted: set[tuple[uuid.UUID, int]]) -> Known:
    ids, numbers = {pk for pk, _ in wanted}, {number for _, number in wanted}
    rows = MapRevision.objects.filter(map__in=ids, number__in=numbers).select_related("document")
    return {(row.map_id, row.number): row for row in rows}


def _item(row: TemplateTrack, word: str, before: int, known: Known) -> dict[str, Any]:
    old, new = known[row.map_id, before], known[row.map_id, row.map.current]
    had, has = (_marks(revision) for revision in (old, new))
    return {
        "track": row.track, "name": row.name, "map": str(row.map_id), "pinned": row.pinned, "current": row.map.current, "drift": word,
        "rendered": None if word == "behind" else before, "changes": diff.changes(old.document.body, new.document.body),
        "lost": [mark for mark in had if mark not in has], "gained": [mark for mark in has if mark not in had],
    }  # fmt: skip


def _marks(revision: MapRevision) -> list[str]:
    return [mark for _, mark, _ in exchange.mark_rows(maps.document_of(revision))]
