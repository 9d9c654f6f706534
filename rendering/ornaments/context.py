"""What writing out must know of a part beside the line in hand: keys, strokes through stems, chords over staves."""

from __future__ import annotations

from rendering.marks import family_of, mask
from rendering.ornaments.numbers import OURS, Numbers
from rendering.ornaments.scales import neighbours
from rendering.perform import Played, Playing
from rendering.score import Ornament, Part
from rendering.timeline import Clock, to_ticks

ARPEGGIOS = mask("arpeggio", "arpeggio down")
TRILL_HALF, TRILL_WHOLE = mask("trill half"), mask("trill whole")


class Roll:
    """A rolled chord: its sounding keys, ascending, and when the first of its notes ends."""

    __slots__ = ("end", "keys")

    def __init__(self) -> None:
        self.keys: list[int] = []
        self.end: int = 0


class Context:
    """One part in one playing; `lines` are all that it plays, as a chord may be shared out among tracks."""

    __slots__ = ("clock", "family", "lines", "numbers", "part", "playing", "rolls")

    def __init__(self, part: Part, lines: list[Played], playing: Playing, numbers: Numbers = OURS) -> None:
        self.part: Part = part
        self.lines: list[Played] = lines
        self.playing: Playing = playing
        self.clock: Clock = playing.clock
        self.numbers: Numbers = numbers
        own = part.instruments[0]
        self.family: str = family_of(own.sound, part.name) or family_of("", own.name)
        self.rolls: dict[tuple[int, str], Roll] | None = None

    def fifths(self, tick: int) -> int:
        """Return the key signature in force, as it sounds."""
        return self.playing.bar_at(tick)[1].key

    def near(self, line: Played, row: int) -> Ornament:
        """Return the neighbours of a note: as its page has them, else by its trill and its key."""
        found = self.part.ornaments.get(line.source[row])
        if found:
            return found
        near = neighbours(line.key[row], self.fifths(line.on[row]))
        upper = 1 if line.marks[row] & TRILL_HALF else 2 if line.marks[row] & TRILL_WHOLE else near.upper
        return near._replace(upper=upper)

    def repeat(self, source: int) -> int:
        """Return the ticks of one repeat that the strokes of a note ask for; 0 = it has none."""
        strokes = self.part.strokes.get(source)
        return to_ticks(strokes.repeat, self.playing.unit, self.playing.ppq) if strokes else 0

    def exact(self, source: int) -> bool:
        """Tell whether the strokes of a note are counted."""
        strokes = self.part.strokes.get(source)
        return strokes is not None and strokes.exact

    def roll(self, line: Played, start: int, stop: int) -> Roll:
        """Return the rolled chord that rows [start, stop) belong to."""
        if self.rolls is None:
            self.rolls = {}
            for other in self.lines:
                self._gather(other, self.rolls)
        return self.rolls.get((line.on[start], self._name(line, start, stop))) or Roll()

    def _gather(self, line: Played, rolls: dict[tuple[int, str], Roll]) -> None:
        on, count = line.on, len(line.on)
        start = 0
        while start < count:
            stop = start + 1
            while stop < count and on[stop] == on[start]:
                stop += 1
            if line.marks[start] & ARPEGGIOS:
                roll = rolls.setdefault((on[start], self._name(line, start, stop)), Roll())
                roll.keys = sorted({*roll.keys, *line.key[start:stop]})
                end = min(line.off[start:stop])
                roll.end = min(roll.end, end) if roll.end else end
            start = stop

    def _name(self, line: Played, start: int, stop: int) -> str:
        """By what chords are one roll: a number that the page gives, else their staff (common practice)."""
        numbers = (self.part.rolls.get(source, "") for source in line.source[start:stop])
        return next((f"number {n}" for n in numbers if n), f"staff {line.staff}")
