"""What the file says of single notes, as it is played: passes, and the time of grace notes. MusicXML 4.0 is the source."""

from __future__ import annotations

import pytest

from rendering.perform import perform_part, plan_playing
from rendering.perform.played import Played
from rendering.score_document import read_score, write_score
from tests.rendering.made_scores import document, measures, note, notes, score_of

AT_60 = '<sound tempo="60"/>'
REPEAT = '<barline location="right"><repeat direction="backward" times="3"/></barline>'


def played(*contents: str) -> Played:
    score, _ = score_of(document(measures(*contents)))
    assert read_score(write_score(score)).parts[0].only == score.parts[0].only
    assert read_score(write_score(score)).parts[0].steals == score.parts[0].steals
    return perform_part(score.parts[0], plan_playing(score, 960)[0], 960).lines[0]


@pytest.mark.parametrize(("passes", "heard"), [
    ("1", [60, 62, 62, 62]), ("2", [62, 60, 62, 62]), ("1, 3", [60, 62, 62, 60, 62]), ("2-3", [62, 60, 62, 60, 62]),
])  # fmt: skip
def test_a_note_sounds_in_its_passes_alone(passes: str, heard: list[int]) -> None:
    text = note("C4", 8, attributes=f'time-only="{passes}"') + note("D4", 8) + REPEAT
    assert played(text).key == heard


def test_the_order_of_passes_is_the_order_of_playing() -> None:
    text = note("C4", 8, attributes='time-only="2"') + note("D4", 8) + REPEAT
    assert played(text).on == [1920, 3840, 5760, 9600]


def grace(pitch: str, steal: str) -> str:
    return note(pitch, grace="plain").replace("<grace/>", f"<grace {steal}/>")


@pytest.mark.parametrize(("steal", "on", "off"), [
    ('steal-time-previous="50"', [0, 480, 960], [480, 960, 1920]),
    ('steal-time-following="50"', [0, 960, 1440], [960, 1440, 1920]),
    ('steal-time-following="25" steal-time-previous="25"', [0, 720, 1200], [720, 1200, 1920]),
    ('make-time="1"', [0, 720, 960], [720, 960, 1920]),  # a sixteenth: 1 of 4 divisions a quarter
    ('steal-time-following="100"', [0, 960, 1680], [960, 1680, 1920]),  # never more than three quarters
    ('steal-time-following="0"', [0, 959, 960], [959, 960, 1920]),
])  # fmt: skip
def test_a_grace_note_takes_the_time_that_the_file_states(steal: str, on: list[int], off: list[int]) -> None:
    row = played(AT_60 + note("C4") + grace("D4", steal) + notes("E4 F4 G4"))
    assert (row.on[:3], row.off[:3]) == (on, off)
    assert row.key[:3] == [60, 62, 64]


def test_two_grace_notes_take_their_parts_one_after_the_other() -> None:
    text = grace("D4", 'steal-time-following="25"') + grace("E4", 'steal-time-following="25"') + note("F4", 16)
    assert played(AT_60 + text).on == [0, 960, 1920]
