"""Built-in maps: what a part gets when no map is given, and what it plays on."""

from __future__ import annotations

import pytest

from rendering.maps.checks import check
from rendering.maps.compile import compile_map
from rendering.maps.general_midi import (
    DRUM_SET,
    FAMILY_OF,
    drum_key,
    drums,
    general_midi,
    general_midi_for,
    program_of,
)
from rendering.maps.table import KEY, SWITCH_PROGRAM, Condition, Sampler
from rendering.marks import mask


def programs(sampler: Sampler) -> dict[str, int]:
    return {entry.id: switch.number for entry in sampler.entries for switch in entry.switches if switch.kind == SWITCH_PROGRAM}


@pytest.mark.parametrize(("sound", "name", "program", "expected", "guessed"), [
    ("strings.violin", "Trumpet", 5, "Violin", False),  # the sound says more than the program or the name
    ("brass.trumpet.bflat", "", -1, "Trumpet", False),  # of the sound it belongs to
    ("", "Violin I", 41, "Viola", False),  # the program says more than the name
    ("", "Violini I", -1, "Violin", False),
    ("wind.reed.zurna", "", 68, "Oboe", False),
    ("wind.reed.zurna", "Zurna", -1, "Oboe", True),
    ("", "Zzz", -1, "Acoustic Grand Piano", True),
    ("", "", -1, "Acoustic Grand Piano", True),
    ("drum.timpani", "", -1, "Timpani", False),
    ("metal.triangle", "", -1, "drums", False),
    ("", "Becken", -1, "drums", False),
    ("metal.steel-drums", "", -1, "Steel Drums", False),
])  # fmt: skip
def test_by_sound_then_program_then_name_then_a_guess(sound: str, name: str, program: int, expected: str, guessed: bool) -> None:
    found = general_midi_for(sound, name, program)
    assert (found[0].name, found[1]) == (f"General MIDI: {expected}", guessed)


def test_parts_without_pitch_get_the_drum_map_whatever_they_say() -> None:
    assert general_midi_for("strings.violin", "Violin", 40, unpitched=True) == (drums(), False)
    assert drums().sound == DRUM_SET


@pytest.mark.parametrize("sound", ["strings.violin", "strings.viola", "strings.cello", "strings.contrabass", "strings.group"])
def test_bowed_strings_have_pizzicato_and_tremolo(sound: str) -> None:
    sampler = compile_map(general_midi_for(sound, "", -1)[0])
    assert programs(sampler) == {"ordinary": program_of(sound), "tremolo": 44, "pizzicato": 45}
    assert [entry.plays for entry in sampler.entries] == [(), (mask("tremolo"),), (mask("pizzicato"),)]


def test_a_trumpet_has_a_mute_that_stands_for_the_others() -> None:
    sampler = compile_map(general_midi_for("brass.trumpet", "", -1)[0])
    assert programs(sampler) == {"ordinary": 56, "muted": 59}
    assert sampler.entries[1].plays == (mask("con sordino"),)
    assert dict(sampler.stand_ins)[mask("straight mute").bit_length() - 1] == (mask("con sordino").bit_length() - 1,)


def test_other_instruments_have_their_program_alone() -> None:
    assert programs(compile_map(general_midi_for("brass.french-horn", "", -1)[0])) == {"ordinary": 60}


def test_at_the_start_the_ordinary_program_is_on() -> None:
    sampler = compile_map(general_midi(40, "strings.violin"))
    assert [sampler.entries[i].id for i in sampler.defaults] == ["ordinary"]
    assert sampler.bend_range == 2


def test_loudness_is_a_straight_line_of_velocities() -> None:
    velocity = compile_map(general_midi(0)).entries[0].loudness.velocity
    assert (velocity[0], velocity[1000]) == (1, 127)
    # SMF 1.0's worked example: forte is 96
    assert velocity[750] == 96
    # MusicXML 4.0: `dynamics` are percentages of 90, the default forte; as a level 100 % is 90 / 127
    assert velocity[(1000 * 90 + 63) // 127] == 90


def test_a_velocity_read_from_a_sketch_comes_out_as_it_went_in() -> None:
    line = compile_map(general_midi(0)).entries[0].loudness.velocity
    for velocity in range(1, 128):
        level = (2 * (velocity - 1) * 1000 + 126) // 252  # the inverse of [[0, 1], [1000, 127]], half up
        assert line[level] == velocity


def test_each_drum_is_a_strike_on_its_key() -> None:
    sampler = compile_map(drums())
    assert [entry.strike_key for entry in sampler.entries] == list(range(35, 82))
    assert all(entry.conditions == (Condition(KEY, entry.strike_key, entry.strike_key),) and entry.rings for entry in sampler.entries)
    by_key = {entry.strike_key: entry for entry in sampler.entries}
    assert (by_key[38].strike, by_key[38].plays) == ("drum.snare-drum", ())
    assert (by_key[37].strike, by_key[37].plays) == ("drum.snare-drum", (mask("cross-stick"),))
    assert (by_key[46].strike, by_key[46].plays) == ("metal.hi-hat", (mask("open"),))


@pytest.mark.parametrize(("sound", "key"), [
    ("drum.snare-drum", 38), ("drum.bass-drum", 35), ("metal.triangle", 81), ("metal.cymbal.suspended", 49), ("metal.hi-hat", 42),
    ("drum.conga", 63), ("wood.temple-block", 77), ("rattle.maraca", 70), ("drum.dhol", -1), ("strings.violin", -1), ("", -1),
])  # fmt: skip
def test_drum_keys_of_sounds(sound: str, key: int) -> None:
    assert drum_key(sound) == key


def test_every_built_in_map_is_sound() -> None:
    assert [found for program in range(128) for found in check(general_midi(program))] == []
    assert check(drums()) == []


def test_families_are_real_programs() -> None:
    assert all(0 <= program < 128 for program in FAMILY_OF.values())
