"""The JSON bodies that the API takes, beside the documents themselves."""

from __future__ import annotations

from typing import Annotated, Literal
from uuid import UUID

from pydantic import AwareDatetime, Field

from mappings.exchange import ArticulationMap, DocumentModel, Line, Name, Preroll, Rule, Sound, Template

ShortName = Annotated[Name, Field(max_length=100)]
Note = Annotated[Line, Field(max_length=200)]
Number = Annotated[int, Field(ge=1, le=1_000_000_000)]
Players = Literal["", "solo", "ensemble"]


class NewTeam(DocumentModel):
    """A team to be made."""

    name: ShortName


class ChangedTeam(DocumentModel):
    """A team's data."""

    name: ShortName


class ChangedMember(DocumentModel):
    """A member's role."""

    role: Literal["reader", "editor", "owner"]


class NewToken(DocumentModel):
    """A token to be made; `write` includes `read`; it may live for a year at most."""

    name: ShortName
    scopes: Annotated[tuple[Literal["read", "write"], ...], Field(min_length=1, max_length=2)]
    expires_at: AwareDatetime


class NewLibrary(DocumentModel):
    """A library to be made."""

    name: ShortName


class ChangedLibrary(DocumentModel):
    """A library's data."""

    name: ShortName


class NewInstrument(DocumentModel):
    """An instrument to be made; `sound` is a MusicXML instrument sound; `players` "" means either."""

    name: ShortName
    sound: Annotated[Sound, Field(min_length=1)]
    players: Players = ""


class ChangedInstrument(DocumentModel):
    """An instrument's data."""

    name: ShortName
    library: UUID
    sound: Annotated[Sound, Field(min_length=1)]
    players: Players = ""


class NewMap(DocumentModel):
    """A map to be made; without a name it takes that of its document."""

    instrument: UUID
    name: ShortName | None = None
    note: Note = ""
    document: ArticulationMap


class ChangedMap(DocumentModel):
    """A map's data; its document has an address of its own."""

    name: ShortName
    instrument: UUID


class NewTemplate(DocumentModel):
    """A template to be made; without a name it takes that of its document."""

    name: ShortName | None = None
    note: Note = ""
    document: Template


class ChangedTemplate(DocumentModel):
    """A template's data; its document has an address of its own."""

    name: ShortName


class Restore(DocumentModel):
    """Which revision is to be in force again."""

    revision: Number


class ForkMap(DocumentModel):
    """A copy to be made; in another team it needs an instrument there."""

    name: ShortName
    team: UUID | None = None
    instrument: UUID | None = None


class ForkTemplate(DocumentModel):
    """A copy to be made in the same team."""

    name: ShortName


class ChangedScore(DocumentModel):
    """A score's data."""

    title: Name


class Options(DocumentModel):
    """Choices of a render: those of the command line's options. What is left out comes from the template, else from the defaults.

    `tempo` is in thousandths of a quarter note a minute; left out, the score's own holds. `grid` is what the rhythm of a
    MIDI sketch is set to: "1/16", "1/16+1/24", "none".
    """

    ppq: Annotated[int, Field(ge=24, le=32_767)] | None = None
    restate: Literal["change", "phrase", "note"] | None = None
    lead: Literal["notes", "track", "none"] | None = None
    preroll: Preroll | None = None
    tracks: Literal["used", "all"] | None = None
    in_tie: Literal["wait", "restrike"] | None = None
    tempo: Annotated[int, Field(ge=4_000, le=960_000)] | None = None
    grid: Annotated[str, Field(max_length=60, pattern=r"^(none|1/[1-9][0-9]{0,2}(\+1/[1-9][0-9]{0,2})*)$")] | None = None
    left_over: Literal["report", "general-midi"] | None = None


class NewRender(DocumentModel):
    """A render to be made.

    Without a version and a revision, the current ones are taken; without a template, parts play on General MIDI;
    without an assignment, parts find their tracks by their sound.
    """

    score: UUID
    score_version: Number | None = None
    template: UUID | None = None
    template_revision: Number | None = None
    assignment: Annotated[tuple[Rule, ...], Field(max_length=1000)] = ()
    options: Options = Options()
