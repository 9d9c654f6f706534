"""The playback proof: what a simulated sampler hears in the bytes against what was decided.

The expectation comes from the performed notes and the decisions alone; of when and by which events they
were sent it knows nothing. Per track two multisets of notes are compared: when (the onset less the lead),
which key, which articulations, joined or not; then of each note its end and its loudness.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from rendering.listening import Heard
from rendering.maps.table import NO_LIMIT, Sampler
from rendering.resolve.decision import SHORTEST_MS, Decision, sent_keys, sounding_levels
from rendering.resolve.lines import Voice
from rendering.score import SLUR_LEAVES
from rendering.timeline import FOREVER, Clock, half_up

# A note that gave way to a law which outranks the one it breaks is named by one of these problems.
YIELDING = frozenset({"lead-cut", "onset-moved", "overlap-cut", "join-lost", "loudness-shared"})

_BIAS = 1 << 40  # onsets may lie before 0


@dataclass(slots=True)
class Verdict:
    """What the proof found on one track.

    notes     notes that should be heard (equal keys at one onset of a channel are one)
    agree     of these: heard as decided
    yielded   (voice, row) of those that are not and that a problem names
    disagree  (voice, row, what was heard); voice -1: something that nobody wrote, `row` is its tick
    """

    notes: int = 0
    agree: int = 0
    yielded: list[tuple[int, int]] = field(default_factory=list)
    disagree: list[tuple[int, int, str]] = field(default_factory=list)


def prove_track(
    voices: Sequence[Voice],
    decisions: Sequence[Decision],
    sampler: Sampler,
    heard: Heard,
    rows: Sequence[int],
    clock: Clock,
    *,
    channel: int,
    shift: int = 0,
    extra_ms: int = 0,
    level_offset: int = 0,
    floor: int | None = None,
    yielded: Mapping[tuple[int, int], str],
) -> Verdict:
    """Compare what a track should sound like with `rows` of what was heard.

    `channel` 0-15 is the track's own; `shift` ticks of pre-roll are taken off what was heard; `extra_ms` is
    what the whole track is sent early beside its leads; nothing may be sent before tick `floor`; `yielded`
    are the notes that problems name.
    """
    expected = _Expected(channel)
    for number, voice in enumerate(voices):
        expected.add_voice(number, voice, decisions, clock, extra_ms, level_offset, floor)
    return _Comparison(expected, decisions, sampler, heard, rows, clock, shift, yielded, voices).verdict()


class _Expected:
    """Expected notes as columns; a row for every performed note, also silent ones."""

    __slots__ = ("base", "channel", "cut", "decision", "key", "level", "on", "own", "row", "voice")

    def __init__(self, own: int) -> None:
        self.own: int = own
        self.base: list[int] = []  # of each voice: where its rows begin
        self.cut: list[int] = []  # rows whose lead gives way to written order
        self.voice: list[int] = []
        self.row: list[int] = []
        self.on: list[int] = []
        self.key: list[int] = []
        self.channel: list[int] = []
        self.decision: list[int] = []
        self.level: list[int] = []

    def add_voice(
        self, number: int, voice: Voice, decisions: Sequence[Decision], clock: Clock, extra_ms: int, offset: int, floor: int | None
    ) -> None:
        line, chosen = voice.line, voice.decisions
        wanted = clock.all_earlier(line.on, chosen, [d.lead_ms + extra_ms for d in decisions])
        aimed = _in_written_order(line.on, wanted, floor)
        if aimed != wanted:
            self.cut += [len(self.on) + i for i, (a, b) in enumerate(zip(aimed, wanted, strict=True)) if a != b]
        self.base.append(len(self.on))
        self.voice += [number] * len(chosen)
        self.row += range(len(chosen))
        self.on += aimed
        self.key += sent_keys(line.key, chosen, decisions)
        channels = [self.own if d.channel < 0 else d.channel for d in decisions]
        self.channel += [channels[d] for d in chosen]
        self.decision += chosen
        self.level += sounding_levels(line.level, chosen, decisions, offset)


class _Comparison:
    """One track's expectation and what was heard, matched note by note."""

    def __init__(
        self,
        expected: _Expected,
        decisions: Sequence[Decision],
        sampler: Sampler,
        heard: Heard,
        rows: Sequence[int],
        clock: Clock,
        shift: int,
        yielded: Mapping[tuple[int, int], str],
        voices: Sequence[Voice],
    ) -> None:
        self.expected: _Expected = expected
        self.decisions: Sequence[Decision] = decisions
        self.sampler: Sampler = sampler
        self.heard: Heard = heard
        self.rows: Sequence[int] = rows
        self.clock: Clock = clock
        self.shift: int = shift
        self.named: Mapping[tuple[int, int], str] = yielded
        self.voices: Sequence[Voice] = voices
        self.sounds: dict[tuple[int, ...], int] = {}
        self.out: Verdict = Verdict()
        self.pairs: list[tuple[int, int]] = []  # (expected, heard row), by onset
        self.level: list[int] = expected.level  # of unisons the highest
        self.failed: set[int] = set()  # expected notes that were found wanting
        self.unisons: int = 0  # expected notes that sound as part of another

    def verdict(self) -> Verdict:
        """Match the notes, then look at ends, loudness and changes while a note sounded."""
        wanted, found = self._packed_expected(), self._packed_heard()
        if [e >> 24 for e in wanted] == [h >> 24 for h in found]:
            self.pairs = [(e & 0xFFFFFF, self.rows[h & 0xFFFFFF]) for e, h in zip(wanted, found, strict=True)]
        else:
            self._match([e & 0xFFFFFF for e in wanted], [h & 0xFFFFFF for h in found])
        matched = {i for i, _ in self.pairs} if self.expected.cut else ()
        for i in self.expected.cut:
            if i in matched:
                self._fail(i, "heard late, for its lead is cut")
        self._compare_ends()
        self._compare_loudness()
        self._changes()
        self.out.notes = len(self.pairs) + sum(1 for v, _, what in self.out.disagree if v >= 0 and what.startswith("not heard"))
        self.out.agree = len(self.pairs) - len(self.failed)
        return self.out

    # ── Which heard note is which ──

    def _sound(self, entries: tuple[int, ...]) -> int:
        return self.sounds.setdefault(entries, len(self.sounds))

    def _packed_expected(self) -> list[int]:
        e, decisions = self.expected, self.decisions
        tails = [self._sound(d.entries) << 1 | d.joined for d in decisions]
        silent = any(d.silent for d in decisions)
        rows = [i for i, d in enumerate(e.decision) if not decisions[d].silent] if silent else range(len(e.on))
        on, key, channel, decision = e.on, e.key, e.channel, e.decision
        return sorted((on[i] + _BIAS) << 60 | key[i] << 53 | channel[i] << 49 | tails[decision[i]] << 24 | i for i in rows)

    def _packed_heard(self) -> list[int]:
        h, shift = self.heard, self.shift - _BIAS
        tails = [self._sound(cell) << 1 for cell in h.cells]
        on, key, channel, cell, joined = h.on, h.key, h.channel, h.cell, h.joined
        return sorted(
            (on[r] - shift) << 60 | key[r] << 53 | channel[r] << 49 | (tails[cell[r]] | joined[r]) << 24 | i
            for i, r in enumerate(self.rows)
        )

    def _match(self, wanted: list[int], found: list[int]) -> None:
        """The slow way, when something differs: by onset, key and channel, then by nearness."""
        places: dict[tuple[int, int, int], list[int]] = {}
        for i in wanted:
            places.setdefault((self.expected.on[i], self.expected.key[i], self.expected.channel[i]), []).append(i)
        left: list[int] = []
        for row in (self.rows[i] for i in found):
            group = places.pop((self.heard.on[row] - self.shift, self.heard.key[row], self.heard.channel[row]), None)
            if group is None:
                left.append(row)
            else:
                self._take_group(group, row)
        for group in sorted(places.values(), key=lambda group: self.expected.on[group[0]]):
            self._look_near(group, left)
        for row in left:
            tick = self.heard.on[row] - self.shift
            self.out.disagree.append((-1, tick, f"key {self.heard.key[row]} sounds that nobody wrote"))
        self.pairs.sort(key=lambda pair: self.heard.on[pair[1]])

    def _take_group(self, group: list[int], row: int) -> None:
        """Unisons are heard as one note: as one of them, at the highest level."""
        fitting = [i for i in group if self._same(i, row)]
        best = max(fitting or group, key=self.level.__getitem__)
        self.unisons += len(group) - 1
        self.level[best] = max(self.level[i] for i in group)
        self.pairs.append((best, row))
        if not fitting:
            self._fail(best, self._difference(best, row))

    def _same(self, i: int, row: int) -> bool:
        d = self.decisions[self.expected.decision[i]]
        return self.heard.entries(row) == d.entries and bool(self.heard.joined[row]) == d.joined

    def _look_near(self, group: list[int], left: list[int]) -> None:
        """Pair expected unisons with the nearest left-over note on their key within a quarter, or miss them."""
        e, h = self.expected, self.heard
        i = next((i for i in group if (e.voice[i], e.row[i]) in self.named), group[0])
        self.level[i] = max(self.level[j] for j in group)
        self.unisons += len(group) - 1
        near = [
            r
            for r in left
            if h.key[r] == e.key[i] and h.channel[r] == e.channel[i] and abs(h.on[r] - self.shift - e.on[i]) <= self.clock.ppq
        ]
        if not near:
            self.out.disagree.append((e.voice[i], e.row[i], "not heard"))
            return
        row = min(near, key=lambda r: abs(h.on[r] - self.shift - e.on[i]))
        left.remove(row)
        self.pairs.append((i, row))
        self._fail(i, self._difference(i, row))

    def _difference(self, i: int, row: int) -> str:
        e, h = self.expected, self.heard
        late = h.on[row] - self.shift - e.on[i]
        words = [f"{abs(late)} ticks {'late' if late > 0 else 'early'}"] if late else []
        d = self.decisions[e.decision[i]]
        if h.entries(row) != d.entries:
            words.append(f"heard as {self._named(h.entries(row))}, chosen {self._named(d.entries)}")
        if bool(h.joined[row]) != d.joined:
            words.append("joined to the note before" if h.joined[row] else "not joined to the note before")
        return "; ".join(words)

    def _named(self, entries: tuple[int, ...]) -> str:
        return " + ".join(self.sampler.entries[i].name if i >= 0 else "nothing certain" for i in entries)

    def _fail(self, i: int, what: str) -> None:
        if i in self.failed:
            return
        self.failed.add(i)
        place = (self.expected.voice[i], self.expected.row[i])
        if self.named.get(place) in YIELDING:
            self.out.yielded.append(place)
        else:
            self.out.disagree.append((*place, what))

    # ── Ends, loudness, changes ──

    def _compare_ends(self) -> None:
        aimed = self.expected.on
        ends: list[int] = []
        following: list[int] = []
        for number, voice in enumerate(self.voices):
            base = self.expected.base[number]
            stop = base + len(voice.decisions)
            told = _ends(voice, self.decisions, self.clock, aimed[base:stop])
            ends += [end for end, _ in told]
            following += [after for _, after in told]
        self._restrikes(aimed, ends, following)
        off, shift = self.heard.off, self.shift
        for i, row in self.pairs:
            late = off[row] - shift - max(ends[i], self.heard.on[row] - shift + 1)
            if late:
                self._fail(i, f"ends {abs(late)} ticks {'late' if late > 0 else 'early'}")

    def _restrikes(self, on: list[int], ends: list[int], following: list[int]) -> None:
        """A key struck again ends the note that sounds on it, which lends its end to the new one."""
        gaps = [d.gap_ms for d in self.decisions]
        key, channel, decision = self.expected.key, self.expected.channel, self.expected.decision
        widest = max((self.clock.later(s, max(gaps, default=0)) - s for s in self.clock.starts), default=0) + 1
        merged = self._merged_ends(ends)
        last: dict[int, int] = {}
        for i in sorted((i for i, _ in self.pairs), key=on.__getitem__):
            if i in merged:
                ends[i] = max(ends[i], merged[i])
            where = key[i] << 4 | channel[i]
            p = last.get(where, -1)
            last[where] = i
            if p < 0 or ends[p] + widest <= on[i]:
                continue
            if ends[p] > on[i] and self.decisions[decision[i]].joining < 0:
                ends[i] = max(ends[i], ends[p])
            gap = min(on[i] - self.clock.earlier(on[i], gaps[decision[p]]), (on[i] - on[p]) // 2)
            joined = following[p] < min(ends[p], on[i])
            ends[p] = max(min(ends[p], on[i] - gap), (following[p] if joined else on[p]) + 1)

    def _merged_ends(self, ends: list[int]) -> dict[int, int]:
        """Of unisons heard as one note: the latest of their ends, by the one that was paired."""
        e = self.expected
        if self.unisons == 0:
            return {}
        paired = {(e.on[i], e.key[i], e.channel[i]): i for i, _ in self.pairs}
        out: dict[int, int] = {}
        for j in range(len(e.on)):
            i = paired.get((e.on[j], e.key[j], e.channel[j]), j)
            if i != j:
                out[i] = max(out.get(i, ends[i]), ends[j])
        return out

    def _compare_loudness(self) -> None:
        e, h, level = self.expected, self.heard, self.level
        velocities = [d.velocity for d in self.decisions]
        if [velocities[e.decision[i]][level[i]] for i, _ in self.pairs] != [h.velocity[row] for _, row in self.pairs]:
            for i, row in self.pairs:
                wanted = velocities[e.decision[i]][level[i]]
                if h.velocity[row] != wanted:
                    self._fail(i, f"velocity {h.velocity[row]} instead of {wanted}")
        controllers = h.controllers[h.seat[self.rows[0]]] if self.rows else ()
        for place, controller in enumerate(controllers):
            values = [d.value if d.controller == controller else () for d in self.decisions]
            pairs = [(i, row) for i, row in self.pairs if values[e.decision[i]]]
            if [values[e.decision[i]][level[i]] for i, _ in pairs] != [h.level[row][place] for _, row in pairs]:
                for i, row in pairs:
                    value = values[e.decision[i]][level[i]]
                    if h.level[row][place] != value:
                        self._fail(i, f"controller {controller} at {h.level[row][place]} instead of {value}")

    def _changes(self) -> None:
        paired = {row: i for i, row in self.pairs}
        for change in self.heard.changes:
            if change.row in paired:
                self._fail(paired[change.row], f"changes to {self._named((change.after,))} while it sounds")


def _ends(voice: Voice, decisions: Sequence[Decision], clock: Clock, aimed: list[int]) -> list[tuple[int, int]]:
    """Where the notes of a line should end, each with when the note after it was meant to be sent.

    `aimed` is when each was meant to be sent, before another note of its channel moved it.
    """
    line, chosen = voice.line, voice.decisions
    on, off, slur = line.on, line.off, line.slur
    full = [d.full for d in decisions]
    overlaps = [d.joined or d.overlap_ms > 0 for d in decisions]
    ends: list[tuple[int, int]] = [(0, 0)] * len(on)
    first = last = len(on)  # the rows of the chord that comes next
    following = later = FOREVER  # when it was meant to be sent, and the one after it
    following_on = here_on = FOREVER  # when it is written; and the chord in hand
    for i in range(len(on) - 1, -1, -1):
        if on[i] != here_on:
            first, last, following_on, here_on = i + 1, first, here_on, on[i]
            if first < len(on):
                following, later = aimed[first] if last - first == 1 else min(aimed[first:last]), following
        end, d = off[i], chosen[i]
        if not full[d]:
            end = _short_end(on[i], end, decisions[d], clock)
        if off[i] <= following_on:
            adjacent = slur[i] & SLUR_LEAVES and off[i] == following_on and full[d]
            if adjacent and overlaps[chosen[first]] and line.key[i] not in line.key[first:last]:
                reach = clock.later(following, decisions[chosen[first]].overlap_ms) - following
                end = following + max(min(reach, (off[first] - on[first]) // 2, later - following), 1)
            elif end >= following:
                end = following - 1
        ends[i] = (end if end > aimed[i] else aimed[i] + 1, following)
    return ends


def _in_written_order(written: list[int], sent: list[int], floor: int | None) -> list[int]:
    """Cut leads so that what is written later is sent later, and nothing before `floor`."""
    if (floor is None or not sent or min(sent) >= floor) and sent == sorted(sent):
        moments = [w << 32 | t + _BIAS for w, t in zip(written, sent, strict=True)] if len({*written}) < len(written) else sent
        if len({*moments}) == len({*sent}) == len({*written}):
            return sent
    out: list[int] = []
    limit = least = -FOREVER if floor is None else floor
    for i, t in enumerate(sent):
        if i and written[i] != written[i - 1]:
            least = limit
        out.append(max(t, least))
        limit = max(limit, out[-1] + 1)
    return out


def _short_end(on: int, off: int, decision: Decision, clock: Clock) -> int:
    length = off - on
    if decision.scale != 1000:
        length = min(length, max(half_up(length * decision.scale, 1000), clock.later(on, SHORTEST_MS) - on))
    if decision.at_most_ms < NO_LIMIT:
        length = min(length, clock.later(on, decision.at_most_ms) - on)
    return on + length
