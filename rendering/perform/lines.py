"""One part as it is played: slices of its written lines, ties merged, graces placed, levels read.

A played line is columns again; the fast way (no tie, no grace note) is list comprehensions only.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, field

from rendering.perform.breaths import take_breath
from rendering.perform.graces import place_graces
from rendering.perform.levels import Curve, F, curve_for
from rendering.perform.pedals import played_pedals
from rendering.perform.played import Played
from rendering.perform.playing import Playing, Slice
from rendering.perform.ties import merge_across, merge_ties
from rendering.problems import Problem
from rendering.score import Line, Part


@dataclass(slots=True, kw_only=True)
class PlayedPart:
    """A part's played lines; `problems` are paired with the source of the note or 0 and a written Unit.

    `pedals` are (down, up) ticks of its sustain pedal, not yet in the lengths of the notes.
    """

    part: Part
    lines: list[Played]
    problems: list[tuple[Problem, int, int]]
    pedals: list[tuple[int, int]] = field(default_factory=list)


def perform_part(part: Part, playing: Playing, beat: int, *, restrike: bool = False) -> PlayedPart:
    """Return a part as it is played; `beat` is the length in Units of the beat that hairpins look ahead.

    `restrike`: a change of technique inside a tie strikes the note again instead of waiting for the next.
    """
    out = PlayedPart(part=part, lines=[], problems=[], pedals=played_pedals(part, playing))
    curves: dict[tuple[int, str], Curve] = {}
    for line in part.lines:
        curve = _curve(part, line, beat, curves, out.problems)
        out.lines.append(_perform_line(part, line, curve, playing))
    for played in out.lines:
        if any(played.tie):
            merge_ties(played, out.problems, restrike=restrike)
    if len(out.lines) > 1:
        merge_across(out.lines)
    for played in out.lines:
        if any(played.grace):
            place_graces(played, playing.clock, part.steals)
        take_breath(played, playing.ppq)
    return out


def _curve(part: Part, line: Line, beat: int, known: dict[tuple[int, str], Curve], found: list[tuple[Problem, int, int]]) -> Curve:
    staves = {v.staff for v in part.levels} | {h.staff for h in part.hairpins}
    voices = {v.voice for v in part.levels} | {h.voice for h in part.hairpins}
    name = (line.staff if line.staff in staves else 0, line.voice if line.voice in voices else "")
    if name not in known:
        known[name], problems = curve_for(*name, part.levels, part.hairpins, beat)
        found += [(p, 0, unit) for p, unit in problems]
    return known[name]


def _perform_line(part: Part, line: Line, curve: Curve, playing: Playing) -> Played:
    played = Played(line.staff, line.voice)
    levels = _note_levels(part, line, curve)
    for piece in playing.slices:
        low, high = bisect_left(line.offset, piece.start), bisect_left(line.offset, piece.stop)
        if low < high:
            _append(played, line, levels, low, high, piece, playing)
        played.ramps += _ramps(curve, piece, playing)
    if part.only:
        only = part.only
        played.remove(
            [i for i, (source, n) in enumerate(zip(played.source, played.number, strict=True)) if n not in only.get(source, (n,))]
        )
    return played


def _append(played: Played, line: Line, levels: list[int], low: int, high: int, piece: Slice, playing: Playing) -> None:
    unit, ppq, shift = playing.unit, playing.ppq, piece.shift
    double, whole = 2 * ppq, 2 * unit
    offsets, durations = line.offset[low:high], line.duration[low:high]
    if unit == ppq:
        played.on += [o + shift for o in offsets]
        played.off += [o + d + shift for o, d in zip(offsets, durations, strict=True)]
    else:
        played.on += [((o + shift) * double + unit) // whole for o in offsets]
        played.off += [((o + d + shift) * double + unit) // whole for o, d in zip(offsets, durations, strict=True)]
    played.key += line.key[low:high]
    played.cents += line.cents[low:high]
    played.marks += line.marks[low:high]
    played.level += levels[low:high]
    played.slur += line.slur[low:high]
    played.tie += line.tie[low:high]
    played.grace += line.grace[low:high]
    played.lyric += line.lyric[low:high]
    played.source += line.source[low:high]
    played.instrument += line.instrument[low:high]
    played.number += [piece.number] * (high - low)


def _note_levels(part: Part, line: Line, curve: Curve) -> list[int]:
    """Levels at the written onsets; a dynamic of one note alone overrides the curve."""
    starts, last = curve.at, len(curve.at) - 1
    first, end, i = curve.first, curve.last, 0
    levels = []
    for unit in line.offset:
        while i < last and starts[i + 1] <= unit:
            i += 1
        levels.append(first[i] if first[i] == end[i] else curve.inside(i, unit))
    alone = [v for v in part.levels if v.kind in {"note", "once", "attack"}]
    if alone:
        _override(levels, line, {v.source: (v.kind, v.level) for v in alone})
    return levels


def _override(levels: list[int], line: Line, alone: dict[int, tuple[str, int]]) -> None:
    for i, source in enumerate(line.source):
        if source in alone:
            kind, level = alone[source]
            levels[i] = min(max(levels[i] + 250, F), 1000) if kind == "once" else level


def _ramps(curve: Curve, piece: Slice, playing: Playing) -> list[tuple[int, int, int, int]]:
    return [
        (playing.tick(start + piece.shift), playing.tick(min(stop, piece.stop) + piece.shift), first, last)
        for start, stop, first, last in curve.ramps
        if piece.start <= start < piece.stop
    ]
