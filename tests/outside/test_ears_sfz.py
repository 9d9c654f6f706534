"""A real sampler (sfizz, by pysfizz) plays our MIDI: the tone heard is the articulation chosen, for every note."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings

from rendering.listening import Seat, listen
from rendering.maps.compile import compile_map
from rendering.maps.document import ArticulationMap
from rendering.maps.table import Sampler
from rendering.midi import decode, encode
from rendering.tryout import tryout
from tests.outside.ears.sfz import HeardTone, Instrument, disagreements, play_sfz
from tests.outside.ears.tones import MOST
from tests.rendering.random_maps import maps
from tests.rendering.tapes import Tape, articulation_map, heard_of, ids, sampler


def tones_of(table: Sampler, tape: Tape) -> list[HeardTone]:
    return play_sfz(encode.file([tape.chunk()], 960), table, 0)


def heard(table: Sampler, tape: Tape) -> list[str]:
    """Return of each note the ids of the articulations whose tones are heard, memories joined by "+"."""
    return [
        "+".join(",".join(table.entries[e].id for e in sorted(tones)) or "-" for tones in note.entries) for note in tones_of(table, tape)
    ]


def test_every_tone_is_told_from_every_other() -> None:
    table = sampler([{"id": f"a{i}", "triggers": [{"controller": 20, "value": 2 * i}]} for i in range(MOST)])
    tape = Tape()
    for i in range(MOST):
        tape.controller(200 * i, 20, 2 * i).note(200 * i, 200 * i + 90, 60 + i % 12, 1 + i)
    assert heard(table, tape) == [f"a{i}" for i in range(MOST)]


BOW = sampler([
    {"id": "bowed", "triggers": [{"keyswitch": 24}]},
    {"id": "slurred", "triggers": [{"keyswitch": 25}], "joins": True},
    {"id": "plucked", "triggers": [{"keyswitch": 26}]},
], range={"lowest": 40, "highest": 100})  # fmt: skip
HELD = sampler([
    {"id": "bowed", "triggers": [{"keyswitch": 24}]},
    {"id": "plucked", "triggers": [{"keyswitch": 25}]},
    {"id": "trill", "triggers": [{"keyswitch": 31, "hold": "note"}]},
], range={"lowest": 40, "highest": 100})  # fmt: skip
MIXED = sampler([
    {"id": "bowed", "triggers": [{"keyswitch": 24}]},
    {"id": "plucked", "triggers": [{"keyswitch": 25}]},
    {"id": "open", "memory": "mute", "triggers": [{"controller": 20, "value": [0, 63]}]},
    {"id": "muted", "memory": "mute", "triggers": [{"controller": 20, "value": [64, 127]}]},
    {"id": "soft", "memory": "touch", "triggers": [{"velocities": [1, 64]}]},
    {"id": "hard", "memory": "touch", "triggers": [{"velocities": [65, 127]}]},
], range={"lowest": 40, "highest": 100})  # fmt: skip


@pytest.mark.parametrize(("table", "tape", "articulations"), [
    (BOW, Tape().note(0, 90, 60).tap(95, 26).note(200, 290, 60).tap(300, 24).note(400, 490, 62), ["-", "plucked", "bowed"]),
    (BOW, Tape().tap(0, 24).tap(200, 26).note(200, 290, 60), ["plucked"]),  # at one sample, the switch first
    (BOW, Tape().tap(0, 24).note(200, 290, 60).tap(200, 26), ["bowed"]),  # the note first: a planted fault is heard
    (BOW, Tape().tap(0, 24).note(200, 290, 60).note(400, 490, 60), ["bowed", "bowed"]),  # the switch is missing
    (HELD, Tape().tap(0, 25).note(100, 490, 31).note(200, 480, 60).note(600, 690, 60), ["trill", "plucked"]),
    (HELD, Tape().tap(0, 25).note(100, 190, 31).note(200, 480, 60), ["plucked"]),  # let go too early
    (MIXED, Tape().tap(0, 24).controller(0, 20, 0).note(100, 190, 60, 64).controller(200, 20, 127).note(300, 390, 60, 65)
     .tap(400, 25).note(500, 590, 60, 1), ["bowed+open+soft", "bowed+muted+hard", "plucked+muted+soft"]),
    (BOW, Tape().tap(0, 26).note(200, 290, 60).note(200, 290, 64).note(200, 290, 67), ["plucked"] * 3),  # a chord
])  # fmt: skip
def test_what_the_sampler_plays(table: Sampler, tape: Tape, articulations: list[str]) -> None:
    assert heard(table, tape) == articulations
    assert [name.replace("?", "-") for name in ids(heard_of(table, tape))] == articulations


@pytest.mark.parametrize(("tape", "joined"), [
    (Tape().tap(0, 25).note(100, 410, 60).note(400, 690, 62), [False, True]),
    (Tape().tap(0, 25).note(100, 400, 60).note(400, 690, 62), [False, False]),  # the overlap is lost
    (Tape().tap(0, 25).note(100, 410, 60).note(400, 710, 62).note(700, 900, 64), [False, True, True]),
    (Tape().tap(0, 24).note(100, 410, 60).note(400, 690, 62), [False, False]),  # bowed notes are not joined
])  # fmt: skip
def test_joined_notes(tape: Tape, joined: list[bool]) -> None:
    assert [note.joined for note in tones_of(BOW, tape)] == joined
    assert [bool(flag) for flag in heard_of(BOW, tape).joined] == joined


def assert_same_by_ear(document: ArticulationMap) -> None:
    """The tryout of a map is heard by sfizz as by our listener, joins included."""
    table = compile_map(document)
    data, _ = tryout(document, table)
    ours = listen(decode.read(data).tracks, [Seat(table, 0)])
    tones = play_sfz(data, table, 1)
    assert len(tones) >= len(table.entries)
    assert disagreements(tones, ours, range(len(ours))) == []
    assert [tone.joined for tone in tones] == [bool(flag) for flag in ours.joined]


@settings(max_examples=12, deadline=None)
@given(maps(("latched", "controller", "two ways", "velocities", "shift")))
def test_tryouts_of_random_maps(document: ArticulationMap) -> None:
    assert_same_by_ear(document)


def test_tryout_of_a_map_with_a_held_key() -> None:
    assert_same_by_ear(articulation_map([
        {"id": "bowed", "triggers": [{"keyswitch": 24}], "lead_ms": {"first": 90, "connected": 40}, "joins": True, "overlap_ms": 60},
        {"id": "plucked", "plays": [["pizzicato"]], "triggers": [{"keyswitch": 25}]},
        {"id": "trill", "plays": [["trill"]], "triggers": [{"keyswitch": 31, "hold": "note-on", "ahead_ms": 30}]},
        {"id": "open", "memory": "mute", "triggers": [{"controller": 20, "value": 0}]},
        {"id": "muted", "memory": "mute", "plays": [["con sordino"]], "triggers": [{"controller": 20, "value": 127}]},
    ], range={"lowest": 40, "highest": 100}))  # fmt: skip


def test_a_difference_is_named() -> None:
    tape = Tape().tap(0, 24).note(200, 290, 60)
    wrong = heard_of(BOW, Tape().tap(0, 26).note(200, 290, 60))
    assert disagreements(tones_of(BOW, tape), wrong, range(1)) == [
        "tick 200: (frozenset({0}),) instead of (frozenset({2}),)"
    ]  # fmt: skip
    assert disagreements(tones_of(BOW, tape.note(300, 390, 60)), wrong, range(1)) == ["not the same notes"]


@pytest.mark.parametrize(("triggers", "sentence"), [
    ([{"program": 3}], "SFZ cannot say a condition on register 256"),
    ([{"channel": 3}], "SFZ cannot say how it is chosen"),
    ([{"track": "x"}], "SFZ cannot say how it is chosen"),
    ([{"keyswitch": 2, "toggle": True}], "SFZ cannot say a condition on register 262"),
    ([{"keyswitch": 2}, {"keyswitch": 3}], "SFZ cannot say how it is chosen"),
    ([{"keyswitch": 2, "hold": "note"}, {"keyswitch": 3}], "SFZ cannot say how it is chosen"),
])  # fmt: skip
def test_what_sfz_cannot_say(triggers: list[dict[str, Any]], sentence: str) -> None:
    table = sampler([{"id": "it", "triggers": triggers}, {"id": "other", "plays": [["staccato"]]}])
    with pytest.raises(ValueError, match=f"^{sentence}$"):
        Instrument(table, 0, held=any(table.held)).text()
