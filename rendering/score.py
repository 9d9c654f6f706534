"""The neutral score: parts, notes, marks, tempo, dynamics; it knows no library.

Notes are kept as columns of ints, not as objects: an object a note costs as much as parsing it.
A `Line` is treated as frozen once the stage that made it has ended.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

# Values of the column `tie`
TIE_NONE, TIE_START, TIE_STOP, TIE_THROUGH, TIE_RING = 0, 1, 2, 3, 4
# Bits of the column `slur`: a slur goes on to the next note of the line; one arrives from the note before.
SLUR_LEAVES, SLUR_ARRIVES = 1, 2
# Values of the column `grace`: how the note takes its time; GRACE_WITH is added to a grace note
# that sounds together with the grace note before it (a chord of grace notes).
GRACE_NONE, GRACE_SLASHED, GRACE_PLAIN = 0, 1, 2
GRACE_WITH = 4


class Note(NamedTuple):
    """One row of a Line, for tests, messages and the score document; see Line for the columns."""

    offset: int
    duration: int
    key: int
    cents: int
    marks: int
    tie: int
    slur: int
    grace: int
    lyric: int
    source: int
    instrument: int


class Line:
    """The notes of one voice on one staff of a part, in written order, as parallel columns.

    offset    Unit from the start of the score as written; ascending, chord members adjacent
    duration  Unit; 0 for a grace note
    key       sounding MIDI key, 60 = middle C (C4)
    cents     what the key lacks of the sounding pitch, -50..50
    marks     mask over the marks table: this note's marks and the passage states it stands in
    tie       TIE_NONE, TIE_START, TIE_STOP, TIE_THROUGH (both) or TIE_RING (let ring)
    slur      SLUR_LEAVES | SLUR_ARRIVES
    grace     GRACE_NONE, GRACE_SLASHED or GRACE_PLAIN; graces stand before their main note,
              with its offset, in the order in which they are played
    lyric     index into `Part.lyrics`; 0 = none
    source    ordinal of the `<note>` element in its part, from 1
    instrument index into `Part.instruments`; 0 = the part's own
    """

    __slots__ = (
        "cents", "duration", "grace", "instrument", "key", "lyric", "marks",
        "offset", "slur", "source", "staff", "tie", "voice",
    )  # fmt: skip

    def __init__(self, staff: int, voice: str) -> None:
        self.staff: int = staff
        self.voice: str = voice
        self.offset: list[int] = []
        self.duration: list[int] = []
        self.key: list[int] = []
        self.cents: list[int] = []
        self.marks: list[int] = []
        self.tie: list[int] = []
        self.slur: list[int] = []
        self.grace: list[int] = []
        self.lyric: list[int] = []
        self.source: list[int] = []
        self.instrument: list[int] = []

    def __len__(self) -> int:
        return len(self.offset)

    def note(self, i: int) -> Note:
        """Return row `i` as a Note; IndexError past the end."""
        return Note(
            self.offset[i], self.duration[i], self.key[i], self.cents[i], self.marks[i],
            self.tie[i], self.slur[i], self.grace[i], self.lyric[i], self.source[i],
            self.instrument[i],
        )  # fmt: skip

    def add(self, note: Note) -> None:
        """Append one note; readers of large files fill the columns themselves."""
        for name, value in zip(Note._fields, note, strict=True):
            getattr(self, name).append(value)


class Measure(NamedTuple):
    """One measure of the score as written; `length` is what it really holds, in Units."""

    ordinal: int  # from 1
    number: str  # as printed: neither unique nor numeric
    start: int
    length: int
    meter: tuple[int, int]  # (4, 4); (0, 0) = senza misura; sums of additive meters are added up
    key: int  # fifths, -7..7


class Level(NamedTuple):
    """One dynamic: from `offset` on (or at note `source` only) the level is `level` thousandths.

    kind: "mark" (written p, f …), "sound" (a sound element's percentage), "note" (a note's own
    dynamics attribute), "once" (sf and its kin: this note only), "attack" (fp, sfp: struck at
    `level`, then p). staff 0 and voice "" mean all of the part; source 0 means no single note.
    """

    offset: int
    staff: int
    voice: str
    kind: str
    level: int
    source: int


class Hairpin(NamedTuple):
    """A crescendo (direction 1) or diminuendo (-1) from `start` to `stop`, in Units."""

    start: int
    stop: int
    staff: int
    voice: str
    direction: int
    niente: bool


class Instrument(NamedTuple):
    """One instrument of a part. Notes of an `unpitched` one carry its `drum_key` as their key."""

    id: str = ""
    name: str = ""
    sound: str = ""  # a MusicXML standard sound, "strings.violin"; "" = unknown
    players: str = ""  # "solo", "ensemble" or "" = unsaid
    program: int = -1  # General MIDI program from 0 as the file states it; -1 = unsaid
    unpitched: bool = False
    drum_key: int = -1  # 0-127; -1 = unknown, the note's key is then its place on the staff


class Ornament(NamedTuple):
    """What the page says of a note's ornament: semitones to its neighbours by key, measure and accidentals.

    upper, lower  to the step above (positive) and below (negative); third: to the second step below
    long          the long form of the sign is written
    """

    upper: int
    lower: int
    third: int
    long: bool = False


class Strokes(NamedTuple):
    """Strokes through a note's stem: the length of one repeat in Units; `exact` = fewer than three, so they are counted."""

    repeat: int
    exact: bool


class Steal(NamedTuple):
    """The time of one grace note: thousandths of the notes before and after it, and Units beside; 0 = none."""

    previous: int
    following: int
    made: int


@dataclass(slots=True, kw_only=True)
class Part:
    """One part; `transpose` lists (unit, semitones to add to written pitch), already applied to keys.

    `pedals` lists (down, up) Units of the sustain pedal, ascending, where it is known when it is lifted: in sketches.
    What few notes have is kept by their `source`: `ornaments`; `strokes` through stems; `rolls`, the numbers
    by which arpeggios of several staves are one; `only`, the passes in which a note sounds; `steals`, the time of
    grace notes whose time the file states.
    """

    id: str
    name: str
    instruments: list[Instrument] = field(default_factory=lambda: [Instrument()])  # the first is its own
    transpose: list[tuple[int, int]] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    levels: list[Level] = field(default_factory=list)
    hairpins: list[Hairpin] = field(default_factory=list)
    pedals: list[tuple[int, int]] = field(default_factory=list)
    lyrics: list[str] = field(default_factory=lambda: [""])
    ornaments: dict[int, Ornament] = field(default_factory=dict)
    strokes: dict[int, Strokes] = field(default_factory=dict)
    rolls: dict[int, str] = field(default_factory=dict)
    only: dict[int, tuple[int, ...]] = field(default_factory=dict)
    steals: dict[int, Steal] = field(default_factory=dict)


@dataclass(slots=True, kw_only=True)
class Score:
    """A score as annotated, in written order; `itinerary` says how its measures are played.

    unit       Units per quarter note
    itinerary  (first ordinal, last ordinal, pass) slices in played order, both ends included
    tempo      (Unit, microseconds per quarter) in written order; empty = none written
    rehearsal  (Unit, text) of rehearsal marks in written order
    unread     (text, part id, Unit, staff) of words that were not understood
    """

    unit: int
    title: str = ""
    measures: list[Measure] = field(default_factory=list)
    itinerary: list[tuple[int, int, int]] = field(default_factory=list)
    tempo: list[tuple[int, int]] = field(default_factory=list)
    rehearsal: list[tuple[int, str]] = field(default_factory=list)
    unread: list[tuple[str, str, int, int]] = field(default_factory=list)
    parts: list[Part] = field(default_factory=list)
