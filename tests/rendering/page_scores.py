"""Random scores such as a page can hold: states in words, marks at notes, slurs, voices, staves, tuplets, graces.

A note bears the marks that stand at it and those of the state that it stands in, as far as its own let them:
so the page says it, and so it must come back from MusicXML.
"""

from __future__ import annotations

from hypothesis import strategies as st

from rendering.annotate.passages import kept_beside
from rendering.marks import BIT, mask
from rendering.marks.lexicon import apply
from rendering.score import (
    GRACE_NONE,
    GRACE_PLAIN,
    GRACE_SLASHED,
    GRACE_WITH,
    SLUR_ARRIVES,
    SLUR_LEAVES,
    TIE_START,
    TIE_STOP,
    Hairpin,
    Instrument,
    Level,
    Line,
    Measure,
    Note,
    Part,
    Score,
)
from rendering.timeline import micros_per_quarter
from rendering.writers.musicxml.elements import is_glyph, shapes_of
from rendering.writers.musicxml.passages import words_of
from rendering.writers.musicxml.planning import family_as_read

UNIT = 960
SOUNDS = (
    "strings.violin", "wind.flutes.flute", "brass.french-horn", "keyboard.piano", "pluck.harp", "drum.timpani", "voice.soprano",
    "pitched-percussion.marimba", "",
)  # fmt: skip
LENGTHS = (60, 120, 240, 320, 360, 480, 640, 720, 960, 1200, 1440, 1920, 192, 384, 2400, 3840, 17, 959)
LEGATO = mask("legato")
# What says more than a mark: lengths under slurs, pauses that bend the tempo, slurs, strokes and pairs of notes.
APART = mask(
    "legato", "portato", "staccato", "caesura", "tremolo", "roll", "fingered tremolo",
)  # fmt: skip


def at_notes(family: str) -> list[int]:
    """Return the bits of marks that are written at notes of a family and mean nothing more."""
    return [bit for bit, shape in shapes_of(family).items() if not is_glyph(shape) and not APART >> bit & 1]


class States:
    """What the words of a part have said so far."""

    def __init__(self, draw: st.DrawFn, family: str) -> None:
        self.draw = draw
        words = words_of(family)
        self.steps = [step for bit, step in words.begin.items() if bit != BIT["legato"]] + words.end
        self.state = 0

    def go_on(self) -> int:
        """Return the state for the next note: now and then the words say something new."""
        if self.draw(st.integers(0, 4)) == 0:
            step = self.steps[self.draw(st.integers(0, len(self.steps) - 1))]
            self.state = apply(self.state, step.action)
        return self.state


@st.composite
def lines(draw: st.DrawFn, end: int, staff: int, voice: str, source: int, family: str) -> Line:
    """Return a line of notes, chords, rests, ties, slurs and grace notes up to `end`."""
    line, states, own_marks = Line(staff, voice), States(draw, family), at_notes(family)
    at, slurred, tied = 0, False, -1
    while at < end:
        length = min(draw(st.sampled_from(LENGTHS)), end - at)
        shape = draw(st.sampled_from(("note", "note", "slur", "slur", "tie", "chord", "rest", "grace")))
        if shape == "rest" and tied < 0 and not slurred:
            at += length
            continue
        state = states.go_on()
        last = at + length >= end
        leaves, starts = (shape == "slur" or (slurred and draw(st.booleans()))) and not last, shape == "tie" and not last
        slur = SLUR_ARRIVES * slurred | SLUR_LEAVES * leaves
        own = sum(1 << bit for bit in draw(st.lists(st.sampled_from(own_marks), max_size=2, unique=True))) | LEGATO * bool(slur)
        key = tied if tied >= 0 else draw(st.integers(12, 108))
        if shape == "grace" and not slurred and tied < 0:
            grace = draw(st.sampled_from((GRACE_SLASHED, GRACE_PLAIN)))
            for n in range(draw(st.integers(1, 2))):
                line.add(Note(at, 0, 60 + 4 * n, 0, state, 0, 0, grace + GRACE_WITH * n, 0, source, 0))
                source += 1
        marks = own | state & kept_beside(own)
        keys = [key, *([key + 5] if shape == "chord" and tied < 0 else [])]
        for n, one in enumerate(keys):
            tie = TIE_STOP * (tied >= 0) + TIE_START * starts
            line.add(Note(at, length, one, 0, marks, tie, slur, GRACE_NONE, draw(st.integers(0, 1)) if not n else 0, source, 0))
            source += 1
        slurred, tied = leaves, key if starts else -1
        at += length
    return line


@st.composite
def parts(draw: st.DrawFn, number: int, measures: list[Measure]) -> Part:
    """Return a part of one or two voices on one or two staves; what two voices have in words is said to each."""
    end = measures[-1].start + measures[-1].length
    part = Part(id=f"P{number}", name="", instruments=[Instrument(id=f"P{number}-I1", name="", sound=draw(st.sampled_from(SOUNDS)))])
    part.name = f"Part {number}"
    part.lyrics = ["", "ká"]
    part.transpose = draw(st.sampled_from(([], [(0, -2)], [(0, -7), (measures[-1].start, 0)], [(0, 12)])))
    family = family_as_read(part)
    source = 1
    places = draw(st.sampled_from(([(1, "1")], [(1, "1"), (1, "2")], [(1, "1"), (2, "5")])))
    for staff, voice in places:
        line = draw(lines(end, staff, voice, source, family))
        source += len(line)
        part.lines.append(line)
    _loudness(draw, part, end)
    return part


def _loudness(draw: st.DrawFn, part: Part, end: int) -> None:
    named = (63, 125, 250, 375, 500, 625, 750, 875, 1000)
    places = sorted(draw(st.sets(st.integers(0, end // 240 - 1), max_size=3)))
    part.levels = [Level(240 * n, 0, "", "mark", draw(st.sampled_from((*named, 437))), 0) for n in places]
    part.levels = [v if v.level in named else v._replace(kind="sound") for v in part.levels]
    rows = [(line, row) for line in part.lines for row in range(len(line)) if not line.grace[row] and line.tie[row] < TIE_STOP]
    for line, row in draw(st.lists(st.sampled_from(rows), max_size=3, unique_by=lambda r: r[0].source[r[1]])) if rows else []:
        part.levels.append(Level(line.offset[row], line.staff, line.voice, "note", draw(st.integers(0, 1000)), line.source[row]))
    for direction in draw(st.lists(st.sampled_from((-1, 1)), max_size=2)):
        start = draw(st.integers(0, end // 480 - 1)) * 480
        stop = min(start + draw(st.sampled_from((240, 480, 1920))), end)
        part.hairpins.append(Hairpin(start, stop, 0, "", direction, draw(st.booleans())))
    part.hairpins = sorted(set(part.hairpins))


@st.composite
def page_scores(draw: st.DrawFn) -> Score:
    """Return a score of up to four measures of several meters, with one or two parts, perhaps repeated."""
    measures: list[Measure] = []
    start = 0
    for n in range(draw(st.integers(1, 4))):
        beats, unit = draw(st.sampled_from(((4, 4), (3, 4), (6, 8), (2, 2), (5, 8))))
        length = 4 * UNIT * beats // unit
        measures.append(Measure(n + 1, str(n + 1), start, length, (beats, unit), draw(st.integers(-5, 6))))
        start += length
    count = len(measures)
    once = [(1, count, 1)]
    itineraries = [once, [(1, count, 1), (1, count, 2)]]
    itineraries += [[(1, 2, 1), (1, 1, 2), (3, count, 2)], [(1, 1, 1), (2, count, 1), (2, count, 2)]] if count > 2 else []
    tempo = [(0, draw(st.integers(20, 300)))] + [(480 * draw(st.integers(1, start // 480)), draw(st.integers(20, 300)))] * draw(
        st.integers(0, 1)
    )
    return Score(
        unit=UNIT,
        title="Random page",
        measures=measures,
        itinerary=draw(st.sampled_from(itineraries)),
        tempo=[(unit, micros_per_quarter(1000 * speed)) for unit, speed in tempo if unit < start],
        rehearsal=[(measures[-1].start, "A")],
        parts=[draw(parts(n, measures)) for n in range(1, draw(st.integers(1, 2)) + 1)],
    )
