"""Strands of a sketch as parts of a score: names, instruments, staves, voices, levels, pedals."""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter

from rendering.marks import BIT, family_of
from rendering.problems import Place, Problem, problem
from rendering.readers.asread import family_of_program
from rendering.readers.smf.grid import Grid
from rendering.readers.smf.hands import staves_of
from rendering.readers.smf.strands import Played, Strand
from rendering.readers.smf.switches import part_switches
from rendering.readers.smf.voices import Voiced, part_overlaps, voices_of
from rendering.score import SLUR_ARRIVES, SLUR_LEAVES, Instrument, Level, Line, Note, Part
from rendering.timeline import Clock, half_up

DRUM_CHANNEL = 9  # General MIDI: channel 10
DRUM_SET = "drum.group.set"
PEDAL, LEGATO = 1 << BIT["pedal"], 1 << BIT["legato"]
MIDDLE_C = 60
MOST_VOICES = 4  # of the right hand; those of the left are counted from 5, as notation programs do


class PartBuilder:
    """Builds one part; `factor` Units make a tick, `problems` gathers what is found."""

    def __init__(self, strand: Strand, part_id: str, name: str, factor: int, clock: Clock, grid: Grid, problems: list[Problem]) -> None:
        self.strand = strand
        self.factor = factor
        self.clock = clock
        self.grid = grid
        self.problems = problems
        self.drums = strand.channel == DRUM_CHANNEL
        self.part = Part(id=part_id, name=name)
        self.keys: dict[int, int] = {}  # of drums: key -> index of its instrument
        self.lyrics: dict[str, int] = {"": 0}

    def build(self, pedal: list[tuple[int, int]]) -> Part:
        """Return the part; `pedal` holds (down, up) ticks of the sustain pedal on its channel."""
        music = self.music()
        notes = [note._replace(on=note.on * self.factor, off=note.off * self.factor) for note in music]
        self.part.instruments = self.drum_instruments(music) if self.drums else self.programs()
        self.part.pedals = [(down * self.factor, up * self.factor) for down, up in pedal]
        self.lines(self.grid.set(notes if self.drums else part_overlaps(notes)))
        self.part.lyrics = list(self.lyrics)
        self.tell()
        return self.part

    def music(self) -> list[Played]:
        """Return the notes without those that look like switches, which are told."""
        if self.drums:
            return self.strand.notes
        music, switches = part_switches(self.strand.notes, self.clock)
        if switches:
            keys = sorted({note.key for note in switches})
            self.report("switches-left-out", count=len(switches), keys=", ".join(map(str, keys[:8])))
        return music

    def programs(self) -> list[Instrument]:
        """Return one instrument for each program that notes are played with."""
        stated = self.strand.programs or [-1]
        name = " ".join(self.strand.names[:1])
        return [Instrument(id=f"{self.part.id}-I{n}", name=name, program=program) for n, program in enumerate(stated, 1)]

    def drum_instruments(self, notes: list[Played]) -> list[Instrument]:
        """Return the drum set, then one instrument for each key that is struck."""
        found = [Instrument(id=f"{self.part.id}-I1", name=self.part.name, sound=DRUM_SET, unpitched=True)]
        for key in sorted({note.key for note in notes}):
            self.keys[key] = len(found)
            found.append(Instrument(id=f"{self.part.id}-I{len(found) + 1}", name=f"Key {key}", unpitched=True, drum_key=key))
        return found

    def lines(self, notes: list[Played]) -> None:
        """Fill the part's lines staff by staff, notes numbered in the order of time."""
        staves = staves_of(notes) if self.has_hands(notes) else [1] * len(notes)
        numbers = {id(note): n for n, note in enumerate(notes, 1)}
        for staff in sorted(set(staves)):
            mine = [note for note, its in zip(notes, staves, strict=True) if its == staff]
            self.staff(staff, voices_of(mine), numbers)
        self.part.levels.sort()

    def has_hands(self, notes: list[Played]) -> bool:
        """Say whether the part is a keyboard's, played with both hands: on both sides of middle C, several notes at once."""
        family = family_of("", self.part.name) or family_of_program(self.strand.programs[0] if self.strand.programs else -1) or "keyboard"
        keys = [note.key for note in notes]
        together = any(n > 1 for n in Counter(note.on for note in notes).values())
        return family == "keyboard" and not self.drums and together and min(keys) < MIDDLE_C <= max(keys)

    def staff(self, staff: int, voiced: list[Voiced], numbers: dict[int, int]) -> None:
        lines: dict[int, Line] = {}
        for one in voiced:
            if one.voice not in lines:
                lines[one.voice] = Line(staff, str((staff - 1) * MOST_VOICES + one.voice))
            self.add(lines[one.voice], one, numbers[id(one.note)])
        self.part.lines += [lines[voice] for voice in sorted(lines)]

    def add(self, line: Line, one: Voiced, source: int) -> None:
        note = one.note
        slur = SLUR_ARRIVES if one.arrives else 0
        if one.arrives:
            _leave(line, note.on)
        marks = (PEDAL if self.in_pedal(note.on) else 0) | (LEGATO if one.arrives else 0)
        instrument = self.keys[note.key] if self.drums else note.instrument
        line.add(Note(note.on, note.off - note.on, note.key, 0, marks, 0, slur, 0, self.lyric(note), source, instrument))
        self.part.levels.append(Level(note.on, line.staff, line.voice, "note", level_of(note.velocity), source))

    def in_pedal(self, unit: int) -> bool:
        i = bisect_right(self.part.pedals, unit, key=_down) - 1
        return i >= 0 and unit < self.part.pedals[i][1]

    def lyric(self, note: Played) -> int:
        """Return the index of the words that the track has where the note begins."""
        words = self.strand.words.get(note.on // self.factor, "")
        return self.lyrics.setdefault(words, len(self.lyrics))

    def tell(self) -> None:
        """Report what the strand had that the part has not."""
        for code in ("doubled", "stuck", "stray", "empty"):
            if self.strand.found[code]:
                self.report(f"notes-{code}", count=self.strand.found[code])
        if self.strand.left_out:
            self.report("messages-left-out", count=self.strand.left_out.total(), what=", ".join(sorted(self.strand.left_out)))

    def report(self, code: str, **arguments: str | int) -> None:
        self.problems.append(problem(code, Place(part=self.part.id, part_name=self.part.name), **arguments))


def _leave(line: Line, on: int) -> None:
    """Let a slur lead from the line's last chord before a Unit: from all its notes."""
    row = len(line) - 1
    while line.offset[row] == on:
        row -= 1
    before = line.offset[row]
    while row >= 0 and line.offset[row] == before:
        line.slur[row] |= SLUR_LEAVES
        line.marks[row] |= LEGATO
        row -= 1


def level_of(velocity: int) -> int:
    """Return thousandths for a velocity, 1 to 127: what the straight line from (0, 1) to (1000, 127) turns back into it."""
    return half_up((velocity - 1) * 1000, 126)


def pedals_of(changes: list[tuple[int, bool]], end: int) -> list[tuple[int, int]]:
    """Return (down, up) ticks of a pedal from its changes, ascending; one that is never lifted is down to the music's `end`."""
    found: list[tuple[int, int]] = []
    down = -1
    for tick, pressed in sorted(changes, key=_tick):
        if pressed and down < 0:
            down = tick
        elif not pressed and down >= 0:
            found += [(down, tick)] if tick > down else []
            down = -1
    return [*found, (down, end)] if 0 <= down < end else found


def _down(pedal: tuple[int, int]) -> int:
    return pedal[0]


def _tick(change: tuple[int, bool]) -> int:
    return change[0]
