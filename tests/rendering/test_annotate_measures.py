"""Measures, keys, transposition, tempo, rehearsal marks and places: what is one for all parts."""

from __future__ import annotations

import pytest

from rendering.places import place_at, place_of
from tests.rendering.made_scores import (
    attributes,
    direction,
    document,
    line_of,
    marks_of,
    measures,
    messages,
    note,
    notes,
    score_of,
    words,
)  # fmt: skip

Q = 960
BACK = "<backup><duration>16</duration></backup>"


def grid(data: bytes) -> list[tuple[int, int]]:
    """Return (start, length) of measures in quarters times 4."""
    score, _ = score_of(data)
    return [(m.start * 4 // score.unit, m.length * 4 // score.unit) for m in score.measures]


def test_a_pickup_is_filled_up_in_front_so_that_bar_lines_coincide() -> None:
    """A pickup of one quarter in 4/4: its note at 2880 of 960 a quarter, measure 1 at 3840."""
    data = document(measures(note("G4"), note("C5", 16)))
    assert grid(data) == [(0, 16), (16, 16)]
    assert line_of(data).offset == [2880, 3840]


def test_a_lone_short_measure_is_no_pickup_and_lasts_what_it_holds() -> None:
    assert grid(document(measures(note("G4")))) == [(0, 4)]


def test_a_measure_is_as_long_as_the_longest_part_and_parts_stay_together() -> None:
    short = measures(note("C4", 16), note("D4", 8), note("E4", 16))
    full = measures(note("C3", 16), note("D3", 12), note("E3", 16))
    data = document(short, full, names=("Oboe", "Viola"))
    assert grid(data) == [(0, 16), (16, 12), (28, 16)]
    assert [line_of(data, part).offset[-1] for part in (0, 1)] == [28 * Q // 4] * 2
    assert messages(data) == [
        "measure 2: the length of the measure is 3 in quarters, its meter 4/4 – it lasts as long as what it holds",
        "Oboe, measure 2: the part fills 2 of the 3 quarters of the measure – the rest of the measure is silent, bar lines stay together",
    ]


def test_overfull_measures_last_what_they_hold() -> None:
    assert grid(document(measures(note("C4", 16), note("D4", 20), note("E4", 16)))) == [(0, 16), (16, 20), (36, 16)]


def test_an_empty_measure_lasts_its_meter() -> None:
    change = "<attributes><time><beats>3</beats><beat-type>8</beat-type></time></attributes>"
    assert grid(document(measures(note("C4", 16), "", change))) == [(0, 16), (16, 16), (32, 6)]


def test_a_shorter_part_is_silent_to_the_end() -> None:
    assert grid(document(measures(note("C4", 16)), measures(note("C4", 16), note("D4", 16)))) == [(0, 16), (16, 16)]


@pytest.mark.parametrize(("time", "meter"), [
    ("<beats>6</beats><beat-type>8</beat-type>", (6, 8)),
    ("<beats>3+2</beats><beat-type>8</beat-type>", (5, 8)),
    ("<beats>2</beats><beat-type>4</beat-type><beats>3</beats><beat-type>8</beat-type>", (7, 8)),
    ("<senza-misura/>", (0, 0)),
])  # fmt: skip
def test_meters_and_sums_of_meters(time: str, meter: tuple[int, int]) -> None:
    score, _ = score_of(document(measures(note("C4", 10), f"<attributes><time>{time}</time></attributes>" + note("C4", 10))))
    assert [m.meter for m in score.measures] == [(4, 4), meter]


def test_a_meter_in_one_part_is_for_all_and_the_first_part_counts() -> None:
    change = "<attributes><time><beats>{}</beats><beat-type>4</beat-type></time></attributes>"
    first = measures(note("C4", 16), note("C4", 12), change.format(2) + note("C4", 8))
    second = measures(note("C4", 16), change.format(3) + note("C4", 12), change.format(5) + note("C4", 8))
    assert [m.meter for m in score_of(document(first, second))[0].measures] == [(4, 4), (3, 4), (2, 4)]


def test_no_time_signature_is_told() -> None:
    data = document(measures(note("C4", 16), first=attributes(time="")))
    assert [m.meter for m in score_of(data)[0].measures] == [(4, 4)]
    assert messages(data) == ["score: no time signature is written – 4/4 is assumed"]


def test_numbers_are_kept_as_printed() -> None:
    data = (
        document(measures(note("C4"), note("D4", 16)))
        .replace(b'number="1"', b'number="0" implicit="yes"')
        .replace(b'number="2"', b'number="X1"')
    )
    assert [(m.ordinal, m.number) for m in score_of(data)[0].measures] == [(1, "0"), (2, "X1")]


BFLAT = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"


@pytest.mark.parametrize(("transpose", "sounding"), [
    (BFLAT, 58),
    ("<transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>", 48),
    ("<transpose><chromatic>-9</chromatic><octave-change>1</octave-change></transpose>", 63),
])  # fmt: skip
def test_transposition_is_what_to_add_to_the_written_pitch(transpose: str, sounding: int) -> None:
    """MusicXML: chromatic and octave-change are both added."""
    assert line_of(document(measures(note("C4", 16), first=attributes(transpose)))).key == [sounding]


def test_transposition_changes_in_mid_measure_and_per_staff() -> None:
    change = "<attributes><transpose><chromatic>-3</chromatic></transpose></attributes>"
    data = document(measures(notes("C4 D4") + change + notes("C4 D4"), note("C4", 16), first=attributes(BFLAT)))
    assert line_of(data).key == [58, 60, 57, 59, 57]
    assert score_of(data)[0].parts[0].transpose == [(0, -2), (2 * Q, -3)]
    staves = attributes('<staves>2</staves><transpose number="2"><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>')
    data = document(measures(note("C5", 16, staff="1") + BACK + note("C4", 16, staff="2", voice="2"), first=staves))
    assert [line.key for line in score_of(data)[0].parts[0].lines] == [[72], [48]]


def test_a_transposition_that_cannot_be_read_is_told() -> None:
    data = document(measures(note("C4", 16), first=attributes("<transpose><chromatic>x</chromatic></transpose>")))
    assert line_of(data).key == [60]
    assert messages(data) == ["Violin, measure 1: the transposition cannot be read – the one before goes on"]


def test_the_key_of_a_measure_is_the_one_that_sounds() -> None:
    horn = measures(note("C4", 16), first=attributes("<transpose><chromatic>-7</chromatic></transpose>", fifths=3))
    viola = measures(note("C4", 16), first=attributes(fifths=2))
    assert score_of(document(horn, viola))[0].measures[0].key == 2
    assert score_of(document(horn))[0].measures[0].key == 2


@pytest.mark.parametrize(("xml", "tempo"), [
    ('<sound tempo="120"/>', 500_000),
    ('<sound tempo="66.5"/>', 902_256),
    ('<sound tempo="0"/>', None),
    (direction("<metronome><beat-unit>quarter</beat-unit><per-minute>90</per-minute></metronome>"), 666_667),
    (direction("<metronome><beat-unit>quarter</beat-unit><beat-unit-dot/><per-minute>60</per-minute></metronome>"), 666_667),
    (direction("<metronome><beat-unit>half</beat-unit><per-minute>c. 60</per-minute></metronome>"), 500_000),
    (direction("<metronome><beat-unit>eighth</beat-unit><per-minute>100-108</per-minute></metronome>"), 1_153_846),
    (direction("<metronome><beat-unit>quarter</beat-unit><per-minute>90</per-minute></metronome>", sound='tempo="100"'), 600_000),
    (direction("<metronome><beat-unit>quarter</beat-unit><beat-unit>half</beat-unit></metronome>"), None),
])  # fmt: skip
def test_tempo_is_a_sounds_else_a_metronome_marks(xml: str, tempo: int | None) -> None:
    assert score_of(document(measures(xml + note("C4", 16))))[0].tempo == ([(0, tempo)] if tempo else [])


def test_tempo_of_a_pickup_holds_from_the_start_and_one_in_any_part_is_for_all() -> None:
    first = measures('<sound tempo="60"/>' + note("G4"), note("C5", 16))
    second = measures('<sound tempo="61"/>' + note("G3"), note("C4", 8) + '<sound tempo="120"/>' + note("D4", 8))
    assert score_of(document(first, second))[0].tempo == [(0, 1_000_000), (6 * Q, 500_000)]


def test_rehearsal_marks_stand_once() -> None:
    mark = direction("<rehearsal>A</rehearsal>")
    data = document(measures(note("C4", 16), mark + note("C4", 16)), measures(note("C4", 16), mark + note("C4", 16)))
    assert score_of(data)[0].rehearsal == [(4 * Q, "A")]


def test_places() -> None:
    second = notes("G4 A4", 2) + notes("B4 C5 D5") + BACK + note("C4", 16, voice="2")
    score, _ = score_of(document(measures(notes("C4 D4 E4 F4"), second, first=attributes(time="2/2")), names=("Oboe",)))
    place = place_of(score, "P1", 6)
    assert (place.part_name, place.measure, place.ordinal, place.beat) == ("Oboe", "2", 2, "5/4")
    assert (place.staff, place.voice, place.note) == (0, "1", 6)
    assert place_at(score, "P1", 3 * Q).beat == "5/2"
    assert place_at(score, "", 10**9).ordinal == 2
    assert place_of(score, "P9", 1).ordinal == 0
    assert (place_of(score, "P1", 99).ordinal, place_of(score, "P1", 99).note) == (0, 99)


def test_words_in_the_part_of_another_family_mean_what_they_mean_there() -> None:
    data = document(measures(words("con sord.") + note("C4", 16)), names=("Piano",))
    assert marks_of(line_of(data)) == ["una corda"]
