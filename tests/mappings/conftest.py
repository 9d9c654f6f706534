"""The cast, as fixtures."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.management import call_command
from django.test import override_settings

from mappings import models
from tests.mappings.world import World

_made: list[World] = []
QUICK = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory) -> None:
    """Put one world into the fresh database: tests that roll back begin with it, those that commit run last and make their own."""
    data = tmp_path_factory.mktemp("world")
    with django_db_blocker.unblock(), override_settings(DATA=data, PASSWORD_HASHERS=QUICK, CARRY_IN_PROCESS=False):
        _made.append(World())


@pytest.fixture
def world(db: None) -> World:
    """Return the world, in a transaction that is rolled back."""
    return _made[0].again()


@pytest.fixture
def open_world(transactional_db: None) -> World:
    """Return a world whose rows are committed, for tests with threads; the tables are emptied afterwards."""
    if models.User.objects.exists():  # the first of these tests finds the world of those that roll back
        call_command("flush", "--noinput", verbosity=0)
    return World()
