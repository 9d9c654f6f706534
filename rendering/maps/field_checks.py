"""Checks of single articulations: ranges, conditions, references that resolve to the wrong thing."""

from __future__ import annotations

from collections.abc import Iterator

from rendering.documents import shown
from rendering.maps.document import Articulation, Controller, Velocities
from rendering.maps.facts import Facts
from rendering.maps.ranges import usual_range
from rendering.problems import Place, Problem, problem

OCTAVE = 12


def ranges(facts: Facts) -> Iterator[Problem]:
    """Ranges that end before they begin, lie outside the map's, or leave MIDI's keys."""
    document = facts.document
    if document.range.highest < document.range.lowest:
        yield _upside_down(facts.at("range"), document.range.lowest, document.range.highest)
    for i, it in enumerate(document.articulations):
        if it.range and it.range.highest < it.range.lowest:
            yield _upside_down(facts.at("articulations", i, "range"), it.range.lowest, it.range.highest)
        elif it.range and (it.range.lowest > document.range.highest or it.range.highest < document.range.lowest):
            yield problem(
                "range-apart",
                facts.at("articulations", i, "range"),
                id=shown(it.id),
                lowest=document.range.lowest,
                highest=document.range.highest,
            )
        low, high = facts.sent(it)
        if (it.range or "range" in document.model_fields_set) and not (low >= 0 and high <= 127):
            yield problem("range-leaves-midi", facts.at("articulations", i), id=shown(it.id), low=low, high=high)


def _upside_down(place: Place, lowest: int, highest: int) -> Problem:
    return problem("range-upside-down", place, lowest=lowest, highest=highest)


def bands(facts: Facts) -> Iterator[Problem]:
    """Bands of values and velocities that end before they begin."""
    for use in facts.uses:
        band, field = (0, 0), ""
        if isinstance(use.trigger, Controller):
            band, field = use.trigger.band, "value"
        elif isinstance(use.trigger, Velocities):
            band, field = use.trigger.velocities, "velocities"
        if band[1] < band[0]:
            yield problem("band-upside-down", facts.at_trigger(use, field), low=band[0], high=band[1])


def conditions(facts: Facts) -> Iterator[Problem]:
    """`when` that nothing fulfils, and leads that are too long for it."""
    for i, it in enumerate(facts.document.articulations):
        for name in ("ms", "keys", "level"):
            low, high = getattr(it.when, name)
            if low is not None and high is not None and low >= high:
                yield problem("when-empty", facts.at("articulations", i, "when", name), low=low, high=high)
        shortest = it.when.ms[0]
        if shortest and it.lead_ms.first > shortest:
            yield problem("lead-longer-than-note", facts.at("articulations", i, "lead_ms", "first"), lead=it.lead_ms.first, ms=shortest)


def strikes(facts: Facts) -> Iterator[Problem]:
    """Strikes whose key nobody could know."""
    for i, it in enumerate(facts.document.articulations):
        if it.strike and it.key is None and it.range is None:
            yield problem("strike-without-key", facts.at("articulations", i, "strike"), sound=shown(it.strike))


def needs(facts: Facts) -> Iterator[Problem]:
    """`with` and `resets` that contradict the memories."""
    defaults = {memory.id: memory.default for memory in facts.document.memories}
    for i, it in enumerate(facts.document.articulations):
        yield from _with(facts, i, it)
        for j, name in enumerate(it.resets):
            if name == it.memory:
                yield problem("resets-own", facts.at("articulations", i, "resets", j), memory=shown(name))
    for memory, default in defaults.items():
        i = facts.index.get(default, -1)
        for j, name in enumerate(facts.document.articulations[i].with_ if i >= 0 else ()):
            if name in facts.index and name not in facts.defaults:
                yield problem(
                    "default-needs-other",
                    facts.at("articulations", i, "with", j),
                    id=shown(default),
                    memory=shown(memory),
                    other=shown(name),
                )


def _with(facts: Facts, i: int, it: Articulation) -> Iterator[Problem]:
    taken: dict[str, str] = {}
    for j, name in enumerate(it.with_):
        if name not in facts.index:
            continue
        memory = facts.document.articulations[facts.index[name]].memory
        place = facts.at("articulations", i, "with", j)
        if memory == it.memory:
            yield problem("with-same-memory", place, id=shown(name), memory=shown(memory))
        elif memory in taken:
            yield problem("with-contradicts", place, id=shown(name), other=shown(taken[memory]), memory=shown(memory))
        taken.setdefault(memory, name)


def alternates(facts: Facts) -> Iterator[Problem]:
    """Articulations that take turns with themselves, with another memory's, or without end."""
    articulations = facts.document.articulations
    for i, it in enumerate(articulations):
        for j, name in enumerate(it.alternates):
            place = facts.at("articulations", i, "alternates", j)
            if name not in facts.index:
                continue
            other = articulations[facts.index[name]]
            if name == it.id or name in it.alternates[:j]:
                yield problem("alternates-doubled", place, id=shown(name))
            elif other.memory != it.memory:
                yield problem("alternates-apart", place, id=shown(name), memory=shown(other.memory))
            elif other.alternates:
                yield problem("alternates-cyclic", place, id=shown(name))


def usual(facts: Facts) -> Iterator[Problem]:
    """Remarks where a map is an octave or more away from what public sources say of its instrument."""
    document, known = facts.document, usual_range(facts.document.sound)
    if known is None:
        return
    given, sound = "range" in document.model_fields_set, shown(document.sound)
    if given and 0 <= document.range.lowest + OCTAVE <= known.lowest:
        place, sources = facts.at("range", "lowest"), known.lowest_sources
        yield problem("range-below-usual", place, key=document.range.lowest, sound=sound, usual=known.lowest, sources=sources)
    if given and 0 <= known.highest <= document.range.highest - OCTAVE:
        place, sources = facts.at("range", "highest"), known.highest_sources
        yield problem("range-above-usual", place, key=document.range.highest, sound=sound, usual=known.highest, sources=sources)
    if known.transposition is not None and document.key_offset not in (0, -known.transposition):
        place, sources = facts.at("key_offset"), known.transposition_sources
        yield problem("key-offset-unusual", place, offset=document.key_offset, sound=sound, usual=-known.transposition, sources=sources)
