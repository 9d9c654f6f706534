"""Readings: what is in a score's file."""

from __future__ import annotations

from typing import Any

from mappings import blobs, exchange
from mappings.jobs import leases
from mappings.jobs.children import Child, Ended, Job
from mappings.models import Score, ScoreVersion
from rendering.problems import Place, Problem


def job(version: ScoreVersion) -> Job:
    """Return what the child needs."""
    return Job(said={"do": "read"}, files={"score": blobs.read(version.blob)})


def settle(version: ScoreVersion, _child: Child, ended: Ended) -> None:
    """Store what was read, or why it was refused; inside the caller's transaction."""
    if "summary" in ended.result:
        _ready(version, ended.result["summary"])
    elif "refused" in ended.result:
        found = [exchange.item(problem_of(said)) for said in ended.result["refused"]]
        _refused(version, found, "the file was read and refused")
    else:
        _refused(version, [], ended.reason)


def _ready(version: ScoreVersion, summary: dict[str, Any]) -> None:
    problems = blobs.keep_document(version.team_id, exchange.freeze_json("problems", {"problems": summary.get("problems", [])}))
    document = blobs.keep_document(version.team_id, exchange.freeze_json("score-summary", summary))
    leases.settle(version, "ready", summary=document, problems=problems)
    title = str(summary.get("title") or "")[:200].strip() or "Untitled score"
    Score.objects.filter(pk=version.score_id, title="").update(title=title)


def _refused(version: ScoreVersion, found: list[dict[str, Any]], reason: str) -> None:
    problems = blobs.keep_document(version.team_id, exchange.freeze_json("problems", {"problems": found}))
    leases.settle(version, "refused", reason, problems=problems)


def problem_of(said: dict[str, Any]) -> Problem:
    """Return a problem as a child wrote it down."""
    arguments = tuple((name, value) for name, value in said["arguments"])
    return Problem(code=said["code"], place=Place(**said["place"]), arguments=arguments)
