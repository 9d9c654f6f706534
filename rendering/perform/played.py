"""The columns of a line as it is played."""

from __future__ import annotations

from itertools import compress


class Played:
    """One line of a part as played, in played order.

    on, off    Ticks without any lead; off > on once graces are placed; graces may lie before 0
    key        sounding MIDI key
    cents      -50..50
    marks      mask over the marks table
    level      thousandths at the written onset
    slur, tie, grace, lyric, source, instrument: as in Line, of the first note of a tied chain
    (a chain's `slur` leaves as its last note does)
    number     the pass in which the note sounds
    ramps      (tick, tick, level, level) of the hairpins over this line
    repeats    True when a note that is written once may stand in several rows, because it was written out
    """

    __slots__ = (
        "cents", "grace", "instrument", "key", "level", "lyric", "marks", "number",
        "off", "on", "ramps", "repeats", "slur", "source", "staff", "tie", "voice",
    )  # fmt: skip

    def __init__(self, staff: int, voice: str) -> None:
        self.staff: int = staff
        self.voice: str = voice
        self.on: list[int] = []
        self.off: list[int] = []
        self.key: list[int] = []
        self.cents: list[int] = []
        self.marks: list[int] = []
        self.level: list[int] = []
        self.slur: list[int] = []
        self.tie: list[int] = []
        self.grace: list[int] = []
        self.lyric: list[int] = []
        self.source: list[int] = []
        self.instrument: list[int] = []
        self.number: list[int] = []
        self.ramps: list[tuple[int, int, int, int]] = []
        self.repeats: bool = False

    def __len__(self) -> int:
        return len(self.on)

    def remove(self, rows: list[int]) -> None:
        """Take the given rows out of every column."""
        if not rows:
            return
        keep = bytearray(b"\x01") * len(self.on)
        for row in rows:
            keep[row] = 0
        for name in COLUMNS:
            column = getattr(self, name)
            column[:] = compress(column, keep)


COLUMNS = ("on", "off", "key", "cents", "marks", "level", "slur", "tie", "grace", "lyric", "source", "instrument", "number")
