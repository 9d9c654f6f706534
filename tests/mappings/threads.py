"""Many requests at the same moment."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from django.db import connections


def at_once(many: int, ask: Callable[[int], Any]) -> list[Any]:
    """Return the answers of `many` threads that all begin together; each closes its database connection."""
    gate = threading.Barrier(many)

    def one(number: int) -> Any:
        gate.wait(30)
        try:
            return ask(number)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(many) as pool:
        return list(pool.map(one, range(many)))
