"""What all parts of a sketch share: its measures, tempo, keys, markers, title."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from math import lcm

from rendering.midi.decode import File, Meta, text
from rendering.midi.meta import KEY_SIGNATURE, MARKER, TEMPO, TIME_SIGNATURE
from rendering.problems import Place, Problem, Refused, problem
from rendering.readers.limits import Limits
from rendering.score import Measure

FOUR_FOUR = (4, 4)  # SMF 1.0: what holds where no time signature stands
MOST_BEATS = 255
LARGEST_BEAT = 256  # the finest beat unit that a score has
FILE = Place(part_name="MIDI file")


@dataclass(slots=True, kw_only=True)
class Frame:
    """`factor` Units make a tick, so that measures and a grid fall on whole Units; ticks everywhere else."""

    ppq: int
    factor: int = 1
    meters: list[tuple[int, int, int]] = field(default_factory=list)  # (tick, beats, unit), ascending
    tempo: list[tuple[int, int]] = field(default_factory=list)
    keys: list[tuple[int, int]] = field(default_factory=list)  # (tick, fifths)
    markers: list[tuple[int, str]] = field(default_factory=list)
    measures: list[Measure] = field(default_factory=list)  # in Units


def frame_of(file: File, grid: tuple[Fraction, ...], problems: list[Problem]) -> Frame:
    """Return the frame of a file, measures not yet laid out; `grid` in whole notes. What all tracks say holds for all."""
    metas = sorted((m for track in file.tracks for m in track.metas), key=_tick)
    frame = Frame(ppq=file.ppq)
    for meta in metas:
        _take(frame, meta, problems)
    frame.meters = list({m[0]: m for m in frame.meters}.values())
    frame.tempo = list(dict(frame.tempo).items())
    lengths = [Fraction(4 * frame.ppq * beats, unit) for _, beats, unit in frame.meters]
    frame.factor = lcm(*(length.denominator for length in lengths), *((4 * frame.ppq * g).denominator for g in grid))
    return frame


def _tick(meta: Meta) -> int:
    return meta.tick


def _take(frame: Frame, meta: Meta, problems: list[Problem]) -> None:
    contents = meta.contents
    if meta.kind == TEMPO and len(contents) == 3 and any(contents):
        frame.tempo.append((meta.tick, int.from_bytes(contents, "big")))
    elif meta.kind == TIME_SIGNATURE and len(contents) >= 2:
        if contents[0] and 1 << min(contents[1], 9) <= LARGEST_BEAT:
            frame.meters.append((meta.tick, contents[0], 1 << contents[1]))
        else:
            problems.append(problem("bad-meter", FILE, text=f"{contents[0]}/2^{contents[1]}"))
    elif meta.kind == KEY_SIGNATURE and len(contents) == 2:
        fifths = (contents[0] ^ 128) - 128
        if -7 <= fifths <= 7:
            frame.keys.append((meta.tick, fifths))
    elif meta.kind == MARKER and text(contents).strip():
        frame.markers.append((meta.tick, " ".join(text(contents).split())))


def lay_out(frame: Frame, end: int, limits: Limits, problems: list[Problem]) -> None:
    """Fill the measures up to the one that holds the tick `end`; Refused where they are more than allowed.

    A time signature inside a measure begins a new one: the measure before it is cut short there, and has the
    meter that it then holds, if there is one.
    """
    meters = [m for m in frame.meters if m[0] < end]
    if not meters or meters[0][0] > 0:
        meters.insert(0, (0, *FOUR_FOUR))
        if len(meters) == 1:
            problems.append(problem("no-meter", FILE))
    spans = list(pairwise([*((tick, beats, unit) for tick, beats, unit in meters), (max(end, 1), 0, 1)]))
    lengths = [4 * frame.ppq * frame.factor * beats // unit for (_, beats, unit), _ in spans]
    counts = [-(-(after[0] - m[0]) * frame.factor // length) for (m, after), length in zip(spans, lengths, strict=True)]
    if sum(counts) > limits.played:
        raise Refused([problem("too-many-measures-played", most=limits.played)])
    starts = [tick for tick, _ in frame.keys]
    for n, (((tick, beats, unit), (stop, _, _)), length) in enumerate(zip(spans, lengths, strict=True)):
        at = tick * frame.factor
        last = n == len(spans) - 1
        while at < stop * frame.factor:
            holds = length if last else min(length, stop * frame.factor - at)
            ordinal = len(frame.measures) + 1
            key = bisect_right(starts, at // frame.factor)
            fifths = frame.keys[key - 1][1] if key else 0
            meter = (beats, unit) if holds == length else _fitting(holds, frame.ppq * frame.factor) or (beats, unit)
            frame.measures.append(Measure(ordinal, str(ordinal), at, holds, meter, fifths))
            if holds < length:
                place = Place(measure=str(ordinal), ordinal=ordinal)
                problems.append(problem("meter-inside-measure", place, meter=f"{beats}/{unit}"))
            at += holds


def _fitting(length: int, quarter: int) -> tuple[int, int] | None:
    """Return the meter of a measure so long, in the longest beats that fit; None where none does."""
    for unit in (4, 8, 16, 32, 64):
        beats, rest = divmod(length * unit, 4 * quarter)
        if not rest and beats <= MOST_BEATS:
            return beats, unit
    return None
