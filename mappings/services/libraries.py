"""Libraries and instruments."""

from __future__ import annotations

import uuid

from django.db import transaction

from mappings.access import Actor, reference
from mappings.errors import Conflict
from mappings.models import Instrument, Library, Map, Team
from mappings.services import audit, heads


@transaction.atomic
def create_library(actor: Actor, *, team: Team, name: str) -> Library:
    """Return a new library; Conflict where the team has one of this name."""
    library = Library(team=team, name=name)
    heads.insert_named(library, name, Library.objects.filter(team=team))
    audit.record(actor, "library.create", library, to_version=1)
    return library


@transaction.atomic
def rename_library(actor: Actor, *, library: Library, expected: int | None, name: str) -> Library:
    """Return the library under another name."""
    held = heads.hold(library, expected)
    heads.rename(held, name, Library.objects.filter(team_id=held.team_id))
    audit.record(actor, "library.rename", held, from_version=held.version - 1, to_version=held.version)
    return held


@transaction.atomic
def archive_library(actor: Actor, *, library: Library, expected: int | None) -> None:
    """Hide a library; Conflict while it has instruments."""
    held = heads.hold(library, expected)
    if Instrument.objects.filter(library=held, archived_at=None).exists():
        raise Conflict("library: it still has instruments – remove these first", code="in-use")
    version = heads.archive(held)
    audit.record(actor, "library.archive", held, from_version=version - 1, to_version=version)


@transaction.atomic
def create_instrument(actor: Actor, *, library: Library, name: str, sound: str, players: str) -> Instrument:
    """Return a new instrument of a library; Conflict where the library has one of this name."""
    held = heads.hold(library, None)
    instrument = Instrument(team_id=held.team_id, library=held, name=name, sound=sound, players=players)
    heads.insert_named(instrument, name, Instrument.objects.filter(library=held))
    audit.record(actor, "instrument.create", instrument, to_version=1)
    return instrument


@transaction.atomic
def change_instrument(
    actor: Actor, *, instrument: Instrument, expected: int | None, library: uuid.UUID, name: str, sound: str, players: str
) -> Instrument:
    """Return the instrument with other data, in the same or another library of the team."""
    held = heads.hold(instrument, expected)
    held.library = reference(actor, Library, library, action="library.write", team=held.team_id, pointer="/library")
    held.sound, held.players = sound, players
    heads.rename(held, name, Instrument.objects.filter(library=held.library), "library", "sound", "players")
    audit.record(actor, "instrument.change", held, from_version=held.version - 1, to_version=held.version)
    return held


@transaction.atomic
def archive_instrument(actor: Actor, *, instrument: Instrument, expected: int | None) -> None:
    """Hide an instrument; Conflict while it has maps."""
    held = heads.hold(instrument, expected)
    if Map.objects.filter(instrument=held, archived_at=None).exists():
        raise Conflict("instrument: it still has maps – remove these first", code="in-use")
    version = heads.archive(held)
    audit.record(actor, "instrument.archive", held, from_version=version - 1, to_version=version)
