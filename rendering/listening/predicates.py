"""Which articulations are heard in a given state: the sampler table, asked as seldom as possible.

A note's answer depends on the registers that conditions name, and on its key and velocity only as far
as conditions tell them apart. So answers are kept by (those registers, class of key, class of velocity);
a piece of 100,000 notes asks the table a few hundred times.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence

from rendering.listening.heard import NOTHING, TWO_AT_ONCE, Heard, Seat
from rendering.maps.table import CHANNEL, KEY, VELOCITY, Condition, Entry, Sampler

_OF_THE_NOTE = (KEY, VELOCITY, CHANNEL)


class Predicates:
    """The entries that one seat can hear on one channel.

    registers      those that conditions name, ascending, of the note itself left out
    key_class      of each key: its class times the number of velocity classes
    velocity_class of each velocity: its class; the sum of both names a kind of note
    drops          cell -> semitones to take from a sent key to get the sounding one
    joiners        cell -> by memory the entry if it joins, else NOTHING; () where none does
    """

    __slots__ = (
        "channel", "drops", "entries", "heard", "joiners", "key_class", "known", "memories",
        "own_channel", "registers", "sampler", "tables", "velocity_class",
    )  # fmt: skip

    def __init__(self, seat: Seat, channel: int, heard: Heard) -> None:
        self.sampler: Sampler = seat.sampler
        self.heard: Heard = heard
        self.channel: int = channel
        self.own_channel: int = seat.channel
        self.entries: tuple[Entry, ...] = seat.sampler.entries
        self.memories: list[list[Entry]] = [self._of_memory(m, seat.label) for m in range(len(seat.sampler.memories))]
        conditions = [c for entries in self.memories for e in entries for c in e.conditions]
        self.registers: tuple[int, ...] = tuple(sorted({c.register for c in conditions} - set(_OF_THE_NOTE)))
        classes, count = _classes(conditions, VELOCITY)
        self.velocity_class: list[int] = classes
        self.key_class: list[int] = [c * count for c in _classes(conditions, KEY)[0]]
        self.tables: dict[tuple[int, ...], dict[int, int]] = {}
        self.known: dict[tuple[int, ...], int] = {}
        self.drops: dict[int, int] = {}
        self.joiners: dict[int, tuple[int, ...]] = {}

    def _of_memory(self, memory: int, label: str) -> list[Entry]:
        """Return the entries of a memory that can be heard here, the most specific first."""
        entries = [e for e in self.entries if e.memory == memory]
        here = [e for e in entries if e.track == label] or [e for e in entries if not e.track]
        return sorted((e for e in here if self._on_channel(e)), key=_weight, reverse=True)

    def _on_channel(self, entry: Entry) -> bool:
        own = self.own_channel
        bounds = ((c.low, c.high) for c in entry.conditions if c.register == CHANNEL)
        return all((own if low < 0 else low) <= self.channel <= (own if high < 0 else high) for low, high in bounds)

    def table(self, state: Sequence[int]) -> dict[int, int]:
        """Return the answers known in this state of the registers: kind of note -> cell."""
        return self.tables.setdefault(tuple([state[r] for r in self.registers]), {})

    def cell(self, state: Sequence[int], key: int, velocity: int) -> int:
        """Return the index in `Heard.cells` of what a note of this key and velocity is heard as."""
        table, kind = self.table(state), self.key_class[key] + self.velocity_class[velocity]
        if kind not in table:
            table[kind] = self._numbered(tuple([_heard_of(entries, state, key, velocity) for entries in self.memories]))
        return table[kind]

    def _numbered(self, answer: tuple[int, ...]) -> int:
        """Return the index of an answer in `Heard.cells`, where it is added if it is new."""
        if answer not in self.known:
            cell = self.known[answer] = len(self.heard.cells)
            self.heard.cells.append(answer)
            self.drops[cell] = self._drop(answer)
            joins = tuple([e if e >= 0 and self.entries[e].joins else NOTHING for e in answer])
            self.joiners[cell] = joins if max(joins) >= 0 else ()
        return self.known[answer]

    def _drop(self, answer: Iterable[int]) -> int:
        heard = [self.entries[e] for e in answer if e >= 0]
        if any(e.strike_key >= 0 for e in heard):
            return 0
        return self.sampler.key_offset + sum(e.shift for e in heard)


def _weight(entry: Entry) -> int:
    return entry.weight


def _classes(conditions: Iterable[Condition], register: int) -> tuple[list[int], int]:
    """Return the class of each of 0-127 under the bounds set on a register of the note, and how many there are."""
    cuts = sorted({edge for c in conditions if c.register == register for edge in (c.low, c.high + 1) if 0 < edge < 128})
    return [bisect_right(cuts, value) for value in range(128)], len(cuts) + 1


def _heard_of(entries: Sequence[Entry], state: Sequence[int], key: int, velocity: int) -> int:
    """Return the most specific of a memory's entries whose conditions hold; NOTHING, or TWO_AT_ONCE for equals."""
    found = NOTHING
    weight = 0
    for entry in entries:
        if found >= 0 and entry.weight < weight:
            break
        if _holds(entry, state, key, velocity):
            if found >= 0:
                return TWO_AT_ONCE
            found, weight = entry.index, entry.weight
    return found


def _holds(entry: Entry, state: Sequence[int], key: int, velocity: int) -> bool:
    """Return whether all conditions hold; those on the channel have been settled before."""
    for register, low, high in entry.conditions:
        if register == KEY:
            value = key
        elif register == VELOCITY:
            value = velocity
        elif register == CHANNEL:
            continue
        else:
            value = state[register]
        if not low <= value <= high:
            return False
    return True


def switched_to(entry: Entry, state: Sequence[int]) -> bool:
    """Return whether the registers, whatever the note may be, select this entry."""
    return all(low <= state[register] <= high for register, low, high in entry.conditions if register not in _OF_THE_NOTE)
