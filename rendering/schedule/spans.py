"""Note-ons and note-offs of one line as they are sent.

A note is sent early by its lead, so that what is heard is on time; note-ons of a voice keep their
written order. Ends are not sent early: an unslurred note ends before the next note-on of its voice,
a joined one after it, by the overlap.
"""

from __future__ import annotations

from rendering.maps.table import NO_LIMIT
from rendering.perform.played import Played
from rendering.resolve.decision import SHORTEST_MS, Decision
from rendering.score import SLUR_LEAVES
from rendering.timeline import FOREVER, Clock, half_up


def keep_order(line: Played, sent: list[int], floor: int | None) -> list[int]:
    """Cut leads in place so that the sent note-ons keep written order; return the rows that gave way."""
    cut: list[int] = []
    on = line.on
    top = before = floor - 1 if floor is not None else -FOREVER
    tick = -FOREVER
    for i, t in enumerate(on):
        if t != tick:
            tick, before = t, top
        if sent[i] <= before:
            sent[i] = before + 1
            cut.append(i)
        if sent[i] > top:
            top = sent[i]
    return cut


def sent_ends(line: Played, sent: list[int], chosen: list[int], decisions: list[Decision], clock: Clock) -> list[int]:
    """Return the ticks of the note-offs, each later than its note-on."""
    on, off, slur, key = line.on, line.off, line.slur, line.key
    ends = off[:]
    simple = [d.full for d in decisions]
    joining = [d.overlap_ms > 0 or d.joined for d in decisions]
    stop = len(on)
    following: range = range(0)  # rows of the chord that comes next
    next_on = next_sent = after_sent = FOREVER  # of the next chord: written, sent; of the one after it: sent
    while stop:
        start = stop - 1
        while start and on[start - 1] == on[stop - 1]:
            start -= 1
        for i in range(start, stop):
            d = chosen[i]
            end = off[i] if simple[d] else shaped_end(on[i], off[i], decisions[d], clock)
            if off[i] <= next_on:
                if (
                    slur[i] & SLUR_LEAVES
                    and simple[d]
                    and off[i] == next_on
                    and joining[chosen[following[0]]]
                    and _moves(key, i, following)
                ):
                    end = overlap_end(line, following[0], next_sent, after_sent, decisions[chosen[following[0]]], clock)
                elif end >= next_sent:
                    end = next_sent - 1
            ends[i] = end if end > sent[i] else sent[i] + 1
        following = range(start, stop)
        after_sent = next_sent
        next_on, next_sent = on[start], min(sent[start:stop])
        stop = start
    return ends


def _moves(key: list[int], i: int, following: range) -> bool:
    return all(key[j] != key[i] for j in following)


def shaped_end(on: int, off: int, decision: Decision, clock: Clock) -> int:
    """Return where a shortened note ends: min(written, max(40 ms, its share)), and its entry's bound."""
    share = max(on + half_up((off - on) * decision.scale, 1000), clock.later(on, SHORTEST_MS))
    end = min(off, share)
    if decision.at_most_ms != NO_LIMIT:
        end = min(end, clock.later(on, decision.at_most_ms))
    return end


def overlap_end(line: Played, following: int, next_sent: int, after_sent: int, decision: Decision, clock: Clock) -> int:
    """Return the end of a note joined to row `following`: into it by the overlap, at most half of it."""
    half = (line.off[following] - line.on[following]) // 2
    end = min(clock.later(next_sent, decision.overlap_ms), next_sent + half, after_sent)
    return max(end, next_sent + 1)
