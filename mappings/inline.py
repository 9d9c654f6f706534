"""One daemon thread in each web process carries readings and renders.

Started by the WSGI entry and by the first wake, never by the loading of the application. What it carries is
decided by the rows alone: any number of processes may run it at once.
"""

from __future__ import annotations

import logging
import threading
import time

from django.conf import settings
from django.db import close_old_connections, transaction

from mappings import jobs
from mappings.jobs import tidying

log = logging.getLogger(__name__)
_wake, _first = threading.Event(), threading.Lock()
TIDY = 600.0  # seconds between two looks for what is to be swept out


def start() -> None:
    """Start the carrier of this process, unless it runs or the settings leave the work to others."""
    if settings.CARRY_IN_PROCESS and _first.acquire(blocking=False):
        threading.Thread(target=_loop, name="carrier", daemon=True).start()


def wake_on_commit() -> None:
    """Wake the carrier once the caller's transaction is there to be seen. A lost wake costs only the time of a sweep."""
    transaction.on_commit(_woken)


def _woken() -> None:
    start()
    _wake.set()


def _loop() -> None:
    tidy_at = 0.0
    while True:
        try:
            if time.monotonic() >= tidy_at:
                tidying.tidy()
                tidy_at = time.monotonic() + TIDY
            carry()
        except Exception:
            log.exception("carrier")
        finally:
            close_old_connections()
        _wake.wait(settings.SWEEP.total_seconds())
        _wake.clear()


def carry() -> int:
    """Carry what waits, one row after the other, until nothing is left; return how many rows were carried."""
    carried = 0
    # After each row the list is asked for anew: a reading that came meanwhile goes before the renders that wait.
    while any(jobs.run(kind, pk) for kind, pk in jobs.sweep()):
        carried += 1
    return carried
