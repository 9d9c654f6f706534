"""Standard MIDI Files of formats 0 and 1 as sketches: what was played, as a neutral score.

One part a channel of a track. Ticks become Units unchanged, so that the timing is the one played; a
grid is used only when asked for. Velocities become levels of the notes, sustain pedals stay pedals.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

from rendering.midi import decode
from rendering.problems import Problem, Refused, problem
from rendering.readers.limits import Limits
from rendering.readers.smf.frame import FILE, Frame, frame_of, lay_out
from rendering.readers.smf.grid import AS_PLAYED, Grid, grid_of
from rendering.readers.smf.parts import PartBuilder, pedals_of
from rendering.readers.smf.strands import Strand, strands_of
from rendering.score import Score
from rendering.timeline import Clock

__all__ = ["AS_PLAYED", "grid_of", "is_sketch", "read_sketch"]

MOST_UNIT = 1_000_000  # Units per quarter that a score may have


def is_sketch(data: bytes) -> bool:
    """Say whether data are a Standard MIDI File, by their first bytes."""
    return data.startswith(b"MThd")


def read_sketch(data: bytes, limits: Limits | None = None, grid: str = AS_PLAYED) -> tuple[Score, list[Problem]]:
    """Return the score that a sketch plays, and what was found wrong or left out.

    `grid` sets the rhythm: "none", "1/16", "1/16+1/24" (whole notes; the nearest line counts). Raises
    Refused for files that are none, for format 2, for time in frames, and for what is over a limit.
    """
    limits = limits or Limits()
    steps = grid_of(grid)
    if len(data) > limits.raw_bytes:
        raise Refused([problem("file-too-large", count=len(data), most=limits.raw_bytes)])
    file = decode.read(data)
    problems = list(file.problems)
    strands = [strand for number, track in enumerate(file.tracks, 1) for strand in strands_of(track, number)]
    sounding = [strand for strand in strands if strand.notes]
    _allow("too-many-parts", len(sounding), limits.parts)
    _allow("too-many-notes", sum(len(strand.notes) for strand in sounding), limits.notes)
    frame = frame_of(file, steps, problems)
    if frame.ppq * frame.factor > MOST_UNIT:
        raise Refused([problem("grid-too-fine", FILE, division=frame.ppq)])
    score = Score(unit=frame.ppq * frame.factor, title=_title(file))
    rule = Grid(steps, score.unit)
    _add_parts(score, strands, frame, rule, problems)
    for part in score.parts:
        _allow("too-many-voices", len(part.lines), limits.voices)
    end = _end_of(score)
    lay_out(frame, -(-end // frame.factor), limits, problems)
    score.measures, score.itinerary = frame.measures, [(1, len(frame.measures), 1)]
    score.tempo = [(tick * frame.factor, micros) for tick, micros in frame.tempo if tick * frame.factor < max(end, 1)]
    score.rehearsal = [(tick * frame.factor, text) for tick, text in frame.markers if tick * frame.factor < end]
    if not score.parts:
        problems.append(problem("sketch-without-notes", FILE))
    if rule.merged:
        problems.append(problem("grid-merged", FILE, count=rule.merged))
    if rule.moved:
        count = sum(len(line) for part in score.parts for line in part.lines)
        furthest = str(Fraction(rule.furthest, score.unit))
        problems.append(problem("set-to-grid", FILE, moved=rule.moved, count=count, furthest=furthest))
    return score, problems


def _allow(code: str, count: int, most: int) -> None:
    if count > most:
        raise Refused([problem(code, most=most)])


def _end_of(score: Score) -> int:
    """Return where the music ends: with its last note, or when the pedal that holds it is lifted."""
    lines = [line for part in score.parts for line in part.lines]
    end = max((o + d for line in lines for o, d in zip(line.offset, line.duration, strict=True)), default=0)
    return max([end, *(up for part in score.parts for down, up in part.pedals if down < end)])


def _title(file: decode.File) -> str:
    """SMF 1.0: the name of the first track is the sequence's; where that track has notes, it is the part's in format 1."""
    first = file.tracks[0] if file.tracks else None
    alone = first is not None and (file.smf_format == 0 or not first.channels)
    return " ".join(first.name.split()) if first is not None and alone else ""


def _add_parts(score: Score, strands: list[Strand], frame: Frame, rule: Grid, problems: list[Problem]) -> None:
    """Append a part for each strand with notes; a pedal on a channel is for all that plays on it."""
    clock = Clock(frame.tempo, frame.ppq)
    pedals: dict[tuple[int, int], list[tuple[int, bool]]] = {}
    for strand in strands:
        pedals.setdefault((strand.port, strand.channel), []).extend(strand.pedal)
    sounding = [strand for strand in strands if strand.notes]
    end = max((note.off for strand in sounding for note in strand.notes), default=0)
    together = Counter(strand.number for strand in sounding)
    for number, strand in enumerate(sounding, 1):
        name = _name(strand, alone=together[strand.number] == 1)
        builder = PartBuilder(strand, f"P{number}", name, frame.factor, clock, rule, problems)
        score.parts.append(builder.build(pedals_of(pedals[strand.port, strand.channel], end)))


def _name(strand: Strand, *, alone: bool) -> str:
    """Return the track's name, or its instrument's; with the channel where others have that name too."""
    name = " ".join((strand.track.name or "".join(strand.names[:1])).split()) if alone or strand.track.name else ""
    if alone and name:
        return name
    return f"{name}, channel {strand.channel + 1}" if name else f"Track {strand.number}, channel {strand.channel + 1}"
