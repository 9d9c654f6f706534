"""One tempo map and the rehearsal marks of all parts.

A sound's tempo is what MusicXML defines for playing; a metronome mark counts where there is none at its
place, words where there is neither. Speeds are thousandths of a quarter a minute.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from rendering.annotate.bends import Stretch, caesuras, fermatas, longest, swings
from rendering.annotate.pace_words import Pace, read_pace
from rendering.annotate.placing import Placed, Span, spans_of
from rendering.readers.numbers import rounded
from rendering.score import Measure, Score
from rendering.timeline import half_up, micros_per_quarter

DEFAULT = 120_000
MOST_STEPS = 64  # of one gradual change, else one each eighth
NEXT_SIGN = 8  # measures within which a sign of tempo ends what is gradual
ALONE = 2  # measures that it lasts beyond its own where none does
GRADUAL = frozenset({"slowing", "quickening"})
WITHOUT_TEMPO = frozenset({"swing", "straight"})

Told = tuple[str, int, dict[str, str | int]]  # code, Unit, arguments


@dataclass(slots=True)
class Event:
    """What the page says about tempo at one Unit; speeds 0 = nothing."""

    sound: int = 0
    mark: int = 0
    between: str = ""  # a range, as written
    ratio: Fraction | None = None
    words: list[tuple[str, Pace]] = field(default_factory=list)

    @property
    def speed(self) -> int:
        return self.sound or self.mark

    def ends(self, kind: str) -> bool:
        """Say whether anything but more of the same begins here, so that a gradual change of a kind is over."""
        return bool(self.speed or self.ratio) or any(pace.kind != kind for _, pace in self.words)


def events_of(parts: Sequence[list[Placed]], first: int) -> dict[int, Event]:
    """Return Unit -> what is said there, ascending; what stands at the first note holds from 0, of several parts the first counts."""
    found: dict[int, Event] = {}
    for placed in parts:
        for at, _, _, sign in placed:
            if sign.kind not in {"tempo", "metronome", "modulation", "words"}:
                continue
            paces = [p for p in read_pace(sign.text) if p.kind not in WITHOUT_TEMPO] if sign.kind == "words" else []
            if sign.kind == "words" and not paces:
                continue
            event = found.setdefault(0 if at <= first else at, Event())
            if sign.kind == "tempo":
                event.sound = event.sound or sign.value
            elif sign.kind == "metronome" and not event.mark:
                event.mark, event.between = sign.value, sign.number
            elif sign.kind == "modulation":
                event.ratio = event.ratio or Fraction(sign.number)
            known = {pace.kind for _, pace in event.words}
            event.words += [(sign.text, pace) for pace in paces if pace.kind not in known]
    return dict(sorted(found.items()))


class Walk:
    """Goes through the events in the order of the page and writes down the steps of the tempo map.

    base     the tempo that "a tempo" means; opening: the first one
    until    of a gradual change: (its kind, where it ends); bent: since it began no new tempo was named, so that
             tempos of sound elements only draw it out
    """

    def __init__(self, score: Score, events: dict[int, Event], spans: Sequence[Span]) -> None:
        self.unit: int = score.unit
        self.measures: list[Measure] = score.measures
        self.starts: list[int] = [m.start for m in score.measures]
        self.end: int = score.measures[-1].start + score.measures[-1].length
        self.events: dict[int, Event] = events
        self.stops: dict[str, list[int]] = {kind: [at for at, e in events.items() if e.ends(kind)] for kind in GRADUAL}
        self.given: list[int] = [at for at, event in events.items() if event.speed or event.ratio]
        self.spans: dict[int, int] = {}
        for span in spans:
            self.spans[span.start] = max(span.stop, self.spans.get(span.start, 0))
        self.base: int = DEFAULT
        self.now: int = DEFAULT
        self.opening: int = 0
        self.until: tuple[str, int] = ("", -1)
        self.bent: bool = False
        self.steps: list[tuple[int, int]] = []
        self.told: list[Told] = []

    def run(self) -> None:
        for at, event in self.events.items():
            self.settle(at, event)
            for text, pace in event.words:
                if pace.kind in GRADUAL and (pace.kind != self.until[0] or at >= self.until[1]):
                    self.gradual(at, text, pace)

    def settle(self, at: int, event: Event) -> None:
        """Take up the tempo that begins at a Unit, if one does."""
        speed = event.speed
        if speed:
            self.bent = self.bent and not event.mark and not any(pace.kind not in GRADUAL for _, pace in event.words)
            self.base = self.base if self.bent else speed
            if event.between and not event.sound:
                self.told.append(("tempo-range", at, {"text": event.between, "speed": shown(speed)}))
        elif event.ratio and self.steps:
            speed = self.base = self.limited(self.now * event.ratio)
            self.bent = False
        for text, pace in event.words if not speed else ():
            speed = self.worded(at, text, pace) or speed
        if speed:
            self.opening = self.opening or speed
            self.step(at, speed)
            self.until = ("", -1)

    def worded(self, at: int, text: str, pace: Pace) -> int:
        """Return the speed that words set; 0 for none."""
        kind = pace.kind
        if kind == "usual":
            if self.is_given_near(at):
                return 0
            self.base = pace.value * rounded(1000 * self.beat(at))
            self.told.append(("tempo-guessed", at, {"text": text[:60], "speed": shown(self.base)}))
        elif kind == "primo":
            self.base = self.opening or self.base
        elif kind == "same":
            self.base = self.limited(self.base * self.beat(at) / self.beat(max(at - 1, 0)))
        elif kind in {"twice", "half"}:
            self.base = self.limited(self.base * (Fraction(2) if kind == "twice" else Fraction(1, 2)))
        elif kind in {"slower", "faster"}:
            speed = self.limited(self.now * Fraction(pace.value, 1000))
            self.base = self.base if "riten" in text.lower() or "retenu" in text.lower() else speed
            self.told.append(("tempo-bent", at, {"text": text[:60], "percent": pace.value // 10}))
            return speed
        elif kind != "back":
            return 0
        return self.base

    def is_given_near(self, at: int) -> bool:
        """Say whether a tempo in numbers stands within a quarter of a place."""
        i = bisect_left(self.given, at - self.unit)
        return i < len(self.given) and self.given[i] <= at + self.unit

    def beat(self, at: int) -> Fraction:
        """Return the beat of the meter in quarters: three eighths or sixteenths in compound meters."""
        beats, unit = self.measures[max(bisect_right(self.starts, at) - 1, 0)].meter
        if not unit:
            return Fraction(1)
        return Fraction(12 if unit >= 8 and beats % 3 == 0 and beats > 3 else 4, unit)

    def gradual(self, at: int, text: str, pace: Pace) -> None:
        """Slow down or quicken step by step, to a tempo that follows, else to a stated part of the one before."""
        stop, following = self.reach(at, pace.kind)
        goal = self.limited(self.now * Fraction(pace.value, 1000))
        ahead = self.events[following].speed if following == stop else 0
        if stop <= at:
            return
        if ahead and (ahead < self.now) == (pace.kind == "slowing") and ahead != self.now:
            goal = ahead
        size = max(self.unit // 2, -(-(stop - at) // MOST_STEPS), 1)
        start, here, length = at, self.now, stop - at
        while at < stop:
            middle = 2 * (at - start) + min(size, stop - at)
            self.step(at, here + half_up((goal - here) * middle, 2 * length))
            at += size
        self.now = goal
        self.until, self.bent = (pace.kind, stop), True
        self.told.append(("tempo-bent", start, {"text": text[:60], "percent": half_up(100 * goal, max(here, 1))}))
        if following != stop and stop < self.end:
            self.step(stop, goal if 0 <= following <= self.measure_end(stop, NEXT_SIGN) else self.base)

    def reach(self, at: int, kind: str) -> tuple[int, int]:
        """Return where a gradual change ends, and the next place that ends such changes (-1 = none)."""
        stops = self.stops[kind]
        i = bisect_right(stops, at)
        following = stops[i] if i < len(stops) else -1
        stop = self.spans.get(at, 0)
        if not stop:
            stop = following if at < following <= self.measure_end(at, NEXT_SIGN) else self.measure_end(at, ALONE)
        return min(stop, following if following > 0 else self.end, self.end), following

    def measure_end(self, at: int, more: int) -> int:
        """Return the end of the measure so many after the one that holds a Unit."""
        row = self.measures[min(max(bisect_right(self.starts, at) - 1, 0) + more, len(self.measures) - 1)]
        return row.start + row.length

    def limited(self, speed: Fraction) -> int:
        return min(max(rounded(speed), 1000), 10**8)

    def step(self, at: int, speed: int) -> None:
        self.now = speed
        if self.steps and self.steps[-1][0] == at:
            self.steps.pop()
        self.steps.append((at, speed))


def shown(speed: int) -> str:
    """Return a speed in quarters a minute as text."""
    return f"{speed / 1000:g}"


def tempo_of(parts: Sequence[list[Placed]], score: Score, first: int) -> tuple[list[tuple[int, int]], list[Told]]:
    """Return (Unit, microseconds per quarter), ascending, and what had to be guessed; both empty without a measure."""
    if not score.measures:
        return [], []
    spans = [span for placed in parts for span in spans_of(placed)]
    walk = Walk(score, events_of(parts, first), spans)
    walk.run()
    pauses = caesuras([line for part in score.parts for line in part.lines], score.unit)
    drawn = sorted(at for at, event in walk.events.items() if event.sound and not event.mark)
    holds = [s for s in longest([*fermatas(parts, score.unit), *pauses]) if not drawn_in(drawn, s) or not s[0]]
    walk.told += [("held-for-all", start, {"times": f"{times / by:.3g}"}) for start, _, times, by in holds]
    swung = swings(parts, score.unit, walk.end)
    if swung:
        walk.told.append(("swung", swung[0][0], {"first": swung[0][2], "second": swung[1][2]}))
    if not walk.steps and not holds and not swung:
        return [], walk.told
    if not walk.steps or walk.steps[0][0] > 0:
        walk.told += [] if walk.steps else [("no-tempo", -1, {})]
        walk.steps.insert(0, (0, DEFAULT))
    return [step for step in stretched(walk.steps, [holds, swung]) if step[0] < max(walk.end, 1)], walk.told


def drawn_in(tempos: list[int], stretch: Stretch) -> bool:
    """Say whether the file itself slows down inside a stretch, by tempos that are not for the eye."""
    i = bisect_left(tempos, stretch[0])
    return i < len(tempos) and tempos[i] < stretch[1]


def stretched(steps: list[tuple[int, int]], layers: list[list[Stretch]]) -> list[tuple[int, int]]:
    """Return the steps in microseconds, with each layer of ascending stretches laid over them."""
    points = sorted({at for at, _ in steps} | {p for layer in layers for s in layer for p in s[:2]})
    starts = [at for at, _ in steps]
    firsts = [[s[0] for s in layer] for layer in layers]
    found: list[tuple[int, int]] = []
    for at in points:
        speed = Fraction(steps[bisect_right(starts, at) - 1][1])
        for layer, first in zip(layers, firsts, strict=True):
            i = bisect_right(first, at) - 1
            if i >= 0 and at < layer[i][1]:
                speed *= Fraction(layer[i][3], layer[i][2])
        micros = int(micros_per_quarter(rounded(speed)))
        if not found or found[-1][1] != micros:
            found.append((at, micros))
    return found


def rehearsal_of(parts: list[list[Placed]]) -> list[tuple[int, str]]:
    """Return (Unit, text) of rehearsal marks, one a place, ascending."""
    found: dict[int, str] = {}
    for placed in parts:
        for unit, _, _, sign in placed:
            if sign.kind == "rehearsal":
                found.setdefault(unit, sign.text)
    return sorted(found.items())
