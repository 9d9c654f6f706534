"""The cast, as a fixture."""

from __future__ import annotations

import pytest

from tests.mappings.world import World


@pytest.fixture
def world(db: None) -> World:
    """Return a fresh world in a transaction that is rolled back."""
    return World()
