"""What tests of the service share: the database, the cast, clients."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import hypothesis
import pytest

# The normal run draws the same examples each time, so that a clone that passed passes again; the deep
# tests draw others by --hypothesis-seed.
hypothesis.settings.register_profile("same", derandomize=True, deadline=None)
hypothesis.settings.load_profile("same")


@pytest.fixture(scope="session")
def django_db_modify_db_settings(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Give each run a database of its own (on SQLite a file: threads cannot share one in memory), and no kept connections."""
    from django.conf import settings
    from django.db import connections

    for connection in connections.all():
        connection.settings_dict["CONN_MAX_AGE"] = 0
        own = f"test_{os.getpid()}" if settings.POSTGRES else str(tmp_path_factory.mktemp("database") / "test.sqlite3")
        connection.settings_dict["TEST"]["NAME"] = own


@pytest.fixture(autouse=True)
def _own_data(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[None]:
    """Give each test of the service a data folder of its own, fast passwords, and no carrier but the test itself."""
    if "mappings" not in request.node.nodeid:
        yield
        return
    settings: Any = request.getfixturevalue("settings")
    settings.DATA = tmp_path
    settings.CARRY_IN_PROCESS = False
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    yield
