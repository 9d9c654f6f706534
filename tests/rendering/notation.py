"""A short notation for scores in golden files, one line a thing, read to a neutral score.

    meter 4/4                     once; 4/4 where it is left out
    tempo 120 3:1=60              quarters a minute at the start, then from measure:beat on
    play 1-2 1-2 3-4              which measures are played, pass by pass; all of them once where it is left out
    rehearsal 3 A                 a rehearsal mark at a measure
    part P1 Violin strings.violin id, name (spaces as _), sound; lines that follow belong to it
    voice 1: C5:q D5:e. r:e | E5:h F5:h |

Tokens of a voice, parted by spaces:

    C5:q C5+E5:h r:w     pitches (C4 = 60) or a rest, and a length: w h q e s t (whole to thirty-second), dots, a trailing
                         3 for a triplet; g and a instead of a length: a grace note with or without slash
    C5:q~                a tie starts
    (C5:q D5:q)          slurred
    C5:q[staccato]       marks of this note, parted by commas, spaces as _
    C5:q^once            a dynamic of this note alone: ^once (sf and its kin), ^attack750 (fp), ^note500
    {con_sordino}        marks of all notes from here on; {} ends them
    =p =mf/2             a dynamic, of the part or of one voice
    < > /                a hairpin opens, closes, ends; >0 closes to silence
    |                    a bar line; the measure must be full
"""

from __future__ import annotations

import re
from typing import NamedTuple

from rendering.marks import mask
from rendering.score import (
    GRACE_PLAIN,
    GRACE_SLASHED,
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

UNIT = 960
LENGTHS = {"w": 3840, "h": 1920, "q": 960, "e": 480, "s": 240, "t": 120}
GRACES = {"g": GRACE_SLASHED, "a": GRACE_PLAIN}
LEVELS = {name: 125 * n for n, name in enumerate(("ppp", "pp", "p", "mp", "mf", "f", "ff", "fff"), 1)} | {"n": 0}
STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
ALTERS = {"": 0, "#": 1, "b": -1}
NOTE = re.compile(r"(\(?)([A-Gr][^:]*):([whqest]\.*3?|[ga])(~?)(\)?)(?:\[([^\]]*)\])?(?:\^([a-z]+)(\d*))?")


class Heading(NamedTuple):
    """What the lines above the parts say."""

    meter: tuple[int, int]
    tempo: list[str]
    play: list[str]
    rehearsal: list[list[str]]


def read_notation(text: str) -> Score:
    """Return the score that the lines spell; ValueError names the line or token that is wrong."""
    meter, tempo, play, rehearsal = (4, 4), ["120"], [], []
    parts: list[_PartReader] = []
    for row in (line.split("#", 1)[0].strip() if not line.startswith("voice") else line.strip() for line in text.splitlines()):
        word, _, rest = row.partition(" ")
        if word == "meter":
            meter = (int(rest.split("/")[0]), int(rest.split("/")[1]))
        elif word in ("tempo", "play"):
            tempo, play = (rest.split(), play) if word == "tempo" else (tempo, rest.split())
        elif word == "rehearsal":
            rehearsal.append(rest.split())
        elif word == "part":
            parts.append(_PartReader(*rest.split(), meter=meter))
        elif word == "voice":
            parts = parts or [_PartReader("P1", "Violin", "strings.violin", meter=meter)]
            number, _, tokens = rest.partition(":")
            parts[-1].voice(number, tokens.split())
        elif row:
            raise ValueError(f"what is “{row}”?")
    return _score(Heading(meter, tempo, play, rehearsal), parts)


def _score(head: Heading, parts: list[_PartReader]) -> Score:
    bar = 4 * UNIT * head.meter[0] // head.meter[1]
    bars = max(-(-part.end // bar) for part in parts)
    made = Score(unit=UNIT, title="", parts=[part.part for part in parts])
    made.measures = [Measure(i + 1, str(i + 1), i * bar, bar, head.meter, 0) for i in range(bars)]
    made.itinerary = _itinerary(head.play) or [(1, bars, 1)]
    made.tempo = [(0, micros_per_quarter(int(head.tempo[0]) * 1000))]
    for change in head.tempo[1:]:
        place, speed = change.split("=")
        measure, beat = (int(n) for n in place.split(":"))
        made.tempo.append(((measure - 1) * bar + (beat - 1) * 4 * UNIT // head.meter[1], micros_per_quarter(int(speed) * 1000)))
    made.rehearsal = [((int(measure) - 1) * bar, name) for measure, name in head.rehearsal]
    return made


def _itinerary(play: list[str]) -> list[tuple[int, int, int]]:
    passes: dict[int, int] = {}
    found = []
    for first, last in (piece.split("-") for piece in play):
        passes[int(first)] = passes.get(int(first), 0) + 1
        found.append((int(first), int(last), passes[int(first)]))
    return found


def key_of(name: str) -> int:
    """Return the key of a pitch such as Bb3; C4 is 60."""
    step, alter, octave = re.fullmatch(r"([A-G])([#b]?)(-?\d+)", name).groups()  # type: ignore[union-attr]
    return 12 * (int(octave) + 1) + STEPS[step] + ALTERS[alter]


def length_of(name: str) -> int:
    """Return the Units of a length such as q. or e3."""
    base = LENGTHS[name[0]]
    dotted = 2 * base - (base >> name.count("."))
    return dotted * 2 // 3 if name.endswith("3") else dotted


class _PartReader:
    def __init__(self, part_id: str, name: str, sound: str = "", *, meter: tuple[int, int]) -> None:
        self.part = Part(id=part_id, name=name.replace("_", " "), instruments=[Instrument(sound=sound)])
        self.bar = 4 * UNIT * meter[0] // meter[1]
        self.end = 0
        self.source = 0

    def voice(self, number: str, tokens: list[str]) -> None:
        """Read one voice from its beginning."""
        self.line = Line(1, number)
        self.part.lines.append(self.line)
        self.at, self.state, self.slurred = 0, 0, False
        self.tied: set[int] = set()
        self.pin: tuple[int, int, bool] | None = None
        for token in tokens:
            self._token(token)
        self.end = max(self.end, self.at)

    def _token(self, token: str) -> None:
        if token == "|":
            if self.at % self.bar:
                raise ValueError(f"measure {self.at // self.bar + 1} of voice {self.line.voice} is not full")
        elif token[0] == "{":
            self.state = _marks(token[1:-1])
        elif token[0] == "=":
            name, _, voice = token[1:].partition("/")
            self.part.levels.append(Level(self.at, 0, voice, "mark", LEVELS[name], 0))
        elif token[0] in "<>":
            self.pin = (self.at, 1 if token[0] == "<" else -1, token.endswith("0"))
        elif token == "/" and self.pin:
            self.part.hairpins.append(Hairpin(self.pin[0], self.at, 0, "", self.pin[1], self.pin[2]))
        elif found := NOTE.fullmatch(token):
            self._note(*found.groups(default=""))
        else:
            raise ValueError(f"what is “{token}”?")

    def _note(self, opens: str, pitches: str, length: str, tie: str, closes: str, marks: str, kind: str, level: str) -> None:
        grace = GRACES.get(length, 0)
        duration = 0 if grace else length_of(length)
        if pitches == "r":
            self.source += 1
            self.at += duration
            return
        slur = (SLUR_ARRIVES if self.slurred else 0) | (SLUR_LEAVES if opens or (self.slurred and not closes) else 0)
        mask_ = self.state | _marks(marks) | (mask("legato") if slur else 0)
        keys = [key_of(name) for name in pitches.split("+")]
        for key in keys:
            self.source += 1
            ties = (TIE_STOP if key in self.tied else 0) + (TIE_START if tie else 0)
            self.line.add(Note(self.at, duration, key, 0, mask_, ties, slur, grace, 0, self.source, 0))
            if kind:
                self.part.levels.append(Level(self.at, 1, self.line.voice, kind, int(level or 0), self.source))
        if not grace:
            self.tied = set(keys) if tie else set()
        self.slurred = bool(slur & SLUR_LEAVES)
        self.at += duration


def _marks(text: str) -> int:
    return mask(*(name.replace("_", " ") for name in text.split(",") if name))
