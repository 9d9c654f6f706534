"""The whole way, as a table of contents: bytes and documents in, MIDI files and a report out."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from rendering.annotate import annotate
from rendering.assign import Track, by_part, by_template, check_channels
from rendering.codes import CODES
from rendering.documents import canonical, digest
from rendering.files import midi_files
from rendering.listening import Heard, Seat, listen
from rendering.maps.document import ArticulationMap
from rendering.midi import decode
from rendering.midi.encode import LARGEST_NUMBER
from rendering.pencil import PencilMarks, apply
from rendering.perform import PlayedPart, Playing, perform_part, plan_playing
from rendering.places import place_at, place_of
from rendering.problems import Place, Problem, Refused, problem
from rendering.proof import Verdict, prove_track
from rendering.readers import Limits, read
from rendering.readers.smf import AS_PLAYED, grid_of, is_sketch, read_sketch
from rendering.rendered import Options, Run
from rendering.report import report, report_text
from rendering.running import bar_ticks, floor_of, run_tracks
from rendering.score import Score
from rendering.score_document import is_score_document, read_score
from rendering.templates import Assignment, Template
from rendering.trace import trace
from rendering.unfold import unfold

__all__ = ["Limits", "Options", "Rendering", "load", "prove", "render"]

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


def load(data: bytes, limits: Limits | None = None, lap: Lap = _no_lap, grid: str = AS_PLAYED) -> tuple[Score, list[Problem]]:
    """Return the neutral score in a file and what was found wrong; raises Refused.

    MusicXML, a Standard MIDI File (`grid`: to which its rhythm is set), or the score's own JSON document.
    """
    if is_sketch(data):
        sketch = read_sketch(data, limits, grid)
        lap("read")
        return sketch
    unused = [problem("grid-unused")] if grid_of(grid) else []
    if is_score_document(data):
        return read_score(data, limits), unused
    as_read, problems = read(data, limits)
    lap("read")
    score, found = annotate(as_read)
    lap("annotate")
    problems = unused + problems + found + unfold(score, as_read, limits)
    lap("unfold")
    return score, problems


def render(
    data: bytes,
    *,
    maps: Sequence[tuple[str, ArticulationMap]] = (),
    template: Template | None = None,
    template_maps: Mapping[str, ArticulationMap] | None = None,
    assignment: Assignment | None = None,
    pencil: PencilMarks | None = None,
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
    pencil         marks laid over the score
    digests        what the report and the files name as inputs beside the score and the tracks' maps
    progress       called with (tracks done, tracks in all)
    lap            called with a stage's name when it ends; for benchmarks

    Raises Refused when nothing can be produced.
    """
    score, problems = load(data, limits, lap, (options or Options()).grid)
    return render_score(
        score,
        problems=problems,
        maps=maps,
        template=template,
        template_maps=template_maps,
        assignment=assignment,
        pencil=pencil,
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
    pencil: PencilMarks | None = None,
    options: Options | None = None,
    digests: Mapping[str, str] | None = None,
    progress: Progress | None = None,
    lap: Lap = _no_lap,
    with_trace: bool = True,
) -> Rendering:
    """Render a neutral score; `problems` were found while it was read. The rest as in `render`."""
    options = options or Options()
    problems = list(problems)
    if pencil is not None:
        score, lost = apply(score, pencil)
        problems += lost
    playing, found = plan_playing(score, options.ppq, options.tempo)
    _check_length(playing)
    run = Run(score=score, playing=playing, parts=_perform(score, playing, options), options=options)
    run.problems = [*problems, *found, *_placed(run)]
    run.digests = dict(digests or {}) | ({"pencil": digest(canonical(pencil))} if pencil is not None else {})
    lap("perform")
    tracks, found = _assign(run, maps, template, template_maps or {}, assignment)
    run.problems += found
    check_channels(tracks)
    run.digests |= _map_digests(tracks)
    lap("assign")
    run_tracks(run, tracks, lap, progress)
    _fix_extent(run)
    files = midi_files(run)
    lap("encode")
    for track, verdict in zip(run.tracks, prove(run, files["all.mid"], lap), strict=True):
        track.verdict = verdict
    document = report(run)
    lap("report")
    files["report.json"] = json.dumps(document, ensure_ascii=False, indent=1).encode()
    files["report.txt"] = report_text(document).encode()
    if with_trace:
        files["notes.json"] = trace(run)
        lap("trace")
    return Rendering(files=files, report=document, agree=not document["proof"]["disagree"], run=run)


def _check_length(playing: Playing) -> None:
    """Refuse what a MIDI file cannot hold: half of its largest delta time, so that pre-roll and tails fit too."""
    most = LARGEST_NUMBER // 2
    if playing.end > most:
        raise Refused([problem("too-long", quarters=playing.end // playing.ppq, ppq=playing.ppq, most=most // playing.ppq)])


def _perform(score: Score, playing: Playing, options: Options) -> list[PlayedPart]:
    beat = score.unit * 4 // score.measures[0].meter[1] if score.measures and score.measures[0].meter[1] else score.unit
    return [perform_part(part, playing, beat, restrike=options.in_tie == "restrike") for part in score.parts]


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
    run: Run,
    maps: Sequence[tuple[str, ArticulationMap]],
    template: Template | None,
    template_maps: Mapping[str, ArticulationMap],
    assignment: Assignment | None,
) -> tuple[list[Track], list[Problem]]:
    if template is None:
        return by_part(run.score, maps)
    return by_template(
        run.score,
        run.parts,
        template,
        template_maps,
        assignment,
        every_track=run.options.tracks == "all",
        general_midi=run.options.left_over == "general-midi",
    )


def _map_digests(tracks: Sequence[Track]) -> dict[str, str]:
    """Return "map:TRACK" -> digest of the map that the track was rendered with."""
    documents = {id(track.document): track.document for track in tracks}
    known = {name: digest(canonical(document)) for name, document in documents.items()}
    return {f"map:{track.id}": known[id(track.document)] for track in tracks}


def _fix_extent(run: Run) -> None:
    """All tracks get the same pre-roll in whole measures and end at the same tick."""
    first = min((t.scheduled.events[0] >> 28 for t in run.tracks if t.scheduled.events), default=0)
    run.bar = bar_ticks(run)
    preroll = run.options.preroll
    measures = -(min(first, 0) // run.bar) if preroll == "auto" else 0 if preroll == "none" else int(preroll)
    run.shift = measures * run.bar
    run.end = max([run.playing.end, *(t.scheduled.events[-1] >> 28 for t in run.tracks if t.scheduled.events)])


def prove(run: Run, data: bytes, lap: Lap = _no_lap) -> list[Verdict]:
    """Listen to a file of all tracks and compare what is heard with what was decided; one verdict a track, in order.

    Raises Refused when `data` is not a Standard MIDI File.
    """
    seats = [Seat(t.track.sampler, t.track.channel, t.track.port, t.label) for t in run.tracks]
    heard = listen(decode.read(data).tracks, seats)
    lap("listen")
    rows = _rows_by_seat(heard, len(seats))
    verdicts = [
        prove_track(
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
            floor=floor_of(run),
            yielded=t.scheduled.yielded,
        )
        for number, t in enumerate(run.tracks)
    ]
    for found in heard.problems:
        _tell(verdicts, found)
    lap("compare")
    return verdicts


def _tell(verdicts: list[Verdict], found: Problem) -> None:
    """Add what the listener stumbled over, such as a switch key that never comes up, to its track's verdict."""
    values = dict(found.arguments)
    number = int(found.place.part_name.removeprefix("track ")) - 2  # the conductor is the file's first track
    verdicts[max(number, 0)].disagree.append((-1, int(values.get("tick", 0)), CODES[found.code].what.format(**values)))


def _rows_by_seat(heard: Heard, seats: int) -> list[Sequence[int]]:
    rows: list[Sequence[int]] = [()] * seats
    for first, last in heard.spans.values():
        if first < last:
            seat = heard.seat[first]
            rows[seat] = [*rows[seat], *range(first, last)] if rows[seat] else range(first, last)
    return rows
