"""The notes of a track as they are sent, in one set of columns, with unisons on a channel resolved."""

from __future__ import annotations

from rendering.resolve.decision import Decision, sent_keys, sounding_levels
from rendering.resolve.lines import Voice
from rendering.schedule.spans import following, keep_order, sent_ends
from rendering.timeline import Clock


class Sending:
    """Sent notes as columns, the voices of a track one after the other.

    voice, row   which row of which Voice
    written      onset as performed, Tick; on, off: as sent
    next_on      sent onset of the next note of the voice
    key          as sent; channel 0-15
    decision     index; level: thousandths with all additions; velocity 1-127
    merged       the note is played by another one that starts with it on the same key
    order        rows of these columns in the order in which they are sent
    ramps        of each voice
    yielded      (voice, row) -> problem code, of notes that gave way
    """

    __slots__ = (
        "channel", "decision", "key", "level", "level_offset", "merged", "next_on", "off", "on",
        "order", "ramps", "row", "velocity", "voice", "written", "yielded",
    )  # fmt: skip

    def __init__(self, level_offset: int) -> None:
        self.voice: list[int] = []
        self.row: list[int] = []
        self.written: list[int] = []
        self.on: list[int] = []
        self.off: list[int] = []
        self.next_on: list[int] = []
        self.key: list[int] = []
        self.channel: list[int] = []
        self.decision: list[int] = []
        self.level: list[int] = []
        self.velocity: list[int] = []
        self.merged: list[bool] = []
        self.order: list[int] = []
        self.ramps: list[list[tuple[int, int, int, int]]] = []
        self.level_offset: int = level_offset
        self.yielded: dict[tuple[int, int], str] = {}

    def give_way(self, i: int, code: str) -> None:
        """Record that sent note `i` gave way to a law that outranks the one it breaks."""
        self.yielded.setdefault((self.voice[i], self.row[i]), code)


def gather(
    voices: list[Voice],
    decisions: list[Decision],
    clock: Clock,
    *,
    channel: int,
    extra_ms: int = 0,
    level_offset: int = 0,
    floor: int | None = None,
) -> Sending:
    """Return the sent notes of the voices of one track; silent notes are left out."""
    out = Sending(level_offset)
    for number, voice in enumerate(voices):
        _add_voice(out, number, voice, decisions, clock, channel, extra_ms, floor)
    out.merged = [False] * len(out.on)
    out.order = _order(out, len(voices), decisions)
    _part_unisons(out, decisions, clock)
    table = [d.velocity for d in decisions]
    out.velocity = [table[d][level] for d, level in zip(out.decision, out.level, strict=True)]
    return out


def _add_voice(
    out: Sending, number: int, voice: Voice, decisions: list[Decision], clock: Clock, channel: int, extra_ms: int, floor: int | None
) -> None:
    line, chosen = voice.line, voice.decisions
    sent = clock.all_earlier(line.on, chosen, [d.lead_ms + extra_ms for d in decisions])
    cut = keep_order(line, sent, floor)
    after = following(line.on, sent)
    ends = sent_ends(line, sent, after, chosen, decisions, clock)
    levels = sounding_levels(line.level, chosen, decisions, out.level_offset)
    channels = [d.channel if d.channel >= 0 else channel for d in decisions]
    columns = [line.on, sent, ends, after.sent, sent_keys(line.key, chosen, decisions), chosen, levels]
    rows: list[int] | range = range(len(sent))
    if any(d.silent for d in decisions):
        rows = [i for i in rows if not decisions[chosen[i]].silent]
        columns = [[column[i] for i in rows] for column in columns]
    out.yielded |= {(number, row): "lead-cut" for row in cut if not decisions[chosen[row]].silent}
    targets = (out.written, out.on, out.off, out.next_on, out.key, out.decision, out.level)
    for target, column in zip(targets, columns, strict=True):
        target.extend(column)
    out.voice += [number] * len(rows)
    out.row += rows
    out.channel += [channels[d] for d in columns[5]] if len({*channels}) > 1 else channels[:1] * len(rows)
    out.ramps.append(line.ramps)


def _order(out: Sending, voices: int, decisions: list[Decision]) -> list[int]:
    """Sent order; at one tick, notes of one combination of entries stand together, and low keys first.

    Combinations stand in the order in which the track's own voices first use them.
    """
    ranks = {entries: n for n, entries in enumerate(dict.fromkeys(decisions[d].entries for d in dict.fromkeys(out.decision)))}
    rank = [ranks.get(d.entries, 0) for d in decisions]
    rows = range(len(out.on))
    if voices == 1:
        places = [t << 24 | rank[d] for t, d in zip(out.on, out.decision, strict=True)]
        if places == sorted(places):
            return list(rows)
    columns = zip(out.on, out.decision, out.key, rows, strict=True)
    return [packed & 0xFFFFFF for packed in sorted((t + (1 << 40)) << 64 | rank[d] << 40 | k << 24 | i for t, d, k, i in columns)]


def _part_unisons(out: Sending, decisions: list[Decision], clock: Clock) -> None:
    """One key on one channel sounds once: a restrike ends the running note, equal onsets are one note."""
    on, off = out.on, out.off
    gaps = [d.gap_ms for d in decisions]
    widest = max((clock.later(s, max(gaps, default=0)) - s for s in clock.starts), default=0) + 1
    one = len({*out.channel}) < 2
    places = out.key if one else [k + (c << 7) for k, c in zip(out.key, out.channel, strict=True)]
    running: dict[int, int] = {}
    touched: list[int] = []
    for i in out.order:
        p = running.get(places[i], -1)
        running[places[i]] = i
        if p < 0 or off[p] + widest <= on[i]:
            continue
        if on[p] == on[i]:
            off[p] = max(off[p], off[i])
            out.level[p] = max(out.level[p], out.level[i])
            out.merged[i] = True
            touched.append(i)
            running[places[i]] = p
            continue
        if off[p] > on[i] and decisions[out.decision[i]].joining < 0:  # a joining one would join the note after it
            off[i] = max(off[i], off[p])
        gap = min(on[i] - clock.earlier(on[i], gaps[out.decision[p]]), (on[i] - on[p]) // 2)
        shortest = out.next_on[p] + 1 if out.next_on[p] < min(off[p], on[i]) else on[p] + 1  # a joined note stays joined
        off[p] = max(min(off[p], on[i] - gap), shortest)
        touched.append(p)
    tell_lost_joins(out, decisions, touched)


def tell_lost_joins(out: Sending, decisions: list[Decision], touched: list[int]) -> None:
    """Name the notes that were to be joined to one of `touched`, which were cut or merged, and now are not."""
    count = len(out.on)
    for p in touched:
        i = p + 1
        while i < count and out.voice[i] == out.voice[p] and out.written[i] == out.written[p]:
            i += 1
        following = out.written[i] if i < count else -1
        while i < count and out.voice[i] == out.voice[p] and out.written[i] == following:
            if decisions[out.decision[i]].joined and not _sounds_on(out, i):
                out.give_way(i, "join-lost")
            i += 1


def _sounds_on(out: Sending, i: int) -> bool:
    """Tell whether a note of the chord before row `i`, in its voice, still sounds when that is sent."""
    p = i - 1
    while p >= 0 and out.voice[p] == out.voice[i] and out.written[p] == out.written[i]:
        p -= 1
    before = out.written[p]
    while p >= 0 and out.voice[p] == out.voice[i] and out.written[p] == before:
        if out.off[p] > out.on[i] and not out.merged[p]:
            return True
        p -= 1
    return False
