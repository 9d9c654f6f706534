"""What must change before a note so that the sampler plays the articulations chosen for it."""

from __future__ import annotations

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
from rendering.timeline import FOREVER, Clock

FIRST_RANK, LAST_RANK = 2, 13  # ranks of ordered switches at a tick; 14 is loudness, 15 a note-on
OFF_RANK, HELD_OFF_RANK = 0, 1
BANK_SELECT_MSB, BANK_SELECT_LSB = 0, 32


def event(tick: int, rank: int, status: int, data1: int, data2: int) -> int:
    """Return an event as one int; sorting ints is the order of events (see the package's encode)."""
    return (tick << 28) + (rank << 24) + (status << 16) + (data1 << 8) + data2


class Held:
    """A switch key that is down: since when, and until when its notes need it."""

    __slots__ = ("key", "needed_to", "note_on", "switch")

    def __init__(self, key: int, switch: Switch) -> None:
        self.key: int = key
        self.switch: Switch = switch
        self.note_on: int = 0
        self.needed_to: int = 0


class Channel:
    """One channel as the sampler knows it, and the switches sent to it so far.

    state    registers as in `Sampler`; -1 = unknown
    events   what is sent, unsorted; `head` is counted from the very start of the file
    last_on  tick of the last note-on, long ago before the first; `begun` tells
    busy     tick at which the last of its notes ends
    anchor   written tick of the next place from which playing must be right on its own
    entangled  some switches change what others set
    playing  sent notes that still sound, kept where a change could alter them
    """

    __slots__ = (
        "anchor", "busy", "clock", "entangled", "events", "head", "held",
        "last_on", "number", "pending", "playing", "sampler", "sound", "state",
    )  # fmt: skip

    def __init__(self, number: int, sampler: Sampler, clock: Clock) -> None:
        self.number: int = number
        self.sampler: Sampler = sampler
        self.clock: Clock = clock
        self.state: list[int] = [-1] * sampler.registers
        for register in sampler.toggles.values():
            self.state[register] = sampler.start[register]  # a toggle is never restated: known from the default
        for key in sampler.held:
            self.state[HELD + key] = 0
        self.sound: int = -1
        self.entangled: bool = bool(sampler.clears) or any(e.resets or e.together for e in sampler.entries)
        self.anchor: int = FOREVER
        self.playing: list[int] = []
        self.last_on: int = -FOREVER
        self.busy: int = -FOREVER
        self.events: list[int] = []
        self.head: list[int] = []
        self.pending: dict[int, tuple[int, int, int, list[int]]] = {}  # register -> on, off, key of a tap, where its end goes
        self.held: dict[int, Held] = {}

    @property
    def begun(self) -> bool:
        """True once a note has been sent."""
        return self.last_on != -FOREVER

    def forget(self) -> None:
        """Treat latches, controllers and programs as unknown, so that the next note restates them."""
        state = [-1] * len(self.state)
        state[HELD : HELD + 128] = self.state[HELD : HELD + 128]
        for register in self.sampler.toggles.values():
            state[register] = self.state[register]
        self.state = state
        self.sound = -1

    def wanted(self, entries: list[Entry]) -> list[tuple[Switch, Entry]]:
        """Return the switches that the state lacks for these entries, in the order in which they are sent.

        Strikes, velocity bands and shifts lack nothing: they are in the note itself.
        """
        state = self.state
        out = self._toggles_off(entries) if self.sampler.toggles else []
        lacking = [(s, e) for e in entries for s in e.switches if not self._holds(s, e, state)]
        if self.entangled and lacking:
            return self._in_order(out, entries)
        return out + lacking

    def _toggles_off(self, entries: list[Entry]) -> list[tuple[Switch, Entry]]:
        """The toggles that are on and that none of these entries wants on."""
        wanted = {s.number for e in entries for s in e.switches if s.toggle}
        return [
            (Switch(SWITCH_KEY, key, 100, register, toggle=True), entries[0])
            for key, register in self.sampler.toggles.items()
            if self.state[register] == 1 and key not in wanted
        ]

    def _in_order(self, out: list[tuple[Switch, Entry]], entries: list[Entry]) -> list[tuple[Switch, Entry]]:
        """Where a switch changes what others set (pages, resets), follow the state switch by switch."""
        state = self.state[:]
        for switch, _ in out:
            self._take(switch, state)
        for entry in sorted(entries, key=lambda e: not e.resets):
            lacking = [s for s in entry.switches if not self._holds(s, entry, state)]
            if not lacking:
                continue
            for switch in entry.switches if entry.together else lacking:
                out.append((switch, entry))
                self._take(switch, state)
            for memory in entry.resets:
                self._reset(memory, state)
        return out

    def _holds(self, switch: Switch, entry: Entry, state: list[int]) -> bool:
        if switch.kind == SWITCH_PROGRAM:
            banks = (switch.bank_msb in (-1, state[BANK_MSB])) and (switch.bank_lsb in (-1, state[BANK_LSB]))
            return state[PROGRAM] == switch.number and banks
        if switch.kind == SWITCH_KEY and (switch.toggle or switch.hold != HOLD_NO):
            return state[switch.register] == 1
        if switch.kind == SWITCH_KEY:
            return state[switch.register] == switch.number
        return all(c.low <= state[c.register] <= c.high for c in entry.conditions if c.register == switch.register)

    def _take(self, switch: Switch, state: list[int]) -> None:
        """Set in `state` what the sampler knows once a switch has been sent."""
        if switch.kind == SWITCH_PROGRAM:
            state[PROGRAM] = switch.number
            for register, bank, controller in ((BANK_MSB, switch.bank_msb, 0), (BANK_LSB, switch.bank_lsb, 32)):
                state[register] = state[CONTROLLER + controller] = bank if bank >= 0 else state[register]
        elif switch.kind == SWITCH_CONTROLLER:
            state[switch.register] = switch.value
        elif switch.toggle:
            state[switch.register] = 1 - state[switch.register]
        elif switch.hold != HOLD_NO:
            state[switch.register] = 1
        else:
            for register in self.sampler.latches.get(switch.number, (switch.register,)):
                state[register] = switch.number
                for cleared in self.sampler.clears.get(register, ()):
                    state[cleared] = -1

    def _reset(self, memory: int, state: list[int]) -> None:
        for register in self.sampler.memory_registers[memory]:
            state[register] = self.sampler.start[register]

    def send(self, switches: list[tuple[Switch, Entry]], earliest: int, note_on: int) -> None:
        """Send switches as far ahead of `note_on` as they ask for, but not before `earliest`."""
        ahead = max((s.ahead_ms for s, _ in switches), default=0)
        tick = min(max(earliest, self.clock.earlier(note_on, ahead)), note_on)
        rank = FIRST_RANK
        for switch, _ in switches:
            if rank + 2 > LAST_RANK and tick < note_on:
                tick, rank = tick + 1, FIRST_RANK
            rank = self._send_one(switch, tick, rank)
            self._take(switch, self.state)
        for _, entry in switches:
            for memory in entry.resets:
                self._reset(memory, self.state)

    def _send_one(self, switch: Switch, tick: int, rank: int) -> int:
        if switch.kind == SWITCH_KEY:
            self._press(switch, tick, rank)
            return rank + 1
        if switch.kind == SWITCH_CONTROLLER:
            self.events.append(event(tick, rank, 0xB0 | self.number, switch.number, switch.value))
            return rank + 1
        for controller, bank in ((BANK_SELECT_MSB, switch.bank_msb), (BANK_SELECT_LSB, switch.bank_lsb)):
            if bank >= 0:
                self.events.append(event(tick, rank, 0xB0 | self.number, controller, bank))
                rank += 1
        self.events.append(event(tick, rank, 0xC0 | self.number, switch.number, 0))
        return rank + 1

    def _press(self, switch: Switch, tick: int, rank: int) -> None:
        self.events.append(event(tick, rank, 0x90 | self.number, switch.number, switch.value))
        if switch.hold != HOLD_NO:
            self.held[switch.number] = Held(switch.number, switch)
            return
        self._let_go(switch.register, tick)
        off = max(self.clock.later(tick, switch.length_ms), tick + 1)
        self.pending[switch.register] = (tick, off, switch.number, self.events)

    def _let_go(self, register: int, tick: int) -> None:
        """End the tap on a register's last key, at the latest at `tick`."""
        if register in self.pending:
            on, off, key, events = self.pending.pop(register)
            events.append(event(max(min(off, tick), on + 1), OFF_RANK, 0x80 | self.number, key, 0))

    def send_head(self, switches: list[tuple[Switch, Entry]]) -> None:
        """Send switches at the very start of the file; their taps end before the next press all the same."""
        later, self.events = self.events, self.head
        self.send(switches, 0, 0)
        self.events = later

    def use_held(self, entries: list[Entry], note_on: int, note_off: int) -> None:
        """Note that a note needs the keys that its entries hold."""
        for entry in entries:
            for switch in entry.switches:
                if switch.kind == SWITCH_KEY and switch.hold != HOLD_NO and switch.number in self.held:
                    held = self.held[switch.number]
                    held.note_on = note_on
                    after = self.clock.later(note_on, switch.length_ms)
                    held.needed_to = max(held.needed_to, note_off if switch.hold == HOLD_NOTE else max(after, note_on + 1))

    def unwanted_held(self, entries: list[Entry]) -> list[Held]:
        """Return the keys that are down and that none of these entries holds."""
        wanted = {s.number for e in entries for s in e.switches if s.kind == SWITCH_KEY and s.hold != HOLD_NO}
        return [h for h in self.held.values() if h.key not in wanted]

    def release(self, held: Held, tick: int) -> None:
        """Let a held key go at `tick`, or as soon after its last note began as a tick allows."""
        at = max(min(held.needed_to, tick), held.note_on + 1)
        self.events.append(event(at, HELD_OFF_RANK, 0x80 | self.number, held.key, 0))
        self.state[HELD + held.key] = 0
        del self.held[held.key]

    def finish(self) -> None:
        """End every tap and every held key after the last note."""
        for register in list(self.pending):
            self._let_go(register, FOREVER)
        for held in list(self.held.values()):
            self.release(held, max(held.needed_to, self.busy))
