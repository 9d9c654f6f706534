"""Levels and hairpins as annotate hands them on. The numbers are this project's; MusicXML says where they stand."""

from __future__ import annotations

import pytest

from rendering.codes import message
from rendering.perform import perform_part, plan_playing
from rendering.score import Hairpin
from tests.rendering.made_scores import direction, document, dynamic, measures, messages, note, notes, score_of, wedge, words

STAVES = "<attributes><staves>2</staves></attributes>"
BACK = "<backup><duration>16</duration></backup>"
Q = 960  # Units per quarter


def levels(*contents: str, name: str = "Violin") -> list[tuple[int, str, int, int]]:
    """Return (quarter, kind, level, source) of a part's levels."""
    part = score_of(document(measures(*contents), names=(name,)))[0].parts[0]
    return [(v.offset // Q, v.kind, v.level, v.source) for v in part.levels]


def hairpins(*contents: str) -> list[Hairpin]:
    return score_of(document(measures(*contents)))[0].parts[0].hairpins


@pytest.mark.parametrize(("name", "level"), [
    ("n", 0), ("pppppp", 63), ("pppp", 63), ("ppp", 125), ("pp", 250), ("p", 375), ("mp", 500), ("mf", 625), ("f", 750), ("ff", 875),
    ("fff", 1000), ("ffff", 1000), ("ffffff", 1000),
])  # fmt: skip
def test_written_dynamics(name: str, level: int) -> None:
    assert levels(dynamic(name) + note("C4", 16)) == [(0, "mark", level, 0)]


@pytest.mark.parametrize("name", ["sf", "sfz", "sffz", "fz", "rf", "rfz"])
def test_accents_are_for_one_note_a_step_and_more_above_the_state(name: str) -> None:
    assert levels(dynamic("p") + note("C4") + dynamic(name) + notes("D4 E4 F4"))[1:] == [(1, "once", 750, 2)]
    assert levels(dynamic("f") + note("C4") + dynamic(name) + notes("D4 E4 F4"))[1:] == [(1, "once", 1000, 2)]


@pytest.mark.parametrize(("xml", "struck", "after"), [
    ("<fp/>", 750, 375), ("<sfp/>", 875, 375), ("<sfpp/>", 875, 250), ("<sfzp/>", 875, 375), ("<pf/>", 375, 750), ("<sf/><mp/>", 875, 500),
])  # fmt: skip
def test_struck_and_then_softer(xml: str, struck: int, after: int) -> None:
    chord = note("C4", 16) + note("E4", 16, chord=True)
    found = levels(dynamic("mf") + note("A4", 16), direction(f"<dynamics>{xml}</dynamics>") + chord)
    assert found[1:] == [(4, "mark", after, 0), (4, "attack", struck, 2), (4, "attack", struck, 3)]


def test_a_dynamic_between_two_staves_is_for_both_one_outside_for_its_staff() -> None:
    for staff, place, expected in (("1", "", 0), ("1", "below", 0), ("2", "above", 0), ("1", "above", 1), ("2", "below", 2), ("2", "", 2)):
        sign = direction("<dynamics><p/></dynamics>", staff=staff, placement=place)
        data = document(measures(STAVES + sign + note("C5", 16, staff="1") + BACK + note("C3", 16, voice="2", staff="2")))
        assert [v.staff for v in score_of(data)[0].parts[0].levels] == [expected], (staff, place)


def test_a_dynamic_on_a_voice_is_for_that_voice_beside_another() -> None:
    data = document(
        measures(
            dynamic("p", voice="2") + note("C5", 16) + BACK + note("C4", 16, voice="2"), dynamic("f", voice="2") + note("C4", 16, voice="2")
        )
    )
    assert [(v.offset, v.voice, v.level) for v in score_of(data)[0].parts[0].levels] == [(0, "2", 375), (4 * Q, "", 750)]


def test_a_written_mark_comes_before_a_sounds_percentage() -> None:
    assert levels(dynamic("p", sound='dynamics="54"') + note("C4", 16), '<sound dynamics="100"/>' + note("D4", 16)) == [
        (0, "mark", 375, 0), (4, "sound", 709, 0),
    ]  # fmt: skip


def test_dynamics_at_a_note_and_in_words() -> None:
    assert levels(note("C4", 8, notations="<dynamics><pp/></dynamics>") + words("sempre f") + note("D4", 8)) == [
        (0, "mark", 250, 0), (2, "mark", 750, 0),
    ]  # fmt: skip


def test_nothing_written_is_told_once_a_part() -> None:
    _, problems = score_of(document(measures(notes("- C4 D4 E4"), dynamic("p") + note("F4", 16)), measures(dynamic("f") + note("C4", 16))))
    assert [message(p) for p in problems] == ["Violin, measure 1, beat 2: no dynamic is written here – mf is played up to the first one"]


def test_hairpins_reach_from_start_to_stop() -> None:
    text = wedge("crescendo") + notes("C4 D4") + wedge("stop") + wedge("diminuendo") + notes("E4 F4") + wedge("stop")
    assert hairpins(text) == [Hairpin(0, 2 * Q, 0, "", 1, niente=False), Hairpin(2 * Q, 4 * Q, 0, "", -1, niente=False)]


def test_hairpins_of_two_numbers_and_to_nothing() -> None:
    text = (
        wedge("crescendo", "1") + note("C4") + wedge("diminuendo", "2") + note("D4") + wedge("stop", "1") + note("E4")
        + direction('<wedge type="stop" number="2" niente="yes"/>') + note("F4")
    )  # fmt: skip
    assert hairpins(text) == [Hairpin(0, 2 * Q, 0, "", 1, niente=False), Hairpin(Q, 3 * Q, 0, "", -1, niente=True)]


@pytest.mark.parametrize(("text", "told"), [
    (wedge("stop") + note("C4", 16), "a hairpin ends and did not start"),
    (wedge("crescendo") + note("C4", 16), "a hairpin starts and does not end"),
    (wedge("crescendo") + wedge("stop") + note("C4", 16), "a hairpin ends where it starts"),
])  # fmt: skip
def test_hairpins_that_make_no_sense_are_left_out_and_told(text: str, told: str) -> None:
    assert hairpins(text) == []
    assert messages(document(measures(text))) == [f"Violin, measure 1, beat 1: {told} – it is left out"]


def test_a_hairpin_that_starts_anew_ends_the_one_before() -> None:
    text = wedge("crescendo") + notes("C4 D4") + wedge("diminuendo") + notes("E4 F4") + wedge("stop")
    assert [(h.start, h.stop, h.direction) for h in hairpins(text)] == [(0, 2 * Q, 1), (2 * Q, 4 * Q, -1)]


def test_cresc_and_dim_in_words_reach_to_the_next_dynamic() -> None:
    text = (
        dynamic("p") + note("C4") + words("cresc.") + notes("D4 E4 F4"),
        note("G4", 8) + dynamic("f") + note("A4", 8),
        words("dim.") + note("B4", 16),
    )
    assert hairpins(*text) == [Hairpin(Q, 6 * Q, 0, "", 1, niente=False)]
    assert messages(document(measures(*text))) == [
        "Violin, measure 3, beat 1: cresc. or dim. in words, and no dynamic follows it – it is left out"
    ]


@pytest.mark.parametrize(("before", "text", "level"), [
    ("p", "più f", 500), ("f", "meno f", 625), ("mf", "più p", 500), ("pp", "meno piano", 375), ("mf", "lauter", 750),
    ("mf", "softer", 500), ("p", "più forte", 500), ("fff", "più f", 1000), ("pp", "plus fort", 375),
])  # fmt: skip
def test_more_or_less_than_before_is_one_step_and_told(before: str, text: str, level: int) -> None:
    assert levels(dynamic(before) + note("C4", 8) + words(text) + note("D4", 8))[1:] == [(2, "mark", level, 0)]
    assert messages(document(measures(dynamic(before) + note("C4", 8) + words(text) + note("D4", 8)))) == [
        "Violin, measure 1, beat 3: words ask for more or less than the dynamic before – it is one step (1/8) louder or softer"
    ]


@pytest.mark.parametrize(("text", "level"), [
    ("p subito", 375), ("sub. f", 750), ("poco f", 687), ("mezzo forte", 625), ("fortissimo", 875), ("sempre pp", 250),
    ("sehr leise", 250), ("très doux", 250), ("sotto voce", 375), ("quasi niente", 63), ("niente", 0), ("ppp possibile", 125),
])  # fmt: skip
def test_dynamics_in_words(text: str, level: int) -> None:
    assert levels(dynamic("mf") + note("C4", 8) + words(text) + note("D4", 8))[1:] == [(2, "mark", level, 0)]


def test_an_accent_and_a_stroke_in_words_are_for_their_notes() -> None:
    assert levels(dynamic("p") + note("C4", 8) + words("sforzando") + note("D4", 8))[1:] == [(2, "once", 750, 2)]
    assert levels(dynamic("p") + note("C4", 8) + words("fp subito") + note("D4", 8))[1:] == [(2, "mark", 375, 0), (2, "attack", 750, 2)]


def test_words_that_ask_for_balance_change_no_level() -> None:
    text = dynamic("p") + note("C4", 8) + words("en dehors") + note("D4", 8)
    assert levels(text) == [(0, "mark", 375, 0)]
    assert messages(document(measures(text))) == []


def test_fading_to_nothing_and_swelling_from_nothing() -> None:
    fading = dynamic("p") + note("C4") + wedge("diminuendo") + notes("D4 E4") + wedge("stop") + words("al niente") + note("F4")
    assert hairpins(fading) == [Hairpin(Q, 3 * Q, 0, "", -1, niente=True)]
    swelling = words("dal niente") + notes("C4 D4") + dynamic("f") + notes("E4 F4")
    assert levels(swelling) == [(0, "mark", 0, 0), (2, "mark", 750, 0)]
    assert hairpins(swelling) == [Hairpin(0, 2 * Q, 0, "", 1, niente=True)]
    drawn = direction('<wedge type="crescendo" niente="yes"/>') + notes("C4 D4") + wedge("stop") + dynamic("f") + notes("E4 F4")
    assert levels(drawn) == levels(swelling)
    assert hairpins(drawn) == hairpins(swelling)


def test_swelling_in_words_ends_with_its_dashes() -> None:
    text = (
        dynamic("p") + direction('<words>cresc.</words><dashes type="start" number="1"/>') + notes("C4 D4")
        + direction('<dashes type="stop" number="1"/>') + notes("E4 F4"),
        dynamic("f") + note("G4", 16),
    )  # fmt: skip
    assert hairpins(*text) == [Hairpin(0, 2 * Q, 0, "", 1, niente=False)]


def test_words_beside_a_hairpin_name_it() -> None:
    text = words("cresc.") + wedge("crescendo") + notes("C4 D4") + wedge("stop") + dynamic("f") + notes("E4 F4")
    assert hairpins(text) == [Hairpin(0, 2 * Q, 0, "", 1, niente=False)]


@pytest.mark.parametrize(("xml", "after"), [("<fp/>", 375), ("<sfpp/>", 250), ("<pf/>", 750), ("<sf/><mp/>", 500)])
def test_what_follows_a_struck_note_is_played_as_written(xml: str, after: int) -> None:
    data = document(measures(dynamic("mf") + note("A4", 16), direction(f"<dynamics>{xml}</dynamics>") + notes("C4 D4", 8)))
    score, _ = score_of(data)
    playing, _ = plan_playing(score, 960)
    assert perform_part(score.parts[0], playing, Q).lines[0].level[2] == after


def test_an_unknown_dynamic_is_listed_as_unread() -> None:
    data = document(measures(direction("<dynamics><other-dynamics>blorp</other-dynamics></dynamics>") + note("C4", 16)))
    assert score_of(data)[0].unread == [("blorp", "P1", 0, 0)]


def test_a_number_that_is_none_is_left_out_and_told() -> None:
    data = document(measures(dynamic("p") + '<sound dynamics="loud"/>' + note("C4", 16)))
    assert [v.level for v in score_of(data)[0].parts[0].levels] == [375]
    assert messages(data) == ['Violin, measure 1: "loud" is no number – it is left out']
