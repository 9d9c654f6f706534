"""Renders: freeze the inputs, queue, cancel, repeat, drop the files."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from mappings import blobs, exchange, inline
from mappings.access import Actor, reference, unknown
from mappings.blobs import Frozen
from mappings.errors import Conflict, Gone, Invalid, TooMany
from mappings.models import Render, RenderInput, Score, ScoreVersion, Team, Template, TemplateRevision
from mappings.models.renders import OPEN
from mappings.services import audit, revisions, templates


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What somebody wants rendered. `template_revision` None = the current one; `assignment` [] = automatic."""

    score: uuid.UUID
    score_version: int | None = None
    template: uuid.UUID | None = None
    template_revision: int | None = None
    assignment: list[dict[str, Any]] = field(default_factory=list)
    options: dict[str, Any] = field(default_factory=dict)


class Inputs(NamedTuple):
    """What a render is made from, as it is now: rows, and the document that lists them."""

    version: ScoreVersion
    revision: TemplateRevision | None
    rows: list[RenderInput]
    document: Frozen


@transaction.atomic
def create(actor: Actor, *, team: Team, asked: Asked) -> Render:
    """Return a new render, queued, with every input frozen as it is now."""
    _refuse_full_queue(team.pk)
    inputs = _gather(actor, team, asked)
    document = blobs.keep_document(team.pk, inputs.document)
    render = Render(
        team=team, score_version=inputs.version, template_revision=inputs.revision, inputs=document, inputs_digest=document.digest,
        engine_version=exchange.engine_version(), state=Render.WAITING, made_by=actor.user,
    )  # fmt: skip
    _queue(render, inputs.rows)
    audit.record(actor, "render.create", render, inputs=document.digest)
    return render


def made_before(actor: Actor, *, team: Team, asked: Asked) -> Render | None:
    """Return the newest render that ended well with exactly the inputs that a new one would have, and has its files; else None."""
    digest = _gather(actor, team, asked).document.digest
    found = Render.objects.filter(team=team, inputs_digest=digest, state="done", pruned_at=None).order_by("-sort")
    render: Render | None = found.first()
    return render


def _gather(actor: Actor, team: Team, asked: Asked) -> Inputs:
    version = _score_version(actor, team, asked)
    revision = _template_revision(actor, team, asked)
    rows = _freeze(actor, team.pk, asked, revision)
    document = exchange.freeze_json("render-inputs", _inputs(version, revision, rows, asked))
    return Inputs(version, revision, [RenderInput(role="score", blob=version.blob), *rows], document)


def _refuse_full_queue(team: uuid.UUID) -> None:
    waiting = Render.objects.filter(team=team, state__in=OPEN).count()
    most = settings.QUEUED_PER_TEAM + settings.RUNNING_PER_TEAM
    if waiting >= most:
        raise TooMany(f"renders: {waiting} of {most} wait already – try again when one is done", retry_after=30, code="queue-full")


def _score_version(actor: Actor, team: Team, asked: Asked) -> ScoreVersion:
    score = reference(actor, Score, asked.score, action="score.read", team=team.pk, pointer="/score")
    number = asked.score_version or score.current
    found: ScoreVersion | None = score.versions.filter(number=number).defer("blob__data").select_related("blob").first()
    if found is None:
        raise unknown("/score_version")
    refuse_unread(found)
    return found


def refuse_unread(version: ScoreVersion) -> None:
    """Raise Conflict for a version that is still being read, Invalid (with its problems) for one that was refused."""
    if version.state == "reading":
        raise Conflict("score: this version is still being read – try again in a moment", code="not-read-yet")
    if version.state == "refused":
        found = revisions.parsed(version.problems)["problems"] if version.problems else []
        errors = [{"code": it["code"], "severity": it["severity"], "detail": it["message"], "where": it["where"]} for it in found]
        raise Invalid(f"score: this version was refused: {version.reason}", code="score-refused", errors=errors)


def _template_revision(actor: Actor, team: Team, asked: Asked) -> TemplateRevision | None:
    if asked.template is None:
        if asked.assignment or asked.template_revision:
            at = "/assignment" if asked.assignment else "/template_revision"
            raise Invalid(errors=[{"pointer": at, "code": "no-template", "detail": "This needs a template."}])
        return None
    row = reference(actor, Template, asked.template, action="template.read", team=team.pk, pointer="/template")
    found: TemplateRevision = revisions.numbered(row, asked.template_revision or row.current, "/template_revision")
    return found


def _freeze(actor: Actor, team: uuid.UUID, asked: Asked, revision: TemplateRevision | None) -> list[RenderInput]:
    """Return the rows of the template and of each track's map, following ones resolved to a revision."""
    if revision is None:
        return []
    document = templates.document_of(revision)
    _check_assignment(asked, {track.id for track in document.tracks})
    with revisions.pointing("/template"):
        resolved = templates.resolve(actor, document, team)
    maps = [
        RenderInput(role="map", ref=track, document=found.document, map=row, number=found.number)
        for track, (row, found) in resolved.items()
    ]
    return [RenderInput(role="template", document=revision.document, number=revision.number), *maps]


def _check_assignment(asked: Asked, tracks: set[str]) -> None:
    wrong = [
        unknown(f"/assignment/{i}/tracks/{j}").errors[0]
        for i, rule in enumerate(asked.assignment)
        for j, track in enumerate(rule["tracks"])
        if track not in tracks
    ]
    if wrong:
        raise Invalid(errors=wrong)


def _inputs(version: ScoreVersion, revision: TemplateRevision | None, frozen: list[RenderInput], asked: Asked) -> dict[str, Any]:
    """Return the document that lists every input; who made it and when does not belong in it."""
    template = None
    if revision:
        template = {"id": str(revision.template_id), "revision": revision.number, "digest": revision.document.digest}
    maps = [
        {"track": row.ref, "id": str(row.map_id), "revision": row.number, "digest": row.document.digest}
        for row in frozen
        if row.role == "map" and row.document
    ]
    return {
        "score": {"id": str(version.score_id), "version": version.number, "digest": version.blob.digest},
        "template": template,
        "maps": maps,
        "assignment": asked.assignment,
        "options": {**exchange.default_options(), **_choices(revision), **asked.options},
        "engine": exchange.engine_version(),
    }


def _choices(revision: TemplateRevision | None) -> dict[str, Any]:
    """Return the choices that the template makes."""
    return templates.document_of(revision).choices.model_dump(mode="json", exclude_none=True) if revision else {}


def _queue(render: Render, inputs: list[RenderInput]) -> None:
    render.insert()
    for row in inputs:
        row.team_id, row.render = render.team_id, render
    RenderInput.objects.bulk_create(inputs)
    inline.wake_on_commit()


@transaction.atomic
def rerun(actor: Actor, *, render: Render) -> Render:
    """Return a new render of the same frozen inputs; once done it says whether its files are the same."""
    _refuse_full_queue(render.team_id)
    again = Render(
        team_id=render.team_id, score_version_id=render.score_version_id, template_revision_id=render.template_revision_id,
        inputs=render.inputs, inputs_digest=render.inputs_digest, engine_version=exchange.engine_version(), rerun_of=render,
        state=Render.WAITING, made_by=actor.user,
    )  # fmt: skip
    inputs = list(render.frozen.all())
    for row in inputs:
        row.pk, row.id = None, uuid.uuid4()
    _queue(again, inputs)
    audit.record(actor, "render.rerun", again, of=str(render.pk))
    return again


@transaction.atomic
def cancel(actor: Actor, *, render: Render) -> Render:
    """Ask for a render's end; one that nobody carries yet ends at once. Conflict where it is settled."""
    now = timezone.now()
    if Render.objects.filter(pk=render.pk, state="queued").update(state="cancelled", reason="cancelled", settled_at=now):
        pass
    elif not Render.objects.filter(pk=render.pk, state="running").update(cancel_requested_at=now):
        raise Conflict("render: it is settled already – there is nothing to cancel", code="settled")
    audit.record(actor, "render.cancel", render)
    found: Render = Render.objects.get(pk=render.pk)
    return found


@transaction.atomic
def drop_files(actor: Actor, *, render: Render) -> None:
    """Drop a settled render's files; its row, its inputs and its report stay, and a re-run makes the files again."""
    held: Render = Render.objects.select_for_update().get(pk=render.pk)
    if held.state in OPEN:
        raise Conflict("render: it is not settled yet – cancel it first", code="not-settled")
    if held.pruned_at:
        raise Gone("files: they were dropped before – run the render again for new ones", code="gone")
    held.files.all().delete()
    held.pruned_at = timezone.now()
    held.save(update_fields=["pruned_at"])
    audit.record(actor, "render.drop-files", held)
