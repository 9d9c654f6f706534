"""Whether the process lives, and whether it can serve."""

from __future__ import annotations

from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse
from django.views.decorators.http import require_safe


@require_safe
def livez(request: HttpRequest) -> JsonResponse:  # noqa: ARG001
    """Answer as soon as the process can."""
    return JsonResponse({"alive": True})


@require_safe
def readyz(request: HttpRequest) -> JsonResponse:  # noqa: ARG001
    """Answer 200 where the database answers and every migration is applied, else 503 and what is missing."""
    missing = _missing()
    return JsonResponse({"ready": not missing, "missing": missing}, status=503 if missing else 200)


def _missing() -> list[str]:
    try:
        executor = MigrationExecutor(connection)
        plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return ["database"]
    return ["migrations"] if plan else []
