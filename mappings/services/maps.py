"""Articulation maps: create, save, rename, restore, fork, archive."""

from __future__ import annotations

import uuid

from django.db import transaction

from mappings import exchange
from mappings.access import Actor, demand, reference, unknown
from mappings.blobs import Frozen
from mappings.errors import Conflict, Invalid, Item
from mappings.exchange import ArticulationMap
from mappings.models import Instrument, Map, MapMark, MapRevision, Team, Template
from mappings.services import audit, heads, revisions
from mappings.services.revisions import Saved
from rendering.documents import read
from rendering.maps.checks import check
from rendering.maps.compile import compile_map
from rendering.tryout import tryout


def checked(document: ArticulationMap, prefix: str = "") -> list[Item]:
    """Return the warnings and remarks of a map; Invalid, with everything found, if there is an error among them."""
    return exchange.accepted(check(document), prefix)


@transaction.atomic
def create(actor: Actor, *, team: Team, instrument: uuid.UUID, name: str | None, document: ArticulationMap, note: str = "") -> Saved[Map]:
    """Return a new map with its first revision; its name is the document's where none is given."""
    problems = checked(document, "/document")
    home = reference(actor, Instrument, instrument, action="map.write", team=team.pk, pointer="/instrument")
    head = _insert(home, name or document.name, document)
    revision = revisions.first(actor, head, exchange.freeze(document), note)
    _derive(head, document)
    audit.record(actor, "map.create", head, to_version=1)
    return Saved(head=head, revision=revision, problems=problems)


def _insert(home: Instrument, name: str, document: ArticulationMap, origin: str | None = None) -> Map:
    if len(name) > 100:
        raise Invalid(errors=[{"pointer": "/name", "code": "name-too-long", "detail": "A map's name has 100 characters at most."}])
    head = Map(team_id=home.team_id, instrument=home, name=name, sound=document.sound or home.sound, origin_digest=origin)
    heads.insert_named(head, name, Map.objects.filter(instrument=home))
    return head


@transaction.atomic
def save(actor: Actor, *, row: Map, expected: int | None, document: ArticulationMap, note: str = "") -> Saved[Map]:
    """Return the map with its next revision; one that says the same is no new revision and leaves the version as it is."""
    problems = checked(document)
    frozen = exchange.freeze(document)
    held = revisions.hold(row, expected, frozen)
    return _next(actor, held, document, frozen, note, problems, verb="map.save")


def _next(
    actor: Actor,
    held: Map,
    document: ArticulationMap,
    frozen: Frozen,
    note: str,
    problems: list[Item],
    *,
    verb: str,
    old: int | None = None,
) -> Saved[Map]:
    revision = revisions.follow(actor, held, frozen, note, restored_from=old)
    if revision is None:
        return Saved(head=held, revision=revisions.current(held), problems=problems, new=False)
    held.sound = document.sound or held.instrument.sound
    version = heads.bump(held, "current", "sound")
    _derive(held, document)
    audit.record(actor, verb, held, from_version=version - 1, to_version=version, revision=revision.number)
    return Saved(head=held, revision=revision, problems=problems)


def _derive(head: Map, document: ArticulationMap) -> None:
    """Write the rows for search anew."""
    MapMark.objects.filter(map=head).delete()
    rows = exchange.mark_rows(document)
    MapMark.objects.bulk_create(MapMark(team_id=head.team_id, map=head, axis=axis, mark=mark, how=how) for axis, mark, how in rows)


@transaction.atomic
def change(actor: Actor, *, row: Map, expected: int | None, name: str, instrument: uuid.UUID) -> Map:
    """Return the map under another name, or of another instrument of the team; its document stays as it is."""
    held = heads.hold(row, expected)
    held.instrument = reference(actor, Instrument, instrument, action="map.write", team=held.team_id, pointer="/instrument")
    heads.rename(held, name, Map.objects.filter(instrument=held.instrument), "instrument")
    audit.record(actor, "map.change", held, from_version=held.version - 1, to_version=held.version)
    return held


@transaction.atomic
def restore(actor: Actor, *, row: Map, expected: int | None, number: int) -> Saved[Map]:
    """Return the map with a new revision that says what an old one said."""
    held = heads.hold(row, expected)
    old = revisions.numbered(held, number, "/revision")
    document = document_of(old)
    return _next(actor, held, document, exchange.freeze(document), f"restored from revision {number}", [], verb="map.restore", old=number)


@transaction.atomic
def fork(actor: Actor, *, row: Map, team: uuid.UUID | None, instrument: uuid.UUID | None, name: str) -> Saved[Map]:
    """Return a copy of the map's current revision as a new map, here or in another team that the actor edits."""
    target = team or row.team_id
    if target not in actor.roles:
        raise unknown("/team")
    if target != row.team_id and instrument is None:
        raise Invalid(errors=[{"pointer": "", "code": "no-instrument", "detail": "Another team needs an instrument of its own."}])
    demand(actor, target, "map.write")
    old = revisions.current(row)
    document = document_of(old)
    home = reference(actor, Instrument, instrument or row.instrument_id, action="map.write", team=target, pointer="/instrument")
    head = _insert(home, name, document, origin=old.document.digest)
    revision = revisions.first(actor, head, exchange.freeze(document), "")
    _derive(head, document)
    audit.record(actor, "map.fork", head, to_version=1, origin=str(row.pk), revision=old.number)
    return Saved(head=head, revision=revision)


@transaction.atomic
def archive(actor: Actor, *, row: Map, expected: int | None) -> None:
    """Hide a map; Conflict, naming them, while templates of the team use it."""
    held = heads.hold(row, expected)
    users = Template.objects.filter(tracks__map=held, archived_at=None).distinct().order_by("name_key")
    if users:
        listed = [{"id": str(template.pk), "name": template.name} for template in users[:20]]
        raise Conflict("map: templates use it – take it out of them first", code="in-use", templates=listed)
    version = heads.archive(held)
    audit.record(actor, "map.archive", held, from_version=version - 1, to_version=version)


def tryout_of(revision: MapRevision) -> bytes:
    """Return a MIDI file that plays every articulation of a revision in turn."""
    document = document_of(revision)
    return tryout(document, compile_map(document))[0]


def document_of(revision: MapRevision) -> ArticulationMap:
    """Return a revision's document, read."""
    return read(ArticulationMap, revision.document.body.encode())
