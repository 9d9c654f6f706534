"""Who asks: by token or by session. Imports no view: REST framework loads authenticators while it loads its views."""

from __future__ import annotations

from rest_framework.authentication import BaseAuthentication, SessionAuthentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from mappings.access import Actor, actor_of
from mappings.models import User
from mappings.services import tokens


class TokenAuthentication(BaseAuthentication):
    """``Authorization: Bearer rip_…``; whatever else stands there is refused, and no session is looked at."""

    def authenticate(self, request: Request) -> tuple[User, Actor] | None:
        """Return user and actor; None without the header."""
        sent = request.META.get("HTTP_AUTHORIZATION")
        if sent is None:
            return None
        scheme, _, secret = sent.partition(" ")
        token = tokens.find(secret.strip()) if scheme.lower() == "bearer" else None
        actor = actor_of(token.user, token, request_id(request)) if token else None
        if token is None or actor is None or not actor.roles:  # a token dies with its holder's membership
            raise AuthenticationFailed("The token is unknown, expired or revoked.")
        tokens.mark_used(token)
        return token.user, actor

    def authenticate_header(self, request: Request) -> str:
        """Return what WWW-Authenticate asks for."""
        return "Bearer"


class CookieAuthentication(SessionAuthentication):
    """A session of the web pages; writes need its CSRF token."""

    def authenticate(self, request: Request) -> tuple[User, Actor] | None:
        """Return user and actor; None where nobody is signed in."""
        found = super().authenticate(request)
        if found is None:
            return None
        user: User = found[0]
        return user, actor_of(user, None, request_id(request))


def request_id(request: Request) -> str:
    """Return the name that the middleware gave the request."""
    return str(getattr(request._request, "ripieno_id", ""))  # noqa: SLF001 - the wrapped request is where middleware leaves things
