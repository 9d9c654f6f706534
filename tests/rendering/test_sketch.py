"""MIDI sketches as neutral scores. SMF 1.0 and MIDI 1.0 are named where they decide; the rest is this project's choice."""

from __future__ import annotations

import pytest

from rendering.codes import message
from rendering.marks import names
from rendering.problems import Refused
from rendering.readers import Limits
from rendering.readers.smf import read_sketch
from rendering.readers.smf.parts import level_of
from rendering.score import SLUR_ARRIVES, SLUR_LEAVES, Instrument
from tests.rendering.made_sketches import messages, rows, score_of, sketch, times


def refusal(data: bytes, limits: Limits | None = None, grid: str = "none") -> str:
    with pytest.raises(Refused) as caught:
        read_sketch(data, limits, grid)
    return "; ".join(map(message, caught.value.problems))


# ── Parts, names, programs ──


def test_a_part_for_each_track_with_its_name_and_program() -> None:
    score = score_of("""
        0 1 - name Harbour at Four
        0 2 - name Violin I
        0 2 1 program 40
        0 2 1 note 76 480
        0 3 - name Cello
        0 3 2 program 42
        0 3 2 note 48 960
    """)
    assert score.title == "Harbour at Four"
    assert [(p.id, p.name, p.instruments[0].program) for p in score.parts] == [("P1", "Violin I", 40), ("P2", "Cello", 42)]
    assert [times(p.lines[0]) for p in score.parts] == [[(0, 480, 76)], [(0, 960, 48)]]


def test_format_0_parts_by_channel() -> None:
    """SMF 1.0: a format 0 file has one track with all channels; its name is the sequence's."""
    score = score_of("0 1 - name All\n0 1 1 note 60 480\n0 1 3 program 73\n0 1 3 note 72 480", smf_format=0)
    assert score.title == "All"
    assert [(p.name, p.instruments[0].program) for p in score.parts] == [("All, channel 1", -1), ("All, channel 3", 73)]


def test_a_track_without_a_name_is_called_by_its_instrument_or_its_number() -> None:
    score = score_of("0 2 - instrument Bassoon\n0 2 1 note 48 480\n0 3 2 note 60 480")
    assert [p.name for p in score.parts] == ["Bassoon", "Track 3, channel 2"]


def test_a_program_change_is_a_change_of_instrument() -> None:
    part = score_of("0 1 1 program 73\n0 1 1 note 72 480\n480 1 1 program 72\n480 1 1 note 84 480").parts[0]
    assert [i.program for i in part.instruments] == [73, 72]
    assert [n.instrument for n in rows(part.lines[0])] == [0, 1]


def test_channel_10_is_drums() -> None:
    """General MIDI 1: channel 10 is percussion, each key an instrument of its own."""
    part = score_of("0 1 10 note 36 120\n0 1 10 note 42 120\n480 1 10 note 38 120").parts[0]
    assert part.instruments[0] == Instrument(id="P1-I1", name="Track 1, channel 10", sound="drum.group.set", unpitched=True)
    assert [(i.drum_key, i.unpitched) for i in part.instruments[1:]] == [(36, True), (38, True), (42, True)]
    struck = [(n.key, part.instruments[n.instrument].drum_key) for line in part.lines for n in rows(line)]
    assert sorted(struck) == [(36, 36), (38, 38), (42, 42)]


# ── Time ──


@pytest.mark.parametrize("ppq", [24, 96, 100, 480, 1000, 32749])
def test_ticks_are_rescaled_and_not_rounded(ppq: int) -> None:
    score = score_of(f"0 1 - meter 3/8\n{ppq - 1} 1 1 note 60 {ppq + 1}\n{3 * ppq + 1} 1 1 note 62 1", ppq=ppq)
    factor = score.unit // ppq
    assert (score.unit % ppq, 4 * score.unit * 3 % 8) == (0, 0)
    assert times(score.parts[0].lines[0]) == [((ppq - 1) * factor, (ppq + 1) * factor, 60), ((3 * ppq + 1) * factor, factor, 62)]


def test_tempo_meters_keys_and_markers() -> None:
    score = score_of("""
        0 1 - tempo 500000
        0 1 - meter 3/4
        0 1 - key Bb
        1440 1 - marker B
        2880 1 - meter 6/8
        2880 1 - key Em
        3000 1 - tempo 461538
        0 2 1 note 60 4320
    """)
    assert score.tempo == [(0, 500_000), (3000, 461_538)]
    assert [(m.start, m.length, m.meter, m.key) for m in score.measures] == [
        (0, 1440, (3, 4), -2), (1440, 1440, (3, 4), -2), (2880, 1440, (6, 8), 1),
    ]  # fmt: skip
    assert score.rehearsal == [(1440, "B")]
    assert score.itinerary == [(1, 3, 1)]


def test_a_time_signature_inside_a_measure_cuts_it() -> None:
    text = "0 1 - meter 4/4\n960 1 - meter 3/4\n0 2 1 note 60 2400"
    assert [(m.start, m.length, m.meter) for m in score_of(text).measures] == [(0, 960, (2, 4)), (960, 1440, (3, 4))]
    assert messages(text) == ["measure 1: a new time signature stands inside the measure of 4/4 – the measure ends there"]


def test_4_4_where_no_time_signature_stands() -> None:
    """SMF 1.0: without time signature, 4/4."""
    score, problems = read_sketch(sketch("2000 1 1 note 60 100"))
    assert [(m.start, m.length, m.meter) for m in score.measures] == [(0, 1920, (4, 4)), (1920, 1920, (4, 4))]
    assert [message(p) for p in problems] == ["MIDI file: no time signature is written – 4/4 is assumed"]


# ── Notes ──


def test_velocities_are_levels_that_give_them_back() -> None:
    """The straight line from (0, 1) to (1000, 127), turned round and rounded half up."""
    assert [level_of(v) for v in (1, 2, 64, 127)] == [0, 8, 500, 1000]
    assert [1 + (2 * 126 * level_of(v) + 1000) // 2000 for v in range(1, 128)] == list(range(1, 128))
    part = score_of("0 1 1 note 60 480 64\n480 1 1 note 62 480 127").parts[0]
    assert [(v.kind, v.level, v.source) for v in part.levels] == [("note", 500, 1), ("note", 1000, 2)]


def test_a_note_on_of_velocity_0_ends_a_note() -> None:
    """MIDI 1.0: a note-on with velocity 0 is a note-off."""
    assert times(score_of("0 1 1 on 60 90\n240 1 1 on 60 0").parts[0].lines[0]) == [(0, 240, 60)]


@pytest.mark.parametrize(("text", "notes", "told"), [
    ("0 1 1 on 60 90\n240 1 1 on 60 90\n480 1 1 off 60\n", [(0, 240, 60), (240, 240, 60)],
     "Track 1, channel 1: 1 notes are struck while their key is still down – the note before ends there"),
    ("0 1 1 note 60 240\n480 1 1 on 62 90\n960 1 - text end", [(0, 240, 60), (480, 480, 62)],
     "Track 1, channel 1: 1 notes never end – they sound to the end of their track"),
    ("0 1 1 off 60\n0 1 1 note 62 240", [(0, 240, 62)],
     "Track 1, channel 1: 1 notes end that have not begun – nothing ends"),
    ("0 1 1 on 60 90\n0 1 1 off 60\n480 1 1 note 62 240", [(0, 1, 60), (480, 240, 62)],
     "Track 1, channel 1: 1 notes end where they begin – they last one tick"),
    ("0 1 1 note 60 240\n0 1 1 controller 11 90\n9 1 1 controller 1 3\n9 1 1 bend 100", [(0, 240, 60)],
     "Track 1, channel 1: 3 messages shape the sound (controller 1, controller 11, pitch bend) – they are not taken over"),
])  # fmt: skip
def test_what_is_odd_is_told(text: str, notes: list[tuple[int, int, int]], told: str) -> None:
    assert times(score_of(text).parts[0].lines[0]) == notes
    assert messages(text) == [told]


def test_banks_and_channel_mode_messages_say_nothing() -> None:
    assert messages("0 1 1 controller 0 1\n0 1 1 controller 32 2\n0 1 1 note 60 240\n480 1 1 controller 123 0") == []


def test_lyrics_belong_to_the_notes_that_begin_with_them() -> None:
    part = score_of("0 1 - lyric Ká-\n0 1 1 note 60 480\n480 1 - lyric po\n480 1 1 note 62 480\n960 1 1 note 64 480").parts[0]
    assert [part.lyrics[n.lyric] for n in rows(part.lines[0])] == ["Ká-", "po", ""]


# ── Overlaps ──


@pytest.mark.parametrize(("overlap", "first", "slurred", "voices"), [
    (59, 480, False, 1),  # under an eighth of 480 + 59
    (69, 480, True, 1),  # 69 of 549 is more than an eighth
    (240, 480, True, 1),  # half of the second note
    (241, 721, False, 2),  # more than half: two voices
])  # fmt: skip
def test_overlaps(overlap: int, first: int, slurred: bool, voices: int) -> None:
    lines = score_of(f"0 1 1 program 41\n0 1 1 note 60 {480 + overlap}\n480 1 1 note 64 480").parts[0].lines
    assert len(lines) == voices
    notes = sorted(n for line in lines for n in rows(line))
    assert [n.duration for n in notes] == [first, 480]
    assert [n.slur for n in notes] == ([SLUR_LEAVES, SLUR_ARRIVES] if slurred else [0, 0])
    assert [names(n.marks) for n in notes] == ([["legato"]] * 2 if slurred else [[]] * 2)


def test_three_notes_at_once_are_never_slurred() -> None:
    lines = score_of("0 1 1 program 41\n0 1 1 note 60 600\n0 1 1 note 55 600\n480 1 1 note 64 480").parts[0].lines
    assert [times(line) for line in lines] == [[(0, 600, 55), (0, 600, 60)], [(480, 480, 64)]]
    assert not any(n.slur for line in lines for n in rows(line))


def test_a_line_of_slurred_notes_stays_in_one_voice() -> None:
    text = "0 1 1 program 41\n" + "\n".join(f"{480 * i} 1 1 note {60 + i} 560" for i in range(5))
    (line,) = score_of(text).parts[0].lines
    both = SLUR_LEAVES | SLUR_ARRIVES
    assert [n.slur for n in rows(line)] == [SLUR_LEAVES, both, both, both, SLUR_ARRIVES]


# ── Hands ──

PIANO = "0 1 - name Piano\n"


def test_a_piano_on_one_track_is_parted_into_hands() -> None:
    part = score_of(
        PIANO
        + """
        0 1 1 note 40 960
        0 1 1 note 47 960
        0 1 1 note 64 480
        0 1 1 note 67 480
        480 1 1 note 72 480
        960 1 1 note 55 480
        960 1 1 note 62 480
        960 1 1 note 65 480
    """
    ).parts[0]
    by_staff: dict[int, list[int]] = {}
    for line in part.lines:
        by_staff.setdefault(line.staff, []).extend(line.key)
    assert {staff: sorted(keys) for staff, keys in by_staff.items()} == {1: [62, 64, 65, 67, 72], 2: [40, 47, 55]}
    assert {line.voice for line in part.lines if line.staff == 2} == {"5"}


def test_no_hand_takes_more_than_a_tenth_at_once() -> None:
    keys = (36, 52, 60, 76)
    part = score_of(PIANO + "\n".join(f"0 1 1 note {key} 960" for key in keys)).parts[0]
    assert [(line.staff, line.key) for line in part.lines] == [(1, [60, 76]), (2, [36, 52])]


@pytest.mark.parametrize("text", [
    "0 1 - name Strings\n0 1 1 program 48\n0 1 1 note 40 960\n0 1 1 note 72 960",
    PIANO + "0 1 1 note 40 480\n480 1 1 note 72 480",
    PIANO + "0 1 1 note 62 480\n0 1 1 note 72 480",
], ids=["strings", "one note at a time", "all above middle C"])  # fmt: skip
def test_hands_are_for_keyboards_that_need_both(text: str) -> None:
    assert {line.staff for line in score_of(text).parts[0].lines} == {1}


# ── Pedal, switches, grid ──


def test_a_pedal_is_a_mark_and_a_span() -> None:
    part = score_of("""
        0 1 1 program 42
        0 1 1 controller 64 127
        0 1 1 note 48 480
        480 1 1 note 52 480
        960 1 1 controller 64 63
        960 1 1 note 55 480
        1440 1 1 controller 64 64
        1440 1 1 note 57 480
    """).parts[0]
    assert [names(n.marks) for n in rows(part.lines[0])] == [["pedal"], ["pedal"], [], ["pedal"]]
    assert part.pedals == [(0, 960), (1440, 1920)]


def test_a_pedal_on_a_channel_is_for_all_tracks_of_it() -> None:
    score = score_of("0 1 1 note 72 480\n0 2 1 controller 64 127\n0 2 1 note 48 480\n960 2 1 controller 64 0\n0 3 2 note 60 480")
    assert [p.pedals for p in score.parts] == [[(0, 960)], [(0, 960)], []]


SWITCHED = "0 1 - name Violin\n0 1 1 note 67 480\n480 1 1 note 71 480\n470 1 1 note {key} {length}"


def test_notes_that_look_like_switches_are_left_out_and_told() -> None:
    text = SWITCHED.format(key=24, length=40)
    assert times(score_of(text).parts[0].lines[0]) == [(0, 480, 67), (480, 480, 71)]
    told = "Violin: 1 notes, far outside the others and very short, look like switches of a sampler (keys 24) – they are left out"
    assert messages(text) == [told]


@pytest.mark.parametrize(("key", "length"), [(56, 40), (24, 200)], ids=["near the others", "long"])
def test_other_notes_are_music(key: int, length: int) -> None:
    text = SWITCHED.format(key=key, length=length)
    assert messages(text) == []
    assert sum(len(line) for line in score_of(text).parts[0].lines) == 3


def test_a_part_of_short_notes_alone_has_no_switches() -> None:
    assert sum(len(line) for line in score_of("0 1 1 note 30 20\n480 1 1 note 90 20").parts[0].lines) == 2


PLAYED = "0 1 - meter 4/4\n7 1 1 note 60 220\n236 1 1 note 62 250\n484 1 1 note 64 100"


def test_rhythm_is_set_to_a_grid_when_asked_and_the_largest_shift_told() -> None:
    assert times(score_of(PLAYED).parts[0].lines[0]) == [(7, 220, 60), (236, 248, 62), (484, 100, 64)]
    assert times(score_of(PLAYED, grid="1/16").parts[0].lines[0]) == [(0, 240, 60), (240, 240, 62), (480, 120, 64)]
    told = "MIDI file: 3 of 3 notes do not begin on the grid, the furthest off by 7/480 of a quarter – they were moved to it"
    assert messages(PLAYED, grid="1/16") == [told]


def test_a_grid_of_two_steps_keeps_triplets() -> None:
    text = "3 1 1 note 60 150\n163 1 1 note 62 150\n317 1 1 note 64 150\n599 1 1 note 65 100"
    line = score_of(text, grid="1/16+1/24").parts[0].lines[0]
    assert [(n.offset, n.duration) for n in rows(line)] == [(0, 160), (160, 160), (320, 160), (600, 120)]


def test_notes_of_one_key_that_meet_on_the_grid_are_one() -> None:
    text = "0 1 - meter 4/4\n0 1 1 note 60 40\n50 1 1 note 60 300"
    assert times(score_of(text, grid="1/8").parts[0].lines[0]) == [(0, 240, 60)]
    assert messages(text, grid="1/8")[0] == "MIDI file: 1 notes fall on the grid line of another note of their key – the two are one note"


def test_a_grid_that_does_not_fit_the_ticks_makes_them_finer() -> None:
    score = score_of("33 1 1 note 60 30", ppq=100, grid="1/24")
    assert score.unit == 300
    assert times(score.parts[0].lines[0]) == [(100, 100, 60)]


# ── Refusals and limits ──

ONE = sketch("0 1 1 note 60 480")


@pytest.mark.parametrize(("data", "grid", "told"), [
    (ONE[:9] + b"\x02" + ONE[10:], "none", "MIDI file: format 2, and only 0 and 1 play as one piece – nothing was read"),
    (ONE[:12] + b"\xe2\x50" + ONE[14:], "none",
     "MIDI file: time in frames (30 a second, 80 ticks each), without quarter notes – nothing was read"),
    (ONE[:12] + b"\x00\x00" + ONE[14:], "none", "MIDI file: no ticks per quarter note – nothing was read"),
    (ONE[:30], "none", "MIDI file: the data end at byte 30, in the middle of something – nothing was read"),
    (ONE, "1/0", 'score: "1/0" is no grid: "none", "1/16", "1/16+1/24", steps of a whole note down to 1/192 – nothing is read'),
    (sketch("0 1 1 note 60 480", ppq=32749), "1/181",
     "MIDI file: meters and grid do not fit 32749 ticks a quarter – nothing is read"),
])  # fmt: skip
def test_refusals(data: bytes, grid: str, told: str) -> None:
    assert refusal(data, grid=grid) == told


@pytest.mark.parametrize(("field", "held", "told"), [
    ("raw_bytes", len(sketch("0 1 1 note 60 480\n0 2 1 note 64 4800\n240 2 1 note 62 480")),
     "score: the file has 64 bytes, 63 are allowed – nothing is read"),
    ("parts", 2, "score: the score has more than the 1 parts allowed – nothing is read"),
    ("notes", 3, "score: the score has more than the 2 notes allowed – nothing is read"),
    ("voices", 2, "score: a part has more than the 1 voices allowed – nothing is read"),
    ("played", 3, "score: with its repeats the score would play more than the 2 measures allowed – nothing is read"),
])  # fmt: skip
def test_limits_on_both_sides(field: str, held: int, told: str) -> None:
    data = sketch("0 1 1 note 60 480\n0 2 1 note 64 4800\n240 2 1 note 62 480")
    assert len(read_sketch(data, Limits(**{field: held}))[0].parts) == 2
    assert refusal(data, Limits(**{field: held - 1})) == told


def test_a_key_struck_again_and_again_at_one_tick_is_one_note() -> None:
    """Else a hostile file would make the work of hands and voices grow with the square of its notes."""
    score = score_of("0 1 - name Piano\n0 1 1 note 72 480\n" + "0 1 1 on 64 90\n0 1 1 off 64\n" * 300)
    assert sorted(key for line in score.parts[0].lines for key in line.key) == [64, 72]


def test_the_end_of_time_is_refused_before_it_is_laid_out() -> None:
    assert "measures allowed" in refusal(sketch(f"{(1 << 27) - 1} 1 1 note 60 480", ppq=24))


def test_a_file_without_notes_is_an_empty_score() -> None:
    score, problems = read_sketch(sketch("0 1 - name Silence"))
    assert (score.title, score.parts, len(score.measures)) == ("Silence", [], 1)
    assert [message(p) for p in problems if p.code != "no-meter"] == ["MIDI file: no track holds a note – nothing is played"]
