"""Passage states in the order of the page, where signs act, and what a note's own marks override.

Expectations are common practice, no source, unless a test says otherwise.
"""

from __future__ import annotations

import pytest

from rendering.marks import BIT, element_mark
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
)

BACK = "<backup><duration>16</duration></backup>"
FORWARD = '<barline location="left"><repeat direction="forward"/></barline>'
BACKWARD = '<barline location="right"><repeat direction="backward"/></barline>'


def marks(*contents: str, name: str = "Violin") -> list[str]:
    return marks_of(line_of(document(measures(*contents), names=(name,))))


def test_a_state_holds_until_it_is_cancelled() -> None:
    assert marks(notes("C4 D4") + words("pizz.") + notes("E4 F4"), note("G4", 8) + words("arco") + note("A4", 8)) == [
        "", "", "pizzicato", "pizzicato", "pizzicato", "",
    ]  # fmt: skip


def test_states_of_different_questions_stand_together_and_each_has_its_own_end() -> None:
    found = marks(
        words("con sord.") + note("C4") + words("sul pont.") + note("D4") + words("ord.") + note("E4") + words("senza sord.") + note("F4")
    )
    assert found == ["con sordino", "sul ponticello, con sordino", "con sordino", ""]


def test_marks_live_on_the_page_and_are_not_carried_over_a_repeat() -> None:
    """|: arco | pizz. :| plays arco, pizz., arco, pizz."""
    data = document(measures(FORWARD + note("C4", 16), words("pizz.") + note("D4", 16) + BACKWARD))
    score, _ = score_of(data)
    assert marks_of(score.parts[0].lines[0]) == ["", "pizzicato"]
    assert score.itinerary == [(1, 2, 1), (1, 2, 2)]


def test_words_and_sound_say_the_same_thing_once() -> None:
    assert marks(words("pizz.", sound='pizzicato="yes"') + notes("C4 D4") + words("arco", sound='pizzicato="no"') + notes("E4 F4")) == [
        "pizzicato", "pizzicato", "", "",
    ]  # fmt: skip


def test_a_sound_alone_is_enough_and_a_notes_attribute_is_for_that_note() -> None:
    plucked, bowed = ('<sound pizzicato="yes"/>', '<sound pizzicato="no"/>')
    here = note("D4", attributes='pizzicato="yes"')
    assert marks(plucked + note("C4") + bowed + here + notes("E4 F4")) == ["pizzicato", "pizzicato", "", ""]


@pytest.mark.parametrize(("offset", "expected"), [
    ("", ["", "", "pizzicato", "pizzicato"]),
    ("-4", ["", "pizzicato", "pizzicato", "pizzicato"]),
    ("-6", ["", "pizzicato", "pizzicato", "pizzicato"]),
    ("-8", ["pizzicato", "pizzicato", "pizzicato", "pizzicato"]),
    ("-40", ["pizzicato", "pizzicato", "pizzicato", "pizzicato"]),
    ("4", ["", "", "", "pizzicato"]),
    ("40", ["", "", "", ""]),
], ids=str)  # fmt: skip
def test_a_direction_acts_where_its_offset_puts_it_inside_its_measure(offset: str, expected: list[str]) -> None:
    assert marks(notes("C4 D4") + words("pizz.", offset=offset) + notes("E4 F4")) == expected


def test_an_offset_past_the_measure_ends_with_it() -> None:
    assert marks(note("C4", 16) + words("pizz.", offset="12"), notes("D4 E4 F4 G4")) == ["", *["pizzicato"] * 4]


def test_a_small_nudge_to_the_right_still_means_the_note_it_stands_before() -> None:
    """Seen in exports: offsets that only move the print. Without sound="yes" an offset is about the page (MusicXML)."""
    nudged = words("pizz.", offset="1")
    assert marks(notes("C4 D4") + nudged + notes("E4 F4")) == ["", "", "pizzicato", "pizzicato"]
    meant = nudged.replace("<offset>", '<offset sound="yes">')
    assert marks(notes("C4 D4") + meant + notes("E4 F4")) == ["", "", "", "pizzicato"]


def test_of_two_signs_of_a_kind_at_one_note_the_moved_one_is_not_pulled_back() -> None:
    assert marks(words("con sord.") + words("pizz.", offset="4") + note("C4", 8) + note("D4", 8)) == [
        "con sordino",
        "pizzicato, con sordino",
    ]


def test_a_staffs_words_are_for_that_staff() -> None:
    staves = "<attributes><staves>2</staves></attributes>"
    data = document(
        measures(staves + words("con sord.", staff="2") + note("C5", 16, staff="1") + BACK + note("C3", 16, staff="2", voice="2"))
    )
    assert [marks_of(line) for line in score_of(data)[0].parts[0].lines] == [[""], ["con sordino"]]


def test_a_voices_words_are_for_that_voice_where_it_is_not_alone() -> None:
    two = words("pizz.", voice="1") + note("C5", 16) + BACK + note("C4", 16, voice="2")
    alone = words("arco", voice="1") + note("D5", 16)
    after = note("E5", 16) + BACK + note("E4", 16, voice="2")
    data = document(measures(two, alone, after))
    assert [marks_of(line) for line in score_of(data)[0].parts[0].lines] == [["pizzicato", "", ""], ["", ""]]
    data = document(measures(words("pizz.", voice="1") + note("D5", 16), after))
    assert [marks_of(line) for line in score_of(data)[0].parts[0].lines] == [["pizzicato", "pizzicato"], ["pizzicato"]]


def test_a_notes_own_mark_overrides_the_state_of_its_question() -> None:
    dot = "<articulations><staccato/></articulations>"
    snap = "<technical><snap-pizzicato/></technical>"
    found = marks(words("sempre tenuto") + note("C4", notations=dot) + words("pizz.") + note("D4", notations=snap) + notes("E4 F4"))
    assert found == ["staccato", "snap pizzicato, tenuto", "pizzicato, tenuto", "pizzicato, tenuto"]


def test_words_for_one_note_are_for_the_notes_there_alone() -> None:
    found = marks(words("ten.") + note("C4") + note("E4", chord=True) + notes("D4 E4 F4"))
    assert found == ["tenuto", "tenuto", "", "", ""]


@pytest.mark.parametrize(("xml", "expected"), [
    ('<string-mute type="on"/>', ["con sordino", "con sordino"]),
    ("<damp/>", ["damp", ""]),
    ('<pedal type="start"/>', ["pedal", "pedal"]),
])  # fmt: skip
def test_signs_that_change_the_state(xml: str, expected: list[str]) -> None:
    assert marks(direction(xml) + notes("C4 D4", 8)) == expected


def test_mutes_of_a_sound_and_their_end() -> None:
    cup, off = (f'<sound><play id="x"><mute>{m}</mute></play></sound>' for m in ("cup", "off"))
    assert marks(cup + notes("C4 D4", 4) + off + note("E4", 8), name="Trumpet") == ["cup mute", "cup mute", ""]


def test_a_pedal_ends_where_it_stops() -> None:
    start, change, stop = (direction(f'<pedal type="{kind}"/>') for kind in ("start", "change", "stop"))
    assert marks(start + note("C4") + change + note("D4") + stop + notes("E4 F4"), name="Piano") == ["pedal", "pedal", "", ""]


def test_words_that_are_not_understood_are_listed_with_their_place() -> None:
    data = document(measures(note("C4", 8) + words("blorp") + note("D4", 8)), names=("Viola",))
    score, _ = score_of(data)
    assert score.unread == [("blorp", "P1", 1920, 0)]


def test_runs_of_words_are_read_together() -> None:
    assert marks(direction("<words>con</words><words> sord.</words>") + note("C4", 16)) == ["con sordino"]


def test_a_chords_marks_are_for_all_its_notes_save_what_belongs_to_one() -> None:
    accent = "<articulations><accent/></articulations>"
    string = "<technical><string>3</string></technical>"
    found = marks(
        note("C4", 16, notations=accent + string) + note("E4", 16, chord=True, notations="<articulations><staccato/></articulations>")
    )
    assert found == ["staccato, accent, string III", "staccato, accent"]


@pytest.mark.parametrize(("group", "element", "name", "family"), [
    ("articulations", "staccatissimo", "Violin", "strings"),
    ("articulations", "spiccato", "Violin", "strings"),
    ("articulations", "detached-legato", "Oboe", "woodwind"),
    ("articulations", "falloff", "Trumpet", "brass"),
    ("technical", "up-bow", "Violin", "strings"),
    ("technical", "stopped", "Horn", "brass"),
    ("technical", "stopped", "Violin", "strings"),
    ("technical", "open-string", "Viola", "strings"),
    ("ornaments", "mordent", "Piano", "keyboard"),
    ("ornaments", "turn", "Flute", "woodwind"),
])  # fmt: skip
def test_elements_are_marks_as_the_table_says_for_the_family(group: str, element: str, name: str, family: str) -> None:
    found = line_of(document(measures(note("C4", 16, notations=f"<{group}><{element}/></{group}>")), names=(name,)))
    assert found.marks == [1 << BIT[element_mark(group, element, family)]]


@pytest.mark.parametrize(("key", "measure", "expected"), [
    (0, note("C4", 16, notations="TR"), "trill whole"),
    (0, note("E4", 16, notations="TR"), "trill half"),
    (0, note("B3", 16, notations="TR"), "trill half"),
    (-2, note("A4", 16, notations="TR"), "trill half"),
    (2, note("B3", 16, notations="TR"), "trill whole"),
    (0, note("D#5", 4) + note("C5", 12, notations="TR"), "trill whole"),
    (0, note("F#4", 4) + note("E4", 12, notations="TR"), "trill whole"),
    (0, note("F#5", 4) + note("E4", 12, notations="TR"), "trill half"),
    (0, note("C4", 16, notations="TR-flat"), "trill half"),
    (0, note("E4", 16, notations="TR-sharp"), "trill whole"),
])  # fmt: skip
def test_a_trill_is_half_or_whole_by_accidental_key_and_measure(key: int, measure: str, expected: str) -> None:
    """The neighbour above in the key, an accidental of the measure at the same height, or the sign over the trill."""
    for kind in ("flat", "sharp"):
        measure = measure.replace(f"TR-{kind}", f"<ornaments><trill-mark/><accidental-mark>{kind}</accidental-mark></ornaments>")
    measure = measure.replace("TR", "<ornaments><trill-mark/></ornaments>")
    data = document(measures(measure, first=attributes(fifths=key)))
    assert expected in marks_of(line_of(data))[-1]


@pytest.mark.parametrize(("kind", "text", "note_type", "duration", "mark", "repeat", "exact"), [
    ("single", "3", "quarter", 4, "tremolo", 120, False),
    ("single", "2", "eighth", 2, "tremolo", 120, False),
    ("single", "1", "16th", 1, "tremolo", 120, False),
    ("single", "2", "quarter", 4, "", 240, True),
    ("single", "1", "half", 8, "", 480, True),
    ("single", "1", "eighth", 2, "", 240, True),
    ("single", "1", "", 6, "", 480, True),
    ("single", "1", "quarter", 3, "", 360, True),  # of a tuplet: the quarter is struck twice
    ("start", "3", "half", 4, "fingered tremolo", 120, False),
    ("start", "1", "half", 4, "fingered tremolo", 480, True),
])  # fmt: skip
def test_three_strokes_flags_counted_are_a_tremolo_fewer_are_repeats(
    kind: str, text: str, note_type: str, duration: int, mark: str, repeat: int, exact: bool
) -> None:
    """The length of a repeat is in Units of 960 a quarter; of two notes in alternation, both lengths are shared out."""
    tremolo = f'<ornaments><tremolo type="{kind}">{text}</tremolo></ornaments>'
    data = document(measures(note("C4", duration, extra=f"<type>{note_type}</type>" * bool(note_type), notations=tremolo)))
    assert marks_of(line_of(data)) == [mark]
    assert score_of(data)[0].parts[0].strokes == {1: (repeat, exact)}


@pytest.mark.parametrize(("kind", "text"), [("unmeasured", "0"), ("single", "")])
def test_a_tremolo_without_strokes_has_no_measure(kind: str, text: str) -> None:
    data = document(measures(note("C4", 8, notations=f'<ornaments><tremolo type="{kind}">{text}</tremolo></ornaments>')))
    assert marks_of(line_of(data)) == ["tremolo"]
    assert score_of(data)[0].parts[0].strokes == {}


@pytest.mark.parametrize(("sign", "key", "before", "expected"), [
    ("<turn/>", 0, "", (2, -1, -3, False)),
    ("<turn/>", 1, "", (2, -1, -3, False)),
    ("<turn/>", 7, "", (3, 0, -2, False)),  # seven sharps: from a natural C up to D sharp, down to B sharp, A sharp
    ("<turn/>", -3, "", (2, -2, -4, False)),
    ("<turn/><accidental-mark>flat</accidental-mark>", 0, "", (1, -1, -3, False)),
    ("<turn/><accidental-mark>sharp</accidental-mark><accidental-mark>flat</accidental-mark>", 0, "", (3, -2, -3, False)),
    ('<turn/><accidental-mark placement="below">flat</accidental-mark>', 0, "", (2, -2, -3, False)),
    ('<mordent long="yes"/><accidental-mark>flat</accidental-mark>', 0, "", (2, -2, -3, True)),
    ("<inverted-mordent/><accidental-mark>flat</accidental-mark>", 0, "", (1, -1, -3, False)),
    ("<mordent/>", 0, "Bb4", (2, -2, -3, False)),
    ("<schleifer/>", 0, "Ab4", (2, -1, -4, False)),
])  # fmt: skip
def test_an_ornament_knows_its_neighbours(sign: str, key: int, before: str, expected: tuple[int, int, int, bool]) -> None:
    """Of a C5: by the key, what the measure altered, and the accidentals over and under the sign."""
    measure = note(before or "G4", 4) + note("C5", 12, notations=f"<ornaments>{sign}</ornaments>")
    data = document(measures(measure, first=attributes(fifths=key)))
    assert score_of(data)[0].parts[0].ornaments == {2: expected}


def test_a_glissando_belongs_to_the_note_it_leaves_a_slide_to_the_one_it_reaches() -> None:
    first, last = ("".join(f'<{line} type="{kind}"/>' for line in ("glissando", "slide")) for kind in ("start", "stop"))
    assert marks(note("C4", 8, notations=first) + note("C5", 8, notations=last)) == ["glissando", "portamento"]


def test_only_the_sounding_pitch_of_a_harmonic_is_heard() -> None:
    """The example of the MusicXML documentation: C4 base, F4 touched, C6 sounding."""

    def harmonic(kind: str) -> str:
        return f"<technical><harmonic><artificial/><{kind}-pitch/></harmonic></technical>"

    data = document(measures(
        note("C4", 16, notations=harmonic("base")) + note("F4", 16, chord=True, notations=harmonic("touching"))
        + note("C6", 16, chord=True, notations=harmonic("sounding")),
        note("G3", 16) + note("C4", 16, chord=True, extra="<notehead>diamond</notehead>"),
        note("G3", 16) + note("B3", 16, chord=True, extra="<notehead>diamond</notehead>") + note("D5", 16, chord=True),
    ))  # fmt: skip
    line = line_of(data)
    assert line.key == [84, 79, 55, 59, 74]
    assert marks_of(line)[:2] == ["artificial harmonic", "artificial harmonic"]


def test_passes_of_a_note_are_kept_and_nothing_is_told() -> None:
    data = document(measures(note("C4", 8, attributes='time-only="1, 2"') + note("D4", 8)))
    score, _ = score_of(data)
    assert score.parts[0].only == {1: (1, 2)}
    assert not [text for text in messages(data) if "pass" in text]
