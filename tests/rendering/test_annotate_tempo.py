"""The one tempo map: words, bends, fermatas, swing, modulation. The numbers are this project's; MusicXML says where signs stand."""

from __future__ import annotations

import pytest

from rendering.annotate.pace_words import read_pace
from rendering.perform import perform_part, plan_playing
from rendering.timeline import half_up
from tests.rendering.made_scores import attributes, direction, document, measures, messages, note, notes, score_of, words

Q = 960
BACK = "<backup><duration>16</duration></backup>"
AT_60 = '<sound tempo="60"/>'
BAR = notes("C4 D4 E4 F4")


def tempo(*contents: str, first: str = "") -> list[tuple[float, float]]:
    """Return (quarter, quarters a minute) of the tempo map, rounded to a tenth."""
    score, _ = score_of(document(measures(*contents, first=first)))
    return [(unit / Q, half_up(600_000_000, micros) / 10) for unit, micros in score.tempo]


def seconds(*contents: str) -> float:
    """Return how long a score lasts when it is played."""
    score, _ = score_of(document(measures(*contents)))
    playing, _ = plan_playing(score, 960)
    return round(playing.clock.time_at(playing.end) / 960e6, 2)


def metronome(inside: str) -> str:
    return direction(f"<metronome>{inside}</metronome>")


def unit(name: str, dots: int = 0) -> str:
    return f"<beat-unit>{name}</beat-unit>" + "<beat-unit-dot/>" * dots


def test_a_rit_goes_down_by_eighths_and_a_tempo_comes_back() -> None:
    found = tempo(AT_60 + BAR, words("rit.") + notes("C4 D4") + words("a tempo") + notes("E4 F4"))
    # Four eighths from 60 to 45, each at the speed of its middle; then 60 again.
    assert found == [(0, 60), (4, 58.1), (4.5, 54.4), (5, 50.6), (5.5, 46.9), (6, 60)]
    assert messages(document(measures(AT_60 + BAR, words("rit.") + notes("C4 D4") + words("a tempo") + notes("E4 F4")))) == [
        'measure 2, beat 1: "rit." does not say how far the tempo changes – it goes to 75 % of the tempo before'
    ]


def test_a_rit_lasts_as_long_as_its_dashes() -> None:
    begin, end = '<words>rit.</words><dashes type="start" number="2"/>', '<dashes type="stop" number="2"/>'
    found = tempo(AT_60 + direction(begin) + note("C4") + direction(end) + notes("D4 E4 F4"), AT_60 + BAR)
    assert found == [(0, 56.2), (0.5, 48.8), (1, 45), (4, 60)]


def test_a_rit_leads_to_the_tempo_that_follows() -> None:
    assert tempo(AT_60 + words("rit.") + notes("C4 D4", 8), '<sound tempo="40"/>' + BAR)[-2:] == [(3.5, 41.3), (4, 40)]
    assert tempo(AT_60 + words("rit.") + notes("C4 D4", 8), '<sound tempo="90"/>' + BAR)[-2:] == [(3.5, 45.9), (4, 90)]


def test_a_rit_that_nothing_ends_is_over_after_two_more_measures() -> None:
    found = tempo(AT_60 + BAR, words("rit.") + BAR, BAR, BAR, BAR, BAR)
    assert found[-2:] == [(15.5, 45.3), (16, 60)]
    assert tempo(AT_60 + BAR, words("rit.") + BAR)[-1] == (7.5, 45.9)  # at the end of a piece it is the end


@pytest.mark.parametrize(("text", "last"), [
    ("poco rit.", 53.2), ("molto rit.", 37.5), ("accel.", 74.1), ("poco accelerando", 66.8), ("rallentando", 45.9), ("cédez", 45.9),
    ("stringendo", 74.1), ("drängend", 74.1), ("dim. e rit.", 45.9),
])  # fmt: skip
def test_how_far_words_bend(text: str, last: float) -> None:
    assert tempo(AT_60 + words(text) + BAR)[-1] == (3.5, last)


def test_of_two_signs_for_one_rit_in_two_parts_the_first_counts() -> None:
    one = measures(AT_60 + words("rit.") + BAR, AT_60 + BAR)
    two = measures(note("C4") + words("rall.") + notes("D4 E4 F4"), BAR)
    assert score_of(document(one, two))[0].tempo == score_of(document(one, measures(BAR, BAR)))[0].tempo


def test_a_tempo_and_tempo_primo() -> None:
    text = (AT_60 + BAR, '<sound tempo="90"/>' + BAR, words("meno mosso") + BAR, words("Tempo I") + BAR)
    assert tempo(*text) == [(0, 60), (4, 90), (8, 76.5), (12, 60)]
    text = (AT_60 + BAR, words("ritenuto") + BAR, words("a tempo") + BAR)
    assert tempo(*text) == [(0, 60), (4, 51), (8, 60)]


def test_tempos_that_only_draw_a_rit_are_not_what_a_tempo_means() -> None:
    drawn = words("rit.") + notes("C4 D4") + '<sound tempo="50"/>' + note("E4") + '<sound tempo="40"/>' + note("F4")
    assert tempo(AT_60 + BAR, drawn, words("a tempo") + BAR)[-3:] == [(6, 50), (7, 40), (8, 60)]


def test_doubled_halved_and_the_same() -> None:
    assert tempo(AT_60 + BAR, words("doppio movimento") + BAR, words("half time") + BAR) == [(0, 60), (4, 120), (8, 60)]
    assert tempo(AT_60 + BAR, attributes(time="6/8") + words("l'istesso tempo") + notes("C4 D4 E4 F4 G4 A4", 2)) == [(0, 60), (4, 90)]


@pytest.mark.parametrize(("text", "time", "speed"), [
    ("Andante", "4/4", 84), ("Allegro con brio", "4/4", 132), ("Molto allegro", "2/2", 264), ("Langsam", "4/4", 56),
    ("Très lent", "4/4", 48), ("Fast", "4/4", 144), ("Adagio", "6/8", 99),
])  # fmt: skip
def test_a_tempo_in_words_alone_is_the_middle_of_its_range_and_told(text: str, time: str, speed: int) -> None:
    contents = measures(words(text) + note("C4", 16), first=attributes(time=time))
    assert score_of(document(contents))[0].tempo == [(0, half_up(60_000_000, speed))]
    told = f'"{text}" names a tempo without a number – {speed} quarters a minute are played, the middle of its usual range'
    assert [m for m in messages(document(contents)) if "tempo" in m] == [f"measure 1, beat 1: {told}"]


def test_a_tempo_in_words_says_nothing_beside_a_number() -> None:
    assert tempo(words("Andante", sound='tempo="70"') + BAR) == [(0, 70)]
    assert tempo(words("Andante") + metronome(unit("quarter") + "<per-minute>72</per-minute>") + BAR) == [(0, 72)]


def test_a_range_is_played_in_its_middle_and_told() -> None:
    text = metronome(unit("quarter", 1) + "<per-minute>96-104</per-minute>") + BAR
    assert tempo(text) == [(0, 150)]
    assert messages(document(measures(text))) == [
        "measure 1, beat 1: the tempo is a range, 96-104 – its middle is played, 150 quarters a minute"
    ]


@pytest.mark.parametrize(("inside", "speed"), [
    (unit("quarter") + unit("half"), 120), (unit("quarter") + unit("quarter", 1), 90), (unit("eighth") + unit("quarter", 1), 180),
    (
        ("<metronome-note><metronome-type>quarter</metronome-type></metronome-note><metronome-relation>equals</metronome-relation>"
        "<metronome-note><metronome-type>eighth</metronome-type><metronome-dot/></metronome-note>"),
        45,
    ),
])  # fmt: skip
def test_metric_modulation(inside: str, speed: int) -> None:
    """The left value, before, is as long as the right one, from here on (common practice, no source)."""
    assert tempo(AT_60 + BAR, metronome(inside) + BAR) == [(0, 60), (4, speed)]


def test_a_fermata_holds_all_parts_for_twice_its_note() -> None:
    held = note("F4", notations="<fermata/>")
    one, two = measures(AT_60 + notes("C4 D4 E4") + held, BAR), measures(note("C3", 16, notations="<fermata/>"), BAR)
    score, _ = score_of(document(one, two))
    assert [(u // Q, m) for u, m in score.tempo] == [(0, 1_000_000), (3, 2_000_000), (4, 1_000_000)]
    assert messages(document(one, two)) == ["measure 1, beat 4: a fermata or caesura stops the time – all parts take 2 times as long there"]


@pytest.mark.parametrize(("shape", "lasts"), [("normal", 5), ("angled", 4.5), ("double-angled", 4.25), ("square", 6), ("double-square", 7)])
def test_fermatas_by_their_shape(shape: str, lasts: float) -> None:
    assert seconds(AT_60 + notes("C4 D4 E4") + note("F4", notations=f"<fermata>{shape}</fermata>")) == lasts


def test_of_two_fermatas_the_longest_wins() -> None:
    two = note("F5", 4, voice="2", notations="<fermata>square</fermata>")
    text = AT_60 + notes("C4 D4 E4") + note("F4", notations="<fermata/>") + BACK + notes("C5 D5 E5", voice="2") + two
    assert seconds(text) == 6


def test_a_fermata_on_a_rest_and_over_a_bar_line() -> None:
    assert seconds(AT_60 + notes("C4 D4 E4") + note("", notations="<fermata/>")) == 5
    bar_line = '<barline location="right"><bar-style>light-light</bar-style><fermata/></barline>'
    assert tempo(AT_60 + BAR + bar_line, BAR) == [(0, 60), (3, 30), (4, 60)]


def test_a_fermata_without_a_written_tempo_bends_the_usual_one_and_says_so() -> None:
    text = notes("C4 D4 E4") + note("F4", notations="<fermata/>")
    assert tempo(text) == [(0, 120), (3, 60)]
    assert "score: no tempo is written – played at 120 quarter notes a minute" in messages(document(measures(text)))


def test_a_caesura_makes_all_parts_wait_a_beat() -> None:
    text = AT_60 + notes("C4 D4 E4") + note("F4", notations="<articulations><caesura/></articulations>")
    assert seconds(text, BAR) == 9
    assert tempo(text, BAR) == [(0, 60), (3.75, 12), (4, 60)]  # the last sixteenth lasts five: 1.25 s


def test_a_hold_that_the_file_draws_by_tempos_is_not_drawn_again() -> None:
    text = AT_60 + notes("C4 D4 E4") + '<sound tempo="25"/>' + note("F4", notations="<fermata/>")
    assert tempo(text, AT_60 + BAR) == [(0, 60), (3, 25), (4, 60)]


def test_the_note_before_a_breath_or_caesura_ends_early() -> None:
    breath = note("F4", notations="<articulations><breath-mark/></articulations>")
    score, _ = score_of(
        document(measures(AT_60 + notes("C4 D4 E4") + breath, note("C4", 16, notations="<articulations><caesura/></articulations>")))
    )
    playing, _ = plan_playing(score, 960)
    played = perform_part(score.parts[0], playing, Q).lines[0]
    # A quarter loses a quarter of itself, a whole note an eighth, in ticks of 960 a quarter.
    assert played.off == [960, 1920, 2880, 3840 - 240, 7680 - 480]


def swing(inside: str) -> str:
    return f"<sound><swing>{inside}</swing></sound>"


def test_swing_bends_each_pair_of_eighths() -> None:
    text = AT_60 + swing("<first>2</first><second>1</second><swing-type>eighth</swing-type>") + notes("C4 D4", 8)
    assert tempo(text, swing("<straight/>") + BAR) == [
        (0, 45), (0.5, 90), (1, 45), (1.5, 90), (2, 45), (2.5, 90), (3, 45), (3.5, 90), (4, 60),
    ]  # fmt: skip
    assert seconds(text, swing("<straight/>") + BAR) == 8


def test_swing_in_words_and_in_notes_is_two_to_one() -> None:
    assert tempo(AT_60 + words("Swing") + note("C4", 4), words("Straight") + note("C4", 16))[:2] == [(0, 60), (3, 45)]
    eighth = "<metronome-note><metronome-type>eighth</metronome-type></metronome-note>"
    tuplet = "<metronome-tuplet type='start'><actual-notes>3</actual-notes><normal-notes>2</normal-notes></metronome-tuplet>"
    third = f"<metronome-note><metronome-type>eighth</metronome-type>{tuplet}</metronome-note>"
    two = f"<metronome-note><metronome-type>quarter</metronome-type>{tuplet}</metronome-note>"
    sign = metronome(f"{eighth}{eighth}<metronome-relation>equals</metronome-relation>{two}{third}")
    assert tempo(AT_60 + sign + note("C4", 16))[:3] == [(0, 45), (0.5, 90), (1, 45)]


def test_at_a_repeat_the_tempo_of_the_page_comes_back() -> None:
    repeat = '<barline location="right"><repeat direction="backward"/></barline>'
    assert seconds(AT_60 + BAR, words("rit.") + BAR + repeat) == 2 * seconds(AT_60 + BAR, words("rit.") + BAR)


@pytest.mark.parametrize("text", ["dolce", "cresc.", "pizz.", "D.C. al Fine", "largamente", "agitato", "con sord.", "Grandioso"])
def test_words_about_other_things_are_no_tempo(text: str) -> None:
    assert read_pace(text) == ()


def test_many_signs_stay_linear() -> None:
    text = "".join(words("rit.") + words("accel.") + words("a tempo") + note("C4", 4, notations="<fermata/>") for _ in range(2000))
    assert len(tempo(text)) > 2000
