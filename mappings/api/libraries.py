"""Libraries and instruments."""

from __future__ import annotations

from typing import ClassVar
from uuid import UUID

from django.http import HttpResponse
from rest_framework.request import Request
from rest_framework.response import Response

from mappings import models
from mappings.api import bodies
from mappings.api.once import once
from mappings.api.preconditions import etag
from mappings.api.schema import describe, paged
from mappings.api.shapes import maps as shapes
from mappings.api.view import View
from mappings.services import libraries


class Libraries(View):
    """A team's libraries."""

    actions: ClassVar = {"GET": "library.read", "POST": "library.write"}

    @describe("Libraries of a team, newest first", {200: paged(shapes.Library)}, query=["cursor", "limit"])
    def get(self, request: Request, team: UUID) -> Response:
        """Return a page of libraries."""
        row = self.fetch(models.Team, team)
        return self.page(models.Library.objects.filter(team=row, archived_at=None), shapes.library)

    @describe("Make a library", {201: shapes.Library}, body=bodies.NewLibrary, once=True, refusals=[409])
    @once
    def post(self, request: Request, team: UUID) -> Response:
        """Return the new library."""
        row = self.fetch(models.Team, team)
        made = libraries.create_library(self.actor, team=row, name=self.read(bodies.NewLibrary).name)
        return self.created(shapes.library(made), f"/api/v1/libraries/{made.pk}", made)


class Library(View):
    """One library."""

    actions: ClassVar = {"GET": "library.read", "PUT": "library.write", "DELETE": "library.write"}

    @describe("A library", {200: shapes.Library})
    def get(self, request: Request, library: UUID) -> HttpResponse:
        """Return the library."""
        row = self.fetch(models.Library, library)
        return self.item(shapes.library(row), etag(row))

    @describe("Rename a library", {200: shapes.Library}, body=bodies.ChangedLibrary, match=True, refusals=[409])
    def put(self, request: Request, library: UUID) -> HttpResponse:
        """Return the renamed library."""
        row = self.fetch(models.Library, library)
        name = self.read(bodies.ChangedLibrary).name
        changed = libraries.rename_library(self.actor, library=row, expected=self.expected(row), name=name)
        return self.item(shapes.library(changed), etag(changed))

    @describe("Remove a library that has no instruments", {204: None}, match=True, refusals=[409])
    def delete(self, request: Request, library: UUID) -> Response:
        """Archive the library."""
        row = self.fetch(models.Library, library)
        libraries.archive_library(self.actor, library=row, expected=self.expected(row))
        return Response(status=204)


class Instruments(View):
    """A library's instruments."""

    actions: ClassVar = {"GET": "library.read", "POST": "library.write"}

    @describe("Instruments of a library, newest first", {200: paged(shapes.Instrument)}, query=["cursor", "limit"])
    def get(self, request: Request, library: UUID) -> Response:
        """Return a page of instruments."""
        row = self.fetch(models.Library, library)
        return self.page(models.Instrument.objects.filter(library=row, archived_at=None), shapes.instrument)

    @describe("Make an instrument", {201: shapes.Instrument}, body=bodies.NewInstrument, once=True, refusals=[409])
    @once
    def post(self, request: Request, library: UUID) -> Response:
        """Return the new instrument."""
        row, body = self.fetch(models.Library, library), self.read(bodies.NewInstrument)
        made = libraries.create_instrument(self.actor, library=row, name=body.name, sound=body.sound, players=body.players)
        return self.created(shapes.instrument(made), f"/api/v1/instruments/{made.pk}", made)


class Instrument(View):
    """One instrument."""

    actions: ClassVar = {"GET": "library.read", "PUT": "library.write", "DELETE": "library.write"}

    @describe("An instrument", {200: shapes.Instrument})
    def get(self, request: Request, instrument: UUID) -> HttpResponse:
        """Return the instrument."""
        row = self.fetch(models.Instrument, instrument)
        return self.item(shapes.instrument(row), etag(row))

    @describe("Change an instrument's data", {200: shapes.Instrument}, body=bodies.ChangedInstrument, match=True, refusals=[409])
    def put(self, request: Request, instrument: UUID) -> HttpResponse:
        """Return the changed instrument."""
        row = self.fetch(models.Instrument, instrument)
        body = self.read(bodies.ChangedInstrument)
        changed = libraries.change_instrument(
            self.actor, instrument=row, expected=self.expected(row),
            library=body.library, name=body.name, sound=body.sound, players=body.players,
        )  # fmt: skip
        return self.item(shapes.instrument(changed), etag(changed))

    @describe("Remove an instrument that has no maps", {204: None}, match=True, refusals=[409])
    def delete(self, request: Request, instrument: UUID) -> Response:
        """Archive the instrument."""
        row = self.fetch(models.Instrument, instrument)
        libraries.archive_instrument(self.actor, instrument=row, expected=self.expected(row))
        return Response(status=204)
