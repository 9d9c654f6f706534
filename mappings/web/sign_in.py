"""Signing in and out, slowed down for those who guess: by address and by account."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from mappings.errors import TooMany
from mappings.models.base import name_key
from mappings.services import throttle


class SignInForm(AuthenticationForm):
    """E-mail address and password."""

    error_messages = {  # noqa: RUF012 - Django declares it so
        "invalid_login": "sign in: the address and the password do not fit together – check both",
        "inactive": "sign in: this account is closed – ask an owner of your team",
    }


class SignIn(LoginView):
    """The sign-in page."""

    template_name = "mappings/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Sign in, or say what is wrong; after too many tries, 429 for a while."""
        account = name_key(request.POST.get("username", ""))[:80]
        try:
            throttle.hit(f"sign-in:{request.META['REMOTE_ADDR']}", most=30, seconds=300)
            throttle.hit(f"sign-in:{account}", most=10, seconds=300)
        except TooMany as refused:
            answer = render(request, "mappings/error.html", {"title": refused.title, "detail": refused.detail}, status=429)
            answer["Retry-After"] = str(refused.retry_after)
            return answer
        return super().post(request, *args, **kwargs)


class SignOut(LogoutView):
    """Signing out, by POST only."""

    http_method_names = ["post"]  # noqa: RUF012 - Django declares it so


@require_safe
def home(request: HttpRequest) -> HttpResponseBase:
    """The first page: for now it leads to the description of the API."""
    return redirect("docs" if request.user.is_authenticated else "sign-in")
