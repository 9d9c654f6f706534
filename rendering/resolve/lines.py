"""Decisions for the played lines that one track plays."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from rendering.marks import mask
from rendering.perform.played import Played
from rendering.resolve.choosing import ARRIVES, CROWDED, Chooser
from rendering.resolve.decision import NOT_JOINING, Decision
from rendering.score import SLUR_ARRIVES, SLUR_LEAVES, Part
from rendering.timeline import Clock

LEGATO = mask("legato")


@dataclass(slots=True)
class Voice:
    """A played line with the decision of each of its notes, as indexes into a Chooser's decisions.

    `part` is the line's part, as an index into the score's parts.
    """

    part: int
    line: Played
    decisions: list[int]


def resolve_lines(lines: list[tuple[int, Played]], chooser: Chooser, clock: Clock, parts: Sequence[Part]) -> list[Voice]:
    """Return the lines of one track, (index in `parts`, line), each with its notes' decisions."""
    voices = []
    margin = _margin(chooser, clock)
    for part, line in lines:
        others = [other for _, other in lines if other is not line]
        flags = _flags(line, others, margin)
        voices.append(Voice(part, line, _decide(line, flags, chooser, clock, parts[part])))
    return voices


def _margin(chooser: Chooser, clock: Clock) -> int:
    """By how many ticks at most a note sounds earlier or longer than written."""
    longest = max(max(e.lead_first_ms, e.lead_connected_ms) + e.overlap_ms for e in chooser.sampler.entries)
    return max(start - clock.earlier(start, longest) for start in (*clock.starts, clock.starts[-1] + 1))


def _flags(line: Played, others: list[Played], margin: int) -> list[int]:
    """ARRIVES where a slur joins a note to the one before, CROWDED where it does not sound alone."""
    count = len(line.on)
    flags = [0] * count
    chords = len(set(line.on)) < count
    if any(line.slur):
        _mark_slurs(line, flags)
    if chords:
        on = line.on
        for i in range(1, count):
            if on[i] == on[i - 1]:
                flags[i] |= CROWDED
                flags[i - 1] |= CROWDED
    if any(marks & LEGATO for marks in line.marks):
        _mark_overlaps(line, flags)
        slurred = [
            (a - margin, b + margin) for other in others for a, b, m in zip(other.on, other.off, other.marks, strict=True) if m & LEGATO
        ]
        _mark_crowded(line, sorted(slurred), flags)
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


def _mark_slurs(line: Played, flags: list[int]) -> None:
    """A note is connected when a slur arrives at it from a note just before, on another key."""
    on, off, key, slur = line.on, line.off, line.key, line.slur
    start, previous = 0, range(0)
    count = len(on)
    while start < count:
        stop = start + 1
        while stop < count and on[stop] == on[start]:
            stop += 1
        leaving = [p for p in previous if slur[p] & SLUR_LEAVES and off[p] >= on[start]]
        if leaving:
            keys = {key[p] for p in previous}
            for i in range(start, stop):
                if slur[i] & SLUR_ARRIVES and key[i] not in keys:
                    flags[i] |= ARRIVES
        previous = range(start, stop)
        start = stop


def _mark_crowded(line: Played, others: list[tuple[int, int]], flags: list[int]) -> None:
    """Two slurred voices on one track cannot both use an entry of one voice."""
    at, busy = 0, -1
    count = len(others)
    for i, (a, b) in enumerate(zip(line.on, line.off, strict=True)):
        while at < count and others[at][0] < b:
            busy = max(busy, others[at][1])
            at += 1
        if busy > a:
            flags[i] |= CROWDED


def _decide(line: Played, flags: list[int], chooser: Chooser, clock: Clock, part: Part) -> list[int]:
    known, key_class = chooser.known, chooser.key_class
    keys = [min(max(k + chooser.interval, 0), 127) for k in line.key] if chooser.interval else line.key
    if chooser.lengths or chooser.levels or chooser.struck or chooser.alternating or any(flags):
        strikes = [chooser.strike(i.sound, i.drum_key) if i.unpitched else 0 for i in part.instruments]
        return _decide_with_care(line, keys, flags, chooser, clock, strikes)
    out = []
    for marks, key, level in zip(line.marks, keys, line.level, strict=True):
        d = known.get(marks << 56 | key_class[key] << 12, -1)
        out.append(d if d >= 0 else chooser.decide(marks, 0, 0, key, level))
    return out


def _decide_with_care(line: Played, keys: list[int], flags: list[int], chooser: Chooser, clock: Clock, strikes: list[int]) -> list[int]:
    known, decisions, key_class = chooser.known, chooser.decisions, chooser.key_class
    length_class = _length_classes(line, chooser, clock)
    level_class = [bisect_right(chooser.levels, level) for level in line.level] if chooser.levels else [0] * len(line.on)
    plain = all(s == 0 for s in strikes)
    out: list[int] = []
    before: Decision | None = None  # what is decided for the note group before
    here: Decision | None = None
    tick = -1
    turn = 0
    for i, (on, marks, flag, key) in enumerate(zip(line.on, line.marks, flags, keys, strict=True)):
        if on != tick:
            before, here, tick = here, None, on
        strike = 0 if plain else strikes[line.instrument[i]]
        kind = marks << 56 | strike << 40 | length_class[i] << 24 | key_class[key] << 12 | level_class[i] << 2 | flag
        d = known.get(kind, -1)
        if d < 0:
            d = chooser.decide(marks, flag, _ms(line, i, chooser, clock), key, line.level[i], strike)
        if flag & ARRIVES and not _connects(before, decisions[d]):
            d = chooser.decide(marks, flag & ~ARRIVES, _ms(line, i, chooser, clock), key, line.level[i], strike)
        here = decisions[d]
        if here.turns:
            d = here.turns[turn % len(here.turns)]
            turn += 1
        out.append(d)
    return out


def _ms(line: Played, i: int, chooser: Chooser, clock: Clock) -> int:
    return clock.ms_between(line.on[i], line.off[i]) if chooser.lengths else 0


def _length_classes(line: Played, chooser: Chooser, clock: Clock) -> list[int]:
    """Of each note: between which of the map's bounds its length in ms lies. Few lengths occur, so they are kept."""
    bounds = chooser.lengths
    if not bounds:
        return [0] * len(line.on)
    if len(clock.starts) > 1:
        return [bisect_right(bounds, clock.ms_between(a, b)) for a, b in zip(line.on, line.off, strict=True)]
    ticks = [b - a for a, b in zip(line.on, line.off, strict=True)]
    classes = {length: bisect_right(bounds, clock.ms_between(0, length)) for length in set(ticks)}
    return [classes[length] for length in ticks]


def _connects(before: Decision | None, decision: Decision) -> bool:
    """A note is connected to one that lasts until it begins, on its channel; joined only on its own joining entry."""
    if before is None or before.joins_to == NOT_JOINING or (before.channel, before.track) != (decision.channel, decision.track):
        return False
    return not decision.joined or decision.joining == before.joins_to
