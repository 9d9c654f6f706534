"""Notes as they are read: pitch, place, length, chords, voices, ties, grace notes, instruments. MusicXML 4.0 is the source."""

from __future__ import annotations

import pytest

from rendering.readers import read
from rendering.score import GRACE_PLAIN, GRACE_SLASHED, GRACE_WITH, TIE_NONE, TIE_START, TIE_STOP, TIE_THROUGH
from tests.rendering.made_scores import (
    attributes,
    document,
    line_of,
    measures,
    messages,
    note,
    notes,
    packed,
    pitch_of,
    rows,
    score_of,
)  # fmt: skip


def one(*contents: str, **rest: str) -> bytes:
    return document(measures(*contents, **rest))


def keys(data: bytes) -> list[int]:
    return line_of(data).key


def places(data: bytes) -> list[tuple[int, int]]:
    """Return (offset, duration) in quarters times 4."""
    score, _ = score_of(data)
    return [
        (o * 4 // score.unit, d * 4 // score.unit) for line in score.parts[0].lines for o, d in zip(line.offset, line.duration, strict=True)
    ]


@pytest.mark.parametrize(("pitch", "key"), [
    ("C4", 60), ("A4", 69), ("C#4", 61), ("Cb4", 59), ("B#3", 60), ("C-1", 0), ("G9", 127), ("Fb3", 52),
])  # fmt: skip
def test_keys(pitch: str, key: int) -> None:
    assert keys(one(note(pitch, 16))) == [key]


def test_a_quarter_tone_is_a_key_and_cents() -> None:
    sharp = pitch_of("C4").replace("<octave>", "<alter>0.5</alter><octave>")
    row = rows(line_of(one(note("C4", 16).replace(pitch_of("C4"), sharp))))[0]
    assert (row.key, row.cents) == (61, -50)


@pytest.mark.parametrize(("xml", "text", "key"), [
    ("<pitch><step>H</step><octave>4</octave></pitch>", "H  4", 60),
    ("<pitch><step>C</step><octave>x</octave></pitch>", "C  x", 60),
    ("<pitch><step>C</step><alter>1e9</alter><octave>4</octave></pitch>", "C 1e9 4", 60),
])  # fmt: skip
def test_a_pitch_that_cannot_be_read_is_middle_c_with_a_problem(xml: str, text: str, key: int) -> None:
    data = one(note("C4", 16).replace(pitch_of("C4"), xml))
    assert keys(data) == [key]
    assert messages(data) == [f'Violin, measure 1: pitch "{text}" cannot be read – middle C is played']


def test_a_pitch_beyond_midi_is_the_nearest_key_with_a_problem() -> None:
    data = one(note("C4", 16).replace("<octave>4", "<octave>11"))
    assert keys(data) == [127]
    assert messages(data) == ["Violin, measure 1: pitch C11 is outside what MIDI can play – the nearest key is played"]


def test_a_chord_starts_together_and_time_goes_on_by_its_first_note() -> None:
    data = one(note("C4", 8) + note("E4", 8, chord=True) + note("G4", 4, chord=True) + note("C5", 8))
    assert places(data) == [(0, 8), (0, 8), (0, 4), (8, 8)]


def test_voices_are_lines_of_their_own_and_backup_leads_to_their_start() -> None:
    data = one(notes("C5 D5 E5 F5") + "<backup><duration>16</duration></backup>" + notes("C4 D4", 8, voice="2"))
    lines = score_of(data)[0].parts[0].lines
    assert [(line.staff, line.voice, line.key) for line in lines] == [(1, "1", [72, 74, 76, 77]), (1, "2", [60, 62])]
    assert [o * 4 // 960 for o in lines[1].offset] == [0, 8]


def test_a_voice_on_two_staves_is_two_lines() -> None:
    lines = score_of(one(notes("C5 D5", staff="1") + notes("C3 D3", staff="2")))[0].parts[0].lines
    assert [(line.staff, line.voice, line.key) for line in lines] == [(1, "1", [72, 74]), (2, "1", [48, 50])]


def test_forward_leaves_a_gap() -> None:
    assert places(one(note("C4") + "<forward><duration>8</duration></forward>" + note("D4"))) == [(0, 4), (12, 4)]


def test_a_backup_too_far_stops_at_the_start_of_the_measure() -> None:
    data = one(note("C4", 16) + "<backup><duration>20</duration></backup>" + note("E4", 16, voice="2"))
    assert places(data) == [(0, 16), (0, 16)]
    assert messages(data) == ["Violin, measure 1: a backup leads to before the measure – it ends at the start of the measure"]


def test_divisions_may_change_and_be_fractions_of_a_duration() -> None:
    data = one(note("C4", 4) + "<attributes><divisions>6</divisions></attributes>" + notes("D4 E4 F4", 2) + note("G4", "3.5"))
    score, _ = score_of(data)
    assert score.unit == 960
    assert score.parts[0].lines[0].offset == [0, 960, 1280, 1600, 1920]
    assert score.parts[0].lines[0].duration == [960, 320, 320, 320, 560]


def test_the_unit_grows_with_the_divisions_and_what_was_read_before_grows_along() -> None:
    data = one(note("C4", 16), "<attributes><divisions>7</divisions></attributes>" + notes("D4 E4 F4 G4", 7))
    score, _ = score_of(data)
    assert score.unit == 960 * 7
    assert score.parts[0].lines[0].offset == [n * score.unit for n in (0, 4, 5, 6, 7)]


@pytest.mark.parametrize("text", ["0", "-4", "x", "", "1e5", "9" * 20, "NaN"])
def test_divisions_that_are_no_number_are_left_out(text: str) -> None:
    data = one(f"<attributes><divisions>{text}</divisions></attributes>" + note("C4", 16))
    assert places(data) == [(0, 16)]
    assert messages(data) == [f'Violin, measure 1: divisions "{text}" are no usable number – the divisions before go on']


def test_divisions_too_fine_for_one_grid_are_rounded_with_a_problem() -> None:
    data = one("<attributes><divisions>10007</divisions></attributes>" + note("C4", 10007) + note("D4", 30021))
    assert places(data) == [(0, 4), (4, 12)]
    assert messages(data) == [
        "Violin, measure 1: 10007 divisions a quarter do not fit the grid of the other divisions – times are rounded inside each measure"
    ]


@pytest.mark.parametrize("text", ["-4", "x", "1e5", "9" * 12])
def test_a_duration_that_is_no_number_is_nothing(text: str) -> None:
    data = one(note("C4", text) + note("D4", 16))
    assert places(data) == [(0, 16)]
    assert messages(data) == [
        f'Violin, measure 1: duration "{text}" is no usable number – it is taken as 0',
        "Violin, measure 1: a note has no length – it is not played",
    ]


def test_a_missing_duration_is_taken_from_the_type() -> None:
    dotted = note("C4", 1, extra="<type>quarter</type><dot/>").replace("<duration>1</duration>", "")
    assert places(one(dotted + note("D4", 10))) == [(0, 6), (6, 10)]


def test_ties_by_tie_and_by_tied_and_where_both_stand_tie_counts() -> None:
    data = one(
        note("C4", ties="start") + note("C4", ties="stop start") + note("C4", ties="stop", notations='<tied type="start"/>')
        + note("C4", notations='<tied type="start"/>'),
        note("C4", 8, notations='<tied type="continue"/>') + note("C4", 8),
    )  # fmt: skip
    assert line_of(data).tie == [TIE_START, TIE_THROUGH, TIE_STOP, TIE_START, TIE_THROUGH, TIE_NONE]


def test_let_ring_is_a_mark_and_no_tie() -> None:
    line = line_of(one(note("C4", 16, notations='<tied type="let-ring"/>')))
    assert (line.tie, [line.note(0).marks != 0]) == ([TIE_NONE], [True])


def test_grace_notes_stand_at_their_main_note_and_know_their_kind() -> None:
    data = one(
        note("C4", 8) + note("D4", grace="slashed") + note("E4", grace="plain") + note("G4", grace="plain", chord=True) + note("F4", 8)
    )
    line = line_of(data)
    assert line.grace == [0, GRACE_SLASHED, GRACE_PLAIN, GRACE_PLAIN + GRACE_WITH, 0]
    assert [(o, d) for o, d in zip(line.offset, line.duration, strict=True)] == [(0, 1920), (1920, 0), (1920, 0), (1920, 0), (1920, 1920)]


def test_cue_notes_take_time_and_are_silent() -> None:
    assert places(one(note("C4", 8, extra="").replace("<pitch>", "<cue/><pitch>") + note("D4", 8))) == [(8, 8)]


def test_sources_count_all_note_elements() -> None:
    assert line_of(one(notes("C4 - D4 E4"))).source == [1, 3, 4]


def test_chord_symbols_and_figures_are_silent_and_take_no_time() -> None:
    silent = "<harmony><root><root-step>C</root-step></root><kind>major</kind><staff>2</staff></harmony>"
    figures = "<figured-bass><figure/><duration>4</duration></figured-bass>"
    assert places(one(note("C4", 8) + silent + figures + note("D4", 8))) == [(0, 8), (8, 8)]
    assert len(score_of(one(note("C4", 8) + silent + note("D4", 8)))[0].parts[0].lines) == 1


DRUMS = (
    '<score-instrument id="P1-I39"><instrument-name>Snare</instrument-name></score-instrument>'
    '<score-instrument id="P1-I37"><instrument-name>Kick</instrument-name></score-instrument>'
    '<midi-instrument id="P1-I39"><midi-program>1</midi-program><midi-unpitched>39</midi-unpitched></midi-instrument>'
    '<midi-instrument id="P1-I37"><midi-program>1</midi-program><midi-unpitched>37</midi-unpitched></midi-instrument>'
)


def unpitched(instrument: str = "", step: str = "E", octave: str = "4") -> str:
    place = f"<unpitched><display-step>{step}</display-step><display-octave>{octave}</display-octave></unpitched>"
    named = f'<instrument id="{instrument}"/>' if instrument else ""
    return f"<note>{place}<duration>4</duration>{named}<voice>1</voice></note>"


def test_unpitched_notes_play_the_key_of_their_instrument() -> None:
    """The percussion tutorial of MusicXML: midi-unpitched 39 is the snare, General MIDI key 38; 37 the kick, 36."""
    data = document(
        measures(unpitched("P1-I39") + unpitched("P1-I37") + unpitched() + unpitched("P1-I99")),
        names=("Drumset",), listed=(DRUMS,),
    )  # fmt: skip
    line = line_of(data)
    assert (line.key, line.instrument) == ([38, 36, 38, 38], [0, 1, 0, 0])
    part = score_of(data)[0].parts[0]
    assert [(i.name, i.unpitched, i.drum_key, i.program) for i in part.instruments] == [("Snare", True, 38, 0), ("Kick", True, 36, 0)]
    assert messages(data) == [
        'Drumset, measure 1: a note names instrument "P1-I99", which its part does not have – the part\'s first instrument plays it'
    ]


def test_an_instrument_change_holds_for_the_notes_that_follow() -> None:
    """MusicXML: the data of instrument-change apply to all notes going forward in score order."""
    sound = "<instrument-sound>wind.flutes.flute{}</instrument-sound>"
    flute = f'<score-instrument id="P1-I1"><instrument-name>Flute</instrument-name>{sound.format("")}</score-instrument>'
    change = f'<sound><instrument-change id="P1-I1">{sound.format(".piccolo")}</instrument-change></sound>'
    part = score_of(document(measures(note("C4", 8) + change + notes("D4 E4")), names=("Flute",), listed=(flute,)))[0].parts[0]
    assert part.lines[0].instrument == [0, 1, 1]
    assert [(i.name, i.sound) for i in part.instruments] == [("Flute", "wind.flutes.flute"), ("Flute", "wind.flutes.flute.piccolo")]


def test_an_unpitched_note_without_a_key_has_its_place_on_the_staff() -> None:
    part = score_of(one(unpitched(step="G", octave="5") + notes("-", 12)))[0].parts[0]
    assert (part.lines[0].key, part.instruments[0].unpitched, part.instruments[0].drum_key) == ([79], True, -1)


def test_what_the_part_list_says() -> None:
    listed = (
        "<part-abbreviation>Vl.</part-abbreviation>"
        '<score-instrument id="P1-I1"><instrument-name>Solo violin</instrument-name>'
        "<instrument-sound>strings.violin</instrument-sound><solo/></score-instrument>"
        '<midi-instrument id="P1-I1"><midi-program>41</midi-program></midi-instrument>'
    )
    part = score_of(document(measures(note("C4", 16)), names=("Violin\n  I",), listed=(listed,)))[0].parts[0]
    assert (part.id, part.name) == ("P1", "Violin I")
    assert part.instruments == [("P1-I1", "Solo violin", "strings.violin", "solo", 40, False, -1)]


def test_a_part_that_is_not_listed_or_comes_twice_is_read_with_a_problem() -> None:
    data = one(note("C4", 16)).replace(
        b"</score-partwise>", b'<part id="P1">' + measures(note("E4", 16)).encode() + b"</part></score-partwise>"
    )
    score, _ = score_of(data)
    assert [(p.id, p.lines[0].key) for p in score.parts] == [("P1", [60]), ("P1-2", [64])]
    assert messages(data) == ['score: part "P1" is not in the part list, or comes twice – it is read as "P1-2"']


@pytest.mark.parametrize(
    ("extra", "level"), [('dynamics="100"', 709), ('dynamics="50"', 354), ('dynamics="500"', 1000), ('dynamics="0"', 0)]
)
def test_a_notes_own_dynamics_are_a_percentage_of_velocity_90(extra: str, level: int) -> None:
    data = one(note("C4", 16, attributes=extra))
    assert [(v.kind, v.level, v.source) for v in score_of(data)[0].parts[0].levels] == [("note", level, 1)]


def test_verses_stand_on_lines_and_elisions_are_joined() -> None:
    first = '<lyric number="1"><text>a</text><elision/><text>men</text></lyric><lyric number="3"><text>oh</text></lyric>'
    part = score_of(one(note("C4", 8, extra=first) + note("D4", 8)))[0].parts[0]
    assert (part.lyrics, part.lines[0].lyric) == (["", "a men\n\noh"], [1, 0])


DOCTYPE = b'<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">'
CLOTHES = ["utf-16", "mark", "latin-1", "plain", "doctype", "namespace", "comments", "mxl", "mxl with more", "no container"]
SAME = one(notes("C4 D4 E4 F4"), note("G4", 16))


@pytest.mark.parametrize("data", [
    SAME.decode().replace("UTF-8", "UTF-16").encode("utf-16"),
    b"\xef\xbb\xbf" + SAME,
    SAME.replace(b"UTF-8", b"ISO-8859-1"),
    b"\n  " + SAME.removeprefix(b'<?xml version="1.0" encoding="UTF-8"?>'),
    SAME.replace(b"<score-partwise>", DOCTYPE + b"<score-partwise>"),
    SAME.replace(b"<score-partwise>", b'<score-partwise xmlns="urn:somewhere">'),
    SAME.replace(b"<measure ", b"<!-- a comment --><?pi?>\n\t<measure "),
    packed(SAME),
    packed(SAME, "deep/inside.xml", **{"image.png": b"\x89PNG"}),
    packed(SAME).replace(b"META-INF/container.xml", b"META-INF/cantoiner.xml"),
], ids=CLOTHES)  # fmt: skip
def test_the_same_score_in_other_clothes(data: bytes) -> None:
    assert rows(line_of(data)) == rows(line_of(SAME))


def test_a_timewise_score_is_the_partwise_one_turned() -> None:
    inside = attributes()
    timewise = (
        "<score-timewise><part-list>"
        '<score-part id="P1"><part-name>A</part-name></score-part><score-part id="P2"><part-name>B</part-name></score-part></part-list>'
        f'<measure number="1"><part id="P1">{inside}{note("C4", 16)}</part><part id="P2">{inside}{note("C3", 16)}</part></measure>'
        f'<measure number="X2"><part id="P1">{note("D4", 16)}</part><part id="P2">{note("D3", 16)}</part></measure></score-timewise>'
    )
    score, problems = score_of(timewise.encode())
    assert [(p.id, p.lines[0].key, p.lines[0].offset) for p in score.parts] == [("P1", [60, 62], [0, 3840]), ("P2", [48, 50], [0, 3840])]
    assert [m.number for m in score.measures] == ["1", "X2"]
    assert {p.code for p in problems} == {"no-dynamic"}


def test_an_empty_score_is_a_score() -> None:
    score, problems = score_of(b"<score-partwise/>")
    assert (score.parts, score.measures, score.itinerary, problems) == ([], [], [], [])
    assert read(b"<score-partwise><part-list/></score-partwise>")[1] == []
