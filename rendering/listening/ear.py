"""One channel's sampler: it takes the events one by one and notes what sounds."""

from __future__ import annotations

from collections.abc import Sequence

from rendering.listening.heard import Change, Damp, Heard, Seat
from rendering.listening.predicates import Predicates, switched_to
from rendering.maps.table import (
    BANK_LSB,
    BANK_MSB,
    CHANNEL,
    CONTROLLER,
    HELD,
    HOLD_NOTE,
    KEY,
    PROGRAM,
    SWITCH_KEY,
    VELOCITY,
    Entry,
    Sampler,
)
from rendering.problems import Place, problem

# Kinds of event: the upper half of the status, where it stands in an event
_KIND, _NOTE_OFF, _NOTE_ON, _CONTROLLER, _PROGRAM = 0xF00000, 0x800000, 0x900000, 0xB00000, 0xC00000
_ALL_SOUND_OFF, _RESET_ALL, _ALL_NOTES_OFF = 120, 121, 123
# What controller 121 sets (RP-015, Response to Reset All Controllers; from memory).
_RESET_VALUES = {1: 0, 2: 0, 4: 0, 11: 127, 64: 0, 65: 0, 66: 0, 67: 0}
# What a key is for
_SOUNDS, _SWITCHES, _DAMPS = 0, 1, 2


class Ear:
    """Hears one channel and appends to the columns of a Heard.

    state      registers; -1 = not known
    unchecked  tick of a change that sounding notes have not been compared with; -1 = none
    free       of each controller, whether it only has a value: no condition names it
    open       key -> row of each note that sounds, in the order in which they began
    joined     rows of joined notes
    changed    (row, memory) -> what the note has changed to while it sounded
    pressed    key -> tick of each switch key that is down
    """

    __slots__ = (
        "changed", "channel", "cleared", "free", "heard", "held_through", "joined", "kind_of_key", "levels",
        "loud", "number", "open", "place", "port", "predicates", "pressed", "relevant", "resetting",
        "sampler", "seat", "state", "unchecked", "watchful",
    )  # fmt: skip

    def __init__(self, heard: Heard, number: int, channel: int, port: int, track: int, from_defaults: bool) -> None:
        self.heard: Heard = heard
        self.number: int = number
        self.seat: Seat = heard.seats[number]
        self.sampler: Sampler = self.seat.sampler
        self.channel: int = channel
        self.port: int = port
        self.place: Place = Place(part_name=f"track {track + 1}")
        self.predicates: Predicates = Predicates(self.seat, channel, heard)
        self.state: list[int] = list(self.sampler.start) if from_defaults else _unknown(self.sampler)
        self.unchecked: int = -1
        self.open: dict[int, int] = {}
        self.joined: list[int] = []
        self.changed: dict[tuple[int, int], int] = {}
        self.pressed: dict[int, int] = {}
        self.relevant: frozenset[int] = frozenset(self.predicates.registers)
        self.loud: tuple[int, ...] = heard.controllers[number]
        self.levels: dict[tuple[int, ...], tuple[int, ...]] = {}
        self.kind_of_key: list[int] = _kinds_of_keys(self.sampler)
        self.held_through: list[tuple[int, ...]] = [
            tuple(s.register for s in e.switches if s.kind == SWITCH_KEY and s.hold == HOLD_NOTE) for e in self.sampler.entries
        ]
        self.free: list[bool] = [n < _ALL_SOUND_OFF and CONTROLLER + n not in self.relevant for n in range(128)]
        self.cleared: dict[int, list[int]] = _cleared(self.sampler)
        self.watchful: bool = any(self.held_through) or any(e.acts_on_sounding for e in self.sampler.entries)
        self.resetting: dict[int, list[tuple[Entry, list[int]]]] = _resetting(self.sampler)

    def _level(self) -> tuple[int, ...]:
        """Return the loudness controllers' values, each combination as one object however often it comes."""
        values = tuple([self.state[CONTROLLER + number] for number in self.loud])
        return self.levels.setdefault(values, values)

    def hear(self, events: Sequence[int]) -> None:
        """Take all events of the channel, in the order of the file."""
        heard, open_notes, state, watchful = self.heard, self.open, self.state, self.watchful
        kind_of_key, free = self.kind_of_key, self.free
        on, off, keys, velocities = heard.on, heard.off, heard.key, heard.velocity
        cells, joined, levels = heard.cell, self.joined, heard.level
        key_class, velocity_class, joiners = self.predicates.key_class, self.predicates.velocity_class, self.predicates.joiners
        level: tuple[int, ...] | None = None  # None: not looked up since a controller moved
        table: dict[int, int] | None = None  # None: not looked up since a switch moved
        for event in events:
            kind, key = event & _KIND, event >> 8 & 127
            if kind > _NOTE_ON:
                if kind == _CONTROLLER and free[key]:
                    state[key] = event & 127
                else:
                    self._control(event, kind)
                    table = None
                level = None
                continue
            if kind_of_key[key]:
                self._press(event, key)
                table = None
                continue
            tick, velocity = event >> 28, event & 127
            if watchful and self.unchecked >= 0:
                self._check()
            if kind == _NOTE_OFF or not velocity:
                row = open_notes.pop(key, -1)
                if row >= 0 and on[row] < tick:
                    off[row] = tick
                else:
                    self._odd_end(key, row, tick)
                continue
            if key in open_notes:
                self._again(key, tick)
            if table is None:
                table = self.predicates.table(state)
            cell = table.get(key_class[key] + velocity_class[velocity], -1)
            if cell < 0:
                cell = self.predicates.cell(state, key, velocity)
            if joiners[cell] and open_notes and self._joins(cell, tick):
                joined.append(len(on))
            open_notes[key] = len(on)
            on.append(tick)
            off.append(-1)
            keys.append(key)
            velocities.append(velocity)
            cells.append(cell)
            if level is None:
                level = self._level()
            levels.append(level)

    def finish(self, end: int) -> None:
        """Close the channel at the end of its tracks: what still sounds is stuck."""
        self.heard.joined += [0] * (len(self.heard) - len(self.heard.joined))
        for row in self.joined:
            self.heard.joined[row] = 1
        if self.unchecked >= 0:
            self._check()
        for key, row in self.open.items():
            self.heard.off[row] = end
            self._report("midi-stuck-note", key, self.heard.on[row])
        for key, tick in self.pressed.items():
            self._report("midi-stuck-note", key, tick)

    def _report(self, code: str, key: int, tick: int) -> None:
        self.heard.problems.append(problem(code, self.place, channel=self.channel + 1, key=key, tick=tick))

    # ── Notes ──

    def _odd_end(self, key: int, row: int, tick: int) -> None:
        """A note-off without a note (row -1), or at the tick of its note-on."""
        self._report("midi-off-without-on" if row < 0 else "midi-empty-note", key, tick)
        if row >= 0:
            self.heard.off[row] = tick

    def _again(self, key: int, tick: int) -> None:
        """A key that sounds is struck again: the running note ends here."""
        self.heard.off[self.open.pop(key)] = tick
        self._report("midi-doubled-note", key, tick)

    def _joins(self, cell: int, tick: int) -> bool:
        """Return whether a note that began before `tick` and still sounds was played by the same joining entry."""
        on, cells, joiners = self.heard.on, self.heard.cell, self.predicates.joiners[cell]
        return any(
            mine == theirs
            for row in self.open.values()
            if on[row] < tick
            for mine, theirs in zip(joiners, self.heard.cells[cells[row]], strict=True)
            if mine >= 0
        )

    # ── Switches ──

    def _press(self, event: int, key: int) -> None:
        """A key that switches or damps goes down or up."""
        tick, down = event >> 28, event >> 20 & 15 == 9 and event & 127 > 0
        self._settle(tick)
        if not down:
            self._release(key, tick)
            return
        if key in self.pressed:
            self._report("midi-doubled-note", key, tick)
        self.pressed[key] = tick
        if self.kind_of_key[key] == _DAMPS:
            self.heard.damps.append(Damp(tick, self.port, self.channel, key))
            return
        sampler = self.sampler
        for register in self.cleared.get(key, ()):
            self._set(register, -1, tick)
        for register in sampler.latches.get(key, ()):
            self._switch(register, key, tick)
        if key in sampler.toggles:
            self._switch(sampler.toggles[key], 1 - self.state[sampler.toggles[key]], tick)
        if key in sampler.held:
            self._switch(HELD + key, 1, tick)

    def _release(self, key: int, tick: int) -> None:
        start = self.pressed.pop(key, -1)
        if start < 0:
            self._report("midi-off-without-on", key, tick)
            return
        if start == tick:
            self._report("midi-empty-note", key, tick)
        if key in self.sampler.held:
            self._set(HELD + key, 0, tick)

    def _control(self, event: int, kind: int) -> None:
        """A controller, program change or anything else that is no note."""
        tick, number, value = event >> 28, event >> 8 & 127, event & 127
        if kind == _CONTROLLER:
            if number >= _ALL_SOUND_OFF:
                self._mode(number, tick)
            elif self.state[CONTROLLER + number] != value or CONTROLLER + number in self.resetting:
                self._settle(tick)
                self._switch(CONTROLLER + number, value, tick)
        elif kind == _PROGRAM:
            self._settle(tick)
            self._set(BANK_MSB, self.state[CONTROLLER], tick)
            self._set(BANK_LSB, self.state[CONTROLLER + 32], tick)
            self._switch(PROGRAM, number, tick)

    def _mode(self, number: int, tick: int) -> None:
        """A channel mode message: 120 and 123-127 end all notes, 121 resets controllers."""
        if number == _RESET_ALL:
            for controller, value in _RESET_VALUES.items():
                self._set(CONTROLLER + controller, value, tick)
        elif number == _ALL_SOUND_OFF or number >= _ALL_NOTES_OFF:
            for row in self.open.values():
                self.heard.off[row] = tick
            self.open.clear()

    def _switch(self, register: int, value: int, tick: int) -> None:
        """Set a register by a switch; an entry that this switches to, even again, puts other memories back."""
        self._set(register, value, tick)
        for entry, put_back in self.resetting.get(register, ()):
            if switched_to(entry, self.state):
                for other in put_back:
                    self._set(other, self.sampler.start[other], tick)

    def _set(self, register: int, value: int, tick: int) -> None:
        if self.state[register] != value:
            self.state[register] = value
            if self.watchful and self.open and register in self.relevant:
                self.unchecked = tick

    # ── Through the note ──

    def _settle(self, tick: int) -> None:
        """Compare sounding notes with the changes of an earlier tick; those of one tick count together."""
        if 0 <= self.unchecked < tick:
            self._check()

    def _check(self) -> None:
        """Compare every sounding note with the present state; what changed is noted once."""
        tick, self.unchecked = self.unchecked, -1
        heard, changed = self.heard, self.changed
        for key, row in self.open.items():
            was = heard.cells[heard.cell[row]]
            now = heard.cells[self.predicates.cell(self.state, key, heard.velocity[row])]
            for memory, (began, after) in enumerate(zip(was, now, strict=True)):
                before = changed.get((row, memory), began)
                if after != before and (self._acts(after) or self._let_go(before)):
                    changed[row, memory] = after
                    heard.changes.append(Change(row, tick, memory, before, after))

    def _acts(self, entry: int) -> bool:
        return entry >= 0 and self.sampler.entries[entry].acts_on_sounding

    def _let_go(self, entry: int) -> bool:
        return entry >= 0 and any(self.state[register] == 0 for register in self.held_through[entry])


def _unknown(sampler: Sampler) -> list[int]:
    """Return a state in which nothing is known but what needs no telling: keys are up, toggles as at the start."""
    state = [-1] * sampler.registers
    state[HELD : HELD + 128] = [0] * 128
    for register in sampler.toggles.values():
        state[register] = sampler.start[register]
    return state


def _kinds_of_keys(sampler: Sampler) -> list[int]:
    """Return of each key whether it sounds, switches, or damps only; a strike's own key sounds."""
    switches = {*sampler.latches, *sampler.toggles, *sampler.held}
    damps = {e.damp for e in sampler.entries} - {e.strike_key for e in sampler.entries}
    return [_SWITCHES if key in switches else _DAMPS if key in damps else _SOUNDS for key in range(128)]


def _cleared(sampler: Sampler) -> dict[int, list[int]]:
    """Return of each latched key the registers that it makes unknown, before it sets its own."""
    clears = {key: [later for r in registers for later in sampler.clears.get(r, ())] for key, registers in sampler.latches.items()}
    return {key: registers for key, registers in clears.items() if registers}


def _resetting(sampler: Sampler) -> dict[int, list[tuple[Entry, list[int]]]]:
    """Return of each register the entries with a condition on it that put registers of other memories back, and which."""
    found: dict[int, list[tuple[Entry, list[int]]]] = {}
    for entry in sampler.entries:
        put_back = _put_back(sampler, entry)
        for register in {c.register for c in entry.conditions} if put_back else ():
            found.setdefault(register, []).append((entry, put_back))
    return found


def _put_back(sampler: Sampler, entry: Entry) -> list[int]:
    """Return the registers that an entry puts back: of the memories it names, but its own, and no keys that are down."""
    own = {c.register for c in entry.conditions}
    named = {c.register for e in sampler.entries if e.memory in entry.resets for c in e.conditions}
    return sorted(r for r in named - own - {KEY, VELOCITY, CHANNEL} if not HELD <= r < HELD + 128)
