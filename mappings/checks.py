"""System checks: settings that would leave the service open stop it from starting."""

from __future__ import annotations

import os
import stat
from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register


@register(Tags.security)
def closed(app_configs: Sequence[Any] | None, **kwargs: Any) -> list[CheckMessage]:  # noqa: ARG001
    """Return one Error for each setting that leaves the service open; empty when it is closed."""
    found = [
        *_key(),
        *(_wildcard() if "*" in settings.ALLOWED_HOSTS else []),
        *(_public() if settings.PUBLIC else []),
    ]
    return list(found)


def _key() -> list[Error]:
    if os.environ.get("RIPIENO_SECRET_KEY"):
        short = len(os.environ["RIPIENO_SECRET_KEY"]) < 32
        return (
            [_error(1, "RIPIENO_SECRET_KEY: shorter than 32 characters – sessions could be forged", "Use 50 random ones.")] if short else []
        )
    if settings.POSTGRES or settings.PUBLIC:
        hint = "Set it to the same 50 or more random characters on each machine."
        return [_error(2, "RIPIENO_SECRET_KEY: not set on a server – its machines would not know each other's sessions", hint)]
    mode = stat.S_IMODE((settings.DATA / "secret-key").stat().st_mode)
    if mode & 0o077:
        return [_error(3, f"secret-key: its mode is {mode:o} – others on this machine could forge sessions", "Run: chmod 600 on it.")]
    return []


def _wildcard() -> list[Error]:
    return [_error(4, "RIPIENO_HOSTS: holds * – any Host header would be believed", "Name the hosts, separated by commas.")]


def _public() -> list[Error]:
    found = [_error(5, "RIPIENO_DEBUG: is 1 on a server – errors would show its inside", "Unset it.")] if settings.DEBUG else []
    flags = ("SESSION_COOKIE_SECURE", "CSRF_COOKIE_SECURE", "SECURE_SSL_REDIRECT", "SECURE_HSTS_SECONDS", "SECURE_CONTENT_TYPE_NOSNIFF")
    open_flags = [name for name in flags if not getattr(settings, name)]
    found += [_error(6, f"{name}: is off on a server – cookies or pages could be read on the way", "Leave it on.") for name in open_flags]
    return found


def _error(number: int, sentence: str, hint: str) -> Error:
    return Error(sentence, hint=hint, id=f"ripieno.E{number:03}")
