"""Faults planted into the bytes of a render: each takes a file, spoils one thing in one track, and writes it again."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from rendering.maps.table import HOLD_NOTE, Sampler
from rendering.midi import decode, encode, meta
from rendering.pipeline import Rendering
from rendering.rendered import TrackRun

OFF, ON, CONTROLLER, PROGRAM = 8, 9, 11, 12


@dataclass(slots=True)
class Event:
    """One channel message; `tick` as in the file. Events of a track are a list in the order of the file."""

    tick: int
    kind: int
    channel: int
    data1: int
    data2: int

    def packed(self) -> int:
        return encode.event(self.tick, 0, self.kind << 4 | self.channel, self.data1, self.data2)


class Tape:
    """A file of all tracks, taken apart; `tracks[n]` are the events of the run's track n."""

    def __init__(self, data: bytes) -> None:
        self.file = decode.read(data)
        self.tracks = [[Event(e >> 28, e >> 20 & 15, e >> 16 & 15, e >> 8 & 127, e & 127) for e in t.events] for t in self.file.tracks[1:]]

    def bytes(self) -> bytes:
        """Return the file again; at a tick the events keep their order in the list."""
        chunks = [encode.track([], [], 0, self.file.tracks[0].end)]
        for track, events in zip(self.file.tracks[1:], self.tracks, strict=True):
            packed = [e.packed() for e in sorted(events, key=lambda e: e.tick)]
            chunks.append(encode.track(packed, [(0, meta.port(track.port))], 0, track.end))
        return encode.file(chunks, self.file.ppq)


@dataclass(slots=True)
class Target:
    """One sent note: its track's number in the run, its row in the sent notes, and where it stands in the score."""

    number: int
    track: TrackRun
    row: int
    shift: int

    @property
    def place(self) -> tuple[int, int]:
        """Return (voice, row) as verdicts name it."""
        notes = self.track.scheduled.notes
        return notes.voice[self.row], notes.row[self.row]

    @property
    def on(self) -> int:
        return self.track.scheduled.notes.on[self.row] + self.shift

    @property
    def off(self) -> int:
        return self.track.scheduled.notes.off[self.row] + self.shift

    @property
    def key(self) -> int:
        return self.track.scheduled.notes.key[self.row]

    @property
    def channel(self) -> int:
        return self.track.scheduled.notes.channel[self.row]

    @property
    def decision(self) -> int:
        return self.track.scheduled.notes.decision[self.row]

    @property
    def sampler(self) -> Sampler:
        return self.track.track.sampler

    @property
    def entries(self) -> tuple[int, ...]:
        return self.track.decisions[self.decision].entries

    def events(self, tape: Tape) -> tuple[Event, Event]:
        """Return the note's own on and off in the tape."""
        mine = [e for e in tape.tracks[self.number] if e.channel == self.channel and e.data1 == self.key]
        on = next(e for e in mine if e.kind == ON and e.tick == self.on)
        return on, next(e for e in mine if e.kind == OFF and e.tick == self.off)

    def before(self) -> Target | None:
        """Return the note sent before this one on its channel; None for the first."""
        notes = self.track.scheduled.notes
        order = [i for i in notes.order if not notes.merged[i] and notes.channel[i] == self.channel]
        at = order.index(self.row)
        return Target(self.number, self.track, order[at - 1], self.shift) if at else None

    def alone(self) -> bool:
        """Tell whether no other note of its channel is sent at its tick."""
        notes = self.track.scheduled.notes
        return sum(on == notes.on[self.row] and c == self.channel for on, c in zip(notes.on, notes.channel, strict=True)) == 1


def targets(made: Rendering) -> Iterator[Target]:
    """Yield every note that a render sends, track by track, but for those that gave way."""
    for number, track in enumerate(made.run.tracks):
        notes = track.scheduled.notes
        for row in range(len(notes.on)):
            if not notes.merged[row] and (notes.voice[row], notes.row[row]) not in track.scheduled.yielded:
                yield Target(number, track, row, made.run.shift)


def switches_for(target: Target, tape: Tape) -> list[Event]:
    """Return the events after the note-on before and before the target's own that set something it is heard by."""
    sampler = target.sampler
    wanted = {c.register for i in target.entries for c in sampler.entries[i].conditions}
    keys = {s.number for i in target.entries for s in sampler.entries[i].switches}
    previous = target.before()
    start = previous.on if previous else -1
    found = []
    for e in tape.tracks[target.number]:
        if e.channel == target.channel and start <= e.tick <= target.on:
            is_key = e.kind == ON and e.data1 in keys and not 36 <= e.data1 <= 100
            is_value = (e.kind == CONTROLLER and e.data1 in wanted) or e.kind == PROGRAM
            if is_key or is_value:
                found.append(e)
    return found


# ── The faults. Each returns the words that the verdict must say of the target. ──

Fault = Callable[[Target, Tape], str]


def switch_after_its_note(target: Target, tape: Tape) -> str:
    events = tape.tracks[target.number]
    for e in switches_for(target, tape):
        if e.kind == ON:
            up = next(x for x in events if x.kind == OFF and x.data1 == e.data1 and x.tick > e.tick)
            up.tick = max(up.tick, target.on + 2)
        e.tick = target.on + 1
    return "heard as "


def switch_dropped(target: Target, tape: Tape) -> str:
    events = tape.tracks[target.number]
    for e in switches_for(target, tape):
        if e.kind == ON:
            events.remove(next(x for x in events if x.kind == OFF and x.data1 == e.data1 and x.tick > e.tick))
        events.remove(e)
    return "heard as "


def five_ticks_late(target: Target, tape: Tape) -> str:
    target.events(tape)[0].tick += 5
    return "5 ticks late"


def overlap_lost(target: Target, tape: Tape) -> str:
    before = target.before()
    assert before is not None
    before.events(tape)[1].tick = target.on - 1
    return "not joined to the note before"


def keys_swapped(target: Target, tape: Tape) -> str:
    before = target.before()
    assert before is not None
    for mine, theirs in zip(target.events(tape), before.events(tape), strict=True):
        mine.data1, theirs.data1 = theirs.data1, mine.data1
    return ""


def swapped_at_the_tick(target: Target, tape: Tape) -> str:
    """The controller value of an onset and its note-on change places in the file."""
    events = tape.tracks[target.number]
    on = target.events(tape)[0]
    value = next(e for e in events if e.kind == CONTROLLER and e.tick == target.on and e.data1 == _loudness(target))
    i, j = events.index(value), events.index(on)
    events[i], events[j] = events[j], events[i]
    return f"controller {value.data1} at "


def held_key_released_early(target: Target, tape: Tape) -> str:
    key = next(s.number for i in target.entries for s in target.sampler.entries[i].switches if s.hold == HOLD_NOTE)
    up = next(e for e in tape.tracks[target.number] if e.kind == OFF and e.data1 == key and e.tick >= target.off)
    up.tick = (target.on + target.off) // 2
    return "while it sounds"


def note_missing(target: Target, tape: Tape) -> str:
    for e in target.events(tape):
        tape.tracks[target.number].remove(e)
    return "not heard"


def note_added(target: Target, tape: Tape) -> str:
    """A note on the key above, inside the target."""
    on, off = target.events(tape)
    middle = (on.tick + off.tick) // 2
    tape.tracks[target.number] += [
        Event(middle, ON, on.channel, on.data1 + 1, on.data2),
        Event(off.tick, OFF, on.channel, on.data1 + 1, 0),
    ]
    return f"key {on.data1 + 1} sounds that nobody wrote"


def velocity_wrong(target: Target, tape: Tape) -> str:
    on = target.events(tape)[0]
    right = on.data2
    on.data2 = right - 1 if right > 1 else 2
    return f"velocity {on.data2} instead of {right}"


def controller_wrong(target: Target, tape: Tape) -> str:
    value = next(e for e in tape.tracks[target.number] if e.kind == CONTROLLER and e.tick == target.on and e.data1 == _loudness(target))
    value.data2 ^= 1
    return f"controller {value.data1} at {value.data2} instead of {value.data2 ^ 1}"


def end_moved(target: Target, tape: Tape) -> str:
    target.events(tape)[1].tick -= 7
    return "ends 7 ticks early"


def stuck_note(target: Target, tape: Tape) -> str:
    tape.tracks[target.number].remove(target.events(tape)[1])
    return "late"


def _loudness(target: Target) -> int:
    return target.track.decisions[target.decision].controller
