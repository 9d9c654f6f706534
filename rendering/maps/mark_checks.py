"""Checks of what a map plays: rivals, marks that exclude each other, stand-ins, articulations nobody reaches."""

from __future__ import annotations

from collections.abc import Iterator

from rendering.documents import shown
from rendering.maps.compile import masks
from rendering.maps.document import Articulation
from rendering.maps.facts import Facts
from rendering.marks import BIT, MARKS, expand, mask, names
from rendering.problems import Problem, problem

UNBOUNDED = 1 << 30


def plays(facts: Facts) -> Iterator[Problem]:
    """Sets of marks that contradict themselves or stand twice; defaults that are no default."""
    for i, it in enumerate(facts.document.articulations):
        seen: set[int] = set()
        for j, wanted in enumerate(it.plays):
            place = facts.at("articulations", i, "plays", j)
            pair = _contradiction(wanted)
            if pair:
                yield problem("plays-contradict", place, one=shown(pair[0]), other=shown(pair[1]))
            if set(masks(wanted)) <= seen or len(set(wanted)) < len(wanted):
                yield problem("plays-doubled", place, marks=", ".join(wanted))
            seen.update(masks(wanted))
        if it.id in facts.defaults and it.plays:
            yield problem("default-plays-marks", facts.at("articulations", i, "plays"), id=shown(it.id), marks=", ".join(it.plays[0]))


def _contradiction(wanted: tuple[str, ...]) -> tuple[str, str] | None:
    """Return two states of a passage that answer the same question; marks written on a note stand side by side."""
    answer: dict[tuple[str, str], str] = {}
    for name in wanted:
        mark = MARKS[BIT[expand(name)[0]]]
        if mark.reach == "passage":
            other = answer.setdefault((mark.axis, mark.question), name)
            if other != name:
                return other, name
    return None


def rivals(facts: Facts) -> Iterator[Problem]:
    """Sets of marks that an earlier articulation of the memory plays wherever this one could."""
    earlier: dict[tuple[str, int], list[Articulation]] = {}
    takes_turns = _alternates(facts)
    for i, it in enumerate(facts.document.articulations):
        sets = [(j, one) for j, wanted in enumerate(it.plays) for one in masks(wanted) if it.id not in takes_turns]
        for j, one in sets:
            other = next((other for other in earlier.get((it.memory, one), ()) if _covers(facts, other, it)), None)
            if other:
                place = facts.at("articulations", i, "plays", j)
                yield problem("equal-rivals", place, id=shown(it.id), other=shown(other.id), marks=", ".join(names(one)))
        for _, one in sets:
            earlier.setdefault((it.memory, one), []).append(it)
    yield from _unmarked_rivals(facts, takes_turns)


def _unmarked_rivals(facts: Facts, takes_turns: set[str]) -> Iterator[Problem]:
    """Of several articulations for unmarked notes those with conditions are taken first, in the map's order."""
    earlier: dict[str, list[Articulation]] = {}
    for i, it in enumerate(facts.document.articulations):
        if it.plays or it.id in takes_turns or not _has_when(it):
            continue
        for other in earlier.get(it.memory, []):
            if _covers(facts, other, it):
                yield problem("equal-rivals", facts.at("articulations", i), id=shown(it.id), other=shown(other.id), marks="unmarked notes")
                break
        earlier.setdefault(it.memory, []).append(it)


def _covers(facts: Facts, wide: Articulation, narrow: Articulation) -> bool:
    """Tell whether `wide` may be played wherever `narrow` may."""
    if (wide.strike, wide.key, wide.syllable) != (narrow.strike, narrow.key, narrow.syllable):
        return False
    keys, inner = facts.range_of(wide), facts.range_of(narrow)
    return (
        (wide.voices is None or wide.voices >= (narrow.voices or UNBOUNDED))
        and set(wide.with_) <= set(narrow.with_)
        and keys.lowest <= inner.lowest
        and inner.highest <= keys.highest
        and all(_within(getattr(narrow.when, name), getattr(wide.when, name)) for name in ("ms", "keys", "level"))
    )


def _within(inner: tuple[int | None, int | None], outer: tuple[int | None, int | None]) -> bool:
    return (outer[0] or 0) <= (inner[0] or 0) and (UNBOUNDED if inner[1] is None else inner[1]) <= (
        UNBOUNDED if outer[1] is None else outer[1]
    )


def _has_when(it: Articulation) -> bool:
    return (it.when.ms, it.when.keys, it.when.level) != ((None, None),) * 3


def _alternates(facts: Facts) -> set[str]:
    return {name for it in facts.document.articulations for name in it.alternates}


def reachable(facts: Facts) -> Iterator[Problem]:
    """Articulations that no mark, condition or name leads to."""
    named = _alternates(facts) | {name for it in facts.document.articulations for name in it.with_}
    for i, it in enumerate(facts.document.articulations):
        asked = it.plays or it.strike or it.syllable or it.key is not None or _has_when(it)
        if not asked and it.id not in named and it.id not in facts.defaults:
            yield problem("articulation-unreachable", facts.at("articulations", i), id=shown(it.id))


def stand_ins(facts: Facts) -> Iterator[Problem]:
    """Rules that lead back to their own mark, stand twice, or name marks that nothing plays."""
    rules = facts.document.stand_ins
    use = {rule.for_: rule.use for rule in reversed(rules)}
    played = {one for it in facts.document.articulations for wanted in it.plays for one in masks(wanted)}
    any_played = 0
    for one in played:
        any_played |= one
    seen: set[str] = set()
    for i, rule in enumerate(rules):
        if rule.for_ in seen:
            yield problem("stand-in-doubled", facts.at("stand_ins", i, "for"), mark=shown(rule.for_))
        seen.add(rule.for_)
        if _leads_to(rule.use, rule.for_, use):
            yield problem("stand-in-cyclic", facts.at("stand_ins", i), mark=shown(rule.for_), use=", ".join(rule.use))
        for j, name in enumerate(rule.use):
            if not any(any_played & mask(one) for one in expand(name)):
                yield problem("stand-in-idle", facts.at("stand_ins", i, "use", j), mark=shown(name))


def _leads_to(use: tuple[str, ...], goal: str, rules: dict[str, tuple[str, ...]]) -> bool:
    """Tell whether following the rules from `use` comes to `goal`."""
    waiting, seen = list(use), set(use)
    while waiting:
        name = waiting.pop()
        if name == goal:
            return True
        waiting += [other for other in rules.get(name, ()) if other not in seen]
        seen.update(rules.get(name, ()))
    return False
