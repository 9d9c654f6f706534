"""Note-ons and note-offs of one line as they are sent.

A note is sent early by its lead, so that what is heard is on time; note-ons of a voice keep their
written order. Ends are not sent early: an unslurred note ends before the next note-on of its voice,
a joined one after it, by the overlap.
"""

from __future__ import annotations

from typing import NamedTuple

from rendering.maps.table import NO_LIMIT
from rendering.perform.played import Played
from rendering.resolve.decision import SHORTEST_MS, Decision
from rendering.score import SLUR_LEAVES
from rendering.timeline import FOREVER, Clock, half_up


def keep_order(line: Played, sent: list[int], floor: int | None) -> list[int]:
    """Cut leads in place so that the sent note-ons keep written order; return the rows that gave way."""
    on = line.on
    early = floor is not None and sent and min(sent) < floor
    if not early and sent == sorted(sent) and len({*zip(on, sent, strict=True)}) == len({*sent}) == len({*on}):
        return []  # the commonest case: every chord on one tick, later than the chord before
    cut: list[int] = []
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


class Following(NamedTuple):
    """Of each row of a line, the chord after its own: its first row (the line's length if there is none),
    when it is written (FOREVER if there is none), and when the first of it is sent."""

    row: list[int]
    on: list[int]
    sent: list[int]


def following(on: list[int], sent: list[int]) -> Following:
    """Return what follows each row."""
    count = len(on)
    if len({*on}) == count:
        return Following(list(range(1, count + 1)), [*on[1:], FOREVER][:count], [*sent[1:], FOREVER][:count])
    row, written, first = [count] * count, [FOREVER] * count, [FOREVER] * count
    after, after_on, after_sent, here = count, FOREVER, FOREVER, FOREVER
    for i in range(count - 1, -1, -1):
        if i + 1 < count and on[i] != on[i + 1]:
            after, after_on, after_sent, here = i + 1, on[i + 1], here, FOREVER
        if sent[i] < here:
            here = sent[i]
        row[i], written[i], first[i] = after, after_on, after_sent
    return Following(row, written, first)


def sent_ends(line: Played, sent: list[int], after: Following, chosen: list[int], decisions: list[Decision], clock: Clock) -> list[int]:
    """Return the ticks of the note-offs, each later than its note-on."""
    on, off, slur = line.on, line.off, line.slur
    ends = [o if o < s or o > w else s - 1 for o, s, w in zip(off, after.sent, after.on, strict=True)]
    full = [d.full for d in decisions]
    if not all(full):
        for i, d in enumerate(chosen):
            if not full[d]:
                end = shaped_end(on[i], off[i], decisions[d], clock)
                ends[i] = end if end < after.sent[i] or off[i] > after.on[i] else after.sent[i] - 1
    joining = [d.overlap_ms > 0 or d.joined for d in decisions]
    if any(slur) and any(joining):
        for i, s in enumerate(slur):
            if s & SLUR_LEAVES and off[i] == after.on[i] and full[chosen[i]] and joining[chosen[after.row[i]]]:
                _join(line, i, ends, after, decisions[chosen[after.row[i]]], clock)
    return [e if e > t else t + 1 for e, t in zip(ends, sent, strict=True)]


def _join(line: Played, i: int, ends: list[int], after: Following, decision: Decision, clock: Clock) -> None:
    """Let row `i` end in the note after it: by the overlap, at most half of it, before the one after that.

    Never onto its own key: such a note ends before it.
    """
    j = after.row[i]
    if after.row[j] - j == 1:
        if line.key[j] == line.key[i]:
            return
    elif line.key[i] in line.key[j : after.row[j]]:
        return
    half = (line.off[j] - line.on[j]) // 2
    end = min(clock.later(after.sent[i], decision.overlap_ms), after.sent[i] + half, after.sent[j])
    ends[i] = max(end, after.sent[i] + 1)


def shaped_end(on: int, off: int, decision: Decision, clock: Clock) -> int:
    """Return where a shortened note ends: min(written, max(40 ms, its share)), and its entry's bound."""
    share = max(on + half_up((off - on) * decision.scale, 1000), clock.later(on, SHORTEST_MS))
    end = min(off, share)
    if decision.at_most_ms != NO_LIMIT:
        end = min(end, clock.later(on, decision.at_most_ms))
    return end
