"""Dynamics and hairpins of a part. Levels are whole thousandths; the steps are this project's choice."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from itertools import islice, takewhile

from rendering.annotate.loud_words import LOUDEST, SOFTER, STEADY, read_loud, steady
from rendering.annotate.placing import Placed, Span, spans_of
from rendering.readers.asread import LineAsRead
from rendering.score import Hairpin, Level, Line

PIANO, DEFAULT, FORTE = STEADY["p"], STEADY["mf"], STEADY["f"]
ACCENT = 250  # what sf and its kin add to the state; never less than f
ONCE = frozenset({"sf", "sfz", "sffz", "sfffz", "fz", "ffz", "rf", "rfz"})
# Struck at the first (None: as sf), then the second.
ATTACKS: dict[str, tuple[int | None, int]] = {
    "fp": (FORTE, PIANO), "ffp": (875, PIANO), "fpp": (FORTE, 250), "sfp": (None, PIANO), "sfpp": (None, 250),
    "sfzp": (None, PIANO), "sffp": (None, PIANO), "pf": (PIANO, FORTE), "mfp": (DEFAULT, PIANO),
}  # fmt: skip


class Dynamics:
    """Collects the levels and hairpins of a part in the order of its page.

    lost    (code, Unit, staff) of what makes no sense; unread: (text, Unit, staff)
    opened  hairpins under way: (number, staff) -> (start, staff, voice, direction, niente)
    words   (Unit, staff, voice, direction, niente) of cresc. and dim. in words: they end with their dashes, else
            at the next dynamic; spans: dashes; nothing: (Unit, staff, voice) of words that ask for silence
    """

    def __init__(self, lines: list[Line]) -> None:
        self.lines: list[Line] = lines
        self.staves: int = len({line.staff for line in lines})
        self.levels: list[Level] = []
        self.hairpins: list[Hairpin] = []
        self.opened: dict[tuple[str, int], tuple[int, int, str, int, bool]] = {}
        self.state: dict[tuple[int, str], int] = {}
        self.words: list[tuple[int, int, str, int, bool]] = []
        self.nothing: list[tuple[int, int, str]] = []
        self.spans: list[Span] = []
        self.given: set[tuple[int, int, str, str]] = set()
        self.lost: list[tuple[str, int, int]] = []
        self.unread: list[tuple[str, int, int]] = []

    def read(self, placed: list[Placed], loud: list[tuple[str, Placed]]) -> None:
        """Take in a part's signs, and what its words say about loudness, in the order of the page."""
        self.spans = spans_of(placed)
        said: dict[int, list[str]] = {}
        for text, one in loud:
            said.setdefault(id(one.sign), []).append(text)
        for one in placed:
            staff = self.reach(one.staff, one.voice, one.sign.place)
            if one.sign.kind == "words":
                for text in said.get(id(one.sign), ()):
                    self.word(one.unit, staff, one.voice, text)
            else:
                self.take(one.unit, staff, one.voice, one)

    def take(self, unit: int, staff: int, voice: str, placed: Placed) -> None:
        sign = placed.sign
        if sign.kind == "dynamics":
            self.dynamic(unit, staff, voice, sign.text)
        elif sign.kind == "level":
            if not any(v.offset == unit and v.kind != "sound" and v.staff in {0, staff} for v in self.levels[-8:]):
                self.level(unit, staff, voice, "sound", sign.value)
        elif sign.kind == "wedge":
            self.wedge(unit, staff, voice, placed)

    def reach(self, staff: int, voice: str, place: str) -> int:
        """A dynamic between the staves of one part is for both."""
        between = (staff == 1 and place != "above") or (staff == 2 and place == "above")
        return 0 if self.staves == 2 and not voice and between else staff

    def word(self, unit: int, staff: int, voice: str, text: str) -> bool:
        """Take in words: "sempre pp", "cresc.", "più f", "al niente"; say whether they were understood."""
        loud = read_loud(text)
        if loud.kind == "swell":
            self.words.append((unit, staff, voice, loud.value, False))
        elif loud.kind == "to-nothing":
            self.nothing.append((unit, staff, voice))
        elif loud.kind == "from-nothing":
            self.level(unit, staff, voice, "mark", 0)
            self.words.append((unit, staff, voice, 1, True))
        elif loud.kind == "steady":
            self.level(unit, staff, voice, "mark", loud.value)
        elif loud.kind == "relative":
            level = min(max(self.now(staff, voice) + loud.value, SOFTER), LOUDEST)
            self.level(unit, staff, voice, "mark", level)
            self.lost.append(("relative-dynamic", unit, staff))
        elif loud.kind == "accent":
            self.single(unit, staff, voice, "once", self.stressed(staff, voice))
        elif loud.kind == "attack":
            self.dynamic(unit, staff, voice, loud.name)
        return loud.kind != ""

    def level(self, unit: int, staff: int, voice: str, kind: str, level: int) -> None:
        self.levels.append(Level(unit, staff, voice, kind, level, 0))
        if not staff and not voice:
            self.state.clear()
        self.state[staff, voice] = level

    def stressed(self, staff: int, voice: str) -> int:
        """Return the level of sf where the state is as written so far."""
        return min(max(self.now(staff, voice) + ACCENT, FORTE), LOUDEST)

    def now(self, staff: int, voice: str) -> int:
        """Return the level as written so far."""
        return self.state.get((staff, voice), self.state.get((staff, ""), self.state.get((0, ""), DEFAULT)))

    def dynamic(self, unit: int, staff: int, voice: str, text: str) -> None:
        """Take in one dynamic: names joined by "+"."""
        names = text.split("+")
        whole = "".join(names)
        level = steady(whole)
        after = steady(names[-1]) if len(names) == 2 and names[0] in ONCE else None
        if level is not None:
            self.level(unit, staff, voice, "mark", level)
        elif whole in ONCE:
            self.single(unit, staff, voice, "once", self.stressed(staff, voice))
        elif whole in ATTACKS or after is not None:
            struck, then = ATTACKS.get(whole, (None, after or 0))
            struck = self.stressed(staff, voice) if struck is None else struck
            self.level(unit, staff, voice, "mark", then)
            self.single(unit, staff, voice, "attack", struck)
        elif read_loud(text).kind == "attack" or not self.word(unit, staff, voice, text):
            self.unread.append((text.replace("+", " "), unit, staff))

    def single(self, unit: int, staff: int, voice: str, kind: str, level: int) -> None:
        """Give each note that starts at a place a level of its own; the first of several dynamics there counts."""
        if (unit, staff, voice, kind) in self.given:
            return
        self.given.add((unit, staff, voice, kind))
        for line in self.lines:
            if staff not in {0, line.staff} or voice not in {"", line.voice}:
                continue
            row = bisect_left(line.offset, unit)
            while row < len(line.offset) and line.offset[row] == unit:
                if not line.grace[row]:
                    self.levels.append(Level(unit, line.staff, line.voice, kind, level, line.source[row]))
                row += 1

    def wedge(self, unit: int, staff: int, voice: str, placed: Placed) -> None:
        """Open or close a hairpin; a start on an open number closes that one first."""
        sign = placed.sign
        name = (sign.number, placed.staff)
        if sign.text in {"crescendo", "diminuendo"}:
            if name in self.opened:
                self.close(name, unit, niente=False)
            if sign.value and sign.text == "crescendo":
                self.level(unit, staff, voice, "mark", 0)
            self.opened[name] = (unit, staff, voice, 1 if sign.text == "crescendo" else -1, bool(sign.value))
        elif sign.text == "stop":
            if name not in self.opened:
                name = next((n for n in self.opened if n[0] == sign.number), name)
            if name in self.opened:
                self.close(name, unit, niente=bool(sign.value))
            else:
                self.lost.append(("hairpin-not-started", unit, staff))

    def close(self, name: tuple[str, int], unit: int, *, niente: bool) -> None:
        start, staff, voice, direction, silent = self.opened.pop(name)
        if unit > start:
            self.hairpins.append(Hairpin(start, unit, staff, voice, direction, niente or silent))
        else:
            self.lost.append(("hairpin-without-length", start, staff))

    def close_words(self) -> None:
        """cresc. and dim. in words reach to the end of their dashes, else to the next dynamic, hairpin or such word."""
        marks = [(v.offset, v.staff, v.voice) for v in self.levels if v.kind in {"mark", "sound"}]
        ends = sorted([*marks, *(h[:1] + h[2:4] for h in self.hairpins), *(w[:3] for w in self.words)])
        drawn = {(h.start, h.direction) for h in self.hairpins}
        for unit, staff, voice, direction, niente in self.words:
            stop = next((s.stop for s in self.spans_at(unit) if staff in {0, s.staff}), 0)
            if not stop:
                later = islice(ends, bisect_left(ends, (unit + 1, 0, "")), None)
                stop = next((e[0] for e in later if 0 in {staff, e[1], staff - e[1]} and (voice == e[2] or "" in {voice, e[2]})), 0)
            if (unit, direction) in drawn:
                continue  # the words name what the hairpin draws
            if stop:
                self.hairpins.append(Hairpin(unit, stop, staff, voice, direction, niente))
            else:
                self.lost.append(("swell-without-end", unit, staff))

    def spans_at(self, unit: int) -> list[Span]:
        """Return the dashes that begin at a Unit."""
        first = bisect_left(self.spans, (unit,))
        return list(takewhile(lambda s: s.start == unit, islice(self.spans, first, None)))

    def fall_silent(self) -> None:
        """Words that ask for nothing end the fading that they stand in or after; alone they are a dynamic."""
        fading = sorted((i for i, h in enumerate(self.hairpins) if h.direction < 0), key=lambda i: self.hairpins[i].start)
        starts = [self.hairpins[i].start for i in fading]
        for unit, staff, voice in self.nothing:
            at = bisect_right(starts, unit) - 1
            if at >= 0 and unit <= self.hairpins[fading[at]].stop:
                self.hairpins[fading[at]] = self.hairpins[fading[at]]._replace(niente=True)
            else:
                self.levels.append(Level(unit, staff, voice, "mark", 0, 0))

    def finish(self, read: list[LineAsRead], units: list[list[int]]) -> None:
        """Report hairpins left open, add the notes' own dynamics, and put all in the order of time."""
        self.lost += [("hairpin-not-ended", start, staff) for start, staff, _, _, _ in self.opened.values()]
        self.close_words()
        self.fall_silent()
        for line, offsets in zip(read, units, strict=True):
            self.levels += [
                Level(offsets[row], line.staff, line.voice, "note", level, line.source[row])
                for row, level in line.levels
            ]  # fmt: skip
        self.levels.sort(key=_specific)
        self.hairpins.sort()


def _specific(level: Level) -> tuple[int, int, int]:
    """Order at one Unit: what is for all of the part comes before what is for one staff, voice or note."""
    return level.offset, (level.staff > 0) + 2 * (level.voice != "") + 4 * (level.source > 0), level.source
