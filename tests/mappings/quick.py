"""The service's settings with short leases, for server processes that tests start."""

from __future__ import annotations

from datetime import timedelta

from mappings.project.settings import *  # noqa: F403

LEASE = timedelta(seconds=2)
SWEEP = timedelta(seconds=0.3)
