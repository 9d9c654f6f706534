"""Readings and renders, carried: the row is the truth, whoever carries it.

A row owns its state, its lease and its attempt. `run` claims one row and brings it to its end; `sweep` finds
rows that wait or whose carrier fell silent. No engine of jobs is known here: one only wakes carriers.
"""

from __future__ import annotations

import uuid
from typing import Any

from mappings.errors import ServiceError
from mappings.jobs import leases, readings, renders
from mappings.jobs.children import Child
from mappings.jobs.leases import Gone
from mappings.models import Render, ScoreVersion

__all__ = ["Gone", "run", "sweep"]

Job = tuple[str, uuid.UUID]
KINDS: dict[str, tuple[leases.Model, Any]] = {"reading": (ScoreVersion, readings), "render": (Render, renders)}


def run(kind: str, pk: uuid.UUID) -> bool:
    """Carry one reading or render to its end; False where the row is not to be had (taken, settled, cancelled)."""
    model, task = KINDS[kind]
    row = leases.claim(model, pk)
    if row is None:
        return False
    try:
        with Child(task.job(row)) as child:
            ended = child.wait(lambda: leases.beat(row, child.progress()))
            leases.beat(row, 1000)
            with leases.settling(row) as held:
                if held:
                    task.settle(row, child, ended)
    except Gone:
        leases.settle(row, row.CANCELLED, "cancelled")
    except ServiceError as refused:  # there is no room for its files
        leases.settle(row, row.FAILED, refused.detail)
    except Exception as failed:
        leases.settle(row, row.FAILED, f"the service failed ({type(failed).__name__}) – nothing was stored")
        raise
    return True


def sweep() -> list[Job]:
    """Settle rows that nobody will carry any more; return those to be carried, readings first, oldest first."""
    return [(kind, pk) for kind, (model, _) in KINDS.items() for pk in leases.sweep(model)]
