"""Hand-written MIDI and small maps for tests: what is played is spelled out, then really written and read."""

from __future__ import annotations

import json
from typing import Any

from rendering.documents import read
from rendering.listening import Heard, Seat, listen
from rendering.maps.compile import compile_map
from rendering.maps.document import ArticulationMap
from rendering.maps.table import Sampler
from rendering.midi import decode, encode, meta

LOUDNESS = {"by": "controller", "controller": 1, "points": [[0, 0], [1000, 127]], "velocity": 96}


def articulation_map(articulations: list[dict[str, Any]], **fields: Any) -> ArticulationMap:
    """Return a map; each memory's default is the first of its articulations that is given."""
    defaults: dict[str, str] = {}
    for articulation in articulations:
        articulation.setdefault("memory", "bow")
        defaults.setdefault(articulation["memory"], articulation["id"])
    document = {
        "kind": "articulation-map", "edition": 1, "name": "Test strings", "sound": "strings.violin", "loudness": LOUDNESS,
        "memories": [{"id": memory, "default": default} for memory, default in defaults.items()],
        "articulations": articulations,
    }  # fmt: skip
    return read(ArticulationMap, json.dumps(document | fields).encode())


def sampler(articulations: list[dict[str, Any]], **fields: Any) -> Sampler:
    """Return the table of such a map."""
    return compile_map(articulation_map(articulations, **fields))


class Tape:
    """One MIDI track, written event by event; at a tick the events stay in the order in which they are given."""

    def __init__(self, channel: int = 0, port: int = 0) -> None:
        self.channel = channel
        self.port = port
        self.events: list[int] = []

    def _add(self, tick: int, status: int, data1: int, data2: int = 0) -> Tape:
        self.events.append(encode.event(tick, 0, status | self.channel, data1, data2))
        return self

    def on(self, tick: int, key: int, velocity: int = 96) -> Tape:
        return self._add(tick, 0x90, key, velocity)

    def off(self, tick: int, key: int) -> Tape:
        return self._add(tick, 0x80, key, 64)

    def note(self, tick: int, end: int, key: int, velocity: int = 96) -> Tape:
        return self.on(tick, key, velocity).off(end, key)

    def tap(self, tick: int, key: int) -> Tape:
        """Press a key for five ticks."""
        return self.note(tick, tick + 5, key, 100)

    def controller(self, tick: int, number: int, value: int) -> Tape:
        return self._add(tick, 0xB0, number, value)

    def program(self, tick: int, number: int) -> Tape:
        return self._add(tick, 0xC0, number)

    def chunk(self) -> bytes:
        events = sorted(self.events, key=lambda e: e >> encode.TICK_BITS)
        return encode.track(events, [(0, meta.port(self.port))], 0, (events[-1] >> encode.TICK_BITS if events else 0) + 100)


def heard_of(table: Sampler, *tapes: Tape, seats: list[Seat] | None = None, from_defaults: bool = False) -> Heard:
    """Write the tapes as one file, read it and listen to it; one seat on channel 0 unless told otherwise."""
    file = decode.read(encode.file([tape.chunk() for tape in tapes], 960))
    return listen(file.tracks, seats or [Seat(table, 0)], from_defaults=from_defaults)


def ids(heard: Heard) -> list[str]:
    """Return of each note the ids of what is heard, joined by "+"; "-" for nothing, "?" for two at once."""
    found = []
    for row in range(len(heard)):
        entries = heard.seats[heard.seat[row]].sampler.entries
        found.append("+".join(entries[e].id if e >= 0 else "-?"[-1 - e] for e in heard.entries(row)))
    return found
