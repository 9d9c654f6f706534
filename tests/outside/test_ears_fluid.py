"""A real synthesizer (FluidSynth) plays our MIDI: programs, banks and channels are those chosen, for every note."""

from __future__ import annotations

from typing import Any

import pytest

from rendering.listening import Seat, listen
from rendering.maps.compile import compile_map
from rendering.maps.general_midi import general_midi
from rendering.maps.table import SWITCH_PROGRAM, Entry, Sampler
from rendering.midi import decode, encode
from rendering.tryout import tryout
from tests.outside.ears import fluid
from tests.outside.ears.fluid import HeardProgram, play_programs
from tests.rendering.tapes import Tape, articulation_map

pytestmark = pytest.mark.skipif(fluid.absent(), reason=fluid.ABSENT)

PRESETS = [(0, 40), (0, 45), (0, 48), (131, 40), (131, 45)]  # 131 = bank MSB 1, LSB 3


def heard(*tapes: Tape, track: int = 0) -> list[set[tuple[int, int]]]:
    return [set(note.programs) for note in play_programs(encode.file([tape.chunk() for tape in tapes], 960), PRESETS, track)]


def test_a_program_acts_on_the_notes_after_it() -> None:
    tape = (
        Tape()
        .program(0, 40)
        .controller(5, 7, 20)
        .controller(5, 11, 5)
        .note(10, 190, 60, 1)
        .note(300, 490, 30, 127)
        .program(600, 45)
        .note(600, 790, 60)
        .note(900, 990, 61)
    )
    assert heard(tape) == [{(0, 40)}, {(0, 40)}, {(0, 45)}, {(0, 45)}]


def test_a_bank_acts_at_the_next_program() -> None:
    tape = Tape().program(0, 40).note(10, 190, 60).controller(200, 0, 1).controller(200, 32, 3).note(300, 490, 60)
    assert heard(tape.program(600, 40).note(600, 790, 60)) == [{(0, 40)}, {(0, 40)}, {(131, 40)}]


def test_a_program_after_its_note_comes_too_late() -> None:
    assert heard(Tape().program(0, 40).note(100, 190, 60).note(600, 690, 60).program(600, 45)) == [{(0, 40)}, {(0, 40)}]


def test_each_channel_has_its_own_program() -> None:
    first, second = Tape(0).program(0, 40).note(100, 390, 60), Tape(5).program(0, 48).note(600, 890, 60)
    assert heard(first, second) == [{(0, 40)}]
    assert heard(first, second, track=1) == [{(0, 48)}]


def program_of(entry: Entry) -> tuple[int, int]:
    switch = next(s for s in entry.switches if s.kind == SWITCH_PROGRAM)
    return 128 * max(switch.bank_msb, 0) + max(switch.bank_lsb, 0), switch.number


def assert_programs_by_ear(table: Sampler, data: bytes) -> None:
    """Every note of a tryout sounds in the program, and on the channel, of what our listener hears it as."""
    file = decode.read(data)
    ours = listen(file.tracks, [Seat(table, next(c for c in range(16) if c not in {e.channel for e in table.entries}))])
    presets = sorted({program_of(e) for e in table.entries})
    notes = [note for track in range(1, len(file.tracks)) for note in play_programs(data, presets, track)]
    assert len(notes) >= len(table.entries)
    assert notes == [
        HeardProgram(ours.on[i], ours.channel[i], ours.key[i], frozenset({program_of(table.entries[ours.entries(i)[0]])}))
        for i in range(len(ours))
    ]  # fmt: skip


BANKED: list[dict[str, Any]] = [
    {"id": "bowed", "triggers": [{"program": 40, "bank_msb": 0, "bank_lsb": 0}], "lead_ms": {"first": 60}},
    {"id": "plucked", "plays": [["pizzicato"]], "triggers": [{"program": 45, "bank_msb": 0, "bank_lsb": 0}]},
    {"id": "muted", "plays": [["con sordino"]], "triggers": [{"program": 40, "bank_msb": 1, "bank_lsb": 3}]},
    {"id": "tremolo", "plays": [["tremolo"]], "triggers": [{"program": 40, "bank_msb": 1, "bank_lsb": 4}]},
]
BY_CHANNEL: list[dict[str, Any]] = [
    {"id": "bowed", "triggers": [{"program": 40}]},
    {"id": "plucked", "plays": [["pizzicato"]], "triggers": [{"channel": 3}, {"program": 45}]},
    {"id": "muted", "plays": [["con sordino"]], "triggers": [{"channel": 4}, {"program": 40}]},
    {"id": "tremolo", "plays": [["tremolo"]], "triggers": [{"channel": 4}, {"program": 44}]},
]


@pytest.mark.parametrize("articulations", [BANKED, BY_CHANNEL], ids=["banks", "channels"])
def test_tryouts_of_programs_and_channels(articulations: list[dict[str, Any]]) -> None:
    document = articulation_map(articulations)
    table = compile_map(document)
    assert_programs_by_ear(table, tryout(document, table)[0])


def test_tryout_of_general_midi_strings() -> None:
    document = general_midi(40)
    table = compile_map(document)
    assert_programs_by_ear(table, tryout(document, table)[0])
