"""The WSGI entry: refuses to start on a setting that would leave the service open, then starts the carrier of jobs."""

from __future__ import annotations

import os
import sys

from django.core import checks
from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "mappings.project.settings")
application = get_wsgi_application()


def refuse_if_open() -> None:
    """End the process with the messages of failed system checks; WSGI servers do not run those by themselves."""
    failed = [found for found in checks.run_checks() if found.is_serious()]
    for found in failed:
        sys.stderr.write(f"{found}\n")
    if failed:
        raise SystemExit(f"{len(failed)} failed check(s) – the service does not start")


refuse_if_open()

from mappings import inline  # noqa: E402 - needs the applications that get_wsgi_application loads

inline.start()
