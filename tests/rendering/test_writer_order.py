"""Scores written as MusicXML 4.0: the order of measures, and what a page cannot say."""

from __future__ import annotations

import pytest
from lxml import etree

from fixtures import demo
from rendering.codes import message
from rendering.pipeline import load
from rendering.readers import Limits
from rendering.writers import write_musicxml
from rendering.writers.musicxml import read_back
from rendering.writers.musicxml.repeats import signs_of
from tests.rendering.made_scores import document, measures, note
from tests.rendering.notation import read_notation
from tests.rendering.test_writer import texts, written

# ── The order of measures ──


@pytest.mark.parametrize(("itinerary", "count", "bars", "jumps"), [
    ([(1, 4, 1)], 4, [], []),
    ([(1, 4, 1), (1, 4, 2)], 4, ["4 backward"], []),
    ([(1, 1, 1), (2, 3, 1), (2, 3, 2), (2, 3, 3), (4, 4, 1)], 4, ["2 forward", "3 backward x3"], []),
    ([(1, 2, 1), (1, 1, 2), (3, 4, 2)], 4, ["2 start 1", "2 backward stop 1", "3 start 2", "3 stop 2"], []),
    ([(1, 4, 1), (1, 2, 2)], 4, [], ["4 dacapo", "2 fine"]),
    ([(1, 4, 1), (2, 2, 2), (5, 5, 2)], 5, ["2 forward", "3 start 1", "4 backward stop 1", "5 start 2", "5 stop 2"], []),
    ([(1, 2, 1), (1, 2, 2), (3, 4, 1), (1, 2, 3)], 4, ["2 backward"], ["4 dacapo", "2 fine"]),
    ([(1, 3, 1), (2, 3, 2), (4, 5, 1), (2, 2, 3), (6, 6, 1)], 6, ["2 forward", "3 backward"],
     ["5 dalsegno", "2 segno", "2 tocoda", "6 coda"]),
])  # fmt: skip
def test_orders_that_signs_can_say(itinerary: list[tuple[int, int, int]], count: int, bars: list[str], jumps: list[str]) -> None:
    signs = signs_of(itinerary, count)
    assert signs is not None
    shown = [
        " ".join(filter(None, (str(b.measure + 1), b.repeat, b.ending, ",".join(map(str, b.passes)), f"x{b.times}" if b.times else "")))
        for b in signs.bars
    ]  # fmt: skip
    assert shown == bars
    assert [f"{measure + 1} {kind}" for measure, kind, _ in signs.jumps] == jumps


def test_an_order_that_no_sign_can_say_is_written_straight() -> None:
    score = read_notation("tempo 120 3:1=60\nplay 1-1 3-3 2-2 1-1\nvoice 1: =p C5:w | =f D5:w | E5:w |")
    root, problems = written(score)
    told = ["score: repeat signs cannot say in which order the measures are played – each measure is written as often as it is played"]
    assert [message(p) for p in problems] == told
    assert texts(root, "part/measure/note/pitch/step") == ["C", "E", "D", "C"]
    assert [s.get("tempo") for s in root.iter("sound") if s.get("tempo")] == ["120", "60", "120"]
    assert [e.tag for d in root.iter("dynamics") for e in d] == ["p", "f", "f", "p"]


VERSES = '<lyric number="1"><text>one</text></lyric><lyric number="2"><text>two</text></lyric>'


def test_passes_are_kept_apart() -> None:
    """MusicXML 4.0, time-only: in which passes a note sounds; verse n is sung in pass n."""
    score, _ = load(document(measures(note("C4", 16, attributes='time-only="1, 3"', extra=VERSES))))
    score.itinerary = [(1, 1, 1), (1, 1, 2), (1, 1, 3)]
    root, problems = written(score)
    assert problems == []
    assert [n.get("time-only") for n in root.iter("note")] == ["1,3"]
    assert [r.get("times") for r in root.iter("repeat")] == ["3"]
    score.itinerary = [(1, 1, 3), (1, 1, 2), (1, 1, 1)]
    root, problems = written(score)
    assert [p.code for p in problems] == ["repeats-written-straight"]
    assert [(n.find("rest") is None, texts(n, "lyric/text")) for n in root.iter("note")] == [
        (True, ["one", "two"]), (False, []), (True, ["one"]),
    ]  # fmt: skip


def test_the_time_of_grace_notes() -> None:
    """MusicXML 4.0, grace: percent of the note before or after, or divisions beside."""
    grace = note("D4", grace="plain").replace("<grace/>", '<grace steal-time-previous="25" make-time="0.5"/>')
    root, problems = written(load(document(measures(note("C4", 8) + grace + note("E4", 8))))[0])
    assert problems == []
    assert [dict(g.attrib) for g in root.iter("grace")] == [{"steal-time-previous": "25", "make-time": "120"}]


# ── What cannot be said ──


def test_what_a_page_cannot_say_is_told() -> None:
    score = read_notation("voice 1: (C5:q[spiccato] D5:q) E5:h |")
    _, problems = written(score)
    assert [message(p) for p in problems] == [
        "Violin, measure 1, beat 1: MusicXML has no way to write this as it is (marks legato+spiccato as legato) – it reads back otherwise"
    ]


def test_names_that_xml_cannot_hold() -> None:
    score = read_notation("voice 1: C5:w |")
    score.title = "One\x00Two"
    score.parts[0].id, score.parts[0].name = "1st & only", "Violin <1>"
    root, problems = written(score)
    assert problems == []
    assert (root.findtext("work/work-title"), root.find("part").get("id")) == ("OneTwo", "P1")  # type: ignore[union-attr]
    assert read_back(etree.tostring(root)).parts[0].name == "Violin <1>"


def test_words_that_were_not_understood_are_kept() -> None:
    score = read_notation("voice 1: C5:w |")
    score.unread = [("wie ein Hauch aus der Ferne", "P1", 1920, 0)]
    assert [u[0] for u in read_back(write_musicxml(score)[0]).unread] == ["wie ein Hauch aus der Ferne"]


def test_an_empty_score_is_a_document() -> None:
    root, problems = written(read_notation("voice 1: r:w |"))
    assert (problems, len(root.findall("part/measure/note/rest"))) == ([], 1)


def test_the_same_score_gives_the_same_bytes() -> None:
    data = (demo.FOLDER / "lamps-along-the-weir.musicxml").read_bytes()
    one, two = (write_musicxml(load(data, Limits())[0], check=False)[0] for _ in range(2))
    assert one == two
