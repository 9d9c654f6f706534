"""What is global to one playing of a score: where each written measure falls, and the tempo map."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from typing import NamedTuple

from rendering.problems import Problem, problem
from rendering.score import Measure, Score
from rendering.timeline import DEFAULT_MICROS, Clock, micros_per_quarter, to_ticks


class Slice(NamedTuple):
    """A run of measures played once: written Units [start, stop) sound `shift` Units later."""

    start: int
    stop: int
    shift: int
    number: int  # the pass


@dataclass(slots=True, kw_only=True)
class Playing:
    """One playing of a score.

    slices      in played order
    clock       the tempo map in ticks
    end         tick at which the last measure ends
    bars        (tick, measure) of each measure played
    rehearsal   ticks of rehearsal marks, ascending
    """

    unit: int
    ppq: int
    slices: list[Slice]
    clock: Clock
    end: int
    bars: list[tuple[int, Measure]]
    rehearsal: list[int]

    def tick(self, unit: int) -> int:
        """Return the tick of a position in played Units."""
        return to_ticks(unit, self.unit, self.ppq)

    def bar_at(self, tick: int) -> tuple[int, Measure]:
        """Return start tick and measure of the bar that holds `tick` (the first one for earlier ticks)."""
        i = bisect_right(self.bars, tick, key=_start) - 1
        return self.bars[max(i, 0)]


def _start(bar: tuple[int, Measure]) -> int:
    return bar[0]


def plan_playing(score: Score, ppq: int, tempo: int | tuple[tuple[int, int], ...] | None = None) -> tuple[Playing, list[Problem]]:
    """Return where everything falls when the itinerary of `score` is played at `ppq` ticks a quarter.

    `tempo` in place of the score's: one speed in thousandths of a quarter a minute, or (tick, micros) pairs.
    """
    slices = _slices(score)
    played = sum(s.stop - s.start for s in slices)
    problems: list[Problem] = []
    if tempo is not None:
        problems += [problem("tempo-not-played", count=len(score.tempo) - 1)] if len(score.tempo) > 1 else []
    elif not score.tempo:
        problems.append(problem("no-tempo"))
    playing = Playing(
        unit=score.unit,
        ppq=ppq,
        slices=slices,
        clock=Clock(_tempo_in_ticks(score, slices, ppq, tempo), ppq),
        end=to_ticks(played, score.unit, ppq),
        bars=_bars(score, slices, ppq),
        rehearsal=_rehearsal(score, slices, ppq),
    )
    return playing, problems


def _tempo_in_ticks(score: Score, slices: list[Slice], ppq: int, tempo: int | tuple[tuple[int, int], ...] | None) -> list[tuple[int, int]]:
    if isinstance(tempo, int):
        return [(0, micros_per_quarter(tempo))]
    if tempo is not None:
        return list(tempo)
    return [(to_ticks(u, score.unit, ppq), micros) for u, micros in _tempo(score, slices)]


def _slices(score: Score) -> list[Slice]:
    slices = []
    at = 0
    for first, last, number in score.itinerary:
        start, end = score.measures[first - 1], score.measures[last - 1]
        stop = end.start + end.length
        slices.append(Slice(start.start, stop, at - start.start, number))
        at += stop - start.start
    return slices


def _tempo(score: Score, slices: list[Slice]) -> list[tuple[int, int]]:
    """Return (played Unit, micros): at a jump the tempo that the page shows there comes back."""
    starts = [unit for unit, _ in score.tempo]
    tempo = []
    for part in slices:
        i = bisect_right(starts, part.start)
        tempo.append((part.start + part.shift, score.tempo[i - 1][1] if i else int(DEFAULT_MICROS)))
        tempo += [(u + part.shift, m) for u, m in score.tempo[i:] if u < part.stop]
    return tempo


def _bars(score: Score, slices: list[Slice], ppq: int) -> list[tuple[int, Measure]]:
    return [
        (to_ticks(score.measures[o - 1].start + part.shift, score.unit, ppq), score.measures[o - 1])
        for part, (first, last, _) in zip(slices, score.itinerary, strict=True)
        for o in range(first, last + 1)
    ]


def _rehearsal(score: Score, slices: list[Slice], ppq: int) -> list[int]:
    return [to_ticks(u + part.shift, score.unit, ppq) for part in slices for u, _ in score.rehearsal if part.start <= u < part.stop]
