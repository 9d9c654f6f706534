"""The sampler table: what a map compiles to.

A sampler remembers *registers* (latched keys, held keys, toggles, 128 controllers, program and
bank); a note-on adds its key, velocity and channel. Each articulation (`Entry`) is heard when all
its *conditions* over these hold; within a memory the entry with the highest `weight` wins. Choosing,
scheduling, checks, tryout, proof and translation read this one table; the scheduler and the listener
share it and no code.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

# Registers, as indexes into a state list of `Sampler.registers` ints; -1 = not known.
CONTROLLER = 0  # + controller number: its last value
HELD = 128  # + key: 1 while the key is down, else 0
PROGRAM = 256  # the program in force
BANK_MSB = 257  # the bank in force: controllers 0 and 32 as they stood at the last program change
BANK_LSB = 258
KEY = 259  # of the note itself: its key, its velocity, its channel (0-15; the track's own is 0 … see below)
VELOCITY = 260
CHANNEL = 261  # 0-15, absolute; -1 in a condition's bounds = the channel of the track
FIRST_FREE = 262  # latches (last latched key of a memory's place) and toggles (0 or 1) are numbered from here

# Kinds of Switch
SWITCH_KEY, SWITCH_CONTROLLER, SWITCH_PROGRAM = 0, 1, 2
# Values of Switch.hold
HOLD_NO, HOLD_NOTE_ON, HOLD_NOTE = 0, 1, 2

NO_LIMIT = 1 << 30


class Condition(NamedTuple):
    """True when low <= state[register] <= high."""

    register: int
    low: int
    high: int


class Switch(NamedTuple):
    """One thing that is sent so that a condition comes true.

    kind      SWITCH_KEY, SWITCH_CONTROLLER or SWITCH_PROGRAM
    number    key, controller number or program
    value     the key's velocity, the controller's value; of a program: 0
    register  the register it sets (latch, toggle, HELD + key, CONTROLLER + number, PROGRAM)
    ahead_ms, length_ms, hold, toggle: of a key, as in the document
    bank_msb, bank_lsb: of a program; -1 = not sent
    """

    kind: int
    number: int
    value: int
    register: int
    ahead_ms: int = 10
    length_ms: int = 20
    hold: int = HOLD_NO
    toggle: bool = False
    bank_msb: int = -1
    bank_lsb: int = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Loudness:
    """How a level becomes MIDI; `velocity` and `value` are indexed by the level, 0-1000.

    velocity    1,001 velocities 1-127 (constant where a controller alone carries loudness; already
                folded into the entry's velocity band where it has one)
    controller  number of the controller that follows the level; -1 = none
    value       1,001 controller values; empty where `controller` is -1
    silence     controller that reaches real silence at value 0; -1 = none
    """

    by: str
    velocity: tuple[int, ...]
    controller: int = -1
    value: tuple[int, ...] = ()
    silence: int = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One articulation, compiled. Masks are over the marks table; indexes over `Sampler.entries`/`memories`.

    No condition says which track a note is on: an entry with a `track` is heard on the track linked to
    that label alone, one without only on the map's own.
    """

    index: int
    id: str
    name: str
    memory: int
    plays: tuple[int, ...]  # masks of marks played together; () = unmarked notes
    conditions: tuple[Condition, ...]
    switches: tuple[Switch, ...]  # in the order in which they are sent
    weight: int  # higher is more specific: a held key beats a latched one, more conditions beat fewer
    loudness: Loudness
    lowest: int  # sounding keys
    highest: int
    lead_first_ms: int = 0
    lead_connected_ms: int = 0
    overlap_ms: int = 0
    gap_ms: int = 20
    joins: bool = False
    voices: int = 0  # most notes it sounds at once; 0 = any number
    when_ms: tuple[int, int] = (0, NO_LIMIT)  # half-open bounds of the sounding length
    when_keys: tuple[int, int] = (0, NO_LIMIT)  # half-open bounds of the sounding key
    when_level: tuple[int, int] = (0, NO_LIMIT)  # half-open bounds of the level, thousandths
    length_scale: int = 1000  # thousandths of the written length
    at_most_ms: int = NO_LIMIT
    acts_on_sounding: bool = False
    needs: tuple[int, ...] = ()  # entries of other memories that must be active with it (`with`)
    resets: tuple[int, ...] = ()  # memories that go back to their default when it is switched to
    together: bool = False  # its switches are all sent, in order, whenever one of them is
    alternates: tuple[int, ...] = ()  # entries that take turns, this one first
    shift: int = 0  # semitones added to the sent key
    channel: int = -1  # 0-15; -1 = the track's own
    track: str = ""  # label of another track that plays it; "" = this one
    rings: bool = False  # length does not stop it
    damp: int = -1  # key that stops it; -1 = none
    strike: str = ""  # instrument sound of a percussion entry
    strike_key: int = -1  # sent key of a percussion entry; -1 = the note's
    syllable: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sampler:
    """A map, compiled."""

    name: str
    sound: str
    players: str
    memories: tuple[str, ...]
    defaults: tuple[int, ...]  # of each memory: its default entry
    entries: tuple[Entry, ...]
    registers: int  # how many ints a state list has
    start: tuple[int, ...]  # the state in which every memory is on its default
    latches: dict[int, tuple[int, ...]]  # key -> the latch registers that it sets
    toggles: dict[int, int]  # key -> the toggle register that it flips; entries without such a switch are heard with it at 0
    held: frozenset[int]  # keys that act while they are down
    clears: dict[int, tuple[int, ...]]  # latch register -> registers it makes unknown (paged switches)
    lowest: int  # sounding keys
    highest: int
    key_offset: int  # sent key = sounding key + key_offset + Entry.shift
    bend_range: int  # semitones; 0 = unsaid: bends are reported
    stand_ins: tuple[tuple[int, tuple[int, ...]], ...]  # (mark bit index, bit indexes of marks to play instead, in order)
    memory_registers: tuple[tuple[int, ...], ...] = ()  # of each memory: what a reset puts back to its value in `start`
    loudness: Loudness | None = None  # the map's own; the very object of every entry that has neither its own nor a velocity band
