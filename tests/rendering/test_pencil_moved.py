"""Pencil marks moved to a new version of their score: every mark on the same note, exactly the lost ones orphans."""

from __future__ import annotations

import copy
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from rendering.pencil import PencilMarks, apply, reanchor
from rendering.pencil.anchors import chord_at, place_in, reach_of
from rendering.pencil.document import Anchor, Item
from rendering.score import GRACE_WITH, Line, Measure, Part, Score
from tests.rendering.notation import read_notation
from tests.rendering.page_scores import page_scores
from tests.rendering.test_pencil import Json, pencil

TWO = """
part P1 Violin strings.violin
voice 1: C5:q D5:q E5:q F5:q | G5:h A5:h | B5:q C6:q r:h |
part P2 Cello strings.cello
voice 1: C3:h G3:h | C3:w | F3:q+A3:q | E3:h D3:h |
""".replace("F3:q+A3:q |", "F3+A3:q r:h. |")


def in_front(score: Score, count: int, at: int = 0) -> Score:
    """Return the score with measures of rests put in before the measure `at` (index)."""
    made = copy.deepcopy(score)
    meter, length = made.measures[0].meter, made.measures[0].length
    place = made.measures[at].start if at < len(made.measures) else made.measures[-1].start + made.measures[-1].length
    shift = count * length
    fresh = [Measure(0, "x", place + n * length, length, meter, 0) for n in range(count)]
    later = [m._replace(start=m.start + shift) for m in made.measures[at:]]
    made.measures = [m._replace(ordinal=n) for n, m in enumerate([*made.measures[:at], *fresh, *later], 1)]
    made.itinerary = [(1, len(made.measures), 1)]
    for part in made.parts:
        for line in part.lines:
            line.offset = [o + shift if o >= place else o for o in line.offset]
    return made


def without(score: Score, *gone: tuple[int, int, int]) -> Score:
    """Return the score without the notes named by (part, line, row)."""
    made = copy.deepcopy(score)
    for p, part in enumerate(made.parts):
        for i, line in enumerate(part.lines):
            keep = [row for row in range(len(line)) if (p, i, row) not in gone]
            kept = Line(line.staff, line.voice)
            for row in keep:
                kept.add(line.note(row))
            part.lines[i] = kept
    return made


def each_note(score: Score) -> list[Json]:
    """Return an item for every note of a score, by its place in its chord."""
    items: list[Json] = []
    for part in score.parts:
        for i, line in enumerate(part.lines):
            for row in range(len(line)):
                at = anchor_of(score, part, i, row)
                items.append({"id": f"{part.id}-{i}-{row}", "at": at.model_dump(exclude_none=True), "add": ["accent"]})
    return items


def anchor_of(score: Score, part: Part, i: int, row: int) -> Anchor:
    line = part.lines[i]
    place = place_in(score, line.offset[row])
    at = Anchor(part=part.id, ordinal=place.ordinal, beat=place.beat, staff=line.staff, voice=line.voice)
    if line.grace[row]:
        before = [r for r in range(row + 1) if line.offset[r] == line.offset[row] and line.grace[r]]
        at = at.model_copy(update={"grace": sum(not line.grace[r] & GRACE_WITH for r in before)})
    chord = chord_at(part, at, line.offset[row])
    return at.model_copy(update={"chord": [spot.row for spot in chord].index(row) + 1})


def notes_of(score: Score, item: Item) -> list[str]:
    """Return the tracers of the notes that an item holds."""
    reach = reach_of(score, item)
    assert reach is not None
    return [reach.part.lyrics[reach.part.lines[spot.line].lyric[spot.row]] for spot in reach.spots]


def traced(score: Score) -> Score:
    """Return the score with a syllable of its own on every note, by which a test knows it again; nothing else looks at it."""
    made = copy.deepcopy(score)
    for p, part in enumerate(made.parts):
        part.lyrics = [""]
        for i, line in enumerate(part.lines):
            for row in range(len(line)):
                part.lyrics.append(f"{p}/{i}/{row}")
                line.lyric[row] = len(part.lyrics) - 1
    return made


def check_followed(old: Score, new: Score, gone: set[str]) -> None:
    """Every mark is on its note; those whose note is among `gone` are orphans, and no others."""
    marked = pencil(*each_note(old))
    moved, orphans = reanchor(old, new, marked)
    before = {item.id: notes_of(old, item) for item in marked.items}
    assert {tracer for item in orphans for tracer in before[item.id]} == gone
    assert {item.id: notes_of(new, item) for item in moved.items} == {
        name: notes for name, notes in before.items() if name not in {item.id for item in orphans}
    }  # fmt: skip
    assert [item.id for item in moved.items] == [item.id for item in marked.items if item not in orphans]
    assert set(orphans) <= set(marked.items)


# ── By hand ──


def test_two_measures_in_front_a_part_renamed_and_a_note_deleted() -> None:
    """All marks on the same notes, exactly one orphan."""
    old = traced(read_notation(TWO))
    new = without(in_front(old, 2), (0, 0, 2))
    new.parts[1].name, new.parts[1].id = "Violoncello", "Vc"
    marked = pencil(*each_note(old))
    moved, orphans = reanchor(old, new, marked)
    assert [(o.id, o.at.ordinal, o.at.beat) for o in orphans] == [("P1-0-2", 1, "3")]
    assert [item.at.part for item in moved.items if item.id.startswith("P2")] == ["Vc"] * 7
    assert {item.at.ordinal for item in moved.items} == {3, 4, 5, 6}
    check_followed(old, new, {"0/0/2"})
    found, lost = apply(new, moved)
    assert lost == []
    assert all(line.marks[row] for part in found.parts for line in part.lines for row in range(len(line)))


def test_parts_reordered_and_renumbered() -> None:
    """A new export counts its parts anew: the music says which is which."""
    old = traced(read_notation(TWO))
    new = copy.deepcopy(old)
    new.parts.reverse()
    new.parts[0].id, new.parts[1].id = "P1", "P2"
    check_followed(old, new, set())


def test_equal_parts_are_told_apart_by_their_names() -> None:
    text = "part P1 Horn_1 brass.french-horn\nvoice 1: C4:w |\npart P2 Horn_2 brass.french-horn\nvoice 1: C4:w |"
    old = traced(read_notation(text))
    new = copy.deepcopy(old)
    new.parts.reverse()
    check_followed(old, new, set())


def test_a_measure_taken_out_orphans_its_marks() -> None:
    old = traced(read_notation(TWO))
    cut = in_front(old, 0)
    cut.measures = [
        m._replace(ordinal=n, start=m.start - (3840 if n > 1 else 0)) for n, m in enumerate([old.measures[0], *old.measures[2:]], 1)
    ]
    gone = set()
    for p, part in enumerate(cut.parts):
        rows = [row for row, o in enumerate(part.lines[0].offset) if 3840 <= o < 7680]
        gone |= {f"{p}/0/{row}" for row in rows}
        kept = without(Score(unit=960, parts=[part]), *((0, 0, row) for row in rows)).parts[0].lines[0]
        kept.offset = [o - 3840 if o >= 7680 else o for o in kept.offset]
        part.lines[0] = kept
    check_followed(old, cut, gone)


def test_a_note_of_a_chord_deleted_and_one_corrected() -> None:
    """A pitch that is put right keeps its mark; a note taken out of a chord loses it, the others keep theirs."""
    old = traced(read_notation("voice 1: C4+E4+G4:h F4:h |"))
    new = without(old, (0, 0, 1))
    new.parts[0].lines[0].key[2] = 66
    check_followed(old, new, {"0/0/1"})


def test_another_grid_moves_nothing() -> None:
    old = traced(read_notation(TWO))
    new = copy.deepcopy(old)
    new.unit *= 3
    new.measures = [m._replace(start=3 * m.start, length=3 * m.length) for m in new.measures]
    for part in new.parts:
        for line in part.lines:
            line.offset, line.duration = [3 * o for o in line.offset], [3 * d for d in line.duration]
    check_followed(old, new, set())


def test_voices_that_are_counted_otherwise() -> None:
    old = traced(read_notation("voice 1: C5:h D5:h |\nvoice 2: C4:h G3:h |"))
    new = copy.deepcopy(old)
    new.parts[0].lines[1].voice = "5"
    moved, orphans = reanchor(old, new, pencil(*each_note(old)))
    assert orphans == ()
    assert [item.at.voice for item in moved.items] == ["1", "1", "5", "5"]


@pytest.mark.parametrize(("gone", "at", "until"), [
    ((), (3, "2"), (4, "3")),
    (((0, 0, 1),), (3, "3"), (4, "3")),
    (((0, 0, 5),), (3, "2"), (4, "1")),
    (((0, 0, 1), (0, 0, 2), (0, 0, 3), (0, 0, 4), (0, 0, 5)), None, None),
])  # fmt: skip
def test_a_passage_lives_as_long_as_one_of_its_notes(
    gone: tuple[tuple[int, int, int], ...], at: tuple[int, str] | None, until: tuple[int, str] | None
) -> None:
    old = read_notation(TWO)
    passage = pencil({"at": "1:2", "until": "2:3", "add": ["pizzicato"]})
    moved, orphans = reanchor(old, without(in_front(old, 2), *gone), passage)
    if at is None or until is None:
        assert (moved.items, orphans) == ((), passage.items)
        return
    (item,) = moved.items
    assert item.until is not None
    assert ((item.at.ordinal, item.at.beat), (item.until.ordinal, item.until.beat)) == (at, until)


def test_dynamics_hairpins_and_tempo_follow_their_measures() -> None:
    old = read_notation(TWO)
    items = pencil(
        {"at": "2:3", "level": 500},
        {"at": "1:2", "until": "3:1", "hairpin": {"direction": "crescendo"}},
        {"at": "3:1", "tempo": 60_000},
        {"at": {"part": "P2", "ordinal": 2, "beat": "2"}, "level": 125},
    )
    new = in_front(old, 1, at=1)
    new.parts.pop()
    moved, orphans = reanchor(old, new, items)
    assert [(item.at.ordinal, item.at.beat) for item in moved.items] == [(3, "3"), (1, "2"), (4, "1")]
    assert [(o.id, o.at.part) for o in orphans] == [("m4", "P2")]
    assert moved.items[1].until is not None
    assert moved.items[1].until.ordinal == 4


def test_a_tempo_outlives_the_part_that_it_was_written_in() -> None:
    old = read_notation(TWO)
    new = in_front(old, 1)
    del new.parts[0]
    moved, orphans = reanchor(old, new, pencil({"at": "2:1", "tempo": 60_000}))
    assert (orphans, [(item.at.part, item.at.ordinal) for item in moved.items]) == ((), [("P2", 3)])


def test_what_was_lost_before_is_an_orphan_and_the_version_stays() -> None:
    old = read_notation(TWO)
    marked = pencil({"at": "1:3/2", "add": ["accent"]}, {"at": "1:1", "add": ["accent"]}, score_version=2)
    moved, orphans = reanchor(old, old, marked)
    assert ([o.id for o in orphans], [i.id for i in moved.items], moved.score_version) == (["m1"], ["m2"], 2)


def test_an_unchanged_score_changes_nothing() -> None:
    old = traced(read_notation(TWO))
    marked = pencil(*each_note(old))
    assert reanchor(old, copy.deepcopy(old), marked) == (marked, ())


def test_nothing_in_common_orphans_all() -> None:
    other = read_notation("part X Drum drum.snare-drum\nvoice 1: C4:w |")
    marked = pencil(*each_note(read_notation(TWO)))
    assert reanchor(read_notation(TWO), other, marked) == (PencilMarks(kind="pencil-marks", edition=1), marked.items)


# ── Random scores, random edits ──


@st.composite
def edits(draw: st.DrawFn) -> tuple[Score, Score, set[str]]:
    """Return a score, the same with measures put in and notes taken out, and the tracers of those taken out."""
    old = traced(draw(page_scores()))
    old.itinerary = [(1, len(old.measures), 1)]
    rows = [(p, i, row) for p, part in enumerate(old.parts) for i, line in enumerate(part.lines) for row in range(len(line))]
    gone = draw(st.lists(st.sampled_from(rows), max_size=2, unique=True)) if len(rows) > 12 else []
    new = without(old, *gone)
    if draw(st.booleans()):
        new = in_front(new, draw(st.integers(1, 2)), at=draw(st.integers(0, len(new.measures))))
    if draw(st.booleans()):
        new.parts.reverse()
    if draw(st.booleans()):
        new.parts[0].name = "Renamed"
    return old, new, {f"{p}/{i}/{row}" for p, i, row in gone}


RUN = settings(
    deadline=None,
    max_examples=60,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.large_base_example],
)


@RUN
@given(case=edits())
def test_marks_follow_their_notes(case: tuple[Score, Score, set[str]]) -> None:
    check_followed(*case)


@pytest.mark.deep
@settings(RUN, max_examples=5000)
@given(case=edits())
def test_marks_follow_their_notes_at_length(case: tuple[Score, Score, set[str]]) -> None:
    check_followed(*case)


@RUN
@given(score=page_scores())
def test_places_and_units_are_each_others_inverse(score: Score) -> None:
    for part in score.parts:
        for i, line in enumerate(part.lines):
            for row in range(len(line)):
                item = Item(id="a", at=anchor_of(score, part, i, row), add=("accent",))
                reach = reach_of(score, item)
                assert reach is not None
                assert [(spot.line, spot.row) for spot in reach.spots] == [(i, row)]
                assert Fraction(item.at.beat) >= 1
