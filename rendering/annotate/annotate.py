"""The stage: a score as read becomes the neutral score, in written order."""

from __future__ import annotations

import re

from rendering.annotate.dynamics import Dynamics
from rendering.annotate.lines import absolute, build_line
from rendering.annotate.measures import Grid, lay_out
from rendering.annotate.passages import apply_passages, read_passages
from rendering.annotate.placing import Placed, place_signs
from rendering.annotate.slurs import draw, ends_of, pair
from rendering.annotate.tempo import rehearsal_of, tempo_of
from rendering.marks import mask
from rendering.places import place_at, voice_shown
from rendering.problems import Place, Problem, problem
from rendering.readers.asread import LineAsRead, PartAsRead, ScoreAsRead
from rendering.score import Part, Score, Steal, Strokes
from rendering.timeline import half_up

FINGERED = mask("fingered tremolo")


def annotate(as_read: ScoreAsRead) -> tuple[Score, list[Problem]]:
    """Return the score in written order, itinerary not yet filled, and what was found wrong.

    The columns of `as_read` go over into the score: it must not be used afterwards, save by `unfold`.
    """
    grid, problems = lay_out(as_read)
    score = Score(unit=as_read.unit, title=as_read.title, measures=grid.measures)
    signs: list[list[Placed]] = []
    stages = []
    for read in as_read.parts:
        stage = _Part(read, grid, as_read.unit)
        stages.append(stage)
        score.parts.append(stage.part)
        signs.append(stage.placed)
    for stage in stages:
        stage.annotate(score)
        problems += stage.problems
    score.tempo, told = tempo_of(signs, score, grid.origins[0] if grid.origins else 0)
    problems += [problem(code, place_at(score, "", unit) if unit >= 0 else Place(), **values) for code, unit, values in told]
    score.rehearsal = rehearsal_of(signs)
    return score, problems


class _Part:
    """One part on its way from read to annotated."""

    def __init__(self, read: PartAsRead, grid: Grid, unit: int) -> None:
        self.read: PartAsRead = read
        self.unit: int = unit
        self.problems: list[Problem] = []
        self.lines: list[LineAsRead] = [read.lines[name] for name in sorted(read.lines, key=_natural)]
        self.part = Part(id=read.id, name=read.name, instruments=read.instruments, lyrics=read.lyrics)
        self.units: list[list[int]] = [absolute(line, grid) for line in self.lines]
        self.part.lines = [build_line(line, units, read, grid) for line, units in zip(self.lines, self.units, strict=True)]
        self.part.transpose = [(grid.at(m, o), semitones) for m, o, _, semitones in read.transposes]
        for line in self.lines:
            self.keep_rare(line)
        self.placed: list[Placed] = place_signs(read, self.part.lines, grid)

    def keep_rare(self, line: LineAsRead) -> None:
        """Take over what few notes have, by their source; two notes of one tremolo share its strokes."""
        part, source = self.part, line.source
        part.ornaments |= {source[row]: ornament for row, ornament in line.ornaments.items()}
        part.rolls |= {source[row]: number for row, number in line.rolls.items()}
        part.only |= {source[row]: passes for row, text in line.passes.items() if (passes := passes_in(text))}
        part.steals |= {
            source[row]: Steal(min(max(before, 0), 1000), min(max(after, 0), 1000), max(made, 0) * self.unit // 1000)
            for row, (before, after, made) in line.steals.items()
        }
        for row, (times, exact) in line.strokes.items():
            length = line.duration[row] * (2 if line.marks[row] & FINGERED else 1)
            part.strokes[source[row]] = Strokes(max(half_up(length, times), 1), exact)

    def annotate(self, score: Score) -> None:
        """Fill marks, slurs and dynamics of the part; unread words go to the score."""
        part, family = self.part, self.read.family
        passages = read_passages(self.placed, family)
        self.slurs(score, family)
        for line in part.lines:
            apply_passages(line, passages.changes, score.unit)
        dynamics = Dynamics(part.lines)
        dynamics.read(self.placed, passages.loud)
        dynamics.finish(self.lines, self.units)
        part.levels, part.hairpins = dynamics.levels, dynamics.hairpins
        score.unread += [(text, part.id, unit, staff) for text, unit, staff in [*passages.unread, *dynamics.unread]]
        self.problems += [problem(code, place_at(score, part.id, unit, staff)) for code, unit, staff in dynamics.lost]
        self.problems += [
            problem("wording-from-memory", place_at(score, part.id, unit, staff), text=text) for text, unit, staff in passages.guessed
        ]
        self.first_level(score)

    def slurs(self, score: Score, family: str) -> None:
        slurs, lost = pair(ends_of(self.lines, self.units))
        draw(slurs, self.part.lines, family)
        for end in lost:
            code = "slur-not-ended" if end.kind > 0 else "slur-not-started"
            self.problems.append(problem(code, self.place(score, end.line, end.unit, end.order)))

    def place(self, score: Score, number: int, unit: int, source: int) -> Place:
        """Return the place of a note in line `number`, with its voice only where its staff has several."""
        line = self.part.lines[number]
        staff = line.staff if self.part.lines[-1].staff != self.part.lines[0].staff else 0
        return place_at(score, self.part.id, unit, staff, note=source, voice=voice_shown(self.part, line))

    def first_level(self, score: Score) -> None:
        """Nothing written means mf, and the report says so."""
        first = min((line.offset[0] for line in self.part.lines if line.offset), default=None)
        if first is None:
            return
        if not any(v.offset <= first and v.kind in {"mark", "sound", "attack"} for v in self.part.levels):
            self.problems.append(problem("no-dynamic", place_at(score, self.part.id, first)))


def passes_in(text: str) -> tuple[int, ...]:
    """Return the passes in a text such as "1, 3" or "2-4", ascending; () where it holds none."""
    found: set[int] = set()
    for first, last in re.findall(r"([0-9]{1,3})(?:\s*[-–]\s*([0-9]{1,3}))?", text):
        found.update(range(int(first), int(last or first) + 1))
    return tuple(sorted(found))


def _natural(name: tuple[int, str]) -> tuple[int, int, str]:
    """Order lines by staff, then voice, as numbers where they are numbers."""
    staff, voice = name
    return staff, int(voice) if voice.isdecimal() and len(voice) < 9 else 1 << 30, voice
