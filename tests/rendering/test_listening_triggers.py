"""Each kind of trigger as a simulated sampler hears it, on hand-written MIDI, with a fault planted beside it."""

from __future__ import annotations

from rendering.listening import Seat
from tests.rendering.tapes import Tape, heard_of, ids, sampler

BOW = sampler([
    {"id": "bowed", "triggers": [{"keyswitch": 24}]},
    {"id": "slurred", "triggers": [{"keyswitch": 25}], "joins": True},
    {"id": "plucked", "triggers": [{"keyswitch": 26}]},
])  # fmt: skip


def test_nothing_is_known_before_the_first_switch() -> None:
    tape = Tape().note(0, 90, 60).tap(95, 24).note(100, 190, 60)
    assert ids(heard_of(BOW, tape)) == ["-", "bowed"]
    assert ids(heard_of(BOW, tape, from_defaults=True)) == ["bowed", "bowed"]


def test_a_latched_key_stays_after_it_has_come_up() -> None:
    tape = Tape().tap(0, 26).note(10, 90, 60).note(100, 190, 62).tap(195, 24).note(200, 290, 60)
    assert ids(heard_of(BOW, tape)) == ["plucked", "plucked", "bowed"]


def test_a_switch_at_the_tick_of_its_note_must_come_first() -> None:
    assert ids(heard_of(BOW, Tape().tap(0, 24).tap(50, 26).note(50, 90, 60))) == ["plucked"]
    assert ids(heard_of(BOW, Tape().tap(0, 24).note(50, 90, 60).tap(50, 26))) == ["bowed"]


def test_a_switch_that_is_missing_leaves_the_articulation_before() -> None:
    assert ids(heard_of(BOW, Tape().tap(0, 24).note(50, 90, 60).tap(95, 26).note(100, 190, 60))) == ["bowed", "plucked"]
    assert ids(heard_of(BOW, Tape().tap(0, 24).note(50, 90, 60).note(100, 190, 60))) == ["bowed", "bowed"]


def test_switch_keys_never_sound() -> None:
    heard = heard_of(BOW, Tape().tap(0, 24).tap(10, 25).tap(20, 26))
    assert (len(heard), heard.problems) == (0, [])


PAGED = sampler([
    {"id": "long", "triggers": [{"keyswitch": 12}, {"keyswitch": 24}], "together": True},
    {"id": "short", "triggers": [{"keyswitch": 12}, {"keyswitch": 25}], "together": True},
    {"id": "muted-long", "triggers": [{"keyswitch": 13}, {"keyswitch": 24}], "together": True},
    {"id": "muted-short", "triggers": [{"keyswitch": 13}, {"keyswitch": 25}], "together": True},
])  # fmt: skip


def test_paged_switches_are_heard_in_their_order_only() -> None:
    assert ids(heard_of(PAGED, Tape().tap(0, 13).tap(10, 25).note(20, 90, 60))) == ["muted-short"]
    assert ids(heard_of(PAGED, Tape().tap(0, 25).tap(10, 13).note(20, 90, 60))) == ["-"]  # the page forgets its switch
    tape = Tape().tap(0, 12).tap(10, 24).note(20, 90, 60).tap(95, 25).note(100, 190, 60).tap(195, 13).note(200, 290, 60)
    assert ids(heard_of(PAGED, tape)) == ["long", "short", "-"]


def test_independent_memories_are_heard_together() -> None:
    table = sampler([
        {"id": "bowed", "triggers": [{"keyswitch": 24}]},
        {"id": "plucked", "triggers": [{"keyswitch": 25}]},
        {"id": "open", "memory": "mute", "triggers": [{"controller": 20, "value": 0}]},
        {"id": "muted", "memory": "mute", "triggers": [{"controller": 20, "value": 127}]},
    ])  # fmt: skip
    tape = Tape().tap(0, 24).controller(0, 20, 0).note(10, 90, 60).controller(95, 20, 127).note(100, 190, 60)
    assert ids(heard_of(table, tape.tap(195, 25).note(200, 290, 60))) == ["bowed+open", "bowed+muted", "plucked+muted"]


HELD = sampler([
    {"id": "bowed", "triggers": [{"keyswitch": 24}]},
    {"id": "plucked", "triggers": [{"keyswitch": 25}]},
    {"id": "accented", "triggers": [{"keyswitch": 30, "hold": "note-on"}]},
    {"id": "trill", "triggers": [{"keyswitch": 31, "hold": "note"}]},
])  # fmt: skip


def test_a_held_key_beats_a_latched_one_while_it_is_down() -> None:
    tape = Tape().tap(0, 25).note(20, 290, 31).note(30, 280, 60).note(300, 390, 60)
    heard = heard_of(HELD, tape)
    assert (ids(heard), heard.changes) == (["trill", "plucked"], [])
    assert ids(heard_of(HELD, Tape().tap(0, 25).note(20, 29, 31).note(30, 280, 60))) == ["plucked"]  # up too early


def test_a_key_held_through_the_note_must_not_come_up_before_it() -> None:
    heard = heard_of(HELD, Tape().tap(0, 25).note(20, 200, 31).note(30, 280, 60))
    (change,) = heard.changes
    entries = [e.id for e in heard.seats[0].sampler.entries]
    assert (change.row, change.tick, change.memory, entries[change.before], entries[change.after]) == (0, 200, 0, "trill", "plucked")


def test_a_key_held_through_the_note_may_come_up_at_its_end_after_it() -> None:
    held = Tape().tap(0, 25).on(20, 31).note(30, 280, 60)
    assert heard_of(HELD, held.off(280, 31)).changes == []
    early = Tape().tap(0, 25).on(20, 31).on(30, 60).off(280, 31).off(280, 60)  # up before the note's off, at its tick
    assert [c.tick for c in heard_of(HELD, early).changes] == [280]


def test_a_key_held_at_the_note_on_may_come_up_in_the_note() -> None:
    heard = heard_of(HELD, Tape().tap(0, 25).note(20, 40, 30).note(30, 280, 60))
    assert (ids(heard), heard.changes) == (["accented"], [])


def test_a_key_let_go_and_pressed_again_at_one_tick_changes_nothing() -> None:
    tape = Tape().on(20, 31).on(30, 60).off(100, 31).on(100, 31).off(280, 60).off(280, 31)
    assert heard_of(HELD, tape).changes == []


TOGGLED = sampler([
    {"id": "open", "memory": "mute"},
    {"id": "muted", "memory": "mute", "triggers": [{"keyswitch": 28, "toggle": True}]},
])  # fmt: skip


def test_a_toggle_flips_with_every_press_and_is_off_at_first() -> None:
    tape = Tape().note(0, 90, 60).tap(95, 28).note(100, 190, 60).note(200, 290, 60).tap(295, 28).note(300, 390, 60)
    assert ids(heard_of(TOGGLED, tape)) == ["open", "muted", "muted", "open"]
    again = Tape().tap(0, 28).tap(10, 28).note(20, 90, 60)  # pressed once too often
    assert ids(heard_of(TOGGLED, again)) == ["open"]


BANDS = sampler([
    {"id": "long", "triggers": [{"controller": 32, "value": [0, 63]}]},
    {"id": "short", "triggers": [{"controller": 32, "value": [64, 127]}]},
])  # fmt: skip


def test_a_controller_is_heard_anywhere_in_its_band() -> None:
    tape = Tape()
    for i, value in enumerate((0, 63, 64, 127)):
        tape.controller(100 * i, 32, value).note(100 * i, 100 * i + 90, 60)
    assert ids(heard_of(BANDS, tape)) == ["long", "long", "short", "short"]


PROGRAMS = sampler([
    {"id": "arco", "triggers": [{"program": 40, "bank_msb": 0, "bank_lsb": 3}]},
    {"id": "pizzicato", "triggers": [{"program": 45, "bank_msb": 0, "bank_lsb": 3}]},
    {"id": "other-bank", "triggers": [{"program": 40, "bank_msb": 0, "bank_lsb": 4}]},
])  # fmt: skip


def test_a_program_takes_the_bank_that_stands_when_it_comes() -> None:
    """MIDI 1.0: bank select acts at the next program change (from memory)."""
    start = Tape().controller(0, 0, 0).controller(0, 32, 3).program(0, 40).note(10, 90, 60)
    tape = start.program(95, 45).note(100, 190, 60).controller(195, 32, 4).note(200, 290, 60).program(295, 40).note(300, 390, 60)
    assert ids(heard_of(PROGRAMS, tape)) == ["arco", "pizzicato", "pizzicato", "other-bank"]
    late = Tape().controller(0, 0, 0).program(0, 40).controller(0, 32, 3).note(10, 90, 60)  # bank after its program
    assert ids(heard_of(PROGRAMS, late)) == ["-"]


def test_velocity_bands_and_loudness_in_them() -> None:
    table = sampler(
        [{"id": "soft-tongue", "triggers": [{"velocities": [1, 64]}]}, {"id": "hard-tongue", "triggers": [{"velocities": [65, 127]}]}]
    )
    tape = Tape()
    for i, velocity in enumerate((1, 64, 65, 127)):
        tape.note(100 * i, 100 * i + 90, 60, velocity)
    heard = heard_of(table, tape)
    assert (ids(heard), heard.velocity) == (["soft-tongue", "soft-tongue", "hard-tongue", "hard-tongue"], [1, 64, 65, 127])


CHANNELS = sampler([
    {"id": "long", "triggers": []},
    {"id": "short", "triggers": [{"channel": 3}]},
    {"id": "muted-short", "triggers": [{"channel": 4}, {"keyswitch": 24}]},
    {"id": "bare-short", "triggers": [{"channel": 4}, {"keyswitch": 25}]},
])  # fmt: skip


def test_channels_select_and_remember_each_for_itself() -> None:
    own = Tape(channel=8).tap(0, 24).note(10, 90, 60)
    third = Tape(channel=2).note(100, 190, 60)
    fourth = Tape(channel=3).note(200, 290, 60).tap(295, 25).note(300, 390, 60)
    heard = heard_of(CHANNELS, own, third, fourth, seats=[Seat(CHANNELS, 8)])
    assert ids(heard) == ["long", "short", "-", "bare-short"]
    assert heard.channel == [8, 2, 3, 3]
    assert heard.spans == {(0, 8): (0, 1), (0, 2): (1, 2), (0, 3): (2, 4)}


def test_a_shift_selects_a_zone_and_is_taken_off_the_key() -> None:
    zones = [
        {"id": "long", "range": {"lowest": 40, "highest": 59}},
        {"id": "short", "triggers": [{"shift": 24}], "range": {"lowest": 40, "highest": 59}},
    ]
    table = sampler(zones, key_offset=12, range={"lowest": 40, "highest": 59})
    heard = heard_of(table, Tape().note(0, 90, 52).note(100, 190, 71).note(200, 290, 76).note(300, 390, 95).note(400, 490, 51))
    assert ids(heard) == ["long", "long", "short", "short", "-"]
    assert heard.sounding == [40, 59, 40, 59, 39]


def test_a_map_sounds_lower_than_sent_by_its_key_offset() -> None:
    """Contrabass: sounding 36 is sent as 48."""
    heard = heard_of(sampler([{"id": "long"}], key_offset=12), Tape().note(0, 90, 48))
    assert (heard.key, heard.sounding) == ([48], [36])


def test_strikes_are_known_by_their_keys_and_damps_do_not_sound() -> None:
    kit = sampler([
        {"id": "crash", "strike": "metal.cymbal.crash", "key": 49, "rings": True, "damp": 50},
        {"id": "ride", "strike": "metal.cymbal.ride", "key": 51, "damp": 44},
        {"id": "pedal-hat", "strike": "metal.hi-hat", "key": 44},
    ])  # fmt: skip
    heard = heard_of(kit, Tape(9).note(0, 90, 49).note(100, 190, 50).note(200, 290, 44).note(300, 390, 47), seats=[Seat(kit, 9)])
    assert (ids(heard), heard.sounding) == (["crash", "pedal-hat", "-"], [49, 44, 47])
    assert [(d.tick, d.channel, d.key) for d in heard.damps] == [(100, 9, 50)]


def test_entries_of_another_track_are_heard_there_and_only_there() -> None:
    table = sampler([
        {"id": "long"},
        {"id": "short", "triggers": [{"track": "shorts"}]},
        {"id": "open", "memory": "mute", "triggers": [{"keyswitch": 24}]},
        {"id": "muted", "memory": "mute", "triggers": [{"keyswitch": 25}]},
    ])  # fmt: skip
    tapes = [Tape(0).tap(0, 24).note(10, 90, 60), Tape(1).tap(0, 25).note(10, 90, 60)]
    assert ids(heard_of(table, *tapes, seats=[Seat(table, 0), Seat(table, 1, 0, "shorts")])) == ["long+open", "short+muted"]


def test_two_equal_rivals_are_no_answer() -> None:
    table = sampler(
        [{"id": "a", "triggers": [{"controller": 20, "value": [0, 70]}]}, {"id": "b", "triggers": [{"controller": 20, "value": [60, 127]}]}]
    )
    tape = Tape().controller(0, 20, 50).note(0, 90, 60).controller(95, 20, 65).note(100, 190, 60).controller(195, 20, 75).note(200, 290, 60)
    assert ids(heard_of(table, tape)) == ["a", "?", "b"]


RESETTING = sampler([
    {"id": "arco", "triggers": [{"program": 40}], "resets": ["mute"]},
    {"id": "pizzicato", "triggers": [{"program": 45}], "resets": ["mute"]},
    {"id": "open", "memory": "mute", "triggers": [{"keyswitch": 24}]},
    {"id": "muted", "memory": "mute", "triggers": [{"keyswitch": 25}]},
])  # fmt: skip


def test_a_program_puts_other_memories_back_even_when_it_is_sent_again() -> None:
    tape = Tape().program(0, 40).note(10, 90, 60).tap(95, 25).note(100, 190, 60).program(195, 45).note(200, 290, 60)
    tape.tap(295, 25).program(299, 45).note(300, 390, 60).tap(395, 25).note(400, 490, 60)
    assert ids(heard_of(RESETTING, tape)) == ["arco+open", "arco+muted", "pizzicato+open", "pizzicato+open", "pizzicato+muted"]
