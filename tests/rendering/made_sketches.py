"""MIDI sketches written in few words, by mido, so that what is read was not written by the engine.

One event a line, as in a dump: `tick track channel message`, channels from 1, "-" for meta events:

    0 1 - tempo 500000
    0 2 1 program 42
    0 2 1 note 60 480 96        a note-on with its note-off 480 ticks later; the velocity may be left out
    0 2 1 controller 64 127
    0 2 - name Violin I         also text, lyric, marker, instrument
"""

from __future__ import annotations

import io
from collections.abc import Sequence

import mido

from rendering.codes import message
from rendering.readers import Limits
from rendering.readers.smf import read_sketch
from rendering.score import Line, Note, Score

VELOCITY = 80
TEXTS = {"name": "track_name", "text": "text", "lyric": "lyrics", "marker": "marker", "instrument": "instrument_name"}
Placed = tuple[int, int, mido.Message | mido.MetaMessage]  # tick, order at that tick, message


def sketch(lines: str, ppq: int = 480, smf_format: int = 1, end: int = 0) -> bytes:
    """Return a Standard MIDI File; tracks up to the highest number that occurs, each ending at `end` or its last event."""
    tracks: dict[int, list[Placed]] = {}
    for row in filter(str.strip, lines.splitlines()):
        tick, track, channel, *words = row.split(maxsplit=4)
        placed = tracks.setdefault(int(track), [])
        for delay, made in made_messages(channel, *words):
            placed.append((int(tick) + delay, 0 if delay else 1, made))
    return file_of([tracks.get(n, []) for n in range(1, max(tracks) + 1)], ppq, smf_format, end)


def made_messages(channel: str, kind: str, values: str = "") -> list[tuple[int, mido.Message | mido.MetaMessage]]:
    """Return (ticks later, message) of one line."""
    if channel == "-":
        return [(0, made_meta(kind, values))]
    number, on = int(channel) - 1, [int(v) for v in values.split()]
    if kind == "note":
        velocity = on[2] if len(on) > 2 else VELOCITY
        return [
            (0, mido.Message("note_on", channel=number, note=on[0], velocity=velocity)),
            (on[1], mido.Message("note_off", channel=number, note=on[0], velocity=0)),
        ]
    made = {
        "on": lambda: mido.Message("note_on", channel=number, note=on[0], velocity=on[1]),
        "off": lambda: mido.Message("note_off", channel=number, note=on[0], velocity=0),
        "program": lambda: mido.Message("program_change", channel=number, program=on[0]),
        "controller": lambda: mido.Message("control_change", channel=number, control=on[0], value=on[1]),
        "bend": lambda: mido.Message("pitchwheel", channel=number, pitch=on[0]),
    }[kind]
    return [(0, made())]


def made_meta(kind: str, values: str) -> mido.MetaMessage:
    if kind in TEXTS:
        field = "name" if kind in {"name", "instrument"} else "text"
        return mido.MetaMessage(TEXTS[kind], **{field: values})
    if kind == "tempo":
        return mido.MetaMessage("set_tempo", tempo=int(values))
    if kind == "meter":
        beats, _, unit = values.partition("/")
        return mido.MetaMessage("time_signature", numerator=int(beats), denominator=int(unit))
    if kind == "port":
        return mido.MetaMessage("midi_port", port=int(values))
    return mido.MetaMessage("key_signature", key=values)


def file_of(tracks: Sequence[list[Placed]], ppq: int, smf_format: int = 1, end: int = 0) -> bytes:
    """Return a file of tracks; at one tick note-offs stand first, else the order given counts."""
    made = mido.MidiFile(type=smf_format, ticks_per_beat=ppq, charset="utf-8")
    for placed in tracks:
        track = mido.MidiTrack()
        now = 0
        for tick, _, one in sorted(placed, key=lambda p: p[:2]):
            track.append(one.copy(time=tick - now))
            now = tick
        track.append(mido.MetaMessage("end_of_track", time=max(end - now, 0)))
        made.tracks.append(track)
    out = io.BytesIO()
    made.save(file=out)
    return out.getvalue()


def score_of(lines: str, ppq: int = 480, *, grid: str = "none", smf_format: int = 1, limits: Limits | None = None) -> Score:
    return read_sketch(sketch(lines, ppq, smf_format), limits, grid)[0]


def messages(lines: str, ppq: int = 480, *, grid: str = "none") -> list[str]:
    """Return the sentences of what was found, but for the remark that there is no time signature."""
    found = read_sketch(sketch(lines, ppq), None, grid)[1]
    return [message(p) for p in found if p.code != "no-meter"]


def rows(line: Line) -> list[Note]:
    return [line.note(i) for i in range(len(line))]


def times(line: Line) -> list[tuple[int, int, int]]:
    """Return (offset, duration, key) of each note."""
    return [(n.offset, n.duration, n.key) for n in rows(line)]
