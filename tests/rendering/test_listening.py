"""What a simulated sampler reports beside the articulation: joins, changes, values, faults in the file."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rendering.codes import message, severity
from rendering.listening import Seat, hear_text, listen
from rendering.maps.table import BANK_LSB, BANK_MSB, HELD, KEY, PROGRAM, VELOCITY, Sampler
from rendering.midi import decode, encode
from tests.rendering.tapes import Tape, heard_of, ids, sampler

BOW = sampler([
    {"id": "bowed", "triggers": [{"keyswitch": 24}]},
    {"id": "slurred", "triggers": [{"keyswitch": 25}], "joins": True},
    {"id": "gliding", "triggers": [{"keyswitch": 26}], "joins": True},
])  # fmt: skip


@pytest.mark.parametrize(("tape", "joined"), [
    (Tape().tap(0, 25).note(10, 105, 60).note(100, 190, 62), [0, 1]),  # overlap
    (Tape().tap(0, 25).note(10, 100, 60).note(100, 190, 62), [0, 0]),  # no overlap: the off comes first
    (Tape().tap(0, 25).note(10, 99, 60).note(100, 190, 62), [0, 0]),
    (Tape().tap(0, 24).note(10, 105, 60).note(100, 190, 62), [0, 0]),  # this articulation does not join
    (Tape().tap(0, 25).note(10, 105, 60).tap(95, 26).note(100, 190, 62), [0, 0]),  # another one
    (Tape().tap(0, 24).note(10, 105, 60).tap(95, 25).note(100, 190, 62), [0, 0]),
    (Tape().tap(0, 25).note(10, 105, 60).note(10, 105, 64), [0, 0]),  # a chord begins together
    (Tape().tap(0, 25).note(10, 105, 60).note(100, 190, 62).note(100, 190, 65), [0, 1, 1]),  # and may be joined together
    (Tape().tap(0, 25).note(10, 300, 60).tap(15, 24).note(20, 105, 62).tap(95, 25).note(100, 190, 64), [0, 0, 1]),  # of three voices
    (Tape().tap(0, 25).note(10, 300, 60).tap(15, 24).note(20, 95, 62).tap(96, 25).note(100, 190, 64), [0, 0, 1]),
])  # fmt: skip
def test_joined(tape: Tape, joined: list[int]) -> None:
    assert heard_of(BOW, tape).joined == joined


MUTES = sampler([
    {"id": "open", "memory": "mute", "triggers": [{"controller": 20, "value": 0}], "acts_on": "sounding"},
    {"id": "muted", "memory": "mute", "triggers": [{"controller": 20, "value": 127}], "acts_on": "sounding"},
    {"id": "half", "memory": "mute", "triggers": [{"controller": 20, "value": 64}]},
])  # fmt: skip


@pytest.mark.parametrize(("tape", "changes"), [
    (Tape().controller(0, 20, 0).on(10, 60).controller(50, 20, 127).off(90, 60), [(0, 50, 0, 1)]),
    (Tape().controller(0, 20, 0).note(10, 90, 60).controller(90, 20, 127).note(90, 100, 60), []),  # after the off: in time
    (Tape().controller(0, 20, 0).on(10, 60).controller(90, 20, 127).off(90, 60), [(0, 90, 0, 1)]),  # before it: not
    (Tape().controller(0, 20, 0).on(10, 60).controller(50, 20, 64).off(90, 60), []),  # acts on the next note only
    (Tape().controller(0, 20, 0).on(10, 60).controller(50, 20, 127).controller(50, 20, 0).off(90, 60), []),  # taken back at once
    (Tape().controller(0, 20, 0).on(10, 60).controller(50, 20, 127).controller(60, 20, 0).off(90, 60), [(0, 50, 0, 1), (0, 60, 1, 0)]),
    (Tape().controller(0, 20, 0).on(10, 60).on(20, 64).controller(50, 20, 127).off(90, 60).off(91, 64), [(0, 50, 0, 1), (1, 50, 0, 1)]),
    (Tape().controller(0, 20, 0).on(10, 60).controller(95, 20, 127), [(0, 95, 0, 1)]),  # stuck, and changed at the end
])  # fmt: skip
def test_an_articulation_that_acts_on_sounding_notes_changes_them(tape: Tape, changes: list[tuple[int, int, int, int]]) -> None:
    assert [(c.row, c.tick, c.before, c.after) for c in heard_of(MUTES, tape).changes] == changes


@pytest.mark.parametrize(("tape", "kind", "sentence"), [
    (Tape(3).on(10, 60), "error", "track 1: key 60 on channel 4, down at tick 10, never comes up – it sounds to the end of the track"),
    (Tape(3).on(10, 24), "error", "track 1: key 24 on channel 4, down at tick 10, never comes up – it sounds to the end of the track"),
    (Tape(3).off(10, 60), "warning", "track 1: key 60 on channel 4 comes up at tick 10 and was not down – nothing ends"),
    (Tape(3).off(10, 24), "warning", "track 1: key 24 on channel 4 comes up at tick 10 and was not down – nothing ends"),
    (Tape(3).note(10, 10, 60), "error", "track 1: key 60 on channel 4 comes up at tick 10, at which it went down – the note has no length"),
    (Tape(3).note(10, 10, 24), "error", "track 1: key 24 on channel 4 comes up at tick 10, at which it went down – the note has no length"),
    (Tape(3).on(10, 60).note(20, 30, 60), "error",
     "track 1: key 60 on channel 4 goes down at tick 20 and was down already – the earlier note ends there"),
    (Tape(3).on(10, 24).note(20, 30, 24), "error",
     "track 1: key 24 on channel 4 goes down at tick 20 and was down already – the earlier note ends there"),
    (Tape(5).note(10, 20, 60).note(20, 30, 60), "warning",
     "track 1: 2 notes on port 1, channel 6, which no map belongs to – they were not listened to"),
])  # fmt: skip
def test_faults_of_the_file(tape: Tape, kind: str, sentence: str) -> None:
    (found,) = heard_of(BOW, tape, seats=[Seat(BOW, 3)]).problems
    assert (severity(found), message(found)) == (kind, sentence)


def test_ends_of_faulty_notes() -> None:
    assert heard_of(BOW, Tape().on(10, 60)).off == [110]  # the tape runs on for a hundred ticks
    assert heard_of(BOW, Tape().on(10, 60).note(20, 30, 60)).off == [20, 30]
    assert heard_of(BOW, Tape().note(10, 10, 60)).off == [10]


def test_a_note_on_of_velocity_0_is_a_note_off() -> None:
    """MIDI 1.0: 9n kk 00 is a note-off."""
    heard = heard_of(BOW, Tape().on(0, 24).on(5, 24, 0).on(10, 60).on(90, 60, 0))
    assert (ids(heard), heard.off, heard.problems) == (["bowed"], [90], [])


def test_columns() -> None:
    table = sampler([
        {"id": "long"},
        {"id": "short", "triggers": [{"keyswitch": 24}], "loudness": {"by": "both", "controller": 11, "points": [[0, 0], [1000, 127]]}},
    ])  # fmt: skip
    tape = Tape(2, 1).note(0, 90, 60, 33).controller(95, 1, 40).note(100, 190, 62).controller(195, 11, 50).controller(199, 7, 3)
    heard = heard_of(table, tape.note(200, 290, 64).controller(295, 1, 41).note(300, 390, 65), seats=[Seat(BOW, 2), Seat(table, 2, 1)])
    assert (heard.seat, heard.track, heard.port, heard.channel) == ([1] * 4, [0] * 4, [1] * 4, [2] * 4)
    assert (heard.on, heard.off, heard.key) == ([0, 100, 200, 300], [90, 190, 290, 390], [60, 62, 64, 65])
    assert (heard.sounding, heard.velocity, heard.joined) == ([60, 62, 64, 65], [33, 96, 96, 96], [0] * 4)
    assert heard.controllers == [(1,), (1, 11)]
    assert heard.level == [(-1, -1), (40, -1), (40, 50), (41, 50)]
    assert heard.spans == {(1, 2): (0, 4)}
    assert [heard.entries(row) for row in range(len(heard))] == [(0,)] * 4


def test_reset_all_controllers_and_all_notes_off() -> None:
    """121 and 123: MIDI 1.0; which controllers 121 resets: RP-015 (from memory)."""
    tape = Tape().tap(0, 24).controller(5, 1, 90).on(10, 60).on(12, 64).controller(50, 123, 0).controller(60, 121, 0).note(70, 80, 60)
    heard = heard_of(BOW, tape)
    assert (heard.off, heard.level, heard.problems) == ([50, 50, 80], [(90,), (90,), (0,)], [])


def test_tracks_that_share_a_channel_are_heard_together() -> None:
    switches, notes, tail = Tape().tap(0, 25).tap(95, 24), Tape().note(10, 105, 60).note(200, 290, 60), Tape().note(80, 190, 62)
    heard = heard_of(BOW, switches, notes, tail)
    assert (ids(heard), heard.joined, heard.track) == (["slurred", "slurred", "bowed"], [0, 1, 0], [1, 2, 1])


def test_a_track_of_several_channels_is_heard_by_each_seat() -> None:
    both = Tape(0).tap(0, 24).note(10, 90, 60)
    both.channel = 1
    both.tap(0, 26).note(10, 90, 67)
    heard = heard_of(BOW, both, seats=[Seat(BOW, 1), Seat(BOW, 0)])
    assert (ids(heard), heard.seat, heard.channel, heard.key) == (["bowed", "gliding"], [1, 0], [0, 1], [60, 67])


def test_two_seats_in_one_place_are_refused() -> None:
    chosen = sampler([{"id": "long"}, {"id": "short", "triggers": [{"channel": 3}]}])
    with pytest.raises(ValueError, match=r"^two seats hear port 0, channel 2$"):
        listen([], [Seat(chosen, 0), Seat(BOW, 2)])


def test_the_list_of_what_is_heard() -> None:
    table = sampler([
        {"id": "bowed", "name": "Bowed", "triggers": [{"keyswitch": 24}]},
        {"id": "slurred", "name": "Slurred", "triggers": [{"keyswitch": 25}], "joins": True},
        {"id": "a", "memory": "mute", "name": "Open", "triggers": [{"controller": 20, "value": [0, 9]}], "acts_on": "sounding"},
        {"id": "b", "memory": "mute", "name": "Muted", "triggers": [{"controller": 20, "value": [8, 20]}]},
    ])  # fmt: skip
    tape = Tape(1).note(0, 9, 59).tap(10, 25).controller(10, 20, 8).note(20, 105, 60).controller(50, 20, 3).note(100, 190, 61, 1)
    seats = [Seat(table, 1)]
    assert hear_text(heard_of(table, tape, seats=seats), "C3") == (
        "C3 = key 60; ticks as sent\n"
        "0-9 port 1 channel 2 B2 velocity 96 bow: nothing, mute: nothing\n"
        "20-105 port 1 channel 2 C3 velocity 96 bow: Slurred, mute: two at once, mute changes at 50 to Open\n"
        "100-190 port 1 channel 2 C#3 velocity 1 bow: Slurred, mute: Open, joined\n"
    )
    assert hear_text(heard_of(table)) == "C4 = key 60; ticks as sent\nno notes\n"


MIXED = sampler([
    {"id": "a", "triggers": [{"keyswitch": 1}, {"keyswitch": 4}], "together": True},
    {"id": "b", "triggers": [{"keyswitch": 2}, {"keyswitch": 4}], "together": True},
    {"id": "c", "triggers": [{"keyswitch": 2}, {"keyswitch": 5}], "together": True},
    {"id": "d", "triggers": [{"keyswitch": 6, "hold": "note-on"}]},
    {"id": "e", "memory": "touch", "triggers": [{"velocities": [1, 64]}]},
    {"id": "f", "memory": "touch", "triggers": [{"velocities": [60, 127]}]},
    {"id": "g", "memory": "touch", "triggers": [{"velocities": [60, 127]}, {"keyswitch": 3, "toggle": True}]},
    {"id": "h", "memory": "zone", "range": {"lowest": 40, "highest": 51}},
    {"id": "i", "memory": "zone", "triggers": [{"shift": 12}], "range": {"lowest": 40, "highest": 51}},
    {"id": "j", "memory": "zone", "triggers": [{"shift": 24}, {"controller": 20, "value": [3, 9]}], "range": {"lowest": 35, "highest": 45}},
    {"id": "k", "memory": "bank", "triggers": [{"program": 1}]},
    {"id": "l", "memory": "bank", "triggers": [{"program": 1, "bank_lsb": 2}]},
])  # fmt: skip


def plainly_heard(table: Sampler, events: list[int]) -> list[tuple[int, ...]]:
    """Return what a listener hears that asks every condition anew at every note-on."""
    state = [-1] * table.registers
    state[HELD : HELD + 128] = [0] * 128
    for register in table.toggles.values():
        state[register] = 0
    heard = []
    for event in events:
        status, first, second = event >> 20 & 15, event >> 8 & 127, event & 127
        if status == 11:
            state[first] = second
        elif status == 12:
            state[PROGRAM], state[BANK_MSB], state[BANK_LSB] = first, state[0], state[32]
        elif first in table.held:
            state[HELD + first] = int(status == 9)
        elif status == 9 and first in table.toggles:
            state[table.toggles[first]] ^= 1
        elif status == 9 and first in table.latches:
            for register in table.latches[first]:
                state[register] = first
                for cleared in table.clears.get(register, ()):
                    state[cleared] = -1
        elif status == 9 and first >= 24:
            state[KEY], state[VELOCITY] = first, second
            heard.append(tuple(chosen(table, memory, state) for memory in range(len(table.memories))))
    return heard


def chosen(table: Sampler, memory: int, state: list[int]) -> int:
    holding = [e for e in table.entries if e.memory == memory and all(low <= state[r] <= high for r, low, high in e.conditions)]
    best = max((e.weight for e in holding), default=0)
    found = [e.index for e in holding if e.weight == best]
    return found[0] if len(found) == 1 else -2 if found else -1


EVENTS = st.one_of(
    st.tuples(st.sampled_from([0x90, 0x80]), st.integers(1, 6), st.just(100)),
    st.tuples(st.sampled_from([0x90, 0x80]), st.integers(24, 90), st.integers(1, 127)),
    st.tuples(st.just(0xB0), st.sampled_from([0, 1, 20, 32]), st.integers(0, 10)),
    st.tuples(st.just(0xC0), st.integers(0, 2), st.just(0)),
)


@settings(max_examples=200, deadline=None)
@given(st.lists(EVENTS, max_size=40))
def test_answers_kept_for_speed_are_those_of_a_plain_listener(messages: list[tuple[int, int, int]]) -> None:
    events = [encode.event(10 * i, 0, *words) for i, words in enumerate(messages)]
    file = decode.read(encode.file([encode.track(events, [], 0, 0)], 960))
    heard = listen(file.tracks, [Seat(MIXED, 0)])
    assert [heard.entries(row) for row in range(len(heard))] == plainly_heard(MIXED, events)
