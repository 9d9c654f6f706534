"""Which track plays which line of which part.

With a template, parts go to its tracks by the assignment, else by sound, players and number. Without
one, each part gets a track of its own, on a map given for it, else on General MIDI.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import count
from typing import NamedTuple

from rendering.divide import PLAYERS, SOLO, Desk, Share, share_out
from rendering.maps.compile import compile_map
from rendering.maps.document import ArticulationMap
from rendering.maps.general_midi import PROGRAM_OF, drums, general_midi_for
from rendering.maps.names import numbers_of_name, sound_of_name
from rendering.maps.table import Sampler
from rendering.marks.families import family_of
from rendering.perform import PlayedPart
from rendering.problems import Place, Problem, Refused, problem
from rendering.score import Part, Score
from rendering.templates import Assignment, Plays, Rule, Template, TemplateTrack

DRUM_CHANNEL = 9  # General MIDI: channel 10
SOUND_OF_PROGRAM = {program: sound for sound, program in reversed(PROGRAM_OF.items())}
CHANNELS = tuple(c for c in range(16) if c != DRUM_CHANNEL)


class Take(NamedTuple):
    """Rows of a part's line: indexes of the part and of its line; None = all rows."""

    part: int
    line: int
    rows: tuple[int, ...] | None = None


@dataclass(slots=True, kw_only=True)
class Track:
    """One track to be rendered.

    port, channel  from 0
    document       its articulation map, which `sampler` is compiled from
    lines          what it plays, in score order
    given          mask of marks of players that being this track answers exactly
    labels         label of a trigger in its map -> id of the track that is linked to it
    level          thousandths added to every level; earlier_ms: all notes this much earlier
    interval       semitones by which it doubles
    """

    id: str
    name: str
    document: ArticulationMap
    sampler: Sampler
    channel: int
    port: int = 0
    level: int = 0
    earlier_ms: int = 0
    interval: int = 0
    lines: list[Take] = field(default_factory=list)
    given: int = 0
    labels: dict[str, str] = field(default_factory=dict)  # label of its map -> id of the linked track


@dataclass(slots=True, kw_only=True)
class Described:
    """What is known of a part for finding its track."""

    index: int
    part: Part
    sound: str
    players: str
    numbers: tuple[int, ...]
    program: int
    unpitched: bool


def describe(score: Score) -> list[Described]:
    """Return for each part its sound (stated, by its program, by its name), players and numbers."""
    return [_describe(i, part) for i, part in enumerate(score.parts)]


def _describe(index: int, part: Part) -> Described:
    own = part.instruments[0]
    sound = own.sound or SOUND_OF_PROGRAM.get(own.program if own.program > 0 else -1, "") or sound_of_name(part.name)
    unpitched = any(instrument.unpitched for instrument in part.instruments)
    return Described(
        index=index,
        part=part,
        sound=sound,
        players=own.players,
        numbers=numbers_of_name(part.name),
        program=own.program,
        unpitched=unpitched,
    )


def _place(part: Part) -> Place:
    return Place(part=part.id, part_name=part.name)


# ── Without a template ──


def by_part(score: Score, maps: Sequence[tuple[str, ArticulationMap]]) -> tuple[list[Track], list[Problem]]:
    """Return one track a part, in score order: on channels 1–9, 11–16, then the next port; drums on 10.

    `maps` are (part id or name, map); "" goes to the parts of the map's sound. Raises Refused for a
    name that no part has and for two maps that fit a part equally well.
    """
    described = describe(score)
    _check_names(described, maps)
    tracks, problems = [], []
    taken: set[tuple[int, int]] = set()
    compiled: dict[int, Sampler] = {}
    for it in described:
        chosen, found = _map_for(it, maps)
        problems += found
        if id(chosen) not in compiled:
            compiled[id(chosen)] = compile_map(chosen)
        sampler = compiled[id(chosen)]
        on_drums = it.unpitched and not any(m is chosen for _, m in maps)
        port, channel = _free_place(sampler, (DRUM_CHANNEL,) if on_drums else CHANNELS, taken)
        name = it.part.name or it.part.id
        track = Track(id=it.part.id, name=name, document=chosen, sampler=sampler, channel=channel, port=port)
        track.lines = [Take(it.index, n) for n in range(len(it.part.lines))]
        tracks.append(track)
    return tracks, problems


def _free_place(sampler: Sampler, channels: Sequence[int], taken: set[tuple[int, int]]) -> tuple[int, int]:
    """Take the first port and channel for a map, with all channels that its entries name; `taken` grows."""
    named = {e.channel for e in sampler.entries if e.channel >= 0}
    for port in count():
        for channel in channels:
            wanted = {(port, c) for c in (channel, *named)}
            if channel not in named and not wanted & taken:
                taken |= wanted
                return port, channel
        if len(named) == len(CHANNELS) + 1:
            break
    raise Refused([problem("no-channel-left", map=sampler.name)])


def check_channels(tracks: Sequence[Track]) -> None:
    """Raise Refused when two tracks would hear each other on one port and channel."""
    taken: dict[tuple[int, int], Track] = {}
    for track in tracks:
        for channel in sorted({track.channel, *(e.channel for e in track.sampler.entries if e.channel >= 0)}):
            first = taken.setdefault((track.port, channel), track)
            if first is not track:
                raise Refused([problem("channels-clash", first=first.name, second=track.name, port=track.port + 1, channel=channel + 1)])


def _check_names(described: list[Described], maps: Sequence[tuple[str, ArticulationMap]]) -> None:
    known = {d.part.id for d in described} | {d.part.name for d in described}
    unknown = [name for name, _ in maps if name and name not in known]
    if unknown:
        parts = ", ".join(f"{d.part.id} “{d.part.name}”" for d in described)
        raise Refused([problem("no-such-part", name=name, parts=parts) for name in unknown])


def _map_for(it: Described, maps: Sequence[tuple[str, ArticulationMap]]) -> tuple[ArticulationMap, list[Problem]]:
    for wanted in (it.part.id, it.part.name):
        named = [m for name, m in maps if name and name == wanted]
        if named:
            return named[-1], []
    scored = [(fits(m.sound, m.players or "", it), m) for name, m in maps if not name]
    best = max((s for s, _ in scored), default=0)
    if best:
        equal = [m for s, m in scored if s == best]
        if len(equal) > 1:
            raise Refused([problem("ambiguous-map", _place(it.part), sound=it.sound, maps=", ".join(m.name for m in equal))])
        return equal[0], []
    if it.unpitched:
        return drums(), []
    chosen, guessed = general_midi_for(it.sound, it.part.name, it.program)
    found = [problem("sound-guessed", _place(it.part), map=chosen.name)] if guessed else []
    return chosen, found


def fits(sound: str, players: str, it: Described) -> int:
    """Return how well a map of `sound` and `players` fits a part: 0 = not; a longer sound fits better."""
    if not sound or not it.sound or (players and it.players and players != it.players):
        return 0
    if it.sound != sound and not it.sound.startswith(sound + "."):
        return 0
    return 4 * (sound.count(".") + 1) + 2 * (players == it.players) + (it.sound == sound)


# ── With a template ──


def by_template(
    score: Score,
    parts: Sequence[PlayedPart],
    template: Template,
    maps: Mapping[str, ArticulationMap],
    assignment: Assignment | None,
    *,
    every_track: bool,
    general_midi: bool,
) -> tuple[list[Track], list[Problem]]:
    """Return the template's tracks, in its order, with what they play of the performed `parts`.

    `maps` are the maps of its tracks by track id (KeyError for a missing one). Left-over parts are
    problems; with `general_midi` they get tracks after the template's. Empty tracks are left out
    unless `every_track`.
    """
    compiled: dict[int, Sampler] = {}
    tracks = {t.id: _track(t, maps[t.id], compiled, template) for t in template.tracks}
    layers = {t.id for t in template.tracks if t.layer}
    described = describe(score)
    problems: list[Problem] = []
    left: list[Described] = []
    for it in described:
        rules, found = _rules(it, assignment, tracks)
        automatic, more = automatic_tracks(it, template, maps) if not _names_all(rules) else ([], [])
        problems += found + more
        if it.part.lines and not (automatic or rules):
            left.append(it)
            continue

        def desk(name: str) -> Desk:
            return Desk(name, tracks[name].sampler.players == "solo", name in layers)

        shares = share_out(
            parts[it.index].lines,
            [i.id or i.name for i in it.part.instruments],
            rules,
            [desk(name) for name in automatic],
            desk,
            strings=family_of(it.sound, it.part.name) == "strings",
        )
        _give(it, shares, tracks, layers)
    problems += [problem("part-without-track", _place(it.part), sound=it.sound or "unknown") for it in left if not general_midi]
    out = [t for t in tracks.values() if t.lines or every_track or _is_linked(t, tracks)]
    if general_midi and left:
        extra, found = _left_over(score, left, out)
        out += extra
        problems += found
    return out, problems


def _give(it: Described, shares: Mapping[str, Sequence[Share]], tracks: Mapping[str, Track], layers: set[str]) -> None:
    divided = sum(name not in layers for name in shares) > 1
    for name, share in shares.items():
        track = tracks[name]
        track.lines += [Take(it.index, s.line, s.rows) for s in share]
        if divided and name not in layers:
            track.given |= PLAYERS
        elif track.sampler.players == "solo":
            track.given |= SOLO


def _is_linked(track: Track, tracks: Mapping[str, Track]) -> bool:
    return any(other.lines and track.id in other.labels.values() for other in tracks.values())


def _names_all(rules: Sequence[Rule]) -> bool:
    """Tell whether the rules leave no note of a part to be assigned by its sound."""
    return any((r.staff, r.voice, r.instrument, r.mark) == (None,) * 4 for r in rules)


def _rules(it: Described, assignment: Assignment | None, tracks: Mapping[str, Track]) -> tuple[list[Rule], list[Problem]]:
    """The rules that name a part, without tracks that the template does not have."""
    rules = [r for r in assignment.rules if r.part in (it.part.id, it.part.name)] if assignment else []
    unknown = dict.fromkeys(i for r in rules for i in r.tracks if i not in tracks)
    found = [problem("no-such-track", _place(it.part), track=i) for i in unknown]
    return [r.model_copy(update={"tracks": tuple(i for i in r.tracks if i in tracks)}) for r in rules], found


def _track(t: TemplateTrack, document: ArticulationMap, compiled: dict[int, Sampler], template: Template) -> Track:
    if id(document) not in compiled:
        compiled[id(document)] = compile_map(document)
    layer_interval, layer_level = (t.layer.interval, t.layer.level) if t.layer else (0, 0)
    return Track(
        id=t.id,
        name=t.name,
        document=document,
        sampler=_moved(compiled[id(document)], t.local.key_offset),
        channel=t.channel - 1,
        port=t.port - 1,
        level=t.local.level + layer_level,
        earlier_ms=t.local.earlier_ms,
        interval=layer_interval,
        labels={e.track: template.links[e.track] for e in compiled[id(document)].entries if e.track in template.links},
    )


def _moved(sampler: Sampler, keys: int) -> Sampler:
    return replace(sampler, key_offset=sampler.key_offset + keys) if keys else sampler


def automatic_tracks(it: Described, template: Template, maps: Mapping[str, ArticulationMap]) -> tuple[list[str], list[Problem]]:
    """Return the tracks to which a part goes by itself; a part "1.2" goes to the tracks numbered 1 and 2."""
    ids: list[str] = []
    problems: list[Problem] = []
    for number in it.numbers or (0,):
        scored = [(max((_suits(p, it, number) for p in _selectors(t, maps)), default=0), t) for t in template.tracks]
        best = max(s for s, _ in scored)
        if not best:
            continue
        equal = [t for s, t in scored if s == best and not t.layer]
        if len(equal) > 1:
            names = ", ".join(t.name for t in equal)
            problems.append(problem("ambiguous-track", _place(it.part), tracks=names, track=equal[0].name))
        doubling = [t for s, t in scored if s == best and t.layer]
        ids += [t.id for t in (*equal[:1], *doubling) if t.id not in ids]
    return ids, problems


def _selectors(t: TemplateTrack, maps: Mapping[str, ArticulationMap]) -> Sequence[Plays]:
    own = maps[t.id]
    return t.for_ or (Plays(sound=own.sound, players=own.players),)


def _suits(plays: Plays, it: Described, number: int) -> int:
    if plays.number is not None and plays.number != (number or 1):
        return 0
    fit = fits(plays.sound, plays.players or "", it)
    return 2 * fit + (plays.number is not None) if fit else 0


def _left_over(score: Score, left: list[Described], tracks: list[Track]) -> tuple[list[Track], list[Problem]]:
    extra, problems = by_part(score, [])
    wanted = {it.index for it in left}
    extra = [t for t in extra if t.lines and t.lines[0].part in wanted]
    taken = {(t.port, c) for t in tracks for c in (t.channel, *(e.channel for e in t.sampler.entries if e.channel >= 0))}
    for t in extra:
        t.port, t.channel = _free_place(t.sampler, (DRUM_CHANNEL,) if t.channel == DRUM_CHANNEL else CHANNELS, taken)
        t.id = f"gm-{t.id}"
    return extra, [p for p in problems if any(p.place.part == it.part.id for it in left)]
