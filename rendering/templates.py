"""Templates and assignments: the tracks of a session, and which of them play which part."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Annotated, Any, ClassVar, Literal

from pydantic import AfterValidator, Discriminator, Field, RootModel, Tag, model_validator
from pydantic_core import PydanticCustomError

from rendering.documents import CONFIG, TAG, DocumentModel, Name, escaped, shown
from rendering.maps.document import ArticulationMap, Channel, Id, MarkName, Sound, Track
from rendering.maps.facts import Facts
from rendering.maps.switch_checks import keys_in_range
from rendering.problems import Place, Problem, problem

MidiNumber = Annotated[int, Field(ge=1, le=16)]
Player = Annotated[int, Field(ge=1, le=99)]


class MapReference(DocumentModel):
    """Which map a track uses, by exactly one of id, digest (SHA-256, hex) and file; `revision` null follows."""

    id: Annotated[str, Field(min_length=1, max_length=64)] | None = None
    digest: Annotated[str, Field(min_length=64, max_length=64)] | None = None
    file: Name | None = None
    revision: Annotated[int, Field(ge=1, le=1_000_000_000)] | None = None

    @model_validator(mode="after")
    def _one(self) -> MapReference:
        if [self.id, self.digest, self.file].count(None) != 2:
            raise PydanticCustomError("map_reference", "map")
        return self


class Plays(DocumentModel):
    """Parts that go to a track by themselves: of this sound, these players, this desk or player number."""

    sound: Sound
    players: Literal["solo", "ensemble"] | None = None
    number: Player | None = None


class Local(DocumentModel):
    """Values added to the map's: level in thousandths, ms earlier, keys."""

    level: Annotated[int, Field(ge=-1000, le=1000)] = 0
    earlier_ms: Annotated[int, Field(ge=-2000, le=2000)] = 0
    key_offset: Annotated[int, Field(ge=-127, le=127)] = 0


class Layer(DocumentModel):
    """A doubling: what the track plays lies `interval` semitones off, its level `level` thousandths off."""

    interval: Annotated[int, Field(ge=-48, le=48)] = 0
    level: Annotated[int, Field(ge=-1000, le=1000)] = 0


class TemplateTrack(DocumentModel):
    """One track: its map, channel and port (both from 1), and the parts that go to it by themselves."""

    id: Id
    name: Name
    map: MapReference
    channel: MidiNumber
    port: MidiNumber = 1
    for_: tuple[Plays, ...] = Field(default=(), alias="for", max_length=100)
    local: Local = Local()
    layer: Layer | None = None


def _preroll_kind(value: Any) -> str:
    return TAG + ("word" if isinstance(value, str) else "measures")


Preroll = Annotated[
    Annotated[Literal["auto", "none"], Tag(TAG + "word")] | Annotated[int, Field(ge=0, le=100), Tag(TAG + "measures")],
    Discriminator(_preroll_kind),
]


class Choices(DocumentModel):
    """Choices of rendering that the template makes; those left out keep the render's own."""

    ppq: Annotated[int, Field(ge=24, le=32_767)] | None = None
    restate: Literal["change", "phrase", "note"] | None = None
    lead: Literal["notes", "track", "none"] | None = None
    preroll: Preroll | None = None
    tracks: Literal["used", "all"] | None = None
    in_tie: Literal["wait", "restrike"] | None = None


def _sorted(links: dict[str, str]) -> dict[str, str]:
    return dict(sorted(links.items()))  # the order of an object's fields means nothing: one content, one digest


class Template(DocumentModel):
    """Ordered tracks, each bound to a map, a channel and a port; `links` binds labels of maps to tracks."""

    most_values: ClassVar[int] = 100_000

    kind: Literal["template"]
    edition: Literal[1]
    name: Name
    tracks: Annotated[tuple[TemplateTrack, ...], Field(min_length=1, max_length=1000)]
    links: Annotated[dict[Name, Id], AfterValidator(_sorted)] = Field(default={}, max_length=1000)
    choices: Choices = Choices()


class Rule(DocumentModel):
    """One line of an assignment; the more it names, the more specific it is."""

    part: Name
    staff: Annotated[int, Field(ge=1, le=100)] | None = None
    voice: Name | None = None
    instrument: Name | None = None
    player: Player | None = None
    mark: MarkName | None = None
    tracks: Annotated[tuple[Id, ...], Field(max_length=100)]

    @property
    def weight(self) -> int:
        """How many keys it names beside the part."""
        return 5 - [self.staff, self.voice, self.instrument, self.player, self.mark].count(None)


class Assignment(RootModel[tuple[Rule, ...]]):
    """Which tracks play which part; parts that no rule names are assigned by their sound.

    Of the rules that fit a note the most specific holds, of equals the first.
    """

    model_config = {key: value for key, value in CONFIG.items() if key != "extra"}  # type: ignore[assignment]

    @property
    def rules(self) -> tuple[Rule, ...]:
        """The rules, in order."""
        return self.root


def check_template(template: Template, maps: Mapping[str, ArticulationMap] | None = None) -> list[Problem]:
    """Return every problem of a template; `maps` are the maps of its tracks by track id, as far as known."""
    known = dict(maps or {})
    found = list(_doubled(template))
    found += _channels(template, known)
    found += _links(template, known)
    found += _offsets(template, known)
    return found


def _at(*path: str | int) -> Place:
    return Place(pointer=escaped(path))


def _doubled(template: Template) -> Iterator[Problem]:
    for field, code in (("id", "track-doubled"), ("name", "track-name-doubled")):
        seen: set[str] = set()
        for i, track in enumerate(template.tracks):
            value = getattr(track, field)
            if value in seen:
                yield problem(code, _at("tracks", i, field), text=shown(value))
            seen.add(value)


def _channels(template: Template, maps: Mapping[str, ArticulationMap]) -> Iterator[Problem]:
    """Report each (port, channel) that a second track claims, by its own channel or by its map's triggers."""
    owner: dict[tuple[int, int], str] = {}
    for i, track in enumerate(template.tracks):
        if (track.port, track.channel) in owner:
            yield _taken(i, "channel", track, track.channel, owner)
        owner.setdefault((track.port, track.channel), track.name)
    for i, track in enumerate(template.tracks):
        for channel in sorted(_claimed(maps.get(track.id))):
            if (track.port, channel) in owner:
                yield _taken(i, "map", track, channel, owner)
            owner.setdefault((track.port, channel), track.name)


def _taken(i: int, field: str, track: TemplateTrack, channel: int, owner: Mapping[tuple[int, int], str]) -> Problem:
    first = shown(owner[track.port, channel])
    return problem("channel-taken", _at("tracks", i, field), track=shown(track.name), first=first, channel=channel, port=track.port)


def _claimed(document: ArticulationMap | None) -> set[int]:
    return {trigger.channel for trigger in _triggers(document) if isinstance(trigger, Channel)}


def _triggers(document: ArticulationMap | None) -> Iterable[object]:
    return [trigger for it in document.articulations for trigger in it.triggers] if document else []


def _links(template: Template, maps: Mapping[str, ArticulationMap]) -> Iterator[Problem]:
    ids = {track.id for track in template.tracks}
    used: set[str] = set()
    for i, track in enumerate(template.tracks):
        labels = {trigger.track for trigger in _triggers(maps.get(track.id)) if isinstance(trigger, Track)}
        used |= labels
        for label in sorted(labels):
            if label not in template.links:
                yield problem("link-missing", _at("tracks", i, "map"), label=shown(label), track=shown(track.name))
            elif template.links[label] == track.id:
                yield problem("link-to-itself", _at("links", label), label=shown(label), track=shown(track.name))
    for label, target in template.links.items():
        if target not in ids:
            yield problem("link-unknown", _at("links", label), label=shown(label), id=shown(target))
        elif label not in used and ids <= maps.keys():
            yield problem("link-idle", _at("links", label), label=shown(label))


def _offsets(template: Template, maps: Mapping[str, ArticulationMap]) -> Iterator[Problem]:
    """Report tracks whose own key offset moves notes onto the switches of their map."""
    for i, track in enumerate(template.tracks):
        document, offset = maps.get(track.id), track.local.key_offset
        if document is None or not offset:
            continue
        moved = document.model_copy(update={"key_offset": document.key_offset + offset})
        before = {found.arguments for found in keys_in_range(Facts(document))}
        met = [
            dict(found.arguments)["key"]
            for found in keys_in_range(Facts(moved))
            if "key" in dict(found.arguments) and found.arguments not in before
        ]
        if met:
            yield problem("offset-onto-switch", _at("tracks", i, "local", "key_offset"), track=shown(track.name), offset=offset, key=met[0])
