"""Tracks on their way from lines to events: resolve, split to linked tracks, schedule."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from rendering.assign import Take, Track
from rendering.divide import taken
from rendering.maps.table import Sampler
from rendering.marks import family_of, mask
from rendering.ornaments import Context, write_out
from rendering.perform import Played, hold
from rendering.places import place_of
from rendering.problems import Problem, Refused, problem
from rendering.rendered import Run, TrackRun
from rendering.resolve import Chooser, Decision, Voice, resolve_lines
from rendering.schedule import schedule_track
from rendering.schedule.pedals import pedal_events
from rendering.timeline import Clock, half_up

PEDAL = mask("pedal")
Lap = Callable[[str], None]
Progress = Callable[[int, int], None]


@dataclass(slots=True)
class _Resolved:
    """What one track plays: its own voices, or those that a linked track's map sends here by a label."""

    sampler: Sampler
    chooser: Chooser
    voices: list[Voice]
    label: str = ""


def run_tracks(run: Run, tracks: Sequence[Track], lap: Lap, progress: Progress | None) -> None:
    """Append a TrackRun for each track to `run`; raises Refused when a link leads to a track that is not free."""
    choosers: dict[tuple[object, ...], Chooser] = {}
    resolved = {track.id: _resolve(run, track, choosers) for track in tracks}
    if run.options.lead == "none":
        for chooser in choosers.values():
            chooser.drop_leads()
    lap("resolve")
    for track in tracks:
        if track.labels and not resolved[track.id].label:
            _lead_to_linked(track, resolved, run.playing.clock)
    for number, track in enumerate(tracks, 1):
        run.tracks.append(_schedule(run, track, resolved[track.id]))
        lap("schedule")
        if progress:
            progress(number, len(tracks))


def _resolve(run: Run, track: Track, choosers: dict[tuple[object, ...], Chooser]) -> _Resolved:
    """Tracks that choose alike share their decisions: a kind of note is decided once for all of them."""
    labels = frozenset(track.labels)
    given = track.given | (PEDAL if any(run.parts[take.part].pedals for take in track.lines) else 0)
    like = (id(track.sampler), track.interval, given, labels)
    if like not in choosers:
        choosers[like] = Chooser(track.sampler, track.interval, given=given, team=run.stand_ins, labels=labels)
    chooser = choosers[like]
    lines = [(take.part, _written_out(run, take.part, _pedalled(run, track, take), chooser)) for take in track.lines]
    voices = resolve_lines(lines, chooser, run.playing.clock, run.score.parts)
    return _Resolved(track.sampler, chooser, voices)


def _written_out(run: Run, number: int, line: Played, chooser: Chooser) -> Played:
    """Return a line of a part with what the sampler has no sample of written out."""
    part = run.parts[number]
    if number not in run.contexts:
        run.contexts[number] = Context(part.part, part.lines, run.playing)
    written, found = write_out(line, run.contexts[number], chooser)
    run.problems += [Problem(code=p.code, place=place_of(run.score, part.part.id, s), arguments=p.arguments) for p, s in found]
    return written


def _pedalled(run: Run, track: Track, take: Take) -> Played:
    """Return the line that a track takes; who has no sustain pedal holds the notes instead."""
    part = run.parts[take.part]
    line = taken(part.lines[take.line], take.rows)
    return line if _has_pedal(track) or not part.pedals else hold(line, part.pedals)


def _has_pedal(track: Track) -> bool:
    return family_of(track.document.sound, "") == "keyboard"


def _lead_to_linked(track: Track, resolved: dict[str, _Resolved], clock: Clock) -> None:
    """Move the notes of articulations on other tracks there; they take their sampler with them."""
    mine = resolved[track.id]
    used = {d for voice in mine.voices for d in voice.decisions}
    labels = {mine.chooser.decisions[d].track for d in used} - {""}
    for label in sorted(labels):
        other = track.labels[label]
        if other not in resolved or resolved[other].voices:
            raise Refused([problem("link-not-free", track=track.name, label=label, other=other)])
        resolved[other] = _Resolved(mine.sampler, mine.chooser, _only(mine.voices, mine.chooser.decisions, label, clock), label)
    if labels:
        mine.voices = _only(mine.voices, mine.chooser.decisions, "", clock)


def _only(voices: list[Voice], decisions: list[Decision], label: str, clock: Clock) -> list[Voice]:
    """The notes of the voices that are played where `label` leads; each ends before its voice goes on elsewhere."""
    out = []
    for voice in voices:
        rows = tuple(i for i, d in enumerate(voice.decisions) if decisions[d].track == label)
        if rows:
            line = taken(voice.line, rows)
            line.off = [_end(voice, i, decisions, clock) for i in rows]
            out.append(Voice(voice.part, line, [voice.decisions[i] for i in rows]))
    return out


def _end(voice: Voice, i: int, decisions: list[Decision], clock: Clock) -> int:
    on, end = voice.line.on, voice.line.off[i]
    j = next((j for j in range(i + 1, len(on)) if on[j] > on[i]), -1)
    if j < 0 or on[j] < end or decisions[voice.decisions[j]].track == decisions[voice.decisions[i]].track:
        return end
    return max(min(end, clock.earlier(on[j], decisions[voice.decisions[j]].lead_ms) - 1), on[i] + 1)


def _schedule(run: Run, track: Track, it: _Resolved) -> TrackRun:
    decisions = it.chooser.decisions
    delay = _commonest_lead(it.voices, decisions) if run.options.lead == "track" else 0
    scheduled = schedule_track(
        it.voices,
        decisions,
        it.sampler,
        run.playing.clock,
        channel=track.channel,
        restate=run.options.restate,
        anchors=run.playing.rehearsal,
        extra_ms=track.earlier_ms - delay,
        level_offset=track.level,
        floor=floor_of(run),
    )
    pedals = {pedal for take in track.lines for pedal in run.parts[take.part].pedals}
    if pedals and _has_pedal(track):
        scheduled.events = sorted([*scheduled.events, *pedal_events(sorted(pedals), track.channel)])
    track.sampler = it.sampler
    return TrackRun(track=track, voices=it.voices, decisions=decisions, delay_ms=delay, scheduled=scheduled, label=it.label)


def _commonest_lead(voices: list[Voice], decisions: list[Decision]) -> int:
    counts = Counter(decisions[d].lead_ms for voice in voices for d in voice.decisions)
    return max(counts, key=lambda lead: (counts[lead], -lead), default=0)


def bar_ticks(run: Run) -> int:
    """Return how long a measure of pre-roll is: as the first measure's meter says."""
    beats, kind = run.score.measures[0].meter if run.score.measures else (4, 4)
    return half_up(4 * run.options.ppq * beats, kind) if kind and beats else 4 * run.options.ppq


def floor_of(run: Run) -> int | None:
    """Return the first tick at which a note may be sent; None = any, for pre-roll is added as needed."""
    preroll = run.options.preroll
    if preroll == "auto":
        return None
    return -int(preroll) * bar_ticks(run) if preroll != "none" else 0
