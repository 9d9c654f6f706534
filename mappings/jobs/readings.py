"""Readings: what is in a score's file."""

from __future__ import annotations

from typing import Any

from mappings import blobs, exchange
from mappings.blobs import Frozen
from mappings.jobs import leases
from mappings.jobs.children import Child, Ended, Job
from mappings.models import Score, ScoreVersion


def job(version: ScoreVersion) -> Job:
    """Return what the child needs."""
    return Job(said={"do": "read"}, files={"score": blobs.read(version.blob)})


def settle(version: ScoreVersion, _child: Child, ended: Ended) -> None:
    """Store what was read, or why it was refused; inside the caller's transaction."""
    if "summary" in ended.result:
        _ready(version, ended.result["summary"])
    elif "refused" in ended.result:
        _refused(version, ended.result["refused"], "the file was read and refused")
    else:
        _refused(version, [], ended.reason)


def _ready(version: ScoreVersion, summary: dict[str, Any]) -> None:
    problems = blobs.keep_document(version.team_id, problems_document(summary["problems"]))
    document = blobs.keep_document(version.team_id, exchange.freeze_json("score-summary", summary))
    leases.settle(version, "ready", summary=document, problems=problems)
    title = summary["title"][:200].strip() or "Untitled score"
    Score.objects.filter(pk=version.score_id, title="").update(title=title)


def _refused(version: ScoreVersion, found: list[dict[str, Any]], reason: str) -> None:
    problems = blobs.keep_document(version.team_id, problems_document(found))
    leases.settle(version, "refused", reason, problems=problems)


def problems_document(found: list[dict[str, Any]]) -> Frozen:
    """Return problems, as a report lists them, as a document."""
    return exchange.freeze_json("problems", {"problems": found})
