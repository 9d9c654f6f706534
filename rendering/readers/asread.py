"""What a reader hands to `annotate`: the file's facts by part, in written order, nothing resolved yet.

Places are a measure (index from 0) and Units from its start, because where a measure starts is known
only when all parts have been read.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from rendering.marks import family_of
from rendering.score import Instrument, Ornament

# General MIDI level 1's groups of programs: (first program from 0, family).
_PROGRAMS = (
    (0, "keyboard"), (8, "mallets"), (16, "organ"), (21, "accordion"), (24, "plucked"), (40, "strings"),
    (46, "harp"), (47, "timpani"), (48, "strings"), (52, "voice"), (55, ""), (56, "brass"), (64, "woodwind"),
    (80, ""), (104, "plucked"), (108, "mallets"), (109, "woodwind"), (110, "strings"), (111, "woodwind"),
    (112, "percussion"), (120, ""),
)  # fmt: skip


def family_of_program(program: int) -> str:
    """Return the family of a General MIDI program counted from 0; "" for -1 and for effects."""
    return next((family for first, family in reversed(_PROGRAMS) if 0 <= first <= program), "")


class LineAsRead:
    """The notes of one voice on one staff as parallel columns, in document order.

    segments  (row, measure) where a new measure begins, rows ascending
    offset    Unit from the start of the measure
    duration, marks, source  as in `score.Line`; marks are the note's own
    key       written MIDI key (not transposed); of an unpitched note the sent key or its staff place
    All other attributes are sparse: row -> value, or a list of rows with values in document order.
    slurs     (row, 1 start or -1 stop, number, document order in the part)
    levels    (row, thousandths) from a note's dynamics attribute
    harmonics row -> "base", "touching", "sounding", or "diamond" for a diamond note head
    strokes   row -> how often strokes through the stem say that it is struck (both notes of a tremolo between
              two together), and whether they are fewer than three, so that each is counted
    ornaments row -> neighbours of a note with an ornament; rolls: row -> the number of its arpeggio
    passes    row -> the passes in which the note sounds, as the file says it
    steals    row -> thousandths of the note before and after a grace note, and of a quarter beside
    """

    __slots__ = (
        "cents", "duration", "grace", "harmonics", "instrument", "key", "levels", "lyric", "marks",
        "offset", "ornaments", "passes", "rolls", "segments", "slurs", "source", "staff", "steals", "strokes", "tie", "unpitched", "voice",
    )  # fmt: skip

    def __init__(self, staff: int, voice: str) -> None:
        self.staff: int = staff
        self.voice: str = voice
        self.segments: list[tuple[int, int]] = []
        self.offset: list[int] = []
        self.duration: list[int] = []
        self.key: list[int] = []
        self.marks: list[int] = []
        self.source: list[int] = []
        self.tie: dict[int, int] = {}
        self.grace: dict[int, int] = {}
        self.cents: dict[int, int] = {}
        self.lyric: dict[int, int] = {}
        self.instrument: dict[int, int] = {}
        self.passes: dict[int, str] = {}
        self.steals: dict[int, tuple[int, int, int]] = {}
        self.harmonics: dict[int, str] = {}
        self.strokes: dict[int, tuple[int, bool]] = {}
        self.ornaments: dict[int, Ornament] = {}
        self.rolls: dict[int, str] = {}
        self.unpitched: set[int] = set()
        self.levels: list[tuple[int, int]] = []
        self.slurs: list[tuple[int, int, str, int]] = []


class Sign(NamedTuple):
    """One thing written beside the notes: words, a dynamic, a hairpin's end, a tempo, a pedal …

    measure, offset  where it stands in the file, in Units from the start of the measure
    shift            Units of its offset element; `exact` = the file says that it is meant for playing
    staff, voice     0 and "" where the file names none
    kind             "words", "dynamics", "wedge", "tempo" …: see `readers.directions`
    text, number, value  by kind; `place` is its placement ("above", "below" or "")
    """

    kind: str
    measure: int
    offset: int
    shift: int = 0
    exact: bool = False
    staff: int = 0
    voice: str = ""
    text: str = ""
    number: str = ""
    value: int = 0
    place: str = ""


class Bar(NamedTuple):
    """A bar line that means something for the order of playing.

    repeat  "forward", "backward" or ""; times  playings that the file asks for, 0 = unsaid
    ending  "start", "stop", "discontinue" or ""; passes  its numbers, () = none readable
    final   a thin and a thick line without a repeat: the end of a movement
    """

    measure: int
    right: bool
    repeat: str
    times: int
    after_jump: bool
    ending: str
    passes: tuple[int, ...]
    final: bool = False


@dataclass(slots=True, kw_only=True)
class PartAsRead:
    """One part. `lengths` holds what each of its measures contains, in Units; `lines` by (staff, voice)."""

    id: str
    name: str
    instruments: list[Instrument] = field(default_factory=lambda: [Instrument()])
    lines: dict[tuple[int, str], LineAsRead] = field(default_factory=dict)
    lengths: list[int] = field(default_factory=list)
    staves: int = 1
    signs: list[Sign] = field(default_factory=list)
    keys: list[tuple[int, int]] = field(default_factory=list)  # (measure, fifths as written)
    transposes: list[tuple[int, int, int, int]] = field(default_factory=list)  # (measure, offset, staff, semitones)
    lyrics: list[str] = field(default_factory=lambda: [""])

    @property
    def family(self) -> str:
        """The family by sound, else by the names of part and instrument, else by program; "" = unknown."""
        own = self.instruments[0]
        return family_of(own.sound, self.name) or family_of("", own.name) or family_of_program(own.program)

    def rescale(self, factor: int) -> None:
        """Multiply everything in Units by `factor`."""
        for line in self.lines.values():
            line.offset = [factor * n for n in line.offset]
            line.duration = [factor * n for n in line.duration]
        self.lengths = [factor * n for n in self.lengths]
        self.signs = [s._replace(offset=factor * s.offset, shift=factor * s.shift) for s in self.signs]
        self.transposes = [(m, factor * offset, staff, semitones) for m, offset, staff, semitones in self.transposes]


@dataclass(slots=True, kw_only=True)
class ScoreAsRead:
    """A score as its file says it, before anything is resolved.

    unit     Units per quarter
    numbers  of each measure, as printed; implicit: those that are not counted (pickups)
    meters   (measure, beats, beat unit) where a time signature stands, ascending; (m, 0, 0) = senza misura
    bars     repeats and endings of all parts
    """

    unit: int
    title: str = ""
    numbers: list[str] = field(default_factory=list)
    implicit: set[int] = field(default_factory=set)
    meters: list[tuple[int, int, int]] = field(default_factory=list)
    bars: list[Bar] = field(default_factory=list)
    parts: list[PartAsRead] = field(default_factory=list)
