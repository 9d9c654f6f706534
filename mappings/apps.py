"""The one Django application of the service."""

from __future__ import annotations

from django.apps import AppConfig


class MappingsConfig(AppConfig):
    """Registers the system checks; starts nothing."""

    name = "mappings"

    def ready(self) -> None:
        """Import the checks, which register themselves."""
        from mappings import checks  # noqa: F401
