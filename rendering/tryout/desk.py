"""When it is played: the events of one MIDI track, with what its sampler therefore knows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from rendering.maps.table import (
    BANK_LSB,
    BANK_MSB,
    CONTROLLER,
    HELD,
    HOLD_NO,
    HOLD_NOTE,
    PROGRAM,
    SWITCH_CONTROLLER,
    SWITCH_KEY,
    SWITCH_PROGRAM,
    Entry,
    Sampler,
    Switch,
)
from rendering.midi import encode, meta
from rendering.timeline import Clock
from rendering.tryout.plan import Plan

REST_MS = 150  # silence at least between a note's end and what comes next
BEATS = 4  # in a bar


class _Note(NamedTuple):
    on: int
    off: int
    key: int


class Desk:
    """One MIDI track with its sampler: what has been sent to it and what it therefore knows."""

    __slots__ = ("bar", "beat", "channel", "clock", "events", "name", "port", "sampler", "state", "toggles")

    def __init__(self, sampler: Sampler, plan: Plan, clock: Clock, port: int) -> None:
        self.sampler: Sampler = sampler
        self.clock: Clock = clock
        self.beat: int = clock.ppq
        self.bar: int = BEATS * clock.ppq
        self.channel: int = plan.channel
        self.port: int = port
        self.name: str = " ".join(filter(None, (sampler.name, plan.label, f"channel {plan.channel + 1}" if plan.claimed else "")))
        self.events: list[int] = []
        self.toggles: dict[int, Switch] = {s.register: s for e in sampler.entries for s in e.switches if s.toggle}
        self.state: list[int] = [-1] * sampler.registers
        for register in sampler.toggles.values():
            self.state[register] = sampler.start[register]

    def chunk(self, end: int) -> bytes:
        """Return the track as bytes."""
        return encode.track(sorted(self.events), [(0, meta.track_name(self.name)), (0, meta.port(self.port))], 0, end)

    def _send(self, tick: int, rank: int, status: int, data1: int, data2: int = 0) -> None:
        self.events.append(encode.event(tick, rank, status | self.channel, data1, data2))

    def play(self, plan: Plan, tick: int) -> tuple[int, int]:
        """Play one articulation from `tick` on; return the tick of its marker and that of its end, both bar lines."""
        ready = self._switch(plan, tick)
        held = [s for e in plan.wanted for s in e.switches if s.kind == SWITCH_KEY and s.hold != HOLD_NO]
        ahead_ms = max([0, *(s.ahead_ms for e in plan.wanted for s in e.switches)])
        early_ms = ahead_ms + max(plan.lead_ms, plan.connected_ms) + REST_MS
        first = at = self._up(self.clock.later(ready, early_ms), self.bar)
        end = first
        for keys in plan.groups:
            notes = self._notes(plan, keys, at)
            for note in notes:
                self._send(note.on, encode.ON_RANK, encode.NOTE_ON, note.key, plan.velocity)
                self._send(note.off, encode.OFF_RANK, encode.NOTE_OFF, note.key, 64)
            end = max([self._hold(switch, place, notes) for place, switch in enumerate(held)] + [notes[-1].off])
            end = self._damp(plan.entry, end)
            at = self._up(self.clock.later(end, early_ms), self.beat)
        return first, self._up(end + 1, self.bar)

    def _up(self, tick: int, unit: int) -> int:
        """Return the first beat or bar line at or after a tick."""
        return -(-tick // unit) * unit

    def _notes(self, plan: Plan, keys: Sequence[int], at: int) -> list[_Note]:
        """Return the notes of a group, the first heard at `at`; of a pair the first ends after the second began."""
        clock = self.clock
        on = clock.earlier(at, plan.lead_ms)
        off = max(clock.later(at, plan.length_ms), on + 1)
        first = _Note(on, off, plan.sent(keys[0]))
        if len(keys) == 1:
            return [first]
        heard = self._up(max(off, clock.later(on, plan.connected_ms + REST_MS)), self.beat)
        on = clock.earlier(heard, plan.connected_ms)
        off = max(clock.later(heard, plan.length_ms), on + 4)
        overlap = max(1, min(clock.later(on, plan.overlap_ms) - on, (off - on) // 2))
        return [first._replace(off=on + overlap), _Note(on, off, plan.sent(keys[1]))]

    def _hold(self, switch: Switch, place: int, notes: Sequence[_Note]) -> int:
        """Press a held key before the notes, in its place among others; return the tick at which it comes up."""
        down = self.clock.earlier(notes[0].on, switch.ahead_ms)
        up = notes[-1].off if switch.hold == HOLD_NOTE else max(self.clock.later(notes[-1].on, switch.length_ms), notes[-1].on + 1)
        self._send(down, encode.FIRST_SWITCH_RANK + place, encode.NOTE_ON, switch.number, switch.value)
        self._send(up, encode.HELD_OFF_RANK, encode.NOTE_OFF, switch.number, 64)
        return up

    def _damp(self, entry: Entry, end: int) -> int:
        """Stop a ringing note a beat later by its damp key, unless that key strikes something itself."""
        if entry.damp < 0 or any(entry.damp == e.strike_key for e in self.sampler.entries):
            return end
        self._tap(entry.damp, 100, end + self.beat, 20)
        return end + self.beat + self.clock.later(0, 20)

    def _tap(self, key: int, velocity: int, tick: int, length_ms: int) -> int:
        """Press a key for a time; return the tick at which it comes up."""
        up = max(self.clock.later(tick, length_ms), tick + 1)
        self._send(tick, encode.FIRST_SWITCH_RANK, encode.NOTE_ON, key, velocity)
        self._send(up, encode.HELD_OFF_RANK, encode.NOTE_OFF, key, 64)
        return up

    # ── Switches ──

    def _switch(self, plan: Plan, tick: int) -> int:
        """Send the entry's own switches and whatever else is lacking; return the tick after the last one."""
        for entry in plan.wanted:
            lacking = list(self._lacking(entry, entry is plan.entry))
            if lacking and entry.together:
                lacking = [switch for switch in entry.switches if switch.hold == HOLD_NO]
            for switch in lacking:
                tick = self._send_switch(switch, tick) + 1
            for memory in entry.resets if lacking else ():
                self._put_back(memory, entry)
        loudness = plan.loudness
        if loudness.controller >= 0:
            self._send(tick, encode.FIRST_SWITCH_RANK, encode.CONTROLLER, loudness.controller, loudness.value[plan.level])
        return tick

    def _lacking(self, entry: Entry, anew: bool) -> Iterator[Switch]:
        """Yield the switches that have to be sent; `anew`: all but toggles. Held keys are pressed with the notes.

        A toggle that the entry does not name is pressed again, so that it is off.
        """
        named = {switch.register for switch in entry.switches}
        for condition in entry.conditions:
            if condition.register in self.toggles and condition.register not in named and self.state[condition.register] > condition.high:
                yield self.toggles[condition.register]
        for switch in entry.switches:
            sets = (PROGRAM, BANK_MSB, BANK_LSB) if switch.kind == SWITCH_PROGRAM else (switch.register,)
            on = all(c.low <= self.state[c.register] <= c.high for c in entry.conditions if c.register in sets)
            if switch.hold == HOLD_NO and (not on or (anew and not switch.toggle)):
                yield switch

    def _put_back(self, memory: int, entry: Entry) -> None:
        """Remember that an entry has put a memory back to its default."""
        own = {c.register for c in entry.conditions}
        for register in self.sampler.memory_registers[memory]:
            if register not in own and not HELD <= register < HELD + 128:
                self.state[register] = self.sampler.start[register]

    def _send_switch(self, switch: Switch, tick: int) -> int:
        """Send one switch and remember what it does; return the tick at which it is complete.

        What a page makes unknown need not be remembered: paged switches are sent together.
        """
        if switch.kind == SWITCH_CONTROLLER:
            return self._control(switch.number, switch.value, tick)
        if switch.kind == SWITCH_PROGRAM:
            return self._program(switch, tick)
        for register in self.sampler.latches.get(switch.number, ()):
            self.state[register] = switch.number
        if switch.toggle:
            self.state[switch.register] = 1 - self.state[switch.register]
        return self._tap(switch.number, switch.value, tick, switch.length_ms)

    def _control(self, number: int, value: int, tick: int) -> int:
        self._send(tick, encode.FIRST_SWITCH_RANK, encode.CONTROLLER, number, value)
        self.state[CONTROLLER + number] = value
        return tick

    def _program(self, switch: Switch, tick: int) -> int:
        """Send the bank bytes that the switch names, then the program."""
        for number, bank in ((0, switch.bank_msb), (32, switch.bank_lsb)):
            if bank >= 0:
                tick = self._control(number, bank, tick) + 1
        self._send(tick, encode.FIRST_SWITCH_RANK, encode.PROGRAM, switch.number)
        self.state[PROGRAM], self.state[BANK_MSB], self.state[BANK_LSB] = switch.number, self.state[CONTROLLER], self.state[CONTROLLER + 32]
        return tick
