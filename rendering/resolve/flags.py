"""What a note's surroundings decide: whether a slur joins it to the one before, whether it sounds alone."""

from __future__ import annotations

from rendering.maps.table import Sampler
from rendering.marks import mask
from rendering.perform import Played
from rendering.resolve.choosing import ARRIVES, CROWDED
from rendering.score import SLUR_ARRIVES, SLUR_LEAVES
from rendering.timeline import Clock

LEGATO = mask("legato")
JOINED = SLUR_ARRIVES << 2 | SLUR_LEAVES  # a note's slur shifted by two, with the slur of the one before


def margin_of(sampler: Sampler, clock: Clock) -> int:
    """Return by how many ticks at most a note sounds earlier or longer than written."""
    longest = max(max(e.lead_first_ms, e.lead_connected_ms) + e.overlap_ms for e in sampler.entries)
    return max(start - clock.earlier(start, longest) for start in (*clock.starts, clock.starts[-1] + 1))


def flags_of(line: Played, others: list[Played], margin: int) -> list[int]:
    """Return ARRIVES where a slur joins a note to the one before, CROWDED where it does not sound alone.

    `others` sound on the same track; `margin` ticks before and after a note are reckoned as its own.
    """
    lone = len({*line.on}) == len(line.on)
    if not any(line.slur):
        flags = [0] * len(line.on)
    elif lone:
        flags = _slurs_of_single_notes(line)
    else:
        flags = _slurs_of_chords(line)
    if not lone:
        on = line.on
        for i in range(1, len(on)):
            if on[i] == on[i - 1]:
                flags[i] |= CROWDED
                flags[i - 1] |= CROWDED
    if any(marks & LEGATO for marks in line.marks):
        if not lone or any(a > b for a, b in zip(line.off, line.on[1:], strict=False)):
            _mark_overlaps(line, flags)
        if others:
            _mark_crowded(line, others, margin, flags)
    return flags


def _slurs_of_single_notes(line: Played) -> list[int]:
    on, off, key, slur = line.on, line.off, line.key, line.slur
    rows = zip(slur[1:], slur, on[1:], off, key[1:], key, strict=False)
    return [0, *(ARRIVES if (s << 2 | p) & JOINED == JOINED and b >= a and k != q else 0 for s, p, a, b, k, q in rows)]


def _slurs_of_chords(line: Played) -> list[int]:
    """A note is connected when a slur arrives at it from a chord just before, on a key that is not in that chord."""
    on, off, key, slur = line.on, line.off, line.key, line.slur
    count = len(on)
    flags = [0] * count
    start, previous = 0, range(0)
    while start < count:
        stop = start + 1
        while stop < count and on[stop] == on[start]:
            stop += 1
        if any(slur[p] & SLUR_LEAVES and off[p] >= on[start] for p in previous):
            keys = {key[p] for p in previous}
            for i in range(start, stop):
                if slur[i] & SLUR_ARRIVES and key[i] not in keys:
                    flags[i] = ARRIVES
        previous = range(start, stop)
        start = stop
    return flags


def _mark_overlaps(line: Played, flags: list[int]) -> None:
    """A note that is written to sound into a later one of its own line does not sound alone, nor does that one."""
    longest = 0
    for i, (a, b) in enumerate(zip(line.on, line.off, strict=True)):
        if line.off[longest] > a and line.on[longest] < a:
            flags[i] |= CROWDED
            flags[longest] |= CROWDED
        if b > line.off[longest]:
            longest = i


def _mark_crowded(line: Played, others: list[Played], margin: int, flags: list[int]) -> None:
    """Two slurred voices on one track cannot both use an entry of one voice."""
    slurred = sorted(
        (a - margin, b + margin) for other in others for a, b, m in zip(other.on, other.off, other.marks, strict=True) if m & LEGATO
    )
    at, busy, count = 0, -1, len(slurred)
    for i, (a, b) in enumerate(zip(line.on, line.off, strict=True)):
        while at < count and slurred[at][0] < b:
            busy = max(busy, slurred[at][1])
            at += 1
        if busy > a:
            flags[i] |= CROWDED
