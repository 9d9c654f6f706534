"""All that one track sends, from its voices and their decisions."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field

from rendering.maps.table import HOLD_NO, Entry, Sampler, Switch
from rendering.resolve.decision import Decision
from rendering.resolve.lines import Voice
from rendering.schedule.curves import CURVE_RANK, draw_ramp
from rendering.schedule.notes import Sending, gather, tell_lost_joins
from rendering.schedule.switches import Channel, Held
from rendering.timeline import FOREVER, Clock

LONG_REST_BEATS = 8  # quarters of silence after which a track's switches are sent again


@dataclass(slots=True, kw_only=True)
class Scheduled:
    """What a track sends.

    events   sorted ints; `head` likewise, counted from the very start of the file, before any note
    notes    the sent notes as columns
    yielded  (voice index, row) of the notes that gave way -> problem code
    """

    events: list[int]
    head: list[int]
    notes: Sending
    yielded: dict[tuple[int, int], str] = field(default_factory=dict)


def schedule_track(
    voices: list[Voice],
    decisions: list[Decision],
    sampler: Sampler,
    clock: Clock,
    *,
    channel: int,
    restate: str = "change",
    anchors: list[int] | None = None,
    extra_ms: int = 0,
    level_offset: int = 0,
    floor: int | None = None,
) -> Scheduled:
    """Return the events of a track.

    `channel` 0-15 is the track's own. `anchors` are ticks (ascending) from which playing must be
    right on its own: the next note restates its switches. `extra_ms` sends all notes earlier;
    `floor` is the first tick at which a note may be sent, None = any.
    """
    sending = gather(voices, decisions, clock, channel=channel, extra_ms=extra_ms, level_offset=level_offset, floor=floor)
    if restate == "phrase":
        anchors = sorted({*(anchors or []), *_phrases(voices)})
    writer = _Writer(sending, decisions, sampler, clock, restate, anchors or [])
    writer.write()
    events, head = writer.events, []
    for state in writer.channels.values():
        state.finish()
        events += state.events
        head += state.head
    return Scheduled(events=sorted(events), head=sorted(head), notes=sending, yielded=sending.yielded)


def _phrases(voices: list[Voice]) -> list[int]:
    """Return the ticks at which a track begins after a written rest of all its voices; gaps of short notes are none."""
    starts: list[int] = []
    end: int | None = None
    for on, off in sorted(pair for voice in voices for pair in zip(voice.line.on, voice.line.off, strict=True)):
        if end is not None and on > end:
            starts.append(on)
        end = off if end is None else max(end, off)
    return starts


class _Writer:
    """Walks the sent notes in order, changing what must change before each."""

    def __init__(
        self, sending: Sending, decisions: list[Decision], sampler: Sampler, clock: Clock, restate: str, anchors: list[int]
    ) -> None:
        self.sending: Sending = sending
        self.decisions: list[Decision] = decisions
        self.sampler: Sampler = sampler
        self.clock: Clock = clock
        self.restate: str = restate
        self.anchors: list[int] = anchors
        self.channels: dict[int, Channel] = {}
        self.events: list[int] = []
        self.moved: dict[tuple[int, int], int] = {}  # (channel, key) -> the last sent note of it that was moved
        self.sounds: list[list[Entry]] = []
        self.sound_of: list[int] = []
        self.restated: dict[int, list[int]] = {}  # channel -> ticks from which playing must be right on its own
        self.tracked: bool = bool(sampler.held) or any(e.acts_on_sounding for e in sampler.entries)
        self._name_sounds()

    def _name_sounds(self) -> None:
        """Decisions that choose the same entries need the same state: number these."""
        known: dict[tuple[int, ...], int] = {}
        for d in self.decisions:
            if d.entries not in known:
                known[d.entries] = len(self.sounds)
                self.sounds.append([self.sampler.entries[i] for i in d.entries])
            self.sound_of.append(known[d.entries])

    def write(self) -> None:
        """Fill `events` and the channels."""
        s = self.sending
        on, off, channels, merged = s.on, s.off, self.channels, s.merged
        sounds = [self.sound_of[d] for d in s.decision]
        written = s.written
        plain = self.restate == "change" and not self.tracked  # most notes need nothing but themselves
        rest = LONG_REST_BEATS * self.clock.ppq
        for i in s.order:
            if merged[i]:
                continue
            channel = channels.get(s.channel[i]) or self._open(s.channel[i], i)
            near = channel.last_on < on[i] < channel.busy + rest and written[i] < channel.anchor
            if not plain or not near or sounds[i] != channel.sound:
                self._before(channel, i)
            channel.last_on = on[i]
            if off[i] > channel.busy:
                channel.busy = off[i]
            if self.tracked:
                channel.playing = [j for j in channel.playing if off[j] > on[i]] + [i]
        self._curves()
        self._note_events()

    def _open(self, number: int, i: int) -> Channel:
        channel = self.channels[number] = Channel(number, self.sampler, self.clock)
        channel.anchor = self._next_anchor(self.sending.written[i])
        return channel

    def _next_anchor(self, written: int) -> int:
        n = bisect_right(self.anchors, written)
        return self.anchors[n] if n < len(self.anchors) else FOREVER

    def _note_events(self) -> None:
        s = self.sending
        heads = [(c << 16) + (k << 8) for c, k in zip(s.channel, s.key, strict=True)]
        ons = [(t << 28) + h + v + 0xF900000 for t, h, v in zip(s.on, heads, s.velocity, strict=True)]
        offs = [(t << 28) + h + 0x0800000 for t, h in zip(s.off, heads, strict=True)]
        if any(s.merged):
            ons = [e for e, gone in zip(ons, s.merged, strict=True) if not gone]
            offs = [e for e, gone in zip(offs, s.merged, strict=True) if not gone]
        self.events += offs
        self.events += ons

    def _before(self, channel: Channel, i: int) -> None:
        """Bring the channel into the state that note `i` needs."""
        s = self.sending
        sound = self.sound_of[s.decision[i]]
        on = s.on[i]
        if channel.begun and self._restates(channel, on, i):
            channel.forget()
            self.restated.setdefault(s.channel[i], []).append(on)
        entries = self.sounds[sound]
        switches = channel.wanted(entries) if sound != channel.sound else []
        unwanted = channel.unwanted_held(entries) if channel.held else []
        if not switches and not unwanted and channel.begun:
            self._go_on(channel, i, sound, on)
        else:
            if on <= channel.last_on:
                on = self._move_to(i, channel.last_on + 1)  # two notes at one tick want different switches
            self._change(channel, i, sound, on, switches, unwanted)

    def _go_on(self, channel: Channel, i: int, sound: int, on: int) -> None:
        """Nothing has to be switched; but a note that was moved holds back those after it."""
        s = self.sending
        channel.sound = sound
        p = self.moved.get((s.channel[i], s.key[i]), i)
        earliest = max(channel.last_on, s.on[p] + 1) if p != i else channel.last_on
        if on < earliest:
            on = self._move_to(i, earliest)
        if channel.held:
            channel.use_held(self.sounds[sound], on, s.off[i])

    def _move_to(self, i: int, tick: int) -> int:
        s = self.sending
        s.on[i] = tick
        s.off[i] = max(s.off[i], tick + 1)
        s.give_way(i, "onset-moved")
        self.moved[s.channel[i], s.key[i]] = i
        return tick

    def _change(self, channel: Channel, i: int, sound: int, on: int, switches: list[tuple[Switch, Entry]], unwanted: list[Held]) -> None:
        entries = self.sounds[sound]
        for held in unwanted:
            if held.needed_to > on:
                self._cut(channel, i, on)
            channel.release(held, on)
        if not channel.begun:
            self._start(channel, i, switches, on)
        elif switches:
            earliest = channel.last_on + 1
            if channel.busy > earliest and any(e.acts_on_sounding for _, e in switches):
                if channel.busy > on:
                    self._cut(channel, i, on)
                earliest = max(earliest, min(channel.busy, on))
            channel.send(switches, earliest, on)
        channel.sound = sound
        channel.use_held(entries, on, self.sending.off[i])

    def _start(self, channel: Channel, i: int, switches: list[tuple[Switch, Entry]], on: int) -> None:
        """The first note's state is sent at the very start, except keys that are held.

        It is sent again before the note where a rehearsal mark lies in between, for playing may begin there.
        """
        lasting = [pair for pair in switches if pair[0].hold == HOLD_NO and not pair[0].toggle]
        channel.send_head(lasting)
        if self.anchors and self.anchors[0] <= self.sending.written[i] and on > 0:
            channel.send(lasting, 1, on)
        held = [pair for pair in switches if pair not in lasting]
        if held:
            channel.send(held, on - FOREVER, on)

    def _cut(self, channel: Channel, i: int, tick: int) -> None:
        """End the notes of a channel that would sound on into the change that note `i` needs."""
        s = self.sending
        if self.decisions[s.decision[i]].joined:
            s.give_way(i, "join-lost")
        cut = [j for j in channel.playing if s.off[j] > tick]
        for j in cut:
            s.off[j] = max(tick, s.on[j] + 1)
            s.give_way(j, "overlap-cut")
        tell_lost_joins(s, self.decisions, cut)
        channel.busy = tick

    def _restates(self, channel: Channel, on: int, i: int) -> bool:
        if self.restate == "note":
            return True
        if self.sending.written[i] >= channel.anchor:
            channel.anchor = self._next_anchor(self.sending.written[i])
            return True
        return on - channel.busy >= LONG_REST_BEATS * self.clock.ppq

    def _curves(self) -> None:
        """Loudness controllers: the onset's value is there before the note is sent, hairpins are drawn while it sounds."""
        s, decisions = self.sending, self.decisions
        controllers = {d.controller for d in decisions} - {-1}
        for channel in self.channels:
            for controller in controllers:
                tables = [d.value if d.controller == controller else () for d in decisions]
                rows = [i for i in s.order if tables[s.decision[i]] and s.channel[i] == channel and not s.merged[i]]
                curve = [(s.on[i], tables[s.decision[i]][s.level[i]]) for i in rows]
                for voice, ramps in enumerate(s.ramps):
                    if ramps:
                        self._ramps(ramps, [i for i in rows if s.voice[i] == voice], curve)
                if curve:
                    self._curve_events(channel, controller, curve)

    def _ramps(self, ramps: list[tuple[int, int, int, int]], rows: list[int], curve: list[tuple[int, int]]) -> None:
        """Draw the hairpins of one voice over those of its notes that sound under them."""
        s, decisions = self.sending, self.decisions
        starts = [s.on[i] for i in rows]
        for ramp in ramps:
            low, high, _, _ = ramp
            for i in rows[max(bisect_right(starts, low) - 1, 0) : bisect_left(starts, high)]:
                start, stop = max(s.written[i], s.on[i]), min(s.off[i], s.next_on[i])
                d = decisions[s.decision[i]]
                curve += draw_ramp(ramp, start, stop, d.boost + s.level_offset, d.value, self.clock)

    def _curve_events(self, channel: int, controller: int, curve: list[tuple[int, int]]) -> None:
        """Of values at one tick the highest counts; one that changes nothing is sent only where switches are restated."""
        head = (0xB0 | channel) << 16 | controller << 8 | CURVE_RANK << 24
        values = dict(sorted(curve))
        restated = [FOREVER, *reversed(self.restated.get(channel, []))]
        last = -1
        for tick, value in values.items():
            if tick >= restated[-1]:
                last = -1
                while tick >= restated[-1]:
                    restated.pop()
            if value != last:
                self.events.append((tick << 28) + head + value)
                last = value
        if len(self.sending.ramps) > 1:
            self._tell_shared(channel, controller, values)

    def _tell_shared(self, channel: int, controller: int, values: dict[int, int]) -> None:
        """Voices that want different values at one tick share the highest; the others give way."""
        s = self.sending
        for i in s.order:
            d = self.decisions[s.decision[i]]
            if d.controller == controller and s.channel[i] == channel and not s.merged[i] and values[s.on[i]] != d.value[s.level[i]]:
                s.give_way(i, "loudness-shared")
