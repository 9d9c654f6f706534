"""Decisions for the played lines that one track plays."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from rendering.perform import Played
from rendering.resolve.choosing import ARRIVES, Chooser
from rendering.resolve.decision import NOT_JOINING, Decision
from rendering.resolve.flags import flags_of, margin_of
from rendering.score import Part
from rendering.timeline import Clock


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
    margin = margin_of(chooser.sampler, clock)
    voices = []
    for part, line in lines:
        flags = flags_of(line, [other for _, other in lines if other is not line], margin)
        voices.append(Voice(part, line, _decide(line, flags, chooser, clock, parts[part])))
    return voices


def _decide(line: Played, flags: list[int], chooser: Chooser, clock: Clock, part: Part) -> list[int]:
    """Look up each note's kind; decide the kinds that are new; then look at what is connected to what."""
    known, key_class = chooser.known, chooser.key_class
    keys = [min(max(k + chooser.interval, 0), 127) for k in line.key] if chooser.interval else line.key
    classes = _classes(line, flags, chooser, clock, part)
    kinds = [m << 56 | key_class[k] << 12 | c for m, k, c in zip(line.marks, keys, classes, strict=True)]
    out = [known.get(kind, -1) for kind in kinds]
    undecided = _Undecided(line, keys, chooser, clock, classes)
    if -1 in out:
        for i, d in enumerate(out):
            if d < 0:
                out[i] = undecided.decide(i, flags[i])
    decisions = chooser.decisions
    if any(flags):
        on = line.on
        for i, flag in enumerate(flags):
            if flag & ARRIVES:
                p = i - 1
                while on[p] == on[i]:
                    p -= 1
                if not _connects(decisions[out[p]], decisions[out[i]]):
                    out[i] = undecided.decide(i, flag & ~ARRIVES)
    return _in_turn(out, decisions) if chooser.alternating else out


class _Undecided:
    """Decides single notes of a line, where the look-up is not enough."""

    __slots__ = ("chooser", "classes", "clock", "keys", "line")

    def __init__(self, line: Played, keys: list[int], chooser: Chooser, clock: Clock, classes: list[int]) -> None:
        self.line: Played = line
        self.keys: list[int] = keys
        self.chooser: Chooser = chooser
        self.clock: Clock = clock
        self.classes: list[int] = classes

    def decide(self, i: int, flags: int) -> int:
        """Return the decision for row `i` with these flags."""
        line = self.line
        ms = self.clock.ms_between(line.on[i], line.off[i]) if self.chooser.lengths else 0
        return self.chooser.decide(line.marks[i], flags, ms, self.keys[i], line.level[i], self.classes[i] >> 40)


def _classes(line: Played, flags: list[int], chooser: Chooser, clock: Clock, part: Part) -> list[int]:
    """Return of each note all of its kind but marks and key: strike, length, level and flags, packed."""
    out = flags
    if chooser.lengths:
        out = [c << 24 | f for c, f in zip(_length_classes(line, chooser.lengths, clock), out, strict=True)]
    if chooser.levels:
        out = [bisect_right(chooser.levels, level) << 2 | c for level, c in zip(line.level, out, strict=True)]
    if chooser.struck:
        strikes = [chooser.strike(i.sound, i.drum_key) if i.unpitched else 0 for i in part.instruments]
        out = [strikes[i] << 40 | c for i, c in zip(line.instrument, out, strict=True)]
    return out


def _length_classes(line: Played, bounds: list[int], clock: Clock) -> list[int]:
    """Of each note: between which of the bounds its length in ms lies. Few lengths occur, so they are kept."""
    if len(clock.starts) > 1:
        return [bisect_right(bounds, clock.ms_between(a, b)) for a, b in zip(line.on, line.off, strict=True)]
    ticks = [b - a for a, b in zip(line.on, line.off, strict=True)]
    classes = {length: bisect_right(bounds, clock.ms_between(0, length)) for length in {*ticks}}
    return [classes[length] for length in ticks]


def _connects(before: Decision, decision: Decision) -> bool:
    """A note is connected to one that lasts until it begins, on its channel; joined only on its own joining entry."""
    if before.joins_to == NOT_JOINING or (before.channel, before.track) != (decision.channel, decision.track):
        return False
    return not decision.joined or decision.joining == before.joins_to


def _in_turn(chosen: list[int], decisions: list[Decision]) -> list[int]:
    """Let the articulations that alternate take turns, note by note of a line."""
    out: list[int] = []
    turn = 0
    for d in chosen:
        turns = decisions[d].turns
        if turns:
            out.append(turns[turn % len(turns)])
            turn += 1
        else:
            out.append(d)
    return out
