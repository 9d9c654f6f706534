"""Templates."""

from __future__ import annotations

from typing import ClassVar
from uuid import UUID

from django.http import HttpResponse
from rest_framework.request import Request
from rest_framework.response import Response

from mappings import models
from mappings.api import bodies, queries
from mappings.api.documents import HeadView
from mappings.api.once import once
from mappings.api.preconditions import etag
from mappings.api.schema import describe, number_parameter, paged
from mappings.api.shapes import maps as shapes
from mappings.api.view import View
from mappings.exchange import Template as Document
from mappings.models.base import name_key
from mappings.services import drift, templates


class Templates(View):
    """A team's templates."""

    actions: ClassVar = {"GET": "template.read", "POST": "template.write"}
    body_limit: ClassVar[int] = 1 << 20

    @describe(
        "Templates of a team, newest first", {200: paged(shapes.TemplateHead)}, query=["q", "cursor", "limit"], refusals=[422]
    )  # fmt: skip
    def get(self, request: Request, team: UUID) -> Response:
        """Return a page of templates."""
        row, name = self.fetch(models.Team, team), queries.text(request, "q")
        rows = models.Template.objects.filter(team=row, archived_at=None)
        return self.page(rows.filter(name_key__contains=name_key(name)) if name else rows, shapes.template)

    @describe("Make a template", {201: shapes.SavedTemplate}, body=bodies.NewTemplate, once=True, refusals=[409])
    @once
    def post(self, request: Request, team: UUID) -> Response:
        """Return the new template."""
        row, body = self.fetch(models.Team, team), self.read(bodies.NewTemplate)
        saved = templates.create(self.actor, team=row, name=body.name, document=body.document, note=body.note)
        return self.created(shapes.saved_template(saved), f"/api/v1/templates/{saved.head.pk}", saved.head)


class Template(View):
    """One template's head."""

    actions: ClassVar = {"GET": "template.read", "PUT": "template.write", "DELETE": "template.write"}

    @describe("A template", {200: shapes.TemplateHead})
    def get(self, request: Request, template: UUID) -> HttpResponse:
        """Return the template."""
        row = self.fetch(models.Template, template)
        return self.item(shapes.template(row), etag(row))

    @describe("Rename a template", {200: shapes.TemplateHead}, body=bodies.ChangedTemplate, match=True, refusals=[409])
    def put(self, request: Request, template: UUID) -> HttpResponse:
        """Return the renamed template."""
        row = self.fetch(models.Template, template)
        expected, name = self.expected(row), self.read(bodies.ChangedTemplate).name
        changed = templates.change(self.actor, row=row, expected=expected, name=name)
        return self.item(shapes.template(changed), etag(changed))

    @describe("Remove a template", {204: None}, match=True)
    def delete(self, request: Request, template: UUID) -> Response:
        """Archive the template."""
        row = self.fetch(models.Template, template)
        templates.archive(self.actor, row=row, expected=self.expected(row))
        return Response(status=204)


class TemplateView(HeadView):
    """Base of the views of a template's document."""

    model, document = models.Template, Document
    save, restore = staticmethod(templates.save), staticmethod(templates.restore)
    saved = staticmethod(shapes.saved_template)


class TemplateDocument(TemplateView):
    """A template's current document."""

    actions: ClassVar = {"GET": "template.read", "PUT": "template.write"}

    @describe("A template's document", {200: Document})
    def get(self, request: Request, template: UUID) -> HttpResponse:
        """Return the document."""
        return self.stored(template)

    @describe("Save a template's document as its next revision", {200: shapes.SavedTemplate}, body=Document, query=["note"], match=True)
    def put(self, request: Request, template: UUID) -> HttpResponse:
        """Return the saved template."""
        return self.store(template)


class TemplateRevisions(TemplateView):
    """A template's revisions."""

    actions: ClassVar = {"GET": "template.read"}

    @describe("Revisions of a template, newest first", {200: paged(shapes.Revision)}, query=["cursor", "limit"])
    def get(self, request: Request, template: UUID) -> Response:
        """Return a page of revisions."""
        return self.listed(template)


class TemplateRevision(TemplateView):
    """One revision of a template."""

    actions: ClassVar = {"GET": "template.read"}

    @describe("A revision's document; it never changes", {200: Document})
    def get(self, request: Request, template: UUID, number: int) -> HttpResponse:
        """Return the document."""
        return self.numbered(template, number)


class TemplateDiff(TemplateView):
    """What differs between two revisions of a template."""

    actions: ClassVar = {"GET": "template.read"}

    @describe(
        "What differs between two revisions; without numbers, the last two",
        {200: shapes.Difference}, query=[number_parameter("from"), number_parameter("to")], refusals=[422],
    )  # fmt: skip
    def get(self, request: Request, template: UUID) -> Response:
        """Return the difference."""
        return self.difference(template)


class TemplateRestore(TemplateView):
    """An earlier revision in force again."""

    actions: ClassVar = {"POST": "template.write"}

    @describe("Save an earlier revision's content as the next revision", {200: shapes.SavedTemplate}, body=bodies.Restore, match=True)
    def post(self, request: Request, template: UUID) -> HttpResponse:
        """Return the saved template."""
        return self.restored(template)


class TemplateFork(View):
    """A copy of a template."""

    actions: ClassVar = {"POST": "template.write"}

    @describe("Copy a template within its team", {201: shapes.SavedTemplate}, body=bodies.ForkTemplate, once=True, refusals=[409])
    @once
    def post(self, request: Request, template: UUID) -> Response:
        """Return the copy."""
        row = self.fetch(models.Template, template, "team")
        saved = templates.fork(self.actor, row=row, name=self.read(bodies.ForkTemplate).name)
        return self.created(shapes.saved_template(saved), f"/api/v1/templates/{saved.head.pk}", saved.head)


class TemplateDrift(View):
    """Which tracks' maps have gone on."""

    actions: ClassVar = {"GET": "template.read"}

    @describe("Tracks whose maps have a newer revision, or changed since the last render", {200: shapes.Drifts})
    def get(self, request: Request, template: UUID) -> Response:
        """Return the drifting tracks, in order."""
        return Response({"items": drift.tracks(self.fetch(models.Template, template))})
