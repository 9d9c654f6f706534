"""The checks of states against every row of three switches that a sampler could be sent.

The simulation below knows the sampler table and nothing of the checks: it sends all switches of an
articulation, lets go of every held key that the articulation does not want, and asks which
articulations of each memory hold with the greatest weight.
"""

from __future__ import annotations

from itertools import product
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from rendering.maps.checks import check
from rendering.maps.compile import compile_map
from rendering.maps.table import CHANNEL, HELD, HOLD_NO, KEY, PROGRAM, SWITCH_CONTROLLER, SWITCH_KEY, VELOCITY, Entry, Sampler
from tests.rendering.made_maps import Json, as_map

OF_STATES = {"controller-bands-overlap", "zones-overlap", "velocities-overlap", "two-selected", "still-selected", "notes-taken"}
# Faults of their own: the simulation takes one page, one use of a key and whole bands for granted.
APART = {
    "key-two-ways",
    "latch-ambiguous",
    "together-mixed",
    "together-toggle",
    "default-held",
    "bank-unsaid",
    "trigger-twice",
    "toggle-held",
}

triggers = st.lists(
    st.one_of(
        st.builds(lambda k: {"keyswitch": k}, st.integers(24, 26)),
        st.builds(lambda k, hold: {"keyswitch": k, "hold": hold}, st.integers(27, 28), st.sampled_from(["note", "note-on"])),
        st.just({"keyswitch": 29, "toggle": True}),
        st.builds(lambda c, v: {"controller": c, "value": v}, st.integers(20, 21), st.sampled_from([0, 127])),
        st.builds(lambda p: {"program": p}, st.integers(1, 2)),
        st.sampled_from([{"velocities": [1, 64]}, {"velocities": [65, 127]}]),
        st.sampled_from([{"channel": 2}, {"channel": 3}]),
        st.sampled_from([{"shift": 0}, {"shift": 24}]),
    ),
    max_size=3,
)


@st.composite
def documents(draw: st.DrawFn) -> Json:
    """Return a map of one memory with two to five articulations, sound or not."""
    chosen = draw(st.lists(triggers, min_size=2, max_size=5))
    together = draw(st.booleans())
    articulations = [
        {"id": f"a{i}", "memory": "m", "triggers": one, "plays": [["staccato"]] if i else [], "together": together}
        for i, one in enumerate(chosen)
    ]
    return {
        "kind": "articulation-map", "edition": 1, "name": "Any", "range": {"lowest": 60, "highest": 70},
        "memories": [{"id": "m", "default": "a0"}], "articulations": articulations,
    }  # fmt: skip


def switch_to(sampler: Sampler, entry: Entry, state: list[int]) -> None:
    for key in range(128):
        state[HELD + key] = 0
    wants_toggle = {s.register for s in entry.switches if s.toggle}
    for register in sampler.toggles.values():
        state[register] = int(register in wants_toggle)
    for switch in entry.switches:
        if switch.kind == SWITCH_CONTROLLER:
            state[switch.register] = switch.value
        elif switch.kind != SWITCH_KEY:
            state[PROGRAM] = switch.number
        elif switch.hold != HOLD_NO:
            state[switch.register] = 1
        elif not switch.toggle:
            for register in sampler.latches[switch.number]:
                state[register] = switch.number
                for cleared in sampler.clears.get(register, ()):
                    state[cleared] = -1


def heard(sampler: Sampler, entry: Entry, state: list[int]) -> set[frozenset[str]]:
    """Return the sets of articulations that notes of an entry select, at the ends of its keys and of every velocity band."""
    found = set()
    velocities = {*entry.loudness.velocity}
    for key, velocity in product((entry.lowest, entry.highest), sorted(velocities & {1, 64, 65, 127, min(velocities), max(velocities)})):
        state[KEY], state[VELOCITY], state[CHANNEL] = key + entry.shift, velocity, entry.channel
        holding = [e for e in sampler.entries if all(low <= state[r] <= high for r, low, high in e.conditions)]
        most = max((e.weight for e in holding), default=0)
        found.add(frozenset(e.id for e in holding if e.weight == most))
    return found


def ever_wrong(sampler: Sampler) -> bool:
    """Tell whether some row of up to three articulations does not end on the last one alone."""
    for row in product(sampler.entries, repeat=3):
        state = list(sampler.start)
        for entry in row:
            switch_to(sampler, entry, state)
            if heard(sampler, entry, state) != {frozenset({entry.id})}:
                return True
    return False


@settings(max_examples=150, deadline=None)
@given(document=documents())
def test_the_checks_see_what_a_sampler_would_do(document: Any) -> None:
    read = as_map(document)
    codes = {found.code for found in check(read)}
    if not codes & APART:
        assert bool(codes & OF_STATES) == ever_wrong(compile_map(read)), codes


def test_the_simulation_sees_a_fault() -> None:
    articulations = [
        {"id": name, "memory": "m", "triggers": [{"keyswitch": 24}], "plays": plays} for name, plays in (("a", []), ("b", [["staccato"]]))
    ]
    made = {"kind": "articulation-map", "edition": 1, "name": "Any", "range": {"lowest": 60, "highest": 70},
            "memories": [{"id": "m", "default": "a"}], "articulations": articulations}  # fmt: skip
    assert ever_wrong(compile_map(as_map(made)))
