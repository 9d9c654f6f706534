"""What a listener reports: which sampler sits where, and the notes it was heard to play."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from rendering.maps.table import Sampler
from rendering.problems import Problem

NOTHING, TWO_AT_ONCE = -1, -2


class Seat(NamedTuple):
    """One sampler on one track of the template: the table it plays, the channel and port it listens to.

    `channel` 0-15 is the track's own; the channels that entries of the map name are heard by the same
    seat, each with a memory of its own. `label` is "" for the track itself; for another track that a
    trigger {"track": label} leads to it is that label, and only entries with it are heard there
    (in a memory without such entries: those without a label).
    """

    sampler: Sampler
    channel: int
    port: int = 0
    label: str = ""


class Change(NamedTuple):
    """An articulation that changed while its note sounded: `row` of Heard, in `memory`, at `tick`.

    `before` and `after` are entries, or NOTHING or TWO_AT_ONCE. It is one when the new entry acts on
    sounding notes, or when a key that must be held through the note was let go.
    """

    row: int
    tick: int
    memory: int
    before: int
    after: int


class Damp(NamedTuple):
    """A press of a key that only stops ringing notes."""

    tick: int
    port: int
    channel: int
    key: int


class Heard:
    """All notes heard, as parallel columns; one row a sounding note-on, in the order of the file within a span.

    seat      index into the seats that were given
    track     index of the MIDI track, from 0
    port      from 0
    channel   0-15
    on        tick of the note-on as sent (a lead is not added)
    off       tick of its end as sent; for a stuck note the end of its track
    key       as sent
    sounding  sent key less the map's key offset and less the shift of what is heard; a strike's: as sent
    velocity  1-127
    cell      index into `cells`
    joined    1 when, at the note-on, a note of the channel that began at an earlier tick still sounds
              that was played by the same entry and that entry joins; else 0
    level     values at the note-on of the seat's loudness controllers, in the order of
              `controllers[seat]`; -1 = none seen yet. () where the map has none

    cells        what is heard in each memory: an entry's index, NOTHING or TWO_AT_ONCE
    controllers  of each seat: the controllers that carry loudness in any of its entries, ascending
    spans        (port, channel) -> (first row, row after the last), in the order of rows
    changes      articulations that changed while a note sounded, per span in time order
    damps        presses of damp keys, per span in time order
    problems     stuck, doubled and empty notes, note-offs without a note, channels that nobody hears
    """

    __slots__ = (
        "cell", "cells", "changes", "channel", "controllers", "damps", "joined", "key", "level", "off", "on",
        "port", "problems", "seat", "seats", "sounding", "spans", "track", "velocity",
    )  # fmt: skip

    def __init__(self, seats: Sequence[Seat]) -> None:
        self.seats: tuple[Seat, ...] = tuple(seats)
        self.controllers: list[tuple[int, ...]] = [_loudness_controllers(seat.sampler) for seat in seats]
        self.seat: list[int] = []
        self.track: list[int] = []
        self.port: list[int] = []
        self.channel: list[int] = []
        self.on: list[int] = []
        self.off: list[int] = []
        self.key: list[int] = []
        self.sounding: list[int] = []
        self.velocity: list[int] = []
        self.cell: list[int] = []
        self.joined: list[int] = []
        self.level: list[tuple[int, ...]] = []
        self.cells: list[tuple[int, ...]] = []
        self.spans: dict[tuple[int, int], tuple[int, int]] = {}
        self.changes: list[Change] = []
        self.damps: list[Damp] = []
        self.problems: list[Problem] = []

    def __len__(self) -> int:
        return len(self.on)

    def entries(self, row: int) -> tuple[int, ...]:
        """Return what row `row` is heard as in each memory: an entry's index, NOTHING or TWO_AT_ONCE."""
        return self.cells[self.cell[row]]


def _loudness_controllers(sampler: Sampler) -> tuple[int, ...]:
    return tuple(sorted({e.loudness.controller for e in sampler.entries} - {-1}))
