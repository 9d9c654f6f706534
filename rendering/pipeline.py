"""The whole way, as a table of contents: bytes and documents in, MIDI files and a report out."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from rendering.annotate import annotate
from rendering.assign import Track, by_part, by_template, check_channels
from rendering.documents import canonical, digest
from rendering.files import midi_files
from rendering.listening import Heard, Seat, listen
from rendering.maps.document import ArticulationMap
from rendering.midi import decode
from rendering.perform import PlayedPart, Playing, perform_part, plan_playing
from rendering.places import place_at, place_of
from rendering.problems import Place, Problem
from rendering.proof import prove_track
from rendering.readers import Limits, read
from rendering.rendered import Options, Run, TrackRun
from rendering.report import report, report_text
from rendering.resolve import Chooser, Decision, Voice, resolve_lines
from rendering.schedule import schedule_track
from rendering.score import Score
from rendering.templates import Assignment, Template
from rendering.timeline import half_up
from rendering.trace import trace
from rendering.unfold import unfold

__all__ = ["Limits", "Options", "Rendering", "load", "render"]

Progress = Callable[[int, int], None]
Lap = Callable[[str], None]


def _no_lap(_stage: str) -> None:
    return


@dataclass(slots=True, kw_only=True)
class Rendering:
    """What a render produced.

    files   name -> bytes: "all.mid", "tracks/NN name.mid", "report.json", "report.txt", "notes.json"
    report  the report document
    agree   the proof found no disagreement
    """

    files: dict[str, bytes]
    report: dict[str, Any]
    agree: bool
    run: Run = field(repr=False)


def load(data: bytes, limits: Limits | None = None, lap: Lap = _no_lap) -> tuple[Score, list[Problem]]:
    """Return the neutral score in a file, and what was found wrong; raises Refused."""
    as_read, problems = read(data, limits)
    lap("read")
    score, found = annotate(as_read)
    lap("annotate")
    problems = problems + found + unfold(score, as_read, limits)
    lap("unfold")
    return score, problems


def render(
    data: bytes,
    *,
    maps: Sequence[tuple[str, ArticulationMap]] = (),
    template: Template | None = None,
    template_maps: Mapping[str, ArticulationMap] | None = None,
    assignment: Assignment | None = None,
    options: Options | None = None,
    limits: Limits | None = None,
    digests: Mapping[str, str] | None = None,
    progress: Progress | None = None,
    lap: Lap = _no_lap,
    with_trace: bool = True,
) -> Rendering:
    """Render a score file.

    maps           (part id or name, map); "" = for the parts of the map's sound
    template_maps  track id -> map, of every track of `template`
    digests        what the report and the files name as inputs beside the score and the tracks' maps
    progress       called with (tracks done, tracks in all)
    lap            called with a stage's name when it ends; for benchmarks

    Raises Refused when nothing can be produced.
    """
    score, problems = load(data, limits, lap)
    return render_score(
        score,
        problems=problems,
        maps=maps,
        template=template,
        template_maps=template_maps,
        assignment=assignment,
        options=options,
        digests={"score": digest(data), **(digests or {})},
        progress=progress,
        lap=lap,
        with_trace=with_trace,
    )


def render_score(
    score: Score,
    *,
    problems: Sequence[Problem] = (),
    maps: Sequence[tuple[str, ArticulationMap]] = (),
    template: Template | None = None,
    template_maps: Mapping[str, ArticulationMap] | None = None,
    assignment: Assignment | None = None,
    options: Options | None = None,
    digests: Mapping[str, str] | None = None,
    progress: Progress | None = None,
    lap: Lap = _no_lap,
    with_trace: bool = True,
) -> Rendering:
    """Render a neutral score; `problems` were found while it was read. The rest as in `render`."""
    options = options or Options()
    playing, found = plan_playing(score, options.ppq)
    run = Run(score=score, playing=playing, parts=_perform(score, playing), options=options)
    run.problems = [*problems, *found, *_placed(run)]
    run.digests = dict(digests or {})
    lap("perform")
    tracks, found = _assign(score, maps, template, template_maps or {}, assignment, options)
    run.problems += found
    check_channels(tracks)
    run.digests |= _map_digests(tracks)
    for number, track in enumerate(tracks, 1):
        run.tracks.append(_run_track(run, track, lap))
        if progress:
            progress(number, len(tracks))
    _fix_extent(run)
    files = midi_files(run)
    lap("encode")
    _prove(run, files["all.mid"], lap)
    document = report(run)
    lap("report")
    files["report.json"] = json.dumps(document, ensure_ascii=False, indent=1).encode()
    files["report.txt"] = report_text(document).encode()
    if with_trace:
        files["notes.json"] = trace(run)
        lap("trace")
    return Rendering(files=files, report=document, agree=not document["proof"]["disagree"], run=run)


def _perform(score: Score, playing: Playing) -> list[PlayedPart]:
    beat = score.unit * 4 // score.measures[0].meter[1] if score.measures and score.measures[0].meter[1] else score.unit
    return [perform_part(part, playing, beat) for part in score.parts]


def _placed(run: Run) -> list[Problem]:
    """Give the problems of performing their places."""
    out = []
    for part in run.parts:
        for found, source, unit in part.problems:
            if source:
                place = place_of(run.score, part.part.id, source)
            else:
                place = place_at(run.score, part.part.id, unit, 0) if unit >= 0 else Place(part=part.part.id, part_name=part.part.name)
            out.append(Problem(code=found.code, place=place, arguments=found.arguments))
    return out


def _assign(
    score: Score,
    maps: Sequence[tuple[str, ArticulationMap]],
    template: Template | None,
    template_maps: Mapping[str, ArticulationMap],
    assignment: Assignment | None,
    options: Options,
) -> tuple[list[Track], list[Problem]]:
    if template is None:
        return by_part(score, maps)
    return by_template(
        score,
        template,
        template_maps,
        assignment,
        every_track=options.tracks == "all",
        general_midi=options.left_over == "general-midi",
    )


def _map_digests(tracks: Sequence[Track]) -> dict[str, str]:
    """Return "map:TRACK" -> digest of the map that the track was rendered with."""
    known = {id(track.document): digest(canonical(track.document)) for track in tracks}
    return {f"map:{track.id}": known[id(track.document)] for track in tracks}


def _run_track(run: Run, track: Track, lap: Lap) -> TrackRun:
    """Take one track from its lines to its events."""
    chooser = Chooser(track.sampler, track.interval)
    clock = run.playing.clock
    voices = resolve_lines([(part, run.parts[part].lines[line]) for part, line in track.lines], chooser, clock, run.score.parts)
    if run.options.lead == "none":
        chooser.drop_leads()
    delay = _commonest_lead(voices, chooser.decisions) if run.options.lead == "track" else 0
    lap("resolve")
    scheduled = schedule_track(
        voices,
        chooser.decisions,
        track.sampler,
        clock,
        channel=track.channel,
        restate=run.options.restate,
        anchors=run.playing.rehearsal,
        extra_ms=track.earlier_ms - delay,
        level_offset=track.level,
        floor=_floor(run),
    )
    lap("schedule")
    return TrackRun(track=track, voices=voices, decisions=chooser.decisions, delay_ms=delay, scheduled=scheduled)


def _commonest_lead(voices: list[Voice], decisions: list[Decision]) -> int:
    counts = Counter(decisions[d].lead_ms for voice in voices for d in voice.decisions)
    return max(counts, key=lambda lead: (counts[lead], -lead), default=0)


def _bar_ticks(run: Run) -> int:
    """A measure of pre-roll is as long as the first measure's meter says."""
    beats, kind = run.score.measures[0].meter if run.score.measures else (4, 4)
    return half_up(4 * run.options.ppq * beats, kind) if kind and beats else 4 * run.options.ppq


def _floor(run: Run) -> int | None:
    """The first tick at which a note may be sent."""
    preroll = run.options.preroll
    if preroll == "auto":
        return None
    return -int(preroll) * _bar_ticks(run) if preroll != "none" else 0


def _fix_extent(run: Run) -> None:
    """All tracks get the same pre-roll in whole measures and end at the same tick."""
    first = min((t.scheduled.events[0] >> 28 for t in run.tracks if t.scheduled.events), default=0)
    run.bar = _bar_ticks(run)
    preroll = run.options.preroll
    measures = -(min(first, 0) // run.bar) if preroll == "auto" else 0 if preroll == "none" else int(preroll)
    run.shift = measures * run.bar
    run.end = max([run.playing.end, *(t.scheduled.events[-1] >> 28 for t in run.tracks if t.scheduled.events)])


def _prove(run: Run, data: bytes, lap: Lap) -> None:
    """Listen to the bytes and compare what is heard with what was decided."""
    seats = [Seat(t.track.sampler, t.track.channel, t.track.port) for t in run.tracks]
    heard = listen(decode.read(data).tracks, seats)
    lap("listen")
    rows = _rows_by_seat(heard, len(seats))
    for number, t in enumerate(run.tracks):
        t.verdict = prove_track(
            t.voices,
            t.decisions,
            t.track.sampler,
            heard,
            rows[number],
            run.playing.clock,
            channel=t.track.channel,
            shift=run.shift,
            extra_ms=t.extra_ms,
            level_offset=t.track.level,
            floor=_floor(run),
            yielded=t.scheduled.yielded,
        )
    lap("compare")


def _rows_by_seat(heard: Heard, seats: int) -> list[Sequence[int]]:
    rows: list[Sequence[int]] = [()] * seats
    for first, last in heard.spans.values():
        if first < last:
            seat = heard.seat[first]
            rows[seat] = [*rows[seat], *range(first, last)] if rows[seat] else range(first, last)
    return rows
