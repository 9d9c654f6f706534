"""Renders: queue, watch, fetch the files."""

from __future__ import annotations

import io
import zipfile
from typing import Any, ClassVar
from urllib.parse import quote
from uuid import UUID

from django.db.models import QuerySet
from django.http import HttpResponse
from rest_framework.request import Request
from rest_framework.response import Response

from mappings import blobs, models
from mappings.api import bodies, queries
from mappings.api.once import once
from mappings.api.schema import describe, file_of, paged
from mappings.api.shapes import scores as shapes
from mappings.api.view import FOREVER, View
from mappings.errors import Conflict, Gone, NotFound
from mappings.models.renders import OPEN
from mappings.services import renders, revisions

JOINED = ("score_version", "template_revision", "made_by")


def state_tag(row: models.Render) -> str:
    """Return the tag of a render's state, for those who wait for its end."""
    return f'"{row.pk}-{row.state}-{row.attempt}-{row.progress}{"-pruned" if row.pruned_at else ""}"'


class Renders(View):
    """A team's renders."""

    actions: ClassVar = {"GET": "render.read", "POST": "render.write"}

    @describe("Renders of a team, newest first", {200: paged(shapes.Render)}, query=["score", "cursor", "limit"], refusals=[422])
    def get(self, request: Request, team: UUID) -> Response:
        """Return a page of renders."""
        row = self.fetch(models.Team, team)
        rows = models.Render.objects.filter(team=row).select_related(*JOINED)
        score = queries.identifier(request, "score")
        return self.page(rows.filter(score_version__score=score) if score else rows, shapes.render)

    @describe(
        "Queue a render; every input is frozen as it is now", {201: shapes.Render}, body=bodies.NewRender, once=True, refusals=[409, 429]
    )
    @once
    def post(self, request: Request, team: UUID) -> Response:
        """Return the new render, in the state `queued`."""
        row, body = self.fetch(models.Team, team), self.read(bodies.NewRender)
        asked = renders.Asked(
            score=body.score, score_version=body.score_version, template=body.template, template_revision=body.template_revision,
            assignment=[rule.model_dump(mode="json", exclude_none=True) for rule in body.assignment],
            options=body.options.model_dump(mode="json", exclude_none=True),
        )  # fmt: skip
        return made(self, renders.create(self.actor, team=row, asked=asked))


def made(view: View, row: models.Render) -> Response:
    """Return the answer for a render just queued."""
    return view.created(shapes.render(row), f"/api/v1/renders/{row.pk}")


class Render(View):
    """One render."""

    actions: ClassVar = {"GET": "render.read"}

    @describe("A render; ask again with its ETag while it runs", {200: shapes.Render})
    def get(self, request: Request, render: UUID) -> HttpResponse:
        """Return the render."""
        row = self.fetch(models.Render, render, *JOINED)
        return self.item(shapes.render(row), state_tag(row))


class RenderInputs(View):
    """What a render was made from."""

    actions: ClassVar = {"GET": "render.read"}

    @describe("The frozen inputs of a render", {200: shapes.RenderInputs})
    def get(self, request: Request, render: UUID) -> HttpResponse:
        """Return the inputs; they never change."""
        row = self.fetch(models.Render, render, "inputs")
        frozen = row.frozen.select_related("document", "blob").defer("document__body", "blob__data").order_by("role", "ref")
        authors = _authors(frozen)
        items = [
            shapes.RenderInput(
                role=found.role, ref=found.ref, digest=(found.document or found.blob).digest, map=found.map_id, revision=found.number,
                made_by=authors.get((found.map_id, found.number)),
            )
            for found in frozen
        ]  # fmt: skip
        answer = shapes.RenderInputs(document=revisions.parsed(row.inputs), items=items).json_data()
        return self.item(answer, f'"{row.inputs_digest}"', cache=FOREVER)


def _authors(frozen: QuerySet[Any]) -> dict[tuple[Any, int], str]:
    """Return (map, revision) -> the name of who made it."""
    wanted = {(row.map_id, row.number) for row in frozen if row.map_id}
    rows = models.MapRevision.objects.filter(map__in={pk for pk, _ in wanted}, number__in={number for _, number in wanted})
    return {(row.map_id, row.number): row.made_by.name for row in rows.select_related("made_by")}


class RenderReport(View):
    """What a render came to."""

    actions: ClassVar = {"GET": "render.read"}

    @describe("The report: outcomes, proof, problems", {200: shapes.Outcome}, refusals=[409])
    def get(self, request: Request, render: UUID) -> HttpResponse:
        """Return the report; of a render that was refused, its problems."""
        row = self.fetch(models.Render, render, "report")
        refuse_open(row)
        if row.report is None:
            raise Conflict(f"render: it has no report: {row.reason}", code="no-report")
        return self.raw(row.report.body, "application/json", f'"{row.report.digest}"')


def refuse_open(row: models.Render) -> None:
    """Raise Conflict for a render that is not settled."""
    if row.state in OPEN:
        raise Conflict("render: it is not done yet – ask again in a moment", code="not-settled")


class RenderFiles(View):
    """The files of a render."""

    actions: ClassVar = {"GET": "render.read", "DELETE": "render.write"}

    @describe("The files of a render, by name", {200: shapes.RenderFiles}, refusals=[409, 410])
    def get(self, request: Request, render: UUID) -> HttpResponse:
        """Return what the files are."""
        row = self.fetch(models.Render, render)
        items = [shapes.render_file(found, f"/api/v1/renders/{row.pk}/files/{quote(found.name)}") for found in files_of(row)]
        return self.item(shapes.RenderFiles(items=items).json_data(), state_tag(row))

    @describe("Drop the files of a settled render; the report stays", {204: None}, refusals=[403, 409, 410])
    def delete(self, request: Request, render: UUID) -> Response:
        """Drop the files."""
        renders.drop_files(self.actor, render=self.fetch(models.Render, render))
        return Response(status=204)


def files_of(row: models.Render) -> QuerySet[Any]:
    """Return a settled render's files without their bytes; Conflict before its end, Gone where they were dropped."""
    refuse_open(row)
    if row.pruned_at:
        raise Gone("files: they were dropped – run the render again for new ones")
    return row.files.select_related("blob").defer("blob__data").order_by("name")


class RenderFile(View):
    """One file of a render."""

    actions: ClassVar = {"GET": "render.read"}

    @describe("A file of a render", file_of("audio/midi", "application/json", "text/plain"), refusals=[409, 410])
    def get(self, request: Request, render: UUID, name: str) -> HttpResponse:
        """Return the file."""
        found = files_of(self.fetch(models.Render, render)).filter(name=name).first()
        if found is None:
            raise NotFound
        last = quote(name.rsplit("/", 1)[-1])
        attached = {"Content_Disposition": f"attachment; filename*=UTF-8''{last}"}
        return self.raw(blobs.read(found.blob), found.blob.media_type, f'"{found.blob.digest}"', cache=FOREVER, **attached)


class RenderArchive(View):
    """All files of a render in one."""

    actions: ClassVar = {"GET": "render.read"}

    @describe("All files of a render as a zip", file_of("application/zip"), refusals=[409, 410])
    def get(self, request: Request, render: UUID) -> HttpResponse:
        """Return the archive; the same files make the same bytes."""
        row = self.fetch(models.Render, render)
        archive = io.BytesIO()
        with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as packed:
            for found in files_of(row):
                packed.writestr(zipfile.ZipInfo(found.name), blobs.read(found.blob), zipfile.ZIP_DEFLATED)
        attached = {"Content_Disposition": f'attachment; filename="render-{row.pk}.zip"'}
        return self.raw(archive.getvalue(), "application/zip", state_tag(row), **attached)


class RenderCancel(View):
    """The end of a render before its end."""

    actions: ClassVar = {"POST": "render.write"}

    @describe("Cancel a render", {202: shapes.Render}, refusals=[403, 409])
    def post(self, request: Request, render: UUID) -> Response:
        """Return the render, cancelled or about to be."""
        row = renders.cancel(self.actor, render=self.fetch(models.Render, render))
        return Response(shapes.render(models.Render.objects.select_related(*JOINED).get(pk=row.pk)), status=202)


class RenderRerun(View):
    """The same render once more."""

    actions: ClassVar = {"POST": "render.write"}

    @describe("Render the same frozen inputs again, and compare the files", {201: shapes.Render}, once=True, refusals=[409, 429])
    @once
    def post(self, request: Request, render: UUID) -> Response:
        """Return the new render, in the state `queued`."""
        return made(self, renders.rerun(self.actor, render=self.fetch(models.Render, render, "inputs", *JOINED)))
