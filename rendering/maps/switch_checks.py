"""Checks of the switches of a map: what one key or controller is used for, and how many are sent."""

from __future__ import annotations

from collections.abc import Iterator

from rendering.documents import shown
from rendering.maps.document import (
    AnyTrigger,
    Articulation,
    ByVelocity,
    Channel,
    Controller,
    Keyswitch,
    Program,
    Shift,
    Track,
    Velocities,
)
from rendering.maps.facts import Facts, Use, latches
from rendering.problems import Place, Problem, problem

PLACES_AT_A_TICK = 13  # ranks 2-14: 0 is a note's off, 1 a held switch's, 15 a note-on
RESERVED = 120  # MIDI 1.0: controllers 120-127 are channel mode messages
PEDALS = {64, 66, 67}  # MIDI 1.0 controllers: damper, sostenuto, soft pedal
BANKS = {0, 32}  # MIDI 1.0: bank select, taken up by the next program change
OF_A_NOTE: dict[type[AnyTrigger], str] = {Channel: "channel", Velocities: "velocities", Shift: "shift", Track: "track"}


def keys_in_range(facts: Facts) -> Iterator[Problem]:
    """Switches and damp keys among the keys that notes are sent with."""
    document = facts.document
    unsaid = "range" not in document.model_fields_set
    if unsaid and any(True for _ in facts.keyswitches()) and any(it.range is None and it.key is None for it in document.articulations):
        yield problem("range-missing", Place(pointer=""))
    owner: dict[int, Articulation] = {}
    for it in document.articulations:
        elsewhere = any(isinstance(trigger, Track) for trigger in it.triggers)  # its notes go to another track
        if not elsewhere and (it.range or it.key is not None or not unsaid):
            low, high = facts.sent(it)
            for key in range(max(low, 0), min(high, 127) + 1):
                owner.setdefault(key, it)
    for use, trigger in facts.keyswitches():
        if trigger.keyswitch in owner:
            yield problem(
                "switch-in-range", facts.at_trigger(use, "keyswitch"), key=trigger.keyswitch, id=shown(owner[trigger.keyswitch].id)
            )
    for i, it in enumerate(document.articulations):
        if it.damp is not None and it.damp in owner:
            yield problem("damp-in-range", facts.at("articulations", i, "damp"), key=it.damp, id=shown(owner[it.damp].id))


def keys_two_ways(facts: Facts) -> Iterator[Problem]:
    """Keys that are latched for one articulation and held or toggled for another; toggles that are held."""
    first: dict[int, str] = {}
    for use, trigger in facts.keyswitches():
        way = "a toggle" if trigger.toggle else "latched" if latches(trigger) else "held"
        place = facts.at_trigger(use, "keyswitch")
        if trigger.toggle and trigger.hold != "no":
            yield problem("toggle-held", place, key=trigger.keyswitch)
        if first.setdefault(trigger.keyswitch, way) != way:
            yield problem("key-two-ways", place, key=trigger.keyswitch, way=way, other=first[trigger.keyswitch])


def latch_places(facts: Facts) -> Iterator[Problem]:
    """Keys that stand at two places among the latched switches of one memory."""
    first: dict[tuple[str, int], int] = {}
    position, last = 0, -1
    for use, trigger in facts.keyswitches():
        position = 0 if use.i != last else position
        last = use.i
        if latches(trigger):
            if first.setdefault((use.it.memory, trigger.keyswitch), position) != position:
                place = facts.at_trigger(use, "keyswitch")
                yield problem("latch-ambiguous", place, key=trigger.keyswitch, memory=shown(use.it.memory))
            position += 1


def shared(facts: Facts) -> Iterator[Problem]:
    """Switches, and kinds of note triggers, that two memories use: they would not be independent."""
    first: dict[str, str] = {}
    told: set[tuple[str, str]] = set()
    for use in facts.uses:
        what, memory = _register(use.trigger), use.it.memory
        if first.setdefault(what, memory) != memory and (what, memory) not in told:
            told.add((what, memory))
            code = "note-trigger-in-two-memories" if type(use.trigger) in OF_A_NOTE else "switch-in-two-memories"
            yield problem(code, facts.at_trigger(use), switch=what, one=shown(first[what]), other=shown(memory))


def _register(trigger: AnyTrigger) -> str:
    if isinstance(trigger, Keyswitch):
        return f"key {trigger.keyswitch}"
    if isinstance(trigger, Controller):
        return f"controller {trigger.controller}"
    return "the program" if isinstance(trigger, Program) else OF_A_NOTE[type(trigger)]


def doubled(facts: Facts) -> Iterator[Problem]:
    """Triggers of which an articulation can have only one."""
    seen: set[tuple[int, str]] = set()
    for use in facts.uses:
        what = _register(use.trigger)
        if (use.i, what) in seen and not isinstance(use.trigger, Keyswitch):
            yield problem("trigger-twice", facts.at_trigger(use), switch=what)
        seen.add((use.i, what))


def paged(facts: Facts) -> Iterator[Problem]:
    """`together` where there is nothing to send together, with toggles, or for some articulations of a page only."""
    pages: dict[tuple[str, int], str] = {}
    for i, it in enumerate(facts.document.articulations):
        keys = _latched(it)
        if it.together:
            if any(isinstance(trigger, Keyswitch) and trigger.toggle for trigger in it.triggers):
                yield problem("together-toggle", facts.at("articulations", i, "together"))
            elif sum(_events(trigger) > 0 for trigger in it.triggers) < 2:
                yield problem("together-idle", facts.at("articulations", i, "together"))
            pages |= {(it.memory, key): it.id for key in keys[:-1]}
    for i, it in enumerate(facts.document.articulations):
        keys = _latched(it)
        page = next((key for key in keys[:-1] if (it.memory, key) in pages), None)
        if page is not None and not it.together:
            yield problem("together-mixed", facts.at("articulations", i, "triggers"), key=page, id=shown(pages[it.memory, page]))


def _latched(it: Articulation) -> list[int]:
    return [trigger.keyswitch for trigger in it.triggers if isinstance(trigger, Keyswitch) and latches(trigger)]


def _events(trigger: AnyTrigger) -> int:
    if isinstance(trigger, Program):
        return 3 - [trigger.bank_msb, trigger.bank_lsb].count(None)
    return int(isinstance(trigger, Keyswitch | Controller))


def too_many(facts: Facts) -> Iterator[Problem]:
    """More events in order than have a place at one tick, an articulation's and those of what it needs."""
    articulations = facts.document.articulations
    own = {it.id: sum(map(_events, it.triggers)) for it in articulations}
    for i, it in enumerate(articulations):
        count = own[it.id] + sum(own.get(name, 0) for name in it.with_)
        if count > PLACES_AT_A_TICK:
            yield problem(
                "too-many-triggers", facts.at("articulations", i, "triggers"), id=shown(it.id), count=count, most=PLACES_AT_A_TICK
            )


def held_defaults(facts: Facts) -> Iterator[Problem]:
    """Defaults that need a key held down: not on at the start."""
    for use, trigger in facts.keyswitches():
        if trigger.hold != "no" and use.it.id in facts.defaults:
            yield problem("default-held", facts.at_trigger(use, "hold"), id=shown(use.it.id), key=trigger.keyswitch)


def controllers(facts: Facts) -> Iterator[Problem]:
    """Controllers that MIDI reserves, that carry loudness, that select banks or that are pedals."""
    programs = any(isinstance(use.trigger, Program) for use in facts.uses)
    loud = {number for number, _ in _loudness(facts)}
    for number, place in _loudness(facts):
        if number >= RESERVED:
            yield problem("controller-reserved", place, number=number)
    for use in facts.uses:
        if isinstance(use.trigger, Controller):
            yield from _switch(facts, use, use.trigger.controller, loud, programs)


def _switch(facts: Facts, use: Use, number: int, loud: set[int], programs: bool) -> Iterator[Problem]:
    place = facts.at_trigger(use, "controller")
    if number >= RESERVED:
        yield problem("controller-reserved", place, number=number)
    if number in loud:
        yield problem("controller-two-uses", place, number=number)
    if number in BANKS and programs:
        yield problem("bank-controller", place, number=number)
    if number in PEDALS:
        yield problem("pedal-controller", place, number=number)


def _loudness(facts: Facts) -> Iterator[tuple[int, Place]]:
    """Yield every controller that carries loudness or reaches silence, with its place."""
    paths: list[tuple[str | int, ...]] = [("loudness",)]
    loudnesses = [facts.document.loudness]
    for i, it in enumerate(facts.document.articulations):
        if it.loudness is not None:
            paths.append(("articulations", i, "loudness"))
            loudnesses.append(it.loudness)
    for path, loudness in zip(paths, loudnesses, strict=True):
        if not isinstance(loudness, ByVelocity):
            yield loudness.controller, facts.at(*path, "controller")
        if loudness.silence is not None:
            yield loudness.silence, facts.at(*path, "silence")


def banks(facts: Facts) -> Iterator[Problem]:
    """Programs without the bank byte that others of the map state."""
    programs = [(use, use.trigger) for use in facts.uses if isinstance(use.trigger, Program)]
    for name in ("bank_msb", "bank_lsb"):
        if any(getattr(trigger, name) is not None for _, trigger in programs):
            for use, trigger in programs:
                if getattr(trigger, name) is None:
                    yield problem("bank-unsaid", facts.at_trigger(use), field=shown(name), program=trigger.program)
