"""The order of playing. Common practice, no source, unless a test says otherwise; MusicXML says how it is written."""

from __future__ import annotations

import pytest

from tests.rendering.made_scores import direction, document, measures, messages, note, score_of, words

WHOLE = note("C4", 16)


def bar(text: str) -> str:
    """Return a measure by signs: "|:" and ":|" repeats, "[1,2" an ending begins, "]" it ends, "||" a movement ends."""
    left = right = ""
    extra = ""
    for sign in text.split():
        if sign == "|:":
            left += '<repeat direction="forward"/>'
        elif sign.startswith(":|"):
            right += f'<repeat direction="backward"{" times=" + chr(34) + sign[2:] + chr(34) if sign[2:] else ""}/>'
        elif sign.startswith("["):
            left = f'<ending number="{sign[1:]}" type="start"/>' + left
        elif sign == "]":
            right = '<ending number="" type="stop"/>' + right
        elif sign == "||":
            right = "<bar-style>light-heavy</bar-style>" + right
        elif sign != ".":
            extra += SIGNS[sign]
    lines = f'<barline location="left">{left}</barline>' * bool(left)
    return lines + extra + WHOLE + f'<barline location="right">{right}</barline>' * bool(right)


SIGNS = {
    "DC": direction("<words/>", sound='dacapo="yes"'),
    "DS": direction("<words/>", sound='dalsegno="s"'),
    "segno": direction("<segno/>", sound='segno="s"'),
    "tocoda": direction("<words/>", sound='tocoda="c"'),
    "coda": direction("<coda/>", sound='coda="c"'),
    "fine": direction("<words/>", sound='fine="yes"'),
    "w:DC": words("D.C. al Fine"),
    "w:DCC": words("D.C. al Coda"),
    "w:DS": words("Dal Segno"),
    "w:fine": words("Fine"),
    "w:tocoda": words("To Coda"),
    "w:coda": words("CODA"),
    "w:menuet": words("Menuetto"),
    "w:trio": words("Trio"),
    "w:again": words("Menuetto D.C."),
    "sign:segno": direction("<segno/>"),
    "sign:coda": direction("<coda/>"),
}


def played(text: str) -> str:
    """Return the itinerary as "1-4 1-2 ...", measures parted by "/" in the text."""
    score, _ = score_of(document(measures(*map(bar, text.split("/")))))
    ordinals = [m for first, last, _ in score.itinerary for m in range(first, last + 1)]
    runs: list[list[int]] = []
    for m in ordinals:
        if runs and runs[-1][1] == m - 1:
            runs[-1][1] = m
        else:
            runs.append([m, m])
    return " ".join(f"{a}-{b}" if a != b else str(a) for a, b in runs)


@pytest.mark.parametrize(("text", "order"), [
    (". / .", "1-2"),
    (". / :| / .", "1-2 1-3"),
    (". / |: / :| / .", "1-3 2-4"),
    (". / :|3 / .", "1-2 1-2 1-3"),
    (". / :| / . / :| / .", "1-2 1-4 3-5"),
    ("|: / |: / :| / :| / .", "1-3 2-4 1-3 2-5"),
    ("|: / .", "1-2"),
    ("|: / [1 ] :| / [2 ] / .", "1-2 1 3-4"),
    ("|: / [1,2 ] :| / [3 ] / .", "1-2 1-2 1 3-4"),
    ("|: / [1-3 ] :| / [4 ] / .", "1-2 1-2 1-2 1 3-4"),
    ("|: / [1 ] :| / [2 ] :| / [3 ] / .", "1-2 1 3 1 4-5"),
    ("|: / [1 ] :| / .", "1-2 1 3"),
    ("|: / [ ] :| / [ ] / .", "1-2 1 3-4"),
    ("|: / ] :| / [2 ] / .", "1-2 1 3-4"),
    ("|: / [1 / . ] :| / [2 ] / .", "1-3 1 4-5"),
    ("|: / [1 ] / . / :| / [2 ] / .", "1-4 1 5-6"),
    ("|: / [1 ] :| / [2 ] / |: / :|", "1-2 1 3-5 4-5"),
    ("|: / [1 ] :| / [2 |: ] / :| / .", "1-2 1 3-4 3-5"),
    (". / [2 ] / .", "1-3"),
    (". / || / . / :| / .", "1-4 3-5"),
], ids=str)  # fmt: skip
def test_repeats_and_endings(text: str, order: str) -> None:
    assert played(text) == order
    assert not [m for m in messages(document(measures(*map(bar, text.split("/"))))) if "sense" in m or "never be played" in m]


@pytest.mark.parametrize(("text", "order"), [
    (". / fine / . / DC", "1-4 1-2"),
    (". / . / DC / .", "1-3 1-4"),
    (". / segno / fine / DS", "1-4 2-3"),
    (". / segno / tocoda / DS / coda / .", "1-4 2-3 5-6"),
    (". / tocoda / DC / coda / .", "1-3 1-2 4-5"),
    ("|: / [1 ] :| / [2 fine ] / . / DC", "1-2 1 3-5 1 3"),
    (". / :| / fine / DC / .", "1-2 1-4 1-3 5"),
    (". / w:fine / . / w:DC", "1-4 1-2"),
    (". / sign:segno / w:fine / w:DS", "1-4 2-3"),
    (". / w:tocoda / w:DCC / w:coda / .", "1-3 1-2 4-5"),
    (". / sign:coda / w:DCC / sign:coda / .", "1-3 1-2 4-5"),
    ("w:menuet / . / w:trio / w:again", "1-4 1-2"),
    ("w:menuet / . / w:trio / w:again / . / .", "1-4 1-2 5-6"),
    (". / || / w:menuet / . / w:trio / w:again || / .", "1-6 3-4 7"),
    (". / || / . / fine / . / DC || / .", "1-6 3-4 7"),
    (". / fine || / . / DC", "1-4 1-2"),
    (". / . / w:DC / .", "1-4 1-4"),
], ids=str)  # fmt: skip
def test_da_capo_dal_segno_coda_and_fine_from_sounds_and_from_words(text: str, order: str) -> None:
    assert played(text) == order


def test_passes_are_numbered_for_lyrics_and_time_only() -> None:
    score, _ = score_of(document(measures(*map(bar, ("|:", "[1 ] :|", "[2 ]", "fine", "DC")))))
    assert score.itinerary == [(1, 2, 1), (1, 1, 2), (3, 3, 2), (4, 5, 1), (1, 1, 3), (3, 4, 2)]


def test_marks_in_one_part_are_for_all() -> None:
    first, second = measures(WHOLE, WHOLE, WHOLE), measures(WHOLE, bar(":|"), WHOLE)
    for parts in ((first, second), (second, first)):
        assert score_of(document(*parts))[0].itinerary == [(1, 2, 1), (1, 2, 2), (3, 3, 1)]


NO_ENDINGS = "score: with the endings as they stand some measures would never be played – repeats are played without them"
NO_TARGET = "measure 2, beat 1: a jump to the {} does not find it, or finds more than one – the music goes on"


def test_a_repeat_in_the_middle_of_a_measure_is_taken_at_its_end_and_told() -> None:
    middle = '<barline location="middle"><repeat direction="backward"/></barline>'
    data = document(measures(WHOLE, note("C4", 8) + middle + note("D4", 8), WHOLE))
    assert score_of(data)[0].itinerary == [(1, 2, 1), (1, 2, 2), (3, 3, 1)]
    assert messages(data) == ["Violin, measure 2: a repeat stands in the middle of the measure – it is taken at the end of the measure"]


@pytest.mark.parametrize(("text", "order", "told"), [
    ("[1,2,3 ] / [2 ] / . ] :| / .", "1-3 1-4", [NO_ENDINGS]),
    (". / DS / .", "1-3", [NO_TARGET.format("segno")]),
    (". / DC / . || / .", "1-4", [NO_TARGET.format("beginning of the movement")]),
])  # fmt: skip
def test_what_makes_no_sense_is_played_straight_and_told(text: str, order: str, told: list[str]) -> None:
    assert played(text) == order
    assert [m for m in messages(document(measures(*map(bar, text.split("/"))))) if "jump" in m or "played" in m] == told
