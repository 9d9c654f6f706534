"""Choosing: the combination of articulations that loses least, against a plain enumeration of all of them."""

from __future__ import annotations

import json
from itertools import product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rendering.documents import read
from rendering.maps.compile import compile_map
from rendering.maps.document import Articulation, ArticulationMap
from rendering.marks import MARKS, mask
from rendering.resolve import OUTCOMES, Chooser, Decision
from tests.rendering.golden_files import made_map

# One mark of each axis, in the order in which losing one is worse; no stand-in rule names any of them.
RANKED = ("pizzicato", "portato", "staccato", "accent", "tremolo", "sul ponticello", "con sordino", "open string", "sul G")
SHAPED = {"portato", "staccato", "accent"}
SETS = st.lists(st.sampled_from(RANKED), min_size=1, max_size=2, unique=True)


@st.composite
def maps(draw: st.DrawFn) -> ArticulationMap:
    """Maps of one or two memories, each articulation on a controller value, playing up to two marks in up to two ways."""
    articulations: list[dict[str, Any]] = []
    memories = draw(st.integers(1, 2))
    for m in range(memories):
        articulations += [
            {
                "id": f"m{m}-{n}",
                "memory": f"m{m}",
                "plays": draw(st.lists(SETS, min_size=1, max_size=2)) if n else [],
                "triggers": [{"controller": 20 + m, "value": n}],
            }
            for n in range(draw(st.integers(2, 5)))
        ]
    body = {
        "kind": "articulation-map", "edition": 1, "name": "Random",
        "memories": [{"id": f"m{m}", "default": f"m{m}-0"} for m in range(memories)],
        "articulations": articulations,
    }  # fmt: skip
    return read(ArticulationMap, json.dumps(body).encode())


def plain_choice(document: ArticulationMap, asked: set[str]) -> tuple[tuple[str, ...], set[str], set[str], set[str]]:
    """Return the ids that lose least, and which marks are then exact, shaped, plain; by looking at all combinations."""
    by_memory = [[(n, a) for n, a in enumerate(document.articulations) if a.memory == m.id] for m in document.memories]
    best: tuple[Any, ...] | None = None
    for combination in product(*by_memory):
        if any(a.plays and not _played(a, asked) for _, a in combination):
            continue  # it would add a mark that nobody asked for
        exact = {mark for _, a in combination for mark in _played(a, asked)}
        lost = asked - exact
        cost = (
            _by_rank(lost - SHAPED),
            _by_rank(lost & SHAPED),
            sum(bool(a.plays) for _, a in combination),
            tuple(n for n, _ in combination),
        )
        if best is None or cost < best[0]:
            best = (cost, tuple(a.id for _, a in combination), exact, lost & SHAPED, lost - SHAPED)
    assert best is not None
    return best[1:]  # type: ignore[return-value]


def _played(a: Articulation, asked: set[str]) -> set[str]:
    return {mark for marks in a.plays if asked.issuperset(marks) for mark in marks}


def _by_rank(lost: set[str]) -> tuple[bool, ...]:
    return tuple(mark in lost for mark in RANKED)


def decided(document: ArticulationMap, asked: set[str], **options: Any) -> tuple[Decision, tuple[str, ...]]:
    sampler = compile_map(document)
    chooser = Chooser(sampler, **options)
    decision = chooser.decisions[chooser.decide(mask(*asked), 0, 500, 60, 500)]
    return decision, tuple(sampler.entries[i].id for i in decision.entries)


def outcomes(decision: Decision) -> dict[str, str]:
    return {MARKS[bit].name: OUTCOMES[outcome] for bit, outcome in decision.outcomes}


@settings(deadline=None, max_examples=200)
@given(document=maps(), asked=st.sets(st.sampled_from(RANKED), max_size=4))
def test_the_combination_that_loses_least(document: ArticulationMap, asked: set[str]) -> None:
    """Lost marks by rank, then those only shaped, then fewer articulations, then map order; each mark has one outcome."""
    ids, exact, shaped, plain = plain_choice(document, asked)
    decision, found = decided(document, asked)
    assert found == ids
    wanted = dict.fromkeys(exact, "exact") | dict.fromkeys(shaped, "shaped") | dict.fromkeys(plain, "plain")
    assert outcomes(decision) == wanted


def test_a_rule_of_the_map_outranks_shaping_and_the_shared_table() -> None:
    """Marcato is shaped rather than played by something else; a map that says so lets its staccato stand in."""
    entries = [
        {"id": "bowed", "triggers": [{"controller": 20, "value": 0}]},
        {"id": "short", "plays": [["staccato"]], "triggers": [{"controller": 20, "value": 1}]},
        {"id": "accented", "plays": [["accent"]], "triggers": [{"controller": 20, "value": 2}]},
    ]
    shared, ids = decided(made_map({"articulations": entries}), {"marcato"})
    assert (ids, outcomes(shared)) == (("bowed",), {"marcato": "shaped"})
    own = made_map({"articulations": entries, "stand_ins": [{"for": "marcato", "use": ["staccato"]}]})
    ruled, ids = decided(own, {"marcato"})
    assert (ids, outcomes(ruled)) == (("short",), {"marcato": "stand-in"})


def test_stand_ins_in_the_order_of_their_rule() -> None:
    """Of two stand-ins that the map can play the first that the rule names is taken, whatever stands first in the map."""
    entries = [
        {"id": "open", "memory": "mute", "triggers": [{"controller": 20, "value": 0}]},
        {"id": "con-sord", "memory": "mute", "plays": [["con sordino"]], "triggers": [{"controller": 20, "value": 1}]},
        {"id": "straight", "memory": "mute", "plays": [["straight mute"]], "triggers": [{"controller": 20, "value": 2}]},
    ]
    decision, ids = decided(made_map({"articulations": entries}), {"cup mute"})
    assert (ids, outcomes(decision)) == (("straight",), {"cup mute": "stand-in"})


@pytest.mark.parametrize(("marks", "scale", "boost"), [
    (set(), 1000, 0), ({"staccato"}, 500, 0), ({"staccatissimo"}, 250, 0), ({"portato"}, 750, 0), ({"tenuto"}, 1000, 0),
    ({"accent"}, 1000, 125), ({"marcato"}, 1000, 250), ({"staccato", "accent"}, 500, 125),
])  # fmt: skip
def test_what_a_mark_is_shaped_to(marks: set[str], scale: int, boost: int) -> None:
    """Lengths in thousandths and levels that are added; this project's numbers."""
    decision, _ = decided(made_map({"articulations": [{"id": "bowed"}]}), marks)
    assert (decision.scale, decision.boost) == (scale, boost)
    assert outcomes(decision) == dict.fromkeys(marks, "shaped")


def test_the_reason_in_words() -> None:
    entries = [
        {"id": "bowed", "name": "Bowed", "memory": "bow", "triggers": [{"keyswitch": 24}]},
        {"id": "tasto", "name": "Over the fingerboard", "memory": "bow", "plays": [["sul tasto"]], "triggers": [{"keyswitch": 25}]},
        {"id": "open", "name": "Open", "memory": "mute", "triggers": [{"controller": 20, "value": 0}]},
        {"id": "muted", "name": "Muted", "memory": "mute", "plays": [["con sordino"]], "triggers": [{"controller": 20, "value": 9}]},
    ]
    decision, _ = decided(made_map({"articulations": entries}), {"flautando", "con sordino", "accent", "key click"})
    assert decision.reason == "plays Over the fingerboard, Muted; stand-in: flautando; shaped: accent; plain: key click"
