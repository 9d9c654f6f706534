"""Teams, members, tokens, the log."""

from __future__ import annotations

from typing import Any, ClassVar
from uuid import UUID

from django.http import HttpResponse
from rest_framework.request import Request
from rest_framework.response import Response

from mappings import models
from mappings.api import bodies, queries
from mappings.api.once import once
from mappings.api.preconditions import etag
from mappings.api.schema import describe, paged
from mappings.api.shapes import people as shapes
from mappings.api.view import SIGNED_IN, View
from mappings.errors import Forbidden, NotFound
from mappings.services import teams, tokens


class Me(View):
    """Who one is."""

    actions: ClassVar = {"GET": SIGNED_IN}

    @describe("Who you are, and your role in each team", {200: shapes.Me})
    def get(self, request: Request) -> Response:
        """Return the actor."""
        return Response(shapes.me(self.actor))


class Teams(View):
    """One's teams."""

    actions: ClassVar = {"GET": SIGNED_IN, "POST": SIGNED_IN}

    @describe("Your teams, by slug", {200: paged(shapes.Team)}, query=["cursor", "limit"])
    def get(self, request: Request) -> Response:
        """Return a page of teams."""
        return self.page(models.Team.objects.visible_to(self.actor), lambda row: shapes.team(row, self.actor), "slug")

    @describe("Make a team; by session only", {201: shapes.Team}, body=bodies.NewTeam, once=True)
    @once
    def post(self, request: Request) -> Response:
        """Return the new team."""
        if self.actor.token:
            raise Forbidden
        row = teams.create(self.actor, name=self.read(bodies.NewTeam).name)
        return self.created(shapes.team(row, self.actor), f"/api/v1/teams/{row.pk}", row)


class Team(View):
    """One team."""

    actions: ClassVar = {"GET": "team.read", "PUT": "team.write", "DELETE": "team.archive"}

    @describe("A team", {200: shapes.Team})
    def get(self, request: Request, team: UUID) -> HttpResponse:
        """Return the team."""
        row = self.fetch(models.Team, team)
        return self.item(shapes.team(row, self.actor), etag(row))

    @describe("Rename a team", {200: shapes.Team}, body=bodies.ChangedTeam, match=True)
    def put(self, request: Request, team: UUID) -> HttpResponse:
        """Return the renamed team."""
        row = self.fetch(models.Team, team)
        changed = teams.rename(self.actor, team=row, expected=self.expected(row), name=self.read(bodies.ChangedTeam).name)
        return self.item(shapes.team(changed, self.actor), etag(changed))

    @describe("Hide a team from everybody; what it has is kept for a while", {202: None}, match=True)
    def delete(self, request: Request, team: UUID) -> Response:
        """Archive the team."""
        row = self.fetch(models.Team, team)
        teams.archive(self.actor, team=row, expected=self.expected(row))
        return Response(status=202)


class Members(View):
    """A team's members."""

    actions: ClassVar = {"GET": "member.read"}

    @describe("Members of a team, by e-mail address", {200: paged(shapes.Member)}, query=["cursor", "limit"])
    def get(self, request: Request, team: UUID) -> Response:
        """Return a page of members."""
        row = self.fetch(models.Team, team)
        return self.page(models.Membership.objects.filter(team=row).select_related("user"), shapes.member, "user__email_key")


class Member(View):
    """One member of a team."""

    actions: ClassVar = {"GET": "member.read", "PUT": "member.write", "DELETE": "member.remove"}

    def _member(self, team: UUID, user: UUID) -> models.Membership:
        row = self.fetch(models.Team, team)
        found: models.Membership | None = models.Membership.objects.select_related("user", "team").filter(team=row, user=user).first()
        if found is None:
            raise NotFound
        return found

    @describe("A member of a team", {200: shapes.Member})
    def get(self, request: Request, team: UUID, user: UUID) -> Response:
        """Return the member."""
        return Response(shapes.member(self._member(team, user)))

    @describe("Change a member's role", {200: shapes.Member}, body=bodies.ChangedMember, refusals=[409])
    def put(self, request: Request, team: UUID, user: UUID) -> Response:
        """Return the member in the new role."""
        row = self._member(team, user)
        changed = teams.set_role(self.actor, team=row.team, user=row.user, role=self.read(bodies.ChangedMember).role)
        return Response(shapes.member(changed))

    @describe("Remove a member, or leave", {204: None}, refusals=[403, 409])
    def delete(self, request: Request, team: UUID, user: UUID) -> Response:
        """End the membership."""
        row = self._member(team, user)
        teams.remove_member(self.actor, team=row.team, user=row.user)
        return Response(status=204)


class Tokens(View):
    """Tokens of a team: one's own; an owner sees all."""

    actions: ClassVar = {"GET": "token.read", "POST": "token.write"}

    @describe("Your tokens for a team; an owner sees everybody's", {200: paged(shapes.Token)}, query=["cursor", "limit"], refusals=[403])
    def get(self, request: Request, team: UUID) -> Response:
        """Return a page of tokens."""
        row = self.fetch(models.Team, team)
        rows = models.Token.objects.visible_to(self.actor).filter(team=row).select_related("user")
        return self.page(rows, shapes.token, "lookup")

    @describe(
        "Make a token; its secret is shown once; by session only", {201: shapes.NewToken}, body=bodies.NewToken, once=True, refusals=[409]
    )
    @once
    def post(self, request: Request, team: UUID) -> Response:
        """Return the new token with its secret."""
        row, body = self.fetch(models.Team, team), self.read(bodies.NewToken)
        token, secret = tokens.create(self.actor, team=row, name=body.name, scopes=body.scopes, expires_at=body.expires_at)
        return self.created(shapes.token(token, secret), f"/api/v1/tokens/{token.pk}", secret=True)


class Token(View):
    """One token."""

    actions: ClassVar = {"GET": "token.read", "DELETE": "token.write"}

    @describe("A token", {200: shapes.Token}, refusals=[403])
    def get(self, request: Request, token: UUID) -> Response:
        """Return the token, without its secret."""
        return Response(shapes.token(self.fetch(models.Token, token, "user")))

    @describe("Revoke a token", {204: None}, refusals=[403])
    def delete(self, request: Request, token: UUID) -> Response:
        """Make the token void."""
        tokens.revoke(self.actor, token=self.fetch(models.Token, token))
        return Response(status=204)


class Audit(View):
    """A team's log."""

    actions: ClassVar = {"GET": "audit.read"}

    @describe("Who did what, newest first", {200: paged(shapes.AuditRow)}, query=["subject", "cursor", "limit"], refusals=[422])
    def get(self, request: Request, team: UUID) -> Response:
        """Return a page of the log."""
        rows: Any = models.Audit.objects.filter(team=self.fetch(models.Team, team))
        subject = queries.identifier(request, "subject")
        return self.page(rows.filter(subject_id=subject) if subject else rows, shapes.audit)
