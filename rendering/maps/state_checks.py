"""Checks of the compiled map: after every switch exactly the articulation asked for is selected.

An articulation sets all its own registers, and leaves alone those it does not name. So if a third one is
selected too after some row of switches, it is already after its own switches and then these: it is enough
to look at pairs.
"""

from __future__ import annotations

from collections.abc import Iterator

from rendering.documents import shown
from rendering.maps.facts import Facts
from rendering.maps.table import CHANNEL, HELD, KEY, PROGRAM, VELOCITY, Entry, Sampler
from rendering.problems import Place, Problem, problem

Bounds = dict[int, tuple[int, int]]


def states(facts: Facts, sampler: Sampler) -> Iterator[Problem]:
    """Articulations of one memory that are selected together, or that another does not let go; each told once."""
    bounds = [{c.register: (c.low, c.high) for c in entry.conditions} for entry in sampler.entries]
    leaves = [_left(sampler, entry, bounds[entry.index]) for entry in sampler.entries]
    told: set[tuple[str, Place]] = set()
    for memory in range(len(sampler.memories)):
        entries = [entry for entry in sampler.entries if entry.memory == memory]
        for place, second in enumerate(entries):
            for first in entries[:place]:
                found = _pair(facts, first, second, bounds, leaves) if first.track == second.track else None
                if found and (found.code, found.place) not in told:
                    told.add((found.code, found.place))
                    yield found


def _left(sampler: Sampler, entry: Entry, own: Bounds) -> Bounds:
    """Return what a note of an entry shows and leaves: the registers it sets or makes unknown, its keys and velocities."""
    left = dict(own)
    for switch in entry.switches if entry.together else ():
        for cleared in sampler.clears.get(switch.register, ()):
            left.setdefault(cleared, (-1, -1))
    moved = sampler.key_offset + entry.shift
    left.setdefault(KEY, (entry.lowest + moved, entry.highest + moved))
    left.setdefault(VELOCITY, (min(entry.loudness.velocity), max(entry.loudness.velocity)))
    return left


def _pair(facts: Facts, first: Entry, second: Entry, bounds: list[Bounds], leaves: list[Bounds]) -> Problem | None:
    after_second = _still_holds(bounds[first.index], leaves[second.index])
    after_first = _still_holds(bounds[second.index], leaves[first.index])
    if first.weight == second.weight:
        return _two(facts, first, second, bounds) if after_first or after_second else None
    heavy, light = (first, second) if first.weight > second.weight else (second, first)
    if not (after_second if heavy is first else after_first):
        return None
    code = "notes-taken" if bounds[heavy.index].keys() <= {KEY, VELOCITY, CHANNEL} else "still-selected"
    return problem(code, facts.at("articulations", light.index), id=shown(light.id), other=shown(heavy.id))


def _still_holds(wanted: Bounds, left: Bounds) -> bool:
    """Tell whether an entry that was selected before still is, after another has left these values."""
    for register, (low, high) in wanted.items():
        if register in left:
            other_low, other_high = left[register]
            if other_low > high or other_high < low:
                return False
        elif HELD <= register < PROGRAM:
            return False  # a held key is let go for whoever does not want it
    return True


def _two(facts: Facts, first: Entry, second: Entry, bounds: list[Bounds]) -> Problem:
    """Say which band or zone two entries share, if that is why both are selected."""
    place = facts.at("articulations", second.index)
    one, other = bounds[first.index], bounds[second.index]
    for register in sorted(one.keys() & other.keys()):
        if one[register] == other[register] or not _names_band(register):
            continue
        low, high = max(one[register][0], other[register][0]), min(one[register][1], other[register][1])
        said: dict[str, str | int] = {"id": shown(second.id), "other": shown(first.id), "low": low, "high": high}
        if register == KEY:
            return problem("zones-overlap", place, **said)
        if register == VELOCITY:
            return problem("velocities-overlap", place, **said)
        return problem("controller-bands-overlap", place, number=register, **said)
    return problem("two-selected", place, id=shown(second.id), other=shown(first.id))


def _names_band(register: int) -> bool:
    return register < HELD or register in (KEY, VELOCITY)


def velocity_gaps(facts: Facts, sampler: Sampler) -> Iterator[Problem]:
    """Velocities that select nothing in a memory whose articulations are told apart by velocity."""
    for memory, name in enumerate(sampler.memories):
        found = [c for entry in sampler.entries if entry.memory == memory for c in entry.conditions if c.register == VELOCITY]
        entries = [entry for entry in sampler.entries if entry.memory == memory]
        if not found or any(all(c.register != VELOCITY for c in entry.conditions) for entry in entries):
            continue
        covered = {velocity for c in found for velocity in range(c.low, c.high + 1)}
        missing = [velocity for velocity in range(1, 128) if velocity not in covered]
        if missing:
            place = facts.at("memories", memory)
            yield problem("velocity-gap", place, memory=shown(name), low=missing[0], high=missing[-1])
