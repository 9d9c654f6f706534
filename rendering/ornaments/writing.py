"""Writing out: a note whose mark no sample plays becomes the notes that the mark stands for."""

from __future__ import annotations

from rendering.marks import BIT, MARKS, mask
from rendering.ornaments.context import ARPEGGIOS, Context
from rendering.ornaments.figures import FIGURES, Notes, Plain, evenly
from rendering.ornaments.pieces import Piece, assembled, inner_slur
from rendering.ornaments.scales import WHITE, passage, scale
from rendering.perform import Played
from rendering.problems import Problem, problem
from rendering.resolve.choosing import CROWDED, WRITTEN, Chooser
from rendering.resolve.stand_ins import bits
from rendering.score import SLUR_ARRIVES, SLUR_LEAVES
from rendering.timeline import half_up

FINGERED, GLISSANDO, NON_ARPEGGIO = mask("fingered tremolo"), mask("glissando"), mask("non arpeggio")
DOWN = mask("arpeggio down")
STRIKES = {BIT["flam"]: 1, BIT["drag"]: 2, BIT["ruff"]: 3}  # strokes before the beat; the ruff's from memory
STRUCK = sum(1 << bit for bit in STRIKES)
SINGLE = mask(*FIGURES) | GLISSANDO  # one of these fills a note
WRITABLE = SINGLE | FINGERED | ARPEGGIOS | NON_ARPEGGIO | STRUCK
UNMEASURED = mask("tremolo")
SHORT, SINGLE_NOTE, NO_GOAL, NO_ROOM, NO_PAIR, TAKEN = (
    "the note is too short", "no other note is rolled with it", "no other pitch follows at once",
    "there is no time before it", "no note of equal length follows at once", "another mark of the note is written out",
)  # fmt: skip


def write_out(line: Played, context: Context, chooser: Chooser) -> tuple[Played, list[tuple[Problem, int]]]:
    """Return the line with every mark written out that `chooser`'s sampler does not play, and problems with their sources.

    Its rows keep their `source`, so one written note may stand in several; marks written out are told in the
    marks' high bits (`resolve.choosing.WRITTEN`). Notes of a written-out note follow one another without gap
    from its start to its end. The line itself is returned where nothing is written out; it is not changed.
    """
    if not _asks(line, context):
        return line, []
    writer = _Writer(line, context, chooser)
    return writer.write(), writer.problems


def _asks(line: Played, context: Context) -> bool:
    union = 0
    for marks in {*line.marks}:
        union |= marks
    return bool(union & WRITABLE) or (bool(context.part.strokes) and not context.part.strokes.keys().isdisjoint(line.source))


class _Writer:
    """Walks a line chord by chord."""

    def __init__(self, line: Played, context: Context, chooser: Chooser) -> None:
        self.line: Played = line
        self.context: Context = context
        self.chooser: Chooser = chooser
        self.problems: list[tuple[Problem, int]] = []
        self.done: dict[int, list[Piece]] = {}  # row -> what is played for it
        self.second: set[int] = set()  # rows where the second note of a tremolo between two begins that is not written out
        self.ends: dict[int, int] = {}  # row -> where it ends, when strokes before the next beat take its time
        instruments = context.part.instruments
        self.strikes: list[int] = [chooser.strike(i.sound, i.drum_key) if i.unpitched else 0 for i in instruments]

    def write(self) -> Played:
        """Walk the chords in which something may be written out."""
        line, exact = self.line, {n for n, strokes in self.context.part.strokes.items() if strokes.exact}
        stop = 0
        for row in [i for i, (m, n) in enumerate(zip(line.marks, line.source, strict=True)) if m & WRITABLE or n in exact]:
            if row >= stop:
                start = self._chord_start(row)
                stop = self._chord_end(row)
                if start not in self.done and any(self._candidate(i) for i in range(start, stop)):
                    self._chord(self._chord_start(start - 1) if start else 0, start, stop)
        return assembled(line, self.done, self.ends) if self.done else line

    def _chord_start(self, row: int) -> int:
        on = self.line.on
        while row > 0 and on[row - 1] == on[row]:
            row -= 1
        return row

    def _chord_end(self, start: int) -> int:
        on, stop = self.line.on, start + 1
        while stop < len(on) and on[stop] == on[start]:
            stop += 1
        return stop

    def _candidate(self, row: int) -> bool:
        return not self.line.grace[row] and bool(self.line.marks[row] & WRITABLE or self.context.exact(self.line.source[row]))

    # ── One chord ──

    def _chord(self, before: int, start: int, stop: int) -> None:
        """Write out rows [start, stop), which begin together; the chord before them begins at row `before`."""
        if self.line.marks[start] & FINGERED and self._alternate(start, stop):
            return
        starts = self._rolled(start, stop)
        for row in range(start, stop):
            if self._candidate(row):
                self._note(row, starts.get(row), before, start, stop)
        self._slur_once(start, stop)

    def _left(self, row: int, may: int, crowded: bool) -> int:
        """Return those of the marks `may` that the sampler does not play on this note."""
        line, chooser = self.line, self.chooser
        if not may:
            return 0
        key = min(max(line.key[row] + chooser.interval, 0), 127)
        ms = self.context.clock.ms_between(line.on[row], line.off[row])
        flags = CROWDED if crowded else 0
        return chooser.left_to_write(line.marks[row], may, flags, ms, key, line.level[row], self.strikes[line.instrument[row]])

    def _rolled(self, start: int, stop: int) -> dict[int, int]:
        """Return when the notes of a rolled chord begin, by row; {} where a sample rolls it or there is nothing to roll."""
        line, context = self.line, self.context
        asked = line.marks[start] & ARPEGGIOS
        if not asked:
            return {}
        roll = context.roll(line, start, stop)
        if len(roll.keys) < 2:
            return {}
        keys = roll.keys[::-1] if asked & DOWN else roll.keys
        on, ms, last = line.on[start], context.numbers.arpeggio, len(keys) - 1
        most = (roll.end - on) // 2  # in at most half of the chord
        crammed = context.clock.later(on, ms * last) > on + most
        found = {}
        for row in range(start, stop):
            if not self._left(row, asked, stop - start > 1):
                continue
            place = keys.index(line.key[row])
            found[row] = on + half_up(most * place, last) if crammed else context.clock.later(on, ms * place)
        return found

    def _note(self, row: int, rolled: int | None, before: int, start: int, stop: int) -> None:
        """Write out one note; when its chord is rolled it begins at `rolled`."""
        line = self.line
        marks, crowded = line.marks[row], stop - start > 1
        begin = line.on[row] if rolled is None else rolled
        notes, bit, why = self._filled(row, begin, stop)
        ahead = self._ahead(row, before, start)
        may = (1 << bit if notes and bit >= 0 else 0) | marks & NON_ARPEGGIO
        may |= (marks & ARPEGGIOS if rolled is not None else 0) | (marks & STRUCK if ahead else 0)
        written = self._left(row, may, crowded)
        if rolled is not None and not written & ARPEGGIOS:
            self._note(row, None, before, start, stop)
            return
        if bit >= 0 and not written >> bit & 1:
            notes = []
        for mark in bits(self._left(row, marks & WRITABLE & ~FINGERED, crowded) & ~written):
            self._tell(mark, line.source[row], self._reason(mark, bit, why, bool(notes)))
        if bit < 0 and not notes and self.context.exact(line.source[row]):
            self.problems.append((problem("not-written-out", mark="its repeats", why=SHORT), line.source[row]))
        if written or notes:
            notes = notes or [(begin, line.key[row])]
            self.done[row] = [
                *self._struck(row, ahead if written & STRUCK else [], written, before, start),
                *self._pieces(row, notes, written),
            ]

    def _reason(self, mark: int, filling: int, why: str, filled: bool) -> str:
        if ARPEGGIOS >> mark & 1:
            return SINGLE_NOTE
        if mark in STRIKES:
            return NO_ROOM
        return TAKEN if filled and mark != filling else why or SHORT

    def _tell(self, mark: int, source: int, why: str) -> None:
        self.problems.append((problem("not-written-out", mark=MARKS[mark].name, why=why), source))

    def _pieces(self, row: int, notes: Notes, written: int) -> list[Piece]:
        """Return the notes that a row becomes."""
        line = self.line
        marks = line.marks[row] | written << WRITTEN
        ends = [*(on for on, _ in notes[1:]), line.off[row]]
        slurs = self._slurs(row, [key for _, key in notes])
        return [Piece(on, end, key, slur, marks, row) for (on, key), end, slur in zip(notes, ends, slurs, strict=True)]

    def _struck(self, row: int, ahead: list[int], written: int, before: int, start: int) -> list[Piece]:
        """Return the strokes before a beat, and end the notes before them, rows [before, start), in time."""
        line = self.line
        for p in range(before, start) if ahead else ():
            if p in self.done:
                first, *rest = self.done[p]
                kept = [first, *(piece for piece in rest if piece.on < ahead[0])]
                self.done[p] = [*kept[:-1], kept[-1]._replace(off=max(min(kept[-1].off, ahead[0]), kept[-1].on + 1))]
            elif line.off[p] > ahead[0]:
                self.ends[p] = max(min(self.ends.get(p, line.off[p]), ahead[0]), line.on[p] + 1)
        marks = line.marks[row] | written << WRITTEN
        return [Piece(a, b, line.key[row], 0, marks, row) for a, b in zip(ahead, [*ahead[1:], line.on[row]], strict=bool(ahead))]

    def _slurs(self, row: int, keys: list[int]) -> list[int]:
        """Slur bits of the notes that a note becomes: its own at its ends; between them only where it stands under a slur."""
        slur, last = self.line.slur[row], len(keys) - 1
        if len({*keys}) == 1:
            return [(slur & SLUR_ARRIVES if i == 0 else 0) | (slur & SLUR_LEAVES if i == last else 0) for i in range(len(keys))]
        return [inner_slur(slur, i == 0, i == last) for i in range(len(keys))]

    def _slur_once(self, start: int, stop: int) -> None:
        """The notes of a rolled chord are not slurred to one another: a slur arrives at the first and leaves from the last."""
        rows = [row for row in range(start, stop) if row in self.done and self.done[row][0].marks >> WRITTEN & ARPEGGIOS]
        ordered = sorted(rows, key=lambda row: self.done[row][0].on)
        for row in ordered[1:]:
            self.done[row][0] = self.done[row][0]._replace(slur=self.done[row][0].slur & ~SLUR_ARRIVES)
        for row in ordered[:-1]:
            self.done[row][-1] = self.done[row][-1]._replace(slur=self.done[row][-1].slur & ~SLUR_LEAVES)

    # ── What fills a note ──

    def _filled(self, row: int, begin: int, following: int) -> tuple[Notes, int, str]:
        """Return the notes that fill a note, the bit of the mark that asks for them (-1 = its strokes), and else why not."""
        line, context = self.line, self.context
        source, why = line.source[row], ""
        ms = context.clock.ms_between(begin, line.off[row])
        note = Plain(begin, line.off[row], ms, line.key[row], context.near(line, row), context.numbers)
        repeat = context.repeat(source)
        for bit in bits(line.marks[row] & SINGLE):
            if 1 << bit == GLISSANDO:
                notes = self._glissando(row, note, following)
                why = NO_GOAL if not notes else ""
            else:
                slow = 1 << bit == UNMEASURED and repeat and note.ms * repeat >= context.numbers.measured * (note.off - note.on)
                notes = self._counted(note, repeat) if slow else FIGURES[MARKS[bit].name](note)
                why = SHORT
            if notes:
                return notes, bit, ""
        if repeat and context.exact(source) and not line.marks[row] & FINGERED:
            return self._counted(note, repeat), -1, SHORT
        return [], next(iter(bits(line.marks[row] & SINGLE)), -1), why

    def _counted(self, note: Plain, repeat: int) -> Notes:
        count = max(half_up(note.off - note.on, repeat), 1)
        return evenly(note, [note.key] * count, 0)

    def _glissando(self, row: int, note: Plain, following: int) -> Notes:
        """Run to the note that follows: the first note holds, the others come at the end, none longer than so much."""
        goal = self._goal(row, following)
        if goal in (-1, note.key):
            return []
        keys = passage(note.key, goal, self._steps(note, goal))
        length, count = note.off - note.on, len(keys)
        if note.ms < count * note.numbers.least_glissando or length < count:
            return []
        step = min(note.ticks(note.numbers.glissando), length // count)
        return [(note.on, note.key), *((note.off - (count - i) * step, keys[i]) for i in range(1, count))]

    def _goal(self, row: int, following: int) -> int:
        """Return the key of the note that a glissando leads to, in its own place of the chord; -1 = none follows at once."""
        line = self.line
        if following >= len(line) or line.on[following] > line.off[row]:
            return -1
        return line.key[min(following + row - self._chord_start(row), self._chord_end(following) - 1)]

    def _steps(self, note: Plain, goal: int) -> frozenset[int] | None:
        """Harps sweep the strings of the key, keyboards the white keys unless an end is black; others every semitone."""
        family = self.context.family
        if family == "harp":
            return scale(self.context.fifths(note.on))
        if family == "keyboard" and {note.key % 12, goal % 12} <= WHITE:
            return WHITE
        return None

    # ── Strokes before the beat ──

    def _ahead(self, row: int, before: int, start: int) -> list[int]:
        """Return when the strokes of a flam, drag or ruff before the beat begin, in at most half of the note before."""
        line, context = self.line, self.context
        count = max((STRIKES[bit] for bit in bits(line.marks[row] & STRUCK)), default=0)
        if not count:
            return []
        on, ms = line.on[row], context.numbers.grace_stroke
        if before < start:
            last = max(line.on[p] for p in range(before, start))
            end = max(min(line.off[p], on) for p in range(before, start))
            ms = min(ms, (context.clock.ms_between(last, on) - context.clock.ms_between(last, end) // 2) // count)
        ticks = [context.clock.earlier(on, ms * n) for n in range(count, 0, -1)]
        return ticks if ms >= context.numbers.least_stroke and len({*ticks, on}) == count + 1 else []

    # ── Two notes in alternation ──

    def _alternate(self, start: int, middle: int) -> bool:
        """Write out a tremolo between the chord at `start` and the one at `middle`; False where it cannot or need not be."""
        line, context = self.line, self.context
        stop = self._chord_end(middle) if middle < len(line) else middle
        pair = middle < len(line) and bool(line.marks[middle] & FINGERED) and line.off[start] == line.on[middle]
        if start in self.second or not self._left(start, FINGERED, middle - start > 1):
            return False
        on, off = line.on[start], line.off[middle] if pair else line.off[start]
        ms, length = context.clock.ms_between(on, off), off - on
        repeat = context.repeat(line.source[start]) or (context.repeat(line.source[middle]) if pair else 0)
        counted = repeat and (context.exact(line.source[start]) or ms * repeat >= context.numbers.measured * length)
        count = max(half_up(length, 2 * repeat) if counted else half_up(ms, 2 * context.numbers.alternation), 1) * 2
        if not pair or length < count or ms < count * context.numbers.shortest:
            self._tell(BIT["fingered tremolo"], line.source[start], SHORT if pair else NO_PAIR)
            self.second |= {middle} if pair else set()
            return False
        edges = [on + half_up(i * length, count) for i in range(count + 1)]
        for row in range(start, stop):
            marks, turns = line.marks[row] | FINGERED << WRITTEN, range(0 if row < middle else 1, count, 2)
            slurs = (inner_slur(line.slur[row], i == 0, i == count - 1) for i in turns)
            self.done[row] = [Piece(edges[i], edges[i + 1], line.key[row], slur, marks, row) for i, slur in zip(turns, slurs, strict=True)]
        return True
