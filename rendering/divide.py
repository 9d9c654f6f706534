"""Which of several tracks play which notes of a part: divided desks, players by number, solo and tutti.

Over k tracks the highest note of a chord goes to the first, of two voices the first voice; a 2, unis.
and tutti go to every one; a solo to the solo map's track alone (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from rendering.marks import mask
from rendering.perform import Played
from rendering.templates import Rule

NUMBERED = tuple(mask(name) for name in ("1.", "2.", "3.", "4."))
SOLO = mask("solo")
TOGETHER = mask("a 2") | mask("a 3") | mask("a 4") | mask("unisono") | mask("tutti")
DIVISI = mask("divisi")
PLAYERS = SOLO | TOGETHER | DIVISI | sum(NUMBERED) | mask("soli") | mask("half") | mask("first desk") | mask("gli altri")


class Desk(NamedTuple):
    """One track that may play a part: whether its map is a soloist's, and whether it doubles all (a layer)."""

    id: str
    solo: bool
    layer: bool


class Share(NamedTuple):
    """Rows of a part's line that a track plays; None = all of them."""

    line: int
    rows: tuple[int, ...] | None


Desks = Sequence[Desk]


def share_out(
    lines: list[Played], instruments: list[str], rules: Sequence[Rule], automatic: Desks, desk: Callable[[str], Desk], *, strings: bool
) -> dict[str, list[Share]]:
    """Return for each track what it plays of a part.

    `rules` of the assignment that name the part; where none fits a note, the `automatic` desks play it.
    `strings`: an unmarked chord is a double stop for all desks, where winds divide it.
    """
    out: dict[str, list[Share]] = {}
    players = sorted((r for r in rules if r.player is not None), key=lambda r: r.player or 0)
    by_note = any(r.mark or r.instrument for r in rules)
    for n, line in enumerate(lines):
        fitting = [r for r in rules if r.player is None and r.staff in (None, line.staff) and r.voice in (None, line.voice)]
        if players and not fitting:
            desks: Desks = [desk(i) for r in players for i in r.tracks]
        else:
            best = max((r for r in fitting if not r.mark and not r.instrument), key=_weight, default=None)
            desks = [desk(i) for i in best.tracks] if best else automatic
        if not by_note and sum(not d.layer for d in desks) < 2:
            for d in desks:
                out.setdefault(d.id, []).append(Share(n, None))
            continue
        others = [other for other in lines if other is not line]
        picked = _Picker(line, n, len(lines), others, strings).pick(_per_note(line, instruments, fitting, desks, desk))
        for name, rows in picked.items():
            out.setdefault(name, []).append(Share(n, None if len(rows) == len(line) else tuple(rows)))
    return out


def _weight(rule: Rule) -> int:
    return rule.weight


def _per_note(line: Played, instruments: list[str], rules: Sequence[Rule], desks: Desks, desk: Callable[[str], Desk]) -> list[Desks]:
    """The desks of each note: those of the most specific rule that names its mark or instrument, else the line's."""
    special = sorted((r for r in rules if r.mark or r.instrument), key=_weight, reverse=True)
    if not special:
        return [desks] * len(line)
    wanted = [(mask(r.mark) if r.mark else 0, r.instrument, [desk(i) for i in r.tracks]) for r in special]
    out: list[Desks] = []
    for marks, instrument in zip(line.marks, line.instrument, strict=True):
        name = instruments[instrument]
        found = next((d for m, i, d in wanted if (not m or marks & m) and i in (None, name)), desks)
        out.append(found)
    return out


class _Picker:
    """Gives the notes of one line to desks, chord by chord."""

    def __init__(self, line: Played, number: int, count: int, others: list[Played], strings: bool) -> None:
        self.line: Played = line
        self.number: int = number
        self.count: int = count
        self.strings: bool = strings
        self.busy: list[tuple[int, int]] = sorted((a, b) for other in others for a, b in zip(other.on, other.off, strict=True))
        self.at: int = 0
        self.until: int = -1

    def pick(self, desks: list[Desks]) -> dict[str, list[int]]:
        """Return track id -> rows, ascending."""
        out: dict[str, list[int]] = {}
        on = self.line.on
        start, count = 0, len(on)
        while start < count:
            stop = start + 1
            while stop < count and on[stop] == on[start]:
                stop += 1
            for row, names in self._chord(start, stop, desks):
                for name in names:
                    out.setdefault(name, []).append(row)
            start = stop
        return out

    def _chord(self, start: int, stop: int, desks: list[Desks]) -> list[tuple[int, list[str]]]:
        several = self._with_another_voice(start)
        ranked = sorted(range(start, stop), key=lambda row: -self.line.key[row])
        return [
            (
                row,
                [d.id for d in desks[row] if d.layer] + self._of(row, place, stop - start, several, [d for d in desks[row] if not d.layer]),
            )
            for place, row in enumerate(ranked)
        ]

    def _of(self, row: int, place: int, size: int, several: bool, desks: Desks) -> list[str]:
        """The desks that play the note which is `place`th from the top of a chord of `size`."""
        k = len(desks)
        marks = self.line.marks[row]
        if k < 2:
            return [d.id for d in desks]
        if marks & SOLO:
            return [next((d for d in desks if d.solo), desks[0]).id]
        for n, numbered in enumerate(NUMBERED[:k]):
            if marks & numbered:
                return [desks[n].id]
        if marks & TOGETHER:
            return [d.id for d in desks]
        if several:
            first, last = self.number * k // self.count, max((self.number + 1) * k // self.count, self.number * k // self.count + 1)
            return [d.id for d in desks[first:last]]
        if size > 1 and (marks & DIVISI or not self.strings):
            if size >= k:
                return [desks[place * k // size].id]
            return [desks[n].id for n in range(k) if n * size // k == place]
        return [d.id for d in desks]

    def _with_another_voice(self, row: int) -> bool:
        """Tell whether another line of the part sounds while this note does."""
        start, end = self.line.on[row], self.line.off[row]
        while self.at < len(self.busy) and self.busy[self.at][0] < end:
            self.until = max(self.until, self.busy[self.at][1])
            self.at += 1
        return self.until > start


def taken(line: Played, rows: tuple[int, ...] | None) -> Played:
    """Return the given rows of a line as a line; the line itself for None."""
    if rows is None:
        return line
    out = Played(line.staff, line.voice)
    out.ramps, out.repeats = line.ramps, line.repeats
    for name in ("on", "off", "key", "cents", "marks", "level", "slur", "tie", "grace", "lyric", "source", "instrument", "number"):
        column = getattr(line, name)
        getattr(out, name).extend([column[i] for i in rows])
    return out
