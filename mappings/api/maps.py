"""Articulation maps."""

from __future__ import annotations

from typing import Any, ClassVar
from uuid import UUID

from django.db.models import Q
from django.http import HttpResponse
from rest_framework.request import Request
from rest_framework.response import Response

from mappings import models
from mappings.api import bodies, queries
from mappings.api.documents import HeadView
from mappings.api.once import once
from mappings.api.preconditions import etag
from mappings.api.schema import describe, file_of, number_parameter, paged
from mappings.api.shapes import maps as shapes
from mappings.api.view import View
from mappings.errors import Invalid
from mappings.exchange import ArticulationMap, marks_named
from mappings.models.base import name_key
from mappings.services import maps, revisions


class Maps(View):
    """A team's maps."""

    actions: ClassVar = {"GET": "map.read", "POST": "map.write"}
    body_limit: ClassVar[int] = 1 << 20

    @describe(
        "Maps of a team, newest first; narrowed by sound, mark, library, name",
        {200: paged(shapes.MapHead)}, query=["sound", "mark", "library", "q", "cursor", "limit"], refusals=[422],
    )  # fmt: skip
    def get(self, request: Request, team: UUID) -> Response:
        """Return a page of maps."""
        row = self.fetch(models.Team, team)
        rows = models.Map.objects.filter(team=row, archived_at=None)
        return self.page(rows.filter(*_wanted(request, row)), shapes.map_)

    @describe("Make a map", {201: shapes.SavedMap}, body=bodies.NewMap, once=True, refusals=[409])
    @once
    def post(self, request: Request, team: UUID) -> Response:
        """Return the new map."""
        row, body = self.fetch(models.Team, team), self.read(bodies.NewMap)
        saved = maps.create(self.actor, team=row, instrument=body.instrument, name=body.name, document=body.document, note=body.note)
        return self.created(shapes.saved_map(saved), f"/api/v1/maps/{saved.head.pk}", saved.head)


def _wanted(request: Request, team: models.Team) -> list[Q]:
    sound, mark, name = (queries.text(request, field) for field in ("sound", "mark", "q"))
    library = queries.identifier(request, "library")
    found = [Q(sound=sound) | Q(sound__startswith=f"{sound}.")] if sound else []
    found += [Q(pk__in=_playing(team, mark))] if mark else []
    found += [Q(instrument__library=library)] if library else []
    return [*found, Q(name_key__contains=name_key(name))] if name else found


def _playing(team: models.Team, mark: str) -> Any:
    names = marks_named(mark)
    if not names:
        raise Invalid(errors=[{"parameter": "mark", "code": "unknown-mark", "detail": "There is no such mark."}])
    return models.MapMark.objects.filter(team=team, mark__in=names).values("map")


class Map(View):
    """One map's head."""

    actions: ClassVar = {"GET": "map.read", "PUT": "map.write", "DELETE": "map.write"}

    @describe("A map", {200: shapes.MapHead})
    def get(self, request: Request, map: UUID) -> HttpResponse:  # noqa: A002 - the address calls it so
        """Return the map."""
        row = self.fetch(models.Map, map)
        return self.item(shapes.map_(row), etag(row))

    @describe("Change a map's name or instrument", {200: shapes.MapHead}, body=bodies.ChangedMap, match=True, refusals=[409])
    def put(self, request: Request, map: UUID) -> HttpResponse:  # noqa: A002
        """Return the changed map."""
        row = self.fetch(models.Map, map)
        expected, body = self.expected(row), self.read(bodies.ChangedMap)
        changed = maps.change(self.actor, row=row, expected=expected, name=body.name, instrument=body.instrument)
        return self.item(shapes.map_(changed), etag(changed))

    @describe("Remove a map that no template uses", {204: None}, match=True, refusals=[409])
    def delete(self, request: Request, map: UUID) -> Response:  # noqa: A002
        """Archive the map."""
        row = self.fetch(models.Map, map)
        maps.archive(self.actor, row=row, expected=self.expected(row))
        return Response(status=204)


class MapView(HeadView):
    """Base of the views of a map's document."""

    model, document = models.Map, ArticulationMap
    save, restore = staticmethod(maps.save), staticmethod(maps.restore)
    saved = staticmethod(shapes.saved_map)


class MapDocument(MapView):
    """A map's current document."""

    actions: ClassVar = {"GET": "map.read", "PUT": "map.write"}

    @describe("A map's document", {200: ArticulationMap})
    def get(self, request: Request, map: UUID) -> HttpResponse:  # noqa: A002
        """Return the document."""
        return self.stored(map)

    @describe("Save a map's document as its next revision", {200: shapes.SavedMap}, body=ArticulationMap, query=["note"], match=True)
    def put(self, request: Request, map: UUID) -> HttpResponse:  # noqa: A002
        """Return the saved map."""
        return self.store(map)


class MapRevisions(MapView):
    """A map's revisions."""

    actions: ClassVar = {"GET": "map.read"}

    @describe("Revisions of a map, newest first", {200: paged(shapes.Revision)}, query=["cursor", "limit"])
    def get(self, request: Request, map: UUID) -> Response:  # noqa: A002
        """Return a page of revisions."""
        return self.listed(map)


class MapRevision(MapView):
    """One revision of a map."""

    actions: ClassVar = {"GET": "map.read"}

    @describe("A revision's document; it never changes", {200: ArticulationMap})
    def get(self, request: Request, map: UUID, number: int) -> HttpResponse:  # noqa: A002
        """Return the document."""
        return self.numbered(map, number)


class MapDiff(MapView):
    """What differs between two revisions of a map."""

    actions: ClassVar = {"GET": "map.read"}

    @describe(
        "What differs between two revisions; without numbers, the last two",
        {200: shapes.Difference}, query=[number_parameter("from"), number_parameter("to")], refusals=[422],
    )  # fmt: skip
    def get(self, request: Request, map: UUID) -> Response:  # noqa: A002
        """Return the difference."""
        return self.difference(map)


class MapRestore(MapView):
    """An earlier revision in force again."""

    actions: ClassVar = {"POST": "map.write"}

    @describe("Save an earlier revision's content as the next revision", {200: shapes.SavedMap}, body=bodies.Restore, match=True)
    def post(self, request: Request, map: UUID) -> HttpResponse:  # noqa: A002
        """Return the saved map."""
        return self.restored(map)


class MapTryout(MapView):
    """A map to be heard."""

    actions: ClassVar = {"GET": "map.read"}

    @describe("A MIDI file that plays every articulation in turn, to check the map against the library", file_of("audio/midi"))
    def get(self, request: Request, map: UUID) -> HttpResponse:  # noqa: A002
        """Return the file."""
        row = self.fetch(models.Map, map)
        attached = {"Content_Disposition": 'attachment; filename="tryout.mid"'}
        return self.raw(maps.tryout_of(revisions.current(row)), "audio/midi", etag(row), **attached)


class MapFork(View):
    """A copy of a map."""

    actions: ClassVar = {"POST": "map.read"}

    @describe("Copy a map, here or into another team of yours", {201: shapes.SavedMap}, body=bodies.ForkMap, once=True, refusals=[409])
    @once
    def post(self, request: Request, map: UUID) -> Response:  # noqa: A002
        """Return the copy."""
        row, body = self.fetch(models.Map, map, "team"), self.read(bodies.ForkMap)
        saved = maps.fork(self.actor, row=row, team=body.team, instrument=body.instrument, name=body.name)
        return self.created(shapes.saved_map(saved), f"/api/v1/maps/{saved.head.pk}", saved.head)
