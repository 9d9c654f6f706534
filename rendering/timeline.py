"""Musical time as integers, and the only place that rounds.

Unit    score time: a whole number of parts of a quarter note (`Score.unit` per quarter).
Tick    MIDI time: `ppq` per quarter note, 960 unless asked otherwise.
Micros  tempo: whole microseconds per quarter note, what a Standard MIDI File can say.

Absolute positions are rounded, half up, once; durations are differences of rounded positions.
Real time is exact: a tick lasts `micros / ppq` microseconds, so times are kept multiplied by `ppq`.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from typing import NewType

Unit = NewType("Unit", int)
Tick = NewType("Tick", int)
Micros = NewType("Micros", int)

PPQ = 960
FOREVER = 1 << 60  # beyond any tick of a score
DEFAULT_MICROS = Micros(500_000)  # SMF 1.0: no tempo event means 120 quarters per minute


def half_up(numerator: int, denominator: int) -> int:
    """Return numerator / denominator rounded half up; the denominator is positive."""
    return (2 * numerator + denominator) // (2 * denominator)


def to_ticks(unit: int, per_quarter: int, ppq: int) -> int:
    """Return the tick of an absolute score position; `per_quarter` is the score's unit."""
    return (2 * unit * ppq + per_quarter) // (2 * per_quarter)


def micros_per_quarter(quarters_per_minute_thousandths: int) -> Micros:
    """Return the tempo in microseconds per quarter for a speed in thousandths of a quarter a minute.

    Limited to what three bytes of a set-tempo event hold: 1 to 16,777,215.
    """
    micros = half_up(60_000_000_000, max(1, quarters_per_minute_thousandths))
    return Micros(min(max(micros, 1), 0xFFFFFF))


class Clock:
    """The tempo map of one playing: segments of constant tempo on the tick grid.

    `starts` (ticks, ascending, the first is 0), `micros` (per quarter, in each segment) and `times`
    (microseconds x ppq at each start) are parallel. Time before 0 runs at the first tempo.
    """

    __slots__ = ("micros", "moves", "ppq", "starts", "times")

    def __init__(self, tempo: Sequence[tuple[int, int]], ppq: int = PPQ) -> None:
        """Take (tick, microseconds per quarter) in ascending order; 120 a minute where none is set."""
        self.ppq: int = ppq
        self.starts: list[int] = [0]
        self.micros: list[int] = [int(DEFAULT_MICROS)]
        self.times: list[int] = [0]
        self.moves: dict[int, int] = {}  # at one tempo throughout: milliseconds -> ticks, for `earlier`
        for tick, micros in tempo:
            self._add(tick, micros)

    def _add(self, tick: int, micros: int) -> None:
        if tick <= self.starts[-1]:
            self.micros[-1] = micros
        elif micros != self.micros[-1]:
            self.times.append(self.times[-1] + (tick - self.starts[-1]) * self.micros[-1])
            self.starts.append(tick)
            self.micros.append(micros)

    def time_at(self, tick: int) -> int:
        """Return microseconds x ppq from tick 0 to `tick`; negative before 0."""
        i = max(bisect_right(self.starts, tick) - 1, 0) if len(self.starts) > 1 else 0
        return self.times[i] + (tick - self.starts[i]) * self.micros[i]

    def tick_at(self, time: int) -> int:
        """Return the tick at a time in microseconds x ppq, rounded half up."""
        i = max(bisect_right(self.times, time) - 1, 0) if len(self.times) > 1 else 0
        m = self.micros[i]
        return self.starts[i] + (2 * (time - self.times[i]) + m) // (2 * m)

    def earlier(self, tick: int, ms: int) -> int:
        """Return the tick that lies `ms` milliseconds before `tick`."""
        if len(self.starts) > 1:
            return self.tick_at(self.time_at(tick) - ms * 1000 * self.ppq) if ms else tick
        move = self.moves.get(ms)
        if move is None:
            move = self.moves[ms] = self.tick_at(-ms * 1000 * self.ppq)
        return tick + move

    def all_earlier(self, ticks: list[int], kinds: list[int], ms: list[int]) -> list[int]:
        """Return `earlier` of each of many ascending ticks; `ms[kinds[i]]` milliseconds belong to `ticks[i]`."""
        if not any(ms):
            return ticks[:]
        if len(self.starts) == 1:
            moves = [self.earlier(0, m) for m in ms]
            return [t + moves[k] for t, k in zip(ticks, kinds, strict=True)]
        out: list[int] = []
        bounds = [bisect_left(ticks, start) for start in self.starts[1:]]
        for n, (low, high) in enumerate(zip([0, *bounds], [*bounds, len(ticks)], strict=True)):
            micros = self.micros[n]
            first = self.starts[n] if n else -FOREVER
            last = self.starts[n + 1] if n + 1 < len(self.starts) else FOREVER
            moves = [(micros - 2000 * m * self.ppq) // (2 * micros) for m in ms]
            for t, k in zip(ticks[low:high], kinds[low:high], strict=True):
                moved = t + moves[k]
                out.append(moved if first <= moved < last else self.earlier(t, ms[k]))
        return out

    def later(self, tick: int, ms: int) -> int:
        """Return the tick that lies `ms` milliseconds after `tick`."""
        return self.earlier(tick, -ms)

    def ms_between(self, start: int, end: int) -> int:
        """Return the whole milliseconds from one tick to another, rounded half up."""
        return half_up(self.time_at(end) - self.time_at(start), 1000 * self.ppq)
