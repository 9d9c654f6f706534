"""Performing: ties, graces and levels of lines that the short notation of golden files cannot spell."""

from __future__ import annotations

from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from rendering.perform import Played, plan_playing
from rendering.perform.levels import curve_for
from rendering.perform.lines import perform_part
from rendering.score import (
    GRACE_SLASHED,
    GRACE_WITH,
    SLUR_ARRIVES,
    SLUR_LEAVES,
    TIE_START,
    TIE_STOP,
    TIE_THROUGH,
    Hairpin,
    Level,
    Line,
    Measure,
    Note,
    Part,
    Score,
)

BAR = 3840


def note(offset: int, duration: int, key: int = 72, source: int = 1, **fields: int) -> Note:
    row = Note(offset, duration, key, 0, 0, 0, 0, 0, 0, source, 0)
    return row._replace(**fields)


def played(*lines: list[Note], bars: int = 2, **fields: Any) -> tuple[list[Played], list[str]]:
    """Perform one part of these lines, voices 1, 2 …; return its played lines and the codes of what was told."""
    part = Part(id="P1", name="Violin", **fields)
    for number, rows in enumerate(lines, 1):
        line = Line(1, str(number))
        for row in rows:
            line.add(row)
        part.lines.append(line)
    score = Score(unit=960, parts=[part], tempo=[(0, 500_000)])
    score.measures = [Measure(n + 1, str(n + 1), n * BAR, BAR, (4, 4), 0) for n in range(bars)]
    score.itinerary = [(1, bars, 1)]
    playing, _ = plan_playing(score, 960)
    made = perform_part(part, playing, 960)
    return made.lines, [found.code for found, _, _ in made.problems]


def times(line: Played) -> list[tuple[int, int, int]]:
    return list(zip(line.on, line.off, line.key, strict=True))


def test_a_chain_of_ties_leaves_as_its_last_note_does() -> None:
    """The slur goes on from the last note of the chain; the chain has the first note's source."""
    (line,), told = played([
        note(0, 960, source=1, tie=TIE_START),
        note(960, 960, source=2, tie=TIE_THROUGH, slur=SLUR_LEAVES),
        note(1920, 960, source=3, tie=TIE_STOP, slur=SLUR_ARRIVES | SLUR_LEAVES),
        note(2880, 960, 74, source=4, slur=SLUR_ARRIVES),
    ])  # fmt: skip
    assert times(line) == [(0, 2880, 72), (2880, 3840, 74)]
    assert (line.source, line.slur, told) == ([1, 4], [SLUR_LEAVES, SLUR_ARRIVES], [])


def test_one_note_of_a_chord_is_tied() -> None:
    (line,), _ = played([
        note(0, 1920, 72, source=1, tie=TIE_START), note(0, 1920, 76, source=2),
        note(1920, 1920, 72, source=3, tie=TIE_STOP), note(1920, 1920, 77, source=4),
    ])  # fmt: skip
    assert times(line) == [(0, 3840, 72), (0, 1920, 76), (1920, 3840, 77)]


def test_a_tie_that_leads_into_another_voice() -> None:
    """What voice 1 begins voice 2 holds on: one note, in voice 1, and voice 2 goes on after it."""
    lines, told = played([note(0, 1920, tie=TIE_START)], [note(1920, 960, source=2, tie=TIE_STOP), note(2880, 960, 74, source=3)])
    assert [times(line) for line in lines] == [[(0, 2880, 72)], [(2880, 3840, 74)]]
    assert told == []


def test_a_tie_without_its_stop() -> None:
    """Merged with the next note on its key where that follows at once, else a plain note; only the first is told."""
    (line,), told = played([note(0, 960, source=1, tie=TIE_START), note(960, 960, source=2)])
    assert (times(line), told) == ([(0, 1920, 72)], ["tie-without-stop"])
    (line,), told = played([note(0, 960, source=1, tie=TIE_START), note(1920, 960, source=2)])
    assert (times(line), told) == ([(0, 960, 72), (1920, 2880, 72)], [])


def test_a_tie_over_a_grace_note() -> None:
    """The grace note between is no part of the chain and takes no time from it that it has not."""
    (line,), _ = played([
        note(0, 1920, source=1, tie=TIE_START), note(1920, 0, 74, source=2, grace=GRACE_SLASHED), note(1920, 960, source=3, tie=TIE_STOP),
    ])  # fmt: skip
    assert (0, 2880, 72) in times(line)
    assert len(line) == 2


def test_a_chord_of_grace_notes_sounds_at_once() -> None:
    """Two moments of 80 ms before the beat: a chord of two, then one; the note before gives way."""
    (line,), _ = played([
        note(0, 1920, 60, source=1),
        note(1920, 0, 71, source=2, grace=GRACE_SLASHED), note(1920, 0, 74, source=3, grace=GRACE_SLASHED | GRACE_WITH),
        note(1920, 0, 76, source=4, grace=GRACE_SLASHED), note(1920, 960, 72, source=5),
    ])  # fmt: skip
    assert times(line) == [(0, 1613, 60), (1613, 1766, 71), (1613, 1766, 74), (1766, 1920, 76), (1920, 2880, 72)]


def test_levels_of_the_staves_and_of_one_voice() -> None:
    """A dynamic without a voice is for all; one of voice 2 for that alone, until the next for all."""
    levels = [Level(0, 0, "", "mark", 500, 0), Level(960, 0, "2", "mark", 250, 0), Level(1920, 0, "", "mark", 875, 0)]
    quarters = [note(n * 960, 960, 60 + n, source=n + 1) for n in range(3)]
    lines, _ = played(quarters, [q._replace(source=q.source + 10) for q in quarters], levels=levels)
    assert [line.level for line in lines] == [[500, 500, 875], [500, 250, 875]]


def test_nothing_written_is_mf() -> None:
    (line,), _ = played([note(0, 960)])
    assert line.level == [625]


def test_a_hairpin_of_silence() -> None:
    """To niente the level goes to 0, from there the next dynamic takes over."""
    levels = [Level(0, 0, "", "mark", 500, 0), Level(3840, 0, "", "mark", 250, 0)]
    pins = [Hairpin(0, 1920, 0, "", -1, niente=True)]
    (line,), told = played([note(n * 960, 960, 60 + n, source=n + 1) for n in range(5)], levels=levels, hairpins=pins)
    assert (line.level, told) == ([500, 250, 0, 0, 250], [])
    assert line.ramps == [(0, 1920, 500, 0)]


@settings(deadline=None, max_examples=200)
@given(
    marks=st.lists(st.tuples(st.integers(0, 16), st.integers(1, 8)), max_size=6),
    pins=st.lists(st.tuples(st.integers(0, 16), st.integers(1, 6), st.sampled_from([-1, 1]), st.booleans()), max_size=4),
)
def test_curves_stay_in_bounds_and_meet_their_marks(marks: list[tuple[int, int]], pins: list[tuple[int, int, int, bool]]) -> None:
    """Whatever is written: levels 0-1000, never a jump inside a ramp, each mark in force where it stands unless a hairpin starts there."""
    levels = [Level(at * 240, 0, "", "mark", level * 125, 0) for at, level in sorted(dict(marks).items())]
    hairpins = sorted(Hairpin(at * 240, (at + length) * 240, 0, "", way, niente) for at, length, way, niente in pins)
    curve, _ = curve_for(0, "", levels, hairpins, 960)
    values = [curve.value(unit) for unit in range(0, 24 * 240, 30)]
    assert all(0 <= value <= 1000 for value in values)
    assert curve.at == sorted(set(curve.at))
    for level in levels:
        assert curve.value(level.offset) == level.level
    for start, stop, first, last in curve.ramps:
        assert start < stop
        assert curve.value(start) == first
        inside = [curve.value(unit) for unit in range(start, stop)]
        assert inside == sorted(inside, reverse=last < first)
