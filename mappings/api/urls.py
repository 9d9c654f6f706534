"""The addresses under /api/v1: no trailing slashes, no format suffixes, ids that can only be ids."""

from __future__ import annotations

from django.urls import path, register_converter

from mappings.api import check, libraries, maps, marks, people, renders, scores, templates


class FileName:
    """The name of a render's file: at most one folder; a NUL never reaches the database."""

    regex = r"[^\x00-\x1f/]{1,100}(?:/[^\x00-\x1f/]{1,100})?"

    def to_python(self, value: str) -> str:
        """Return the name."""
        return value

    def to_url(self, value: str) -> str:
        """Return the name."""
        return value


class Number:
    """The number of a revision or version, from 1."""

    regex = r"[1-9][0-9]{0,8}"

    def to_python(self, value: str) -> int:
        """Return the number."""
        return int(value)

    def to_url(self, value: int) -> str:
        """Return the digits."""
        return str(value)


register_converter(FileName, "filename")
register_converter(Number, "number")

urlpatterns = [
    path("me", people.Me.as_view()),
    path("teams", people.Teams.as_view()),
    path("teams/<uuid:team>", people.Team.as_view()),
    path("teams/<uuid:team>/members", people.Members.as_view()),
    path("teams/<uuid:team>/members/<uuid:user>", people.Member.as_view()),
    path("teams/<uuid:team>/tokens", people.Tokens.as_view()),
    path("tokens/<uuid:token>", people.Token.as_view()),
    path("teams/<uuid:team>/audit", people.Audit.as_view()),
    path("teams/<uuid:team>/libraries", libraries.Libraries.as_view()),
    path("libraries/<uuid:library>", libraries.Library.as_view()),
    path("libraries/<uuid:library>/instruments", libraries.Instruments.as_view()),
    path("instruments/<uuid:instrument>", libraries.Instrument.as_view()),
    path("teams/<uuid:team>/maps", maps.Maps.as_view()),
    path("maps/<uuid:map>", maps.Map.as_view()),
    path("maps/<uuid:map>/document", maps.MapDocument.as_view()),
    path("maps/<uuid:map>/revisions", maps.MapRevisions.as_view()),
    path("maps/<uuid:map>/revisions/<number:number>", maps.MapRevision.as_view()),
    path("maps/<uuid:map>/diff", maps.MapDiff.as_view()),
    path("maps/<uuid:map>/restore", maps.MapRestore.as_view()),
    path("maps/<uuid:map>/tryout", maps.MapTryout.as_view()),
    path("maps/<uuid:map>/fork", maps.MapFork.as_view()),
    path("teams/<uuid:team>/templates", templates.Templates.as_view()),
    path("templates/<uuid:template>", templates.Template.as_view()),
    path("templates/<uuid:template>/document", templates.TemplateDocument.as_view()),
    path("templates/<uuid:template>/revisions", templates.TemplateRevisions.as_view()),
    path("templates/<uuid:template>/revisions/<number:number>", templates.TemplateRevision.as_view()),
    path("templates/<uuid:template>/diff", templates.TemplateDiff.as_view()),
    path("templates/<uuid:template>/restore", templates.TemplateRestore.as_view()),
    path("templates/<uuid:template>/fork", templates.TemplateFork.as_view()),
    path("templates/<uuid:template>/drift", templates.TemplateDrift.as_view()),
    path("teams/<uuid:team>/scores", scores.Scores.as_view()),
    path("scores/<uuid:score>", scores.Score.as_view()),
    path("scores/<uuid:score>/versions", scores.ScoreVersions.as_view()),
    path("scores/<uuid:score>/versions/<number:number>", scores.ScoreVersion.as_view()),
    path("scores/<uuid:score>/versions/<number:number>/file", scores.ScoreFile.as_view()),
    path("scores/<uuid:score>/versions/<number:number>/assignment", scores.ScoreAssignment.as_view()),
    path("teams/<uuid:team>/renders", renders.Renders.as_view()),
    path("renders/<uuid:render>", renders.Render.as_view()),
    path("renders/<uuid:render>/inputs", renders.RenderInputs.as_view()),
    path("renders/<uuid:render>/report", renders.RenderReport.as_view()),
    path("renders/<uuid:render>/files", renders.RenderFiles.as_view()),
    path("renders/<uuid:render>/files/<filename:name>", renders.RenderFile.as_view()),
    path("renders/<uuid:render>/archive", renders.RenderArchive.as_view()),
    path("renders/<uuid:render>/cancel", renders.RenderCancel.as_view()),
    path("renders/<uuid:render>/rerun", renders.RenderRerun.as_view()),
    path("marks", marks.Marks.as_view()),
    path("documents/check", check.DocumentCheck.as_view()),
]
