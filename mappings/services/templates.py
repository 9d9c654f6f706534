"""Templates: create, save, rename, restore, fork, archive; what their tracks resolve to, and how far they have drifted."""

from __future__ import annotations

import uuid
from collections.abc import Iterable

from django.db import transaction

from mappings import exchange
from mappings.access import Actor, demand, unknown
from mappings.blobs import Frozen
from mappings.errors import Invalid, Item
from mappings.models import Map, MapRevision, Team, Template, TemplateRevision, TemplateTrack
from mappings.services import audit, heads, maps, revisions
from mappings.services.revisions import Saved
from rendering.documents import read
from rendering.templates import Template as Document
from rendering.templates import TemplateTrack as Track
from rendering.templates import check_template

__all__ = ["Document"]

# What a track uses: the map, the revision that its reference means now, and that revision's number.
Resolved = dict[str, tuple[Map, MapRevision]]


def resolve(actor: Actor, document: Document, team: uuid.UUID, prefix: str = "") -> Resolved:
    """Return the map and its revision for each track id; a following track gets the current revision.

    Invalid, at the tracks concerned, for a map that the team does not have and a revision that the map does not have.
    """
    wanted = {track.id: _map_id(track) for track in document.tracks}
    found = {row.pk: row for row in Map.objects.visible_to(actor).filter(team_id=team, pk__in=set(wanted.values()) - {None})}
    numbers = {row.pk: {row.current} for row in found.values()}
    for track in document.tracks:
        key = wanted[track.id]
        if key in found and track.map.revision:
            numbers[key].add(track.map.revision)
    known = _revisions(numbers)
    faults: list[Item] = []
    resolved: Resolved = {}
    for i, track in enumerate(document.tracks):
        row = found.get(wanted[track.id])
        revision = known.get((row.pk, track.map.revision or row.current)) if row else None
        if row is None or revision is None:
            faults += unknown(f"{prefix}/tracks/{i}/map{'/revision' if row else ''}").errors
        else:
            resolved[track.id] = (row, revision)
    if faults:
        raise Invalid(errors=faults)
    return resolved


def _map_id(track: Track) -> uuid.UUID | None:
    try:
        return uuid.UUID(track.map.id) if track.map.id else None
    except ValueError:
        return None


def _revisions(numbers: dict[uuid.UUID, set[int]]) -> dict[tuple[uuid.UUID, int], MapRevision]:
    every = {number for wanted in numbers.values() for number in wanted}
    rows = MapRevision.objects.filter(map__in=numbers, number__in=every).select_related("document")
    return {(row.map_id, row.number): row for row in rows}


def _checked(actor: Actor, document: Document, team: uuid.UUID, prefix: str = "") -> tuple[Resolved, list[Item]]:
    """Return what the tracks use, and the warnings; Invalid for an error, with everything found."""
    resolved = resolve(actor, document, team, prefix)
    read_once = {revision.pk: maps.document_of(revision) for _, revision in resolved.values()}
    used = {track: read_once[revision.pk] for track, (_, revision) in resolved.items()}
    return resolved, exchange.accepted(check_template(document, used), prefix)


def checked_alone(document: Document) -> list[Item]:
    """Return the warnings of a template whose maps are not looked at; Invalid for an error, with everything found."""
    return exchange.accepted(check_template(document), "")


@transaction.atomic
def create(actor: Actor, *, team: Team, name: str | None, document: Document, note: str = "") -> Saved[Template]:
    """Return a new template with its first revision; its name is the document's where none is given."""
    resolved, problems = _checked(actor, document, team.pk, "/document")
    head = _insert(team, name or document.name)
    revision = revisions.first(actor, head, exchange.freeze(document), note)
    _derive(head, document, resolved)
    audit.record(actor, "template.create", head, to_version=1)
    return Saved(head=head, revision=revision, problems=problems)


def _insert(team: Team, name: str, origin: str | None = None) -> Template:
    if len(name) > 100:
        raise Invalid(errors=[{"pointer": "/name", "code": "name-too-long", "detail": "A template's name has 100 characters at most."}])
    head = Template(team=team, name=name, origin_digest=origin)
    heads.insert_named(head, name, Template.objects.filter(team=team))
    return head


@transaction.atomic
def save(actor: Actor, *, row: Template, expected: int | None, document: Document, note: str = "") -> Saved[Template]:
    """Return the template with its next revision; one that says the same is no new revision."""
    frozen = exchange.freeze(document)
    held = revisions.hold(row, expected, frozen)
    resolved, problems = _checked(actor, document, held.team_id)
    return _next(actor, held, document, frozen, note, resolved, problems, verb="template.save")


def _next(
    actor: Actor,
    held: Template,
    document: Document,
    frozen: Frozen,
    note: str,
    resolved: Resolved,
    problems: list[Item],
    *,
    verb: str,
    old: int | None = None,
) -> Saved[Template]:
    revision = revisions.follow(actor, held, frozen, note, restored_from=old)
    if revision is None:
        return Saved(head=held, revision=revisions.current(held), problems=problems, new=False)
    version = heads.bump(held, "current")
    _derive(held, document, resolved)
    audit.record(actor, verb, held, from_version=version - 1, to_version=version, revision=revision.number)
    return Saved(head=held, revision=revision, problems=problems)


def _derive(head: Template, document: Document, resolved: Resolved) -> None:
    """Write the rows of the tracks anew."""
    TemplateTrack.objects.filter(template=head).delete()
    TemplateTrack.objects.bulk_create(_rows(head, document.tracks, resolved))


def _rows(head: Template, tracks: Iterable[Track], resolved: Resolved) -> Iterable[TemplateTrack]:
    for position, track in enumerate(tracks):
        yield TemplateTrack(
            team_id=head.team_id, template=head, position=position, track=track.id, name=track.name,
            map=resolved[track.id][0], pinned=track.map.revision, channel=track.channel, port=track.port,
        )  # fmt: skip


@transaction.atomic
def change(actor: Actor, *, row: Template, expected: int | None, name: str) -> Template:
    """Return the template under another name; its document stays as it is."""
    held = heads.hold(row, expected)
    heads.rename(held, name, Template.objects.filter(team_id=held.team_id))
    audit.record(actor, "template.change", held, from_version=held.version - 1, to_version=held.version)
    return held


@transaction.atomic
def restore(actor: Actor, *, row: Template, expected: int | None, number: int) -> Saved[Template]:
    """Return the template with a new revision that says what an old one said; Invalid where a map of it is gone."""
    held = heads.hold(row, expected)
    old = revisions.numbered(held, number, "/revision")
    document = document_of(old)
    with revisions.pointing("/revision"):
        resolved, problems = _checked(actor, document, held.team_id)
    note = f"restored from revision {number}"
    return _next(actor, held, document, exchange.freeze(document), note, resolved, problems, verb="template.restore", old=number)


@transaction.atomic
def fork(actor: Actor, *, row: Template, name: str) -> Saved[Template]:
    """Return a copy of the template's current revision as a new template of the same team."""
    demand(actor, row.team_id, "template.write")
    old = revisions.current(row)
    document = document_of(old)
    with revisions.pointing(""):
        resolved, problems = _checked(actor, document, row.team_id)
    head = _insert(row.team, name, origin=old.document.digest)
    revision = revisions.first(actor, head, exchange.freeze(document), "")
    _derive(head, document, resolved)
    audit.record(actor, "template.fork", head, to_version=1, origin=str(row.pk), revision=old.number)
    return Saved(head=head, revision=revision, problems=problems)


@transaction.atomic
def archive(actor: Actor, *, row: Template, expected: int | None) -> None:
    """Hide a template; renders keep what they were made from."""
    held = heads.hold(row, expected)
    version = heads.archive(held)
    # Derived rows of an archived template would keep its maps from being archived.
    TemplateTrack.objects.filter(template=held).delete()
    audit.record(actor, "template.archive", held, from_version=version - 1, to_version=version)


def document_of(revision: TemplateRevision) -> Document:
    """Return a revision's document, read."""
    return read(Document, revision.document.body.encode())
