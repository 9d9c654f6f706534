"""Loudness controllers: the value of an onset is there before the note is sent; hairpins are drawn."""

from __future__ import annotations

from rendering.timeline import Clock, half_up

CURVE_MS = 10  # at most one value in this time between the exact first and last of a curve
CURVE_RANK = 14


def draw_ramp(
    ramp: tuple[int, int, int, int], start: int, stop: int, boost: int, value: tuple[int, ...], clock: Clock
) -> list[tuple[int, int]]:
    """Return (tick, value) of a hairpin while a note sounds, start < tick < stop; the first value is left out.

    `ramp` as in `Played.ramps`; its last value is exact, between there is one each 10 ms at most.
    """
    out: list[tuple[int, int]] = []
    low, high, first, last = ramp
    if low >= stop or high <= start:
        return out
    at, end = max(low, start), min(high, stop - 1)
    before = value[_level(low, high, first, last, at, boost)]
    step = clock.later(at, CURVE_MS) - at if len(clock.starts) == 1 else 0
    while at < end:
        at = min(max(at + step if step else clock.later(at, CURVE_MS), at + 1), end)
        now = value[_level(low, high, first, last, at, boost)]
        if now != before:
            out.append((at, now))
            before = now
    return out


def _level(low: int, high: int, first: int, last: int, at: int, boost: int) -> int:
    level = first + half_up((last - first) * (at - low), high - low)
    return min(max(level + boost, 0), 1000)
