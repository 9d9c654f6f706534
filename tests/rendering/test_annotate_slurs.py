"""Slurs: legato on all their notes, joined neighbours, rests, several slurs, portato. MusicXML numbers overlapping slurs."""

from __future__ import annotations

import pytest

from rendering.score import SLUR_ARRIVES, SLUR_LEAVES
from tests.rendering.made_scores import document, line_of, marks_of, measures, messages, note, score_of, words

OUT, IN, BOTH = SLUR_LEAVES, SLUR_ARRIVES, SLUR_LEAVES | SLUR_ARRIVES
BACK = "<backup><duration>16</duration></backup>"
DOT = "<articulations><staccato/></articulations>"


def slurred(pattern: str, duration: int = 4, *, dots: str = "") -> str:
    """Return notes C D E … with slurs: "(C D) (E F)"; "-" for a rest; `dots` marks the notes that have one."""
    out = []
    for i, word in enumerate(pattern.split()):
        step = word.strip("()")
        notations = '<slur type="stop" number="1"/>' * word.endswith(")") + '<slur type="start" number="1"/>' * word.startswith("(")
        notations += DOT * (dots[i : i + 1] == ".")
        out.append(note("" if step == "-" else f"{step}4", duration, notations=notations))
    return "".join(out)


def slurs(*contents: str) -> list[int]:
    return line_of(document(measures(*contents))).slur


def legato(*contents: str, name: str = "Violin") -> list[str]:
    return marks_of(line_of(document(measures(*contents), names=(name,))))


@pytest.mark.parametrize(("pattern", "joins", "marked"), [
    ("(C D E) F", [OUT, BOTH, IN, 0], [True, True, True, False]),
    ("(C D) (E F)", [OUT, IN, OUT, IN], [True] * 4),
    ("(C (D) E) F", [OUT, BOTH, IN, 0], [True, True, True, False]),
    ("(C - D) E", [0, 0, 0], [True, True, False]),
    ("C D E F", [0, 0, 0, 0], [False] * 4),
])  # fmt: skip
def test_neighbours_in_one_slur_are_joined_and_rests_break(pattern: str, joins: list[int], marked: list[bool]) -> None:
    """Two slurs in a row do not join each other; a note that ends one and starts the next is joined on both sides."""
    text = slurred(pattern)
    assert slurs(text) == joins
    assert [m == "legato" for m in legato(text)] == marked


def test_a_slur_goes_over_bar_lines() -> None:
    assert slurs(slurred("(C D E F"), slurred("C D E F"), slurred("C) D E F")) == [OUT, *[BOTH] * 7, IN, 0, 0, 0]


def test_chords_are_joined_as_a_whole() -> None:
    first = note("C4", 8, notations='<slur type="start"/>') + note("E4", 8, chord=True)
    last = note("D4", 8, notations='<slur type="stop"/>') + note("F4", 8, chord=True)
    assert slurs(first + last) == [OUT, OUT, IN, IN]
    assert legato(first + last) == ["legato"] * 4


def test_a_slurred_grace_note_is_joined_and_the_one_before_the_slur_is_not() -> None:
    grace = note("B3", grace="slashed")
    inside = note("B3", grace="slashed", notations='<slur type="start"/>')
    assert slurs(inside + note("C4", 8, notations='<slur type="stop"/>') + note("D4", 8)) == [OUT, IN, 0]
    outside = note("C4", 8, notations='<slur type="start"/>') + note("D4", 8, notations='<slur type="stop"/>')
    assert slurs(grace + outside) == [0, OUT, IN]


def test_numbered_slurs_cross() -> None:
    text = (
        note("C4", notations='<slur type="start" number="1"/>')
        + note("D4", notations='<slur type="start" number="2"/>')
        + note("E4", notations='<slur type="stop" number="1"/>')
        + note("F4", notations='<slur type="stop" number="2"/>')
    )
    assert slurs(text) == [OUT, BOTH, BOTH, IN]


def test_one_number_in_two_voices() -> None:
    data = document(measures(slurred("(C D E F"), slurred("C) D E F") + BACK + slurred("(C D E F)").replace("<voice>1", "<voice>2")))
    assert [line.slur for line in score_of(data)[0].parts[0].lines] == [[OUT, BOTH, BOTH, BOTH, IN, 0, 0, 0], [OUT, BOTH, BOTH, IN]]


def test_a_slur_from_one_voice_to_another_marks_the_first_one_and_the_last_note() -> None:
    start = note("C4", 8, notations='<slur type="start"/>') + note("D4", 8)
    stop = note("", 8, voice="2") + note("G4", 8, voice="2", notations='<slur type="stop"/>')
    lines = score_of(document(measures(start + BACK + stop)))[0].parts[0].lines
    assert [marks_of(line) for line in lines] == [["legato", "legato"], ["legato"]]
    assert [line.slur for line in lines] == [[OUT, IN], [0]]


def test_a_stop_may_be_written_before_its_start_in_another_voice() -> None:
    stop = note("", 8) + note("G4", 8, notations='<slur type="stop"/>')
    start = note("C4", 8, voice="2", notations='<slur type="start"/>') + note("D4", 8, voice="2")
    data = document(measures(stop + BACK + start))
    assert [line.slur for line in score_of(data)[0].parts[0].lines] == [[0], [OUT, IN]]
    assert messages(data) == []


def test_slurs_without_an_end_or_a_start_are_left_out_and_told() -> None:
    data = document(measures(slurred("(C D E F"), slurred("(C D) E) F")))
    assert line_of(data).slur == [0, 0, 0, 0, OUT, IN, 0, 0]
    assert messages(data) == [
        "Violin, measure 1, beat 1: a slur starts and does not end – it is left out",
        "Violin, measure 2, beat 3: a slur ends and did not start – it is left out",
    ]


def test_dots_under_a_slur_are_portato_for_strings_and_winds() -> None:
    """Common practice, no source: one bow (one breath), each note set off; on a keyboard the dots stay dots."""
    text = slurred("(C D E F)", dots="....")
    assert legato(text) == ["portato"] * 4
    assert slurs(text) == [0, 0, 0, 0]
    assert legato(text, name="Piano") == ["legato, staccato"] * 4


def test_a_lone_dot_at_the_end_of_a_slur_shortens_its_note() -> None:
    text = slurred("(C D) (E F)", dots=" . .")
    assert legato(text) == ["legato", "legato, staccato", "legato", "legato, staccato"]
    assert slurs(text) == [OUT, IN, OUT, IN]


def test_a_slur_overrides_words_that_ask_for_the_contrary() -> None:
    assert legato(words("non legato") + slurred("(C D) E F")) == ["legato", "legato", "non legato", "non legato"]
