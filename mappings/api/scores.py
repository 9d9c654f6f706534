"""Scores and their versions."""

from __future__ import annotations

from typing import Any, ClassVar
from uuid import UUID

from django.db.models import OuterRef, QuerySet, Subquery
from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from rest_framework.request import Request
from rest_framework.response import Response

from mappings import blobs, models
from mappings.api import bodies, queries
from mappings.api.once import once
from mappings.api.parsers import Files
from mappings.api.preconditions import etag
from mappings.api.schema import describe, file_of, paged
from mappings.api.shapes import scores as shapes
from mappings.api.view import FOREVER, View
from mappings.errors import NotFound
from mappings.services import proposals, renders, scores

FILE = ("application/octet-stream", OpenApiTypes.BINARY)


def with_state(rows: QuerySet[Any]) -> QuerySet[Any]:
    """Return scores annotated with the state of their newest version."""
    newest = models.ScoreVersion.objects.filter(score=OuterRef("pk"), number=OuterRef("current"))
    annotated: QuerySet[Any] = rows.annotate(current_state=Subquery(newest.values("state")))
    return annotated


def versions() -> QuerySet[Any]:
    """Return versions with what an answer needs, and without the bytes of the files."""
    return models.ScoreVersion.objects.select_related("blob", "made_by", "summary", "problems").defer("blob__data")


class Scores(Files, View):
    """A team's scores."""

    actions: ClassVar = {"GET": "score.read", "POST": "score.write"}

    @describe("Scores of a team, newest first", {200: paged(shapes.Score)}, query=["cursor", "limit"])
    def get(self, request: Request, team: UUID) -> Response:
        """Return a page of scores."""
        row = self.fetch(models.Team, team)
        return self.page(with_state(models.Score.objects.filter(team=row, archived_at=None)), shapes.score)

    @describe(
        "Upload a score: MusicXML, a zip of it, or MIDI, as the raw body; it is then read, which takes a moment",
        {201: shapes.Score}, body=FILE, query=["title"], once=True,
    )  # fmt: skip
    @once
    def post(self, request: Request, team: UUID) -> Response:
        """Return the new score, in the state `reading`."""
        row, title = self.fetch(models.Team, team), queries.text(request, "title", 200)
        made = scores.create(self.actor, team=row, title=title, upload=self.upload())
        return self._made(made.score)

    def _made(self, row: Any) -> Response:
        row.current_state = "reading"
        return self.created(shapes.score(row), f"/api/v1/scores/{row.pk}", row, "reading")


class Score(View):
    """One score."""

    actions: ClassVar = {"GET": "score.read", "PUT": "score.write", "DELETE": "score.write"}

    def _answer(self, pk: UUID) -> HttpResponse:
        row = with_state(models.Score.objects.filter(pk=pk)).get()
        return self.item(shapes.score(row), etag(row, row.current_state))

    @describe("A score", {200: shapes.Score})
    def get(self, request: Request, score: UUID) -> HttpResponse:
        """Return the score."""
        return self._answer(self.fetch(models.Score, score).pk)

    @describe("Rename a score", {200: shapes.Score}, body=bodies.ChangedScore, match=True)
    def put(self, request: Request, score: UUID) -> HttpResponse:
        """Return the renamed score."""
        row = self.fetch(models.Score, score)
        expected, title = self.expected(row), self.read(bodies.ChangedScore).title
        return self._answer(scores.rename(self.actor, score=row, expected=expected, title=title).pk)

    @describe("Remove a score; its renders stay", {204: None}, match=True)
    def delete(self, request: Request, score: UUID) -> Response:
        """Archive the score."""
        row = self.fetch(models.Score, score)
        scores.archive(self.actor, score=row, expected=self.expected(row))
        return Response(status=204)


class ScoreVersions(Files, View):
    """A score's versions."""

    actions: ClassVar = {"GET": "score.read", "POST": "score.write"}

    @describe("Versions of a score, newest first", {200: paged(shapes.ListedVersion)}, query=["cursor", "limit"])
    def get(self, request: Request, score: UUID) -> Response:
        """Return a page of versions."""
        row = self.fetch(models.Score, score)
        rows = models.ScoreVersion.objects.filter(score=row).select_related("blob", "made_by").defer("blob__data")
        return self.page(rows, shapes.listed_version, "-number")

    @describe("Upload the next version of a score, as the raw body", {201: shapes.ScoreVersion}, body=FILE, match=True, once=True)
    @once
    def post(self, request: Request, score: UUID) -> Response:
        """Return the new version, in the state `reading`."""
        row = self.fetch(models.Score, score)
        made = scores.add_version(self.actor, score=row, expected=self.expected(row), upload=self.upload())
        return self.created(shapes.score_version(made), f"/api/v1/scores/{score}/versions/{made.number}", made.score, "reading")


class ScoreVersion(View):
    """One version of a score."""

    actions: ClassVar = {"GET": "score.read"}

    @describe("A version: its state, what was read in it, what was wrong with it", {200: shapes.ScoreVersion})
    def get(self, request: Request, score: UUID, number: int) -> HttpResponse:
        """Return the version."""
        row = one_version(self, score, number)
        return self.item(shapes.score_version(row), f'"{row.pk}-{row.state}"')


class ScoreFile(View):
    """The file of a version."""

    actions: ClassVar = {"GET": "score.read"}

    @describe(
        "The file as it was sent", file_of(*scores.MEDIA_TYPES), refusals=[409, 422],
    )  # fmt: skip
    def get(self, request: Request, score: UUID, number: int) -> HttpResponse:
        """Return the file; Conflict while it is being read, Invalid where it was refused."""
        row = one_version(self, score, number)
        renders.refuse_unread(row)
        name = {"audio/midi": "score.mid", "application/vnd.recordare.musicxml": "score.mxl"}.get(row.blob.media_type, "score.musicxml")
        attached = {"Content_Disposition": f'attachment; filename="{name}"'}
        return self.raw(blobs.read(row.blob), row.blob.media_type, f'"{row.blob.digest}"', cache=FOREVER, **attached)


class ScoreAssignment(View):
    """Which tracks of a template the parts of a version go to by themselves."""

    actions: ClassVar = {"GET": "score.read"}

    @describe(
        "Which tracks of a template the parts go to by themselves; without a template, a track of its own for each",
        {200: shapes.Proposal}, query=["template"], refusals=[409],
    )  # fmt: skip
    def get(self, request: Request, score: UUID, number: int) -> Response:
        """Return a row for each part; Conflict while the version is being read, Invalid where it was refused."""
        row = one_version(self, score, number)
        asked = queries.identifier(request, "template")
        return Response(shapes.proposal(proposals.propose(self.actor, version=row, template=asked)))


def one_version(view: View, score: UUID, number: int) -> models.ScoreVersion:
    """Return a version of a score that the actor sees; NotFound for a number that it does not have."""
    row = view.fetch(models.Score, score)
    found: models.ScoreVersion | None = versions().filter(score=row, number=number).first()
    if found is None:
        raise NotFound
    return found
