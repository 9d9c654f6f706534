"""What a map compiles to: registers, predicates, switches, tables."""

from __future__ import annotations

import json
from typing import Any

import pytest

from rendering.documents import read
from rendering.maps.compile import compile_map
from rendering.maps.document import ArticulationMap
from rendering.maps.loudness import interpolated
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
    Sampler,
    Switch,
)
from rendering.marks import BIT, mask
from rendering.problems import Refused
from tests.rendering.made_maps import EVERY_TRIGGER, VIOLINS, as_map, violins

EVERY: Sampler = compile_map(read(ArticulationMap, EVERY_TRIGGER))
BY_ID: dict[str, Entry] = {entry.id: entry for entry in EVERY.entries}
# C0 where C3 is key 60: the file names its keys so.
C0 = 24
BOW, PAGE, DESK = FIRST_FREE, FIRST_FREE + 1, FIRST_FREE + 2  # registers in the order in which the map first needs them


def test_a_latched_key_has_a_register_of_its_memory() -> None:
    assert BY_ID["bowed"].conditions == (Condition(BOW, C0, C0),)
    assert BY_ID["bowed"].switches == (Switch(SWITCH_KEY, C0, 100, BOW, 10, 20, HOLD_NO),)
    assert BY_ID["slurred"].switches[0].value == 127
    assert EVERY.latches[C0] == (BOW,)


def test_paged_keys_have_a_register_for_each_place_and_the_page_clears_the_rest() -> None:
    assert BY_ID["trilled"].conditions == (Condition(BOW, 29, 29), Condition(PAGE, 30, 30))
    assert BY_ID["shaken"].conditions == (Condition(BOW, 29, 29), Condition(PAGE, 31, 31))
    assert BY_ID["trilled"].together
    assert (EVERY.latches[29], EVERY.latches[30], EVERY.latches[31]) == ((BOW,), (PAGE,), (PAGE,))
    assert EVERY.clears == {BOW: (PAGE,), PAGE: ()}


def test_held_keys_are_conditions_on_the_key_itself_and_beat_latched_ones() -> None:
    plucked, snapped = BY_ID["plucked"], BY_ID["snapped"]
    assert plucked.conditions == (Condition(HELD + 27, 1, 1),)
    assert plucked.switches == (Switch(SWITCH_KEY, 27, 100, HELD + 27, 10, 20, HOLD_NOTE),)
    assert snapped.switches == (Switch(SWITCH_KEY, 28, 100, HELD + 28, 30, 40, HOLD_NOTE_ON),)
    assert plucked.weight > BY_ID["trilled"].weight > BY_ID["bowed"].weight
    assert EVERY.held == {27, 28}


def test_a_controller_band_is_heard_as_a_whole_and_sent_in_its_middle() -> None:
    assert BY_ID["senza"].conditions == (Condition(CONTROLLER + 20, 0, 31),)
    assert BY_ID["senza"].switches == (Switch(SWITCH_CONTROLLER, 20, 15, CONTROLLER + 20, 0, 0),)
    assert BY_ID["ordinary"].switches[0].value == 79  # (32 + 127) // 2


def test_a_program_needs_its_bank_too() -> None:
    assert BY_ID["mute-on"].conditions == (Condition(BANK_MSB, 0, 0), Condition(BANK_LSB, 4, 4), Condition(PROGRAM, 40, 40))
    assert BY_ID["mute-on"].switches == (Switch(SWITCH_PROGRAM, 40, 0, PROGRAM, 0, 0, bank_msb=0, bank_lsb=4),)
    assert BY_ID["mute-on"].resets == (EVERY.memories.index("bow"),)
    assert BY_ID["mute-on"].acts_on_sounding


def test_a_toggle_is_off_for_all_that_do_not_name_it() -> None:
    assert BY_ID["one"].conditions == (Condition(DESK, 1, 1), Condition(CHANNEL, -1, -1))
    assert BY_ID["one"].switches == (Switch(SWITCH_KEY, 21, 100, DESK, 10, 20, HOLD_NO, toggle=True),)
    assert BY_ID["all"].conditions == (Condition(DESK, 0, 0), Condition(CHANNEL, -1, -1))
    assert BY_ID["all"].switches == ()
    assert EVERY.toggles == {21: DESK}


def test_a_toggle_that_its_default_names_is_the_same() -> None:
    made = violins(
        change={"mute-off": {"triggers": [{"keyswitch": 30, "toggle": True}]}, "mute-on": {"triggers": [{"keyswitch": 30, "toggle": True}]}}
    )
    off, on = compile_map(as_map(made)).entries[3:]
    assert [c.low for c in off.conditions + on.conditions] == [0, 1]
    assert (off.switches, len(on.switches)) == ((), 1)


def test_a_channel_of_its_own_and_the_tracks_own() -> None:
    assert BY_ID["half"].channel == 11
    assert BY_ID["half"].conditions == (Condition(DESK, 0, 0), Condition(CHANNEL, 11, 11))
    assert all(c.register != CHANNEL for c in BY_ID["bowed"].conditions), "other memories do not care"


def test_a_track_label_is_kept_and_is_no_condition() -> None:
    assert (BY_ID["far"].track, BY_ID["half"].track) == ("far hall", "")


def test_velocity_bands_hold_the_loudness() -> None:
    short = BY_ID["short"]
    assert Condition(VELOCITY, 1, 100) in short.conditions
    assert (min(BY_ID["short-up"].loudness.velocity), max(short.loudness.velocity)) == (109, 79)
    # Level 0 is velocity 40 of 1-127: 1 + 39 * 99 / 126 = 31.6 of the band 1-100, 101 + 39 * 26 / 126 = 109.0 of the other.
    assert (short.loudness.velocity[0], short.loudness.velocity[1000]) == (32, 79)
    assert all(101 <= velocity <= 127 for velocity in BY_ID["short-up"].loudness.velocity)


def test_alternates_name_themselves_first_and_needs_and_marks_become_numbers() -> None:
    assert BY_ID["short"].alternates == (BY_ID["short"].index, BY_ID["short-up"].index)
    assert BY_ID["shaken"].needs == (BY_ID["senza"].index,)
    assert BY_ID["short"].plays == (mask("staccato"), mask("spiccato"))
    assert BY_ID["trilled"].plays == (mask("trill half"), mask("trill whole")), "trill stands for both intervals"
    assert EVERY.stand_ins[0] == (BIT["sautillé"], (BIT["spiccato"], BIT["staccato"]))


def test_ranges_conditions_and_lengths() -> None:
    short, plucked, bowed = BY_ID["short"], BY_ID["plucked"], BY_ID["bowed"]
    assert (bowed.lowest, bowed.highest, plucked.lowest, plucked.highest) == (55, 100, 55, 96)
    assert (short.when_ms, short.when_keys, short.length_scale, short.at_most_ms) == ((0, 400), (0, NO_LIMIT), 900, 250)
    assert (bowed.lead_first_ms, bowed.lead_connected_ms, short.lead_first_ms, short.lead_connected_ms) == (90, 40, 15, 15)
    assert (bowed.gap_ms, bowed.voices, BY_ID["slurred"].voices, BY_ID["slurred"].overlap_ms) == (20, 0, 1, 60)


def test_at_the_start_every_default_is_on_and_nothing_else_is_known() -> None:
    known = {register: value for register, value in enumerate(EVERY.start) if value != -1 and not HELD <= register < PROGRAM}
    assert known == {BOW: C0, DESK: 0, PROGRAM: 40, BANK_MSB: 0, BANK_LSB: 3, CONTROLLER + 20: 79}
    assert set(EVERY.start[HELD:PROGRAM]) == {0}, "all keys are up"
    assert len(EVERY.start) == EVERY.registers == FIRST_FREE + 3


def test_each_memory_knows_its_registers() -> None:
    assert EVERY.memory_registers == (
        (BOW, PAGE) if False else (HELD + 27, HELD + 28, BOW, PAGE),
        (PROGRAM, BANK_MSB, BANK_LSB),
        (20,),
        (DESK,),
    )


def test_shifted_articulations_are_told_apart_by_the_key_that_is_sent() -> None:
    sampler = compile_map(as_map(violins({"id": "high", "plays": [["flautando"]], "triggers": [{"shift": 24}]}, key_offset=-12,
                                         range={"lowest": 60, "highest": 80})))  # fmt: skip
    assert sampler.entries[5].shift == 24
    assert Condition(KEY, 72, 92) in sampler.entries[5].conditions
    assert Condition(KEY, 48, 68) in sampler.entries[0].conditions, "sounding keys less twelve"
    assert all(c.register != KEY for c in sampler.entries[3].conditions)


def test_strikes_have_keys() -> None:
    drum = {"id": "side", "strike": "drum.snare-drum", "key": 38, "rings": True, "damp": 20}
    entry = compile_map(as_map(violins(drum))).entries[5]
    assert (entry.strike, entry.strike_key, entry.damp, entry.rings) == ("drum.snare-drum", 38, 20, True)
    assert entry.conditions == (Condition(KEY, 38, 38),)


@pytest.mark.parametrize(("points", "level", "value"), [
    # Points [[0, 8], [500, 64], [1000, 127]]: p, mp, f -> 50, 64, 96 (levels 3/8, 4/8, 6/8)
    ([[0, 8], [500, 64], [1000, 127]], 375, 50),
    ([[0, 8], [500, 64], [1000, 127]], 500, 64),
    ([[0, 8], [500, 64], [1000, 127]], 750, 96),
    ([[0, 0], [1000, 1]], 499, 0),
    ([[0, 0], [1000, 1]], 500, 1),
    ([[0, 1], [1000, 0]], 500, 1),
    ([[200, 10], [800, 20]], 0, 10),
    ([[200, 10], [800, 20]], 1000, 20),
    ([[300, 77]], 1000, 77),
])  # fmt: skip
def test_loudness_is_linear_between_points_and_constant_outside_half_up(points: list[list[int]], level: int, value: int) -> None:
    table = interpolated(tuple((a, b) for a, b in points))
    assert len(table) == 1001
    assert table[level] == value


def by(**fields: Any) -> Any:
    return compile_map(as_map(VIOLINS | {"loudness": fields})).entries[0].loudness


def test_velocity_zero_would_be_a_note_off() -> None:
    assert by(by="velocity", points=[[0, 0], [1000, 127]]).velocity[:8] == (1, 1, 1, 1, 1, 1, 1, 1)


def test_the_three_ways_of_loudness() -> None:
    velocity = by(by="velocity", points=[[0, 1], [1000, 127]])
    assert (velocity.by, velocity.velocity[750], velocity.controller, velocity.value, velocity.silence) == ("velocity", 96, -1, (), -1)
    controller = by(by="controller", controller=1, points=[[0, 0], [1000, 127]], velocity=90, silence=11)
    assert (controller.controller, controller.value[1000], set(controller.velocity), controller.silence) == (1, 127, {90}, 11)
    both = by(by="both", controller=1, points=[[0, 0], [1000, 127]], velocity_points=[[0, 20], [1000, 40]])
    assert (both.value[1000], both.velocity[0], both.velocity[1000]) == (127, 20, 40)
    assert set(by(by="both", controller=1, points=[[0, 0], [1000, 127]], velocity=70).velocity) == {70}
    assert by(by="both", controller=1, points=[[0, 10], [1000, 90]]).velocity[1000] == 90


def test_entries_without_loudness_of_their_own_share_the_maps() -> None:
    sampler = compile_map(as_map(violins(change={"short": {"loudness": {"by": "velocity", "points": [[0, 1], [1000, 90]]}}})))
    assert [entry.loudness is sampler.loudness for entry in sampler.entries] == [True, True, False, True, True]


def test_what_does_not_resolve_is_refused() -> None:
    with pytest.raises(Refused) as refusal:
        compile_map(as_map(violins(change={"short": {"memory": "bw", "with": ["mute-onn"]}})))
    assert [found.code for found in refusal.value.problems] == ["memory-unknown", "articulation-unknown"]


@pytest.mark.parametrize(("middle_c", "key"), [("C3", 36), ("C4", 24), ("C5", 12)])
def test_c1_is_read_in_the_maps_octaves(middle_c: str, key: int) -> None:
    made = violins(middle_c=middle_c, change={"bowed": {"triggers": [{"keyswitch": "C1"}]}})
    assert compile_map(as_map(made)).entries[0].switches[0].number == key
    order = dict(sorted(made.items()))  # the convention is known whatever the order of the fields
    assert json.dumps(order).index("articulations") < json.dumps(order).index("middle_c")
    assert compile_map(as_map(order)).entries[0].switches[0].number == key
