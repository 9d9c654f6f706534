"""An articulation map becomes the sampler table.

Every articulation is turned into a predicate (conditions over registers) and the switches that make it
true. Nothing is decided here about the music; `rendering.maps.checks` says whether the result is sound.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import product

from rendering.maps.document import (
    Articulation,
    ArticulationMap,
    Channel,
    Controller,
    Keyswitch,
    Program,
    Shift,
    Track,
    Velocities,
)
from rendering.maps.loudness import loudness_table
from rendering.maps.references import references
from rendering.maps.table import (
    BANK_LSB,
    BANK_MSB,
    CHANNEL,
    CONTROLLER,
    FIRST_FREE,
    HELD,
    HOLD_NO,
    HOLD_NOTE,
    HOLD_NOTE_ON,
    KEY,
    NO_LIMIT,
    PROGRAM,
    SWITCH_CONTROLLER,
    SWITCH_KEY,
    SWITCH_PROGRAM,
    VELOCITY,
    Condition,
    Entry,
    Loudness,
    Sampler,
    Switch,
)
from rendering.marks import BIT, expand, mask
from rendering.problems import Refused

HOLDS = {"no": HOLD_NO, "note-on": HOLD_NOTE_ON, "note": HOLD_NOTE}
HELD_WEIGHT = 1000  # a held key beats any number of other conditions


def compile_map(document: ArticulationMap) -> Sampler:
    """Return the sampler table of a map; raises Refused if its ids do not resolve."""
    broken = references(document)
    if broken:
        raise Refused(broken)
    plan = _plan(document)
    entries = tuple(_entry(plan, i) for i in range(len(document.articulations)))
    index = plan.index
    defaults = tuple(index[memory.default] for memory in document.memories)
    return Sampler(
        name=document.name,
        sound=document.sound,
        players=document.players or "",
        memories=tuple(memory.id for memory in document.memories),
        defaults=defaults,
        entries=entries,
        registers=plan.registers,
        start=_start(plan, entries, defaults),
        latches={key: tuple(registers) for key, registers in plan.latches.items()},
        toggles=plan.toggles,
        held=frozenset(plan.held),
        clears={register: tuple(later) for register, later in plan.clears.items()},
        memory_registers=_memory_registers(entries, len(document.memories)),
        lowest=document.range.lowest,
        highest=document.range.highest,
        key_offset=document.key_offset,
        bend_range=document.bend_range or 0,
        loudness=plan.loudness,
        stand_ins=_stand_ins(document),
    )


@lru_cache(maxsize=4096)
def masks(names: tuple[str, ...]) -> tuple[int, ...]:
    """Return the sets of marks that one set of names stands for: a collective name counts once for each of its marks."""
    return tuple(mask(*marks) for marks in product(*(expand(name) for name in dict.fromkeys(names))))


def _stand_ins(document: ArticulationMap) -> tuple[tuple[int, tuple[int, ...]], ...]:
    """Return (mark, marks to play instead, best first)."""
    return tuple(
        (BIT[asked], tuple(BIT[mark] for name in rule.use for mark in expand(name) if mark != asked))
        for rule in document.stand_ins
        for asked in expand(rule.for_)
    )


# ── Registers: which key sets what ──


@dataclass(slots=True)
class _Plan:
    """What must be known of the whole map before one entry can be made."""

    document: ArticulationMap
    index: dict[str, int]
    memory: dict[str, int]
    loudness: Loudness
    registers: int = FIRST_FREE
    latch: dict[tuple[str, int], int] = field(default_factory=dict)  # (memory, position) -> register
    latches: dict[int, list[int]] = field(default_factory=dict)
    toggles: dict[int, int] = field(default_factory=dict)
    toggles_of: dict[str, dict[int, None]] = field(default_factory=dict)  # memory -> the keys of its toggles
    held: set[int] = field(default_factory=set)
    clears: dict[int, list[int]] = field(default_factory=dict)
    on_channels: set[str] = field(default_factory=set)  # memories some entries of which have their own channel
    in_zones: set[str] = field(default_factory=set)  # memories some entries of which are shifted


def _plan(document: ArticulationMap) -> _Plan:
    plan = _Plan(
        document=document,
        index={articulation.id: i for i, articulation in enumerate(document.articulations)},
        memory={memory.id: i for i, memory in enumerate(document.memories)},
        loudness=loudness_table(document.loudness, None),
    )
    for articulation in document.articulations:
        _number(plan, articulation)
    for articulation in document.articulations:
        if articulation.together:
            _clear(plan, articulation)
    return plan


def _number(plan: _Plan, articulation: Articulation) -> None:
    """Give registers to the keys of one articulation."""
    position = 0
    for trigger in articulation.triggers:
        if isinstance(trigger, Channel):
            plan.on_channels.add(articulation.memory)
        elif isinstance(trigger, Shift):
            plan.in_zones.add(articulation.memory)
        elif isinstance(trigger, Keyswitch):
            if trigger.toggle:
                _number_toggle(plan, articulation.memory, trigger)
            elif trigger.hold == "no":
                register = _register_of(plan, articulation.memory, position)
                sets = plan.latches.setdefault(trigger.keyswitch, [])
                if register not in sets:
                    sets.append(register)
                position += 1
            else:
                plan.held.add(trigger.keyswitch)


def _register_of(plan: _Plan, memory: str, position: int) -> int:
    if (memory, position) not in plan.latch:
        plan.latch[memory, position] = plan.registers
        plan.registers += 1
    return plan.latch[memory, position]


def _number_toggle(plan: _Plan, memory: str, trigger: Keyswitch) -> None:
    if trigger.keyswitch not in plan.toggles:
        plan.toggles[trigger.keyswitch] = plan.registers
        plan.registers += 1
    plan.toggles_of.setdefault(memory, {})[trigger.keyswitch] = None


def _clear(plan: _Plan, articulation: Articulation) -> None:
    """Note that each latch of a set of paged switches makes the later ones of the set unknown."""
    positions = range(sum(_latches(trigger) for trigger in articulation.triggers))
    registers = [plan.latch[articulation.memory, position] for position in positions]
    for i, register in enumerate(registers):
        later = plan.clears.setdefault(register, [])
        later += [other for other in registers[i + 1 :] if other not in later]


def _latches(trigger: object) -> bool:
    return isinstance(trigger, Keyswitch) and not trigger.toggle and trigger.hold == "no"


def _memory_registers(entries: Iterable[Entry], memories: int) -> tuple[tuple[int, ...], ...]:
    found: list[set[int]] = [set() for _ in range(memories)]
    for entry in entries:
        found[entry.memory].update(c.register for c in entry.conditions if c.register not in (KEY, VELOCITY, CHANNEL))
    return tuple(tuple(sorted(registers)) for registers in found)


def _start(plan: _Plan, entries: Sequence[Entry], defaults: Sequence[int]) -> tuple[int, ...]:
    """Return the state in which every default is on: what its switches set, keys up, the rest unknown."""
    state = [-1] * plan.registers
    for key in range(128):
        state[HELD + key] = 0
    for register in plan.toggles.values():
        state[register] = 0
    for default in defaults:
        for switch in entries[default].switches:
            if switch.kind == SWITCH_PROGRAM:
                state[PROGRAM], state[BANK_MSB], state[BANK_LSB] = switch.number, switch.bank_msb, switch.bank_lsb
            elif switch.kind == SWITCH_CONTROLLER:
                state[switch.register] = switch.value
            elif switch.hold == HOLD_NO and not switch.toggle:
                state[switch.register] = switch.number
    return tuple(state)


# ── One entry ──


@dataclass(slots=True)
class _Predicate:
    conditions: list[Condition] = field(default_factory=list)
    switches: list[Switch] = field(default_factory=list)
    shift: int = 0
    channel: int = -1
    track: str = ""
    band: tuple[int, int] | None = None


def _entry(plan: _Plan, index: int) -> Entry:
    document, it = plan.document, plan.document.articulations[index]
    got = _predicate(plan, it)
    zone = it.range or document.range
    lead = it.lead_ms
    loudness = plan.loudness if it.loudness is None and got.band is None else loudness_table(it.loudness or document.loudness, got.band)
    return Entry(
        index=index,
        id=it.id,
        name=it.name or it.id,
        memory=plan.memory[it.memory],
        plays=tuple(played for names in it.plays for played in masks(names)),
        conditions=tuple(got.conditions),
        switches=tuple(got.switches),
        weight=len(got.conditions) + HELD_WEIGHT * sum(HELD <= c.register < PROGRAM for c in got.conditions),
        loudness=loudness,
        lowest=max(zone.lowest, document.range.lowest),
        highest=min(zone.highest, document.range.highest),
        lead_first_ms=lead.first,
        lead_connected_ms=lead.first if lead.connected is None else lead.connected,
        overlap_ms=it.overlap_ms,
        gap_ms=it.gap_ms,
        joins=it.joins,
        voices=it.voices or 0,
        when_ms=_bounds(it.when.ms),
        when_keys=_bounds(it.when.keys),
        when_level=_bounds(it.when.level),
        length_scale=it.length.scale,
        at_most_ms=NO_LIMIT if it.length.at_most_ms is None else it.length.at_most_ms,
        acts_on_sounding=it.acts_on == "sounding",
        needs=tuple(plan.index[name] for name in it.with_),
        resets=tuple(plan.memory[name] for name in it.resets),
        together=it.together,
        alternates=(index, *(plan.index[name] for name in it.alternates)) if it.alternates else (),
        shift=got.shift,
        channel=got.channel,
        track=got.track,
        rings=it.rings,
        damp=-1 if it.damp is None else it.damp,
        strike=it.strike,
        strike_key=-1 if it.key is None else it.key,
        syllable=it.syllable,
    )


def _bounds(pair: tuple[int | None, int | None]) -> tuple[int, int]:
    low, high = pair
    return (0 if low is None else low, NO_LIMIT if high is None else high)


def _predicate(plan: _Plan, it: Articulation) -> _Predicate:
    got = _Predicate()
    position = 0
    for trigger in it.triggers:
        if isinstance(trigger, Keyswitch):
            _key_condition(plan, it, trigger, position, got)
            position += _latches(trigger)
        elif isinstance(trigger, Controller):
            _controller_condition(trigger, got)
        elif isinstance(trigger, Program):
            _program_condition(trigger, got)
        elif isinstance(trigger, Channel):
            got.channel = trigger.channel - 1
        elif isinstance(trigger, Velocities):
            got.band = trigger.velocities
            got.conditions.append(Condition(VELOCITY, *trigger.velocities))
        elif isinstance(trigger, Shift):
            got.shift = trigger.shift
        elif isinstance(trigger, Track):
            got.track = trigger.track
    _toggles_off(plan, it, got)
    _note_conditions(plan, it, got)
    return got


def _key_condition(plan: _Plan, it: Articulation, trigger: Keyswitch, position: int, got: _Predicate) -> None:
    key = trigger.keyswitch
    if trigger.toggle:
        register = plan.toggles[key]
        on = 0 if _is_default(plan, it) else 1
        got.conditions.append(Condition(register, on, on))
        if not on:
            return  # going back is pressing it again, when it is on: nothing to send of its own
    elif trigger.hold == "no":
        register = plan.latch[it.memory, position]
        got.conditions.append(Condition(register, key, key))
    else:
        register = HELD + key
        got.conditions.append(Condition(register, 1, 1))
    got.switches.append(_press(trigger, register))


def _press(trigger: Keyswitch, register: int) -> Switch:
    return Switch(
        SWITCH_KEY, trigger.keyswitch, trigger.velocity, register,
        trigger.ahead_ms, trigger.length_ms, HOLDS[trigger.hold], trigger.toggle,
    )  # fmt: skip


def _is_default(plan: _Plan, it: Articulation) -> bool:
    return plan.document.memories[plan.memory[it.memory]].default == it.id


def _controller_condition(trigger: Controller, got: _Predicate) -> None:
    low, high = trigger.band
    register = CONTROLLER + trigger.controller
    got.conditions.append(Condition(register, low, high))
    got.switches.append(Switch(SWITCH_CONTROLLER, trigger.controller, (low + high) // 2, register, 0, 0))


def _program_condition(trigger: Program, got: _Predicate) -> None:
    msb = -1 if trigger.bank_msb is None else trigger.bank_msb
    lsb = -1 if trigger.bank_lsb is None else trigger.bank_lsb
    for register, value in ((BANK_MSB, msb), (BANK_LSB, lsb), (PROGRAM, trigger.program)):
        if value >= 0:
            got.conditions.append(Condition(register, value, value))
    got.switches.append(Switch(SWITCH_PROGRAM, trigger.program, 0, PROGRAM, 0, 0, bank_msb=msb, bank_lsb=lsb))


def _toggles_off(plan: _Plan, it: Articulation, got: _Predicate) -> None:
    """An entry that names no toggle of its memory is heard with it off."""
    named = {trigger.keyswitch for trigger in it.triggers if isinstance(trigger, Keyswitch) and trigger.toggle}
    for key in plan.toggles_of.get(it.memory, ()):
        if key not in named:
            got.conditions.append(Condition(plan.toggles[key], 0, 0))


def _note_conditions(plan: _Plan, it: Articulation, got: _Predicate) -> None:
    """Add what the note itself must show: its channel, its key zone or its key."""
    if it.memory in plan.on_channels:
        got.conditions.append(Condition(CHANNEL, got.channel, got.channel))
    if it.key is not None:
        got.conditions.append(Condition(KEY, it.key, it.key))
    elif it.memory in plan.in_zones:
        zone = it.range or plan.document.range
        moved = plan.document.key_offset + got.shift
        got.conditions.append(Condition(KEY, zone.lowest + moved, zone.highest + moved))
