"""What one channel of one track plays: its notes paired on and off, its pedal, its programs, its words."""

from __future__ import annotations

from collections import Counter
from typing import NamedTuple

from rendering.midi.decode import Meta, Track, text

NOTE_OFF, NOTE_ON, CONTROLLER, PROGRAM = 0x8, 0x9, 0xB, 0xC
SUSTAIN, DOWN = 64, 64  # MIDI 1.0: controller 64, down from 64 on
LYRIC, INSTRUMENT_NAME = 0x05, 0x04
LEFT_OUT = {0xA: "key pressure", 0xD: "channel pressure", 0xE: "pitch bend"}
SILENT = frozenset({0, 32, SUSTAIN, *range(120, 128)})  # banks go with programs; channel mode messages make no sound


class Played(NamedTuple):
    """One note as it was played: ticks of its start and end, key, velocity.

    instrument  index of its program; `joins` = a slur leads from it to the next note
    """

    on: int
    off: int
    key: int
    velocity: int
    instrument: int = 0
    joins: bool = False


class Strand:
    """One channel of one track.

    notes     ascending by tick, then key
    pedal     (tick, down?) of each change of the sustain pedal
    programs  those that notes are played with, in the order in which they come; -1 before any is stated
    found     name of what was met -> how often: "doubled", "stuck", "stray", "empty" notes
    left_out  name of controller or message -> how often
    """

    __slots__ = ("channel", "found", "left_out", "names", "notes", "number", "pedal", "port", "programs", "track", "words")

    def __init__(self, track: Track, number: int, channel: int) -> None:
        self.track: Track = track
        self.number: int = number
        self.channel: int = channel
        self.port: int = track.port
        self.notes: list[Played] = []
        self.pedal: list[tuple[int, bool]] = []
        self.programs: list[int] = []
        self.found: Counter[str] = Counter()
        self.left_out: Counter[str] = Counter()
        self.names: list[str] = [text(m.contents) for m in track.metas if m.kind == INSTRUMENT_NAME]
        self.words: dict[int, str] = {}


def strands_of(track: Track, number: int) -> list[Strand]:
    """Return the strands of a track, its `number` from 1, by channel; those without notes too."""
    strands = {channel: Strand(track, number, channel) for channel in track.channels}
    readers = {channel: _Reader(strand) for channel, strand in strands.items()}
    for event in track.events:
        readers[event >> 16 & 15].take(event)
    for reader in readers.values():
        reader.finish()
    words = _words(track.metas)
    for strand in strands.values():
        strand.words = words
    return list(strands.values())


def _words(metas: list[Meta]) -> dict[int, str]:
    return {m.tick: " ".join(text(m.contents).split()) for m in metas if m.kind == LYRIC}


class _Reader:
    """Pairs note-ons and note-offs: a note that is struck while it sounds ends there; the first off ends a note."""

    def __init__(self, strand: Strand) -> None:
        self.strand = strand
        self.down: dict[int, tuple[int, int, int]] = {}  # key -> tick, velocity, instrument
        self.last: dict[int, int] = {}  # key -> where its last note began
        self.program = -1

    def take(self, event: int) -> None:
        tick, kind, data1, data2 = event >> 28, event >> 20 & 15, event >> 8 & 127, event & 127
        if kind == NOTE_ON and data2:
            if data1 in self.down:
                self.strand.found["doubled"] += 1
                self.end(data1, tick)
            self.down[data1] = tick, data2, self.instrument()
        elif kind in {NOTE_ON, NOTE_OFF}:
            if data1 in self.down:
                self.end(data1, tick)
            else:
                self.strand.found["stray"] += 1
        elif kind == CONTROLLER:
            self.controller(tick, data1, data2)
        elif kind == PROGRAM:
            self.program = data1
        else:
            self.strand.left_out[LEFT_OUT[kind]] += 1

    def controller(self, tick: int, number: int, value: int) -> None:
        if number == SUSTAIN:
            self.strand.pedal.append((tick, value >= DOWN))
        elif number not in SILENT:
            self.strand.left_out[f"controller {number}"] += 1

    def instrument(self) -> int:
        programs = self.strand.programs
        if self.program not in programs:
            programs.append(self.program)
        return programs.index(self.program)

    def end(self, key: int, tick: int) -> None:
        """End the note on a key; one that ends where it began lasts a tick, so that it is not lost. A place has one of each key."""
        on, velocity, instrument = self.down.pop(key)
        self.strand.found["empty"] += tick == on
        if self.last.get(key) != on:
            self.last[key] = on
            self.strand.notes.append(Played(on, max(tick, on + 1), key, velocity, instrument))

    def finish(self) -> None:
        """End what still sounds with the track."""
        self.strand.found["stuck"] += len(self.down)
        for key in sorted(self.down):
            self.end(key, self.strand.track.end)
        self.strand.notes.sort(key=start_of)
        self.strand.found = +self.strand.found


def start_of(note: Played) -> tuple[int, int]:
    """Return the order of notes: by time, those of one time from below."""
    return note.on, note.key
