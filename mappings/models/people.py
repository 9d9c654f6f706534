"""Users, teams, memberships, tokens."""

from __future__ import annotations

from typing import Any, ClassVar, Self

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q

from mappings.models.base import Row, TeamQuerySet, TeamRow, Viewer, in_list, name_key


class UserManager(BaseUserManager["User"]):
    """Users by folded e-mail address."""

    def get_by_natural_key(self, username: str | None) -> User:
        """Return the user with this address, in whatever case it is written; DoesNotExist if there is none."""
        return self.get(email_key=name_key(username or ""))

    def create_user(self, email: str, name: str, password: str | None = None) -> User:
        """Return a new user; one without a password cannot sign in."""
        user = self.model(email=email.strip(), name=name)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def create_superuser(self, email: str, name: str, password: str | None = None) -> User:
        """Return a new user: this service knows no rights outside of teams."""
        return self.create_user(email, name, password)


class User(Row, AbstractBaseUser):
    """Somebody who signs in."""

    email = models.EmailField("e-mail address", max_length=254, unique=True)
    email_key = models.CharField(max_length=254, editable=False)
    name = models.CharField(max_length=100)
    is_active = models.BooleanField(default=True)
    at = models.DateTimeField(auto_now_add=True)

    objects: ClassVar[UserManager] = UserManager()

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    class Meta:
        constraints: ClassVar[list[Any]] = [models.UniqueConstraint(fields=["email_key"], name="user_email_key_once")]

    def __str__(self) -> str:
        return self.email

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save, with the address folded for comparison."""
        self.email_key = name_key(self.email)
        super().save(*args, **kwargs)


class TeamsQuerySet(models.QuerySet["Team"]):
    """Teams."""

    def visible_to(self, viewer: Viewer) -> Self:
        """Return the viewer's teams, without archived ones."""
        return self.filter(pk__in=viewer.team_ids, archived_at=None)


class Team(Row):
    """People who share libraries, maps, templates and scores."""

    name = models.CharField(max_length=100)
    slug = models.SlugField(max_length=60)
    version = models.PositiveIntegerField(default=1)
    bytes_used = models.BigIntegerField(default=0)
    at = models.DateTimeField(auto_now_add=True)
    archived_at = models.DateTimeField(null=True)

    objects = TeamsQuerySet.as_manager()

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["slug"], name="team_slug_once"),
            models.CheckConstraint(condition=Q(bytes_used__gte=0), name="team_bytes_used"),
        ]

    def __str__(self) -> str:
        return self.name


ROLES = ("reader", "editor", "owner")


class Membership(TeamRow):
    """A user's role in a team; the service keeps at least one owner in each team."""

    team = models.ForeignKey(Team, on_delete=models.PROTECT, related_name="memberships", db_index=False)
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=6)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["team", "user"], name="membership_once"),
            in_list("role", ROLES, "membership_role"),
        ]


class TokenQuerySet(TeamQuerySet):
    """Tokens."""

    def visible_to(self, viewer: Viewer) -> Self:
        """Return the viewer's own tokens in their teams, and all tokens of the teams they own; without revoked ones."""
        own = Q(user_id=viewer.user_id, team_id__in=viewer.team_ids)
        return self.filter(own | Q(team_id__in=viewer.owned_team_ids), revoked_at=None)


SCOPES = ("read", "read write")


class Token(TeamRow):
    """A secret for programs: acts for one user in one team; only its digest is kept.

    lookup  the public eight characters by which the row is found
    digest  SHA-256 of the secret, hex
    scopes  "read", or "read write"
    """

    team = models.ForeignKey(Team, on_delete=models.PROTECT, related_name="tokens")
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="tokens")
    name = models.CharField(max_length=100)
    lookup = models.CharField(max_length=8)
    digest = models.CharField(max_length=64)
    scopes = models.CharField(max_length=10)
    at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True)
    last_used_on = models.DateField(null=True)

    objects: ClassVar[Any] = TokenQuerySet.as_manager()

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["lookup"], name="token_lookup_once"),
            in_list("scopes", SCOPES, "token_scopes"),
        ]
