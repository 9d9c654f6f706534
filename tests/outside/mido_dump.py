"""The dump of a MIDI file as mido reads it, to be compared with that of our own decoder."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from typing import Any

import mido

_TEXTS = {"text": "text", "copyright": "text", "track_name": "name", "instrument_name": "name", "lyrics": "text", "marker": "text"}
_KEYS = {name: (fifths, mode) for mode, names in {
    "major": ["Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#"],
    "minor": ["Abm", "Ebm", "Bbm", "Fm", "Cm", "Gm", "Dm", "Am", "Em", "Bm", "F#m", "C#m", "G#m", "D#m", "A#m"],
}.items() for fifths, name in enumerate(names, -7)}  # fmt: skip

_MESSAGES: dict[str, Callable[[Any], str]] = {
    "note_on": lambda m: f"note_on {m.note} {m.velocity}",
    "note_off": lambda m: f"note_off {m.note} {m.velocity}",
    "polytouch": lambda m: f"key_pressure {m.note} {m.value}",
    "control_change": lambda m: f"controller {m.control} {m.value}",
    "program_change": lambda m: f"program {m.program}",
    "aftertouch": lambda m: f"pressure {m.value}",
    "pitchwheel": lambda m: f"bend {m.pitch}",
}
_METAS: dict[str, Callable[[Any], str]] = {
    "set_tempo": lambda m: f"tempo {m.tempo}",
    "time_signature": lambda m: (
        f"time_signature {m.numerator}/{m.denominator} {m.clocks_per_click} {m.notated_32nd_notes_per_beat}"
    ),
    "key_signature": lambda m: "key_signature {} {}".format(*_KEYS[m.key]),
    "midi_port": lambda m: f"port {m.port}",
    "end_of_track": lambda m: "end_of_track",
    "unknown_meta": lambda m: " ".join([f"meta {m.type_byte:02X}", *(f"{byte:02X}" for byte in m.data)]),
    "sysex": lambda m: " ".join(["sysex", *(f"{byte:02X}" for byte in m.data), "F7"]),
    "cue_marker": lambda m: f'cue "{m.text}"',
}  # fmt: skip


def mido_dump(data: bytes) -> str:
    """Return what `rendering.midi.dump.text` should return for a file without characters that it escapes."""
    file = mido.MidiFile(file=BytesIO(data), charset="utf-8")
    lines = [f"format {file.type}, {file.ticks_per_beat} ticks per quarter note"]
    for number, track in enumerate(file.tracks, 1):
        tick = 0
        for message in track:
            tick += message.time
            lines.append(f"{tick} {number} {_words(message)}")
    return "\n".join(lines) + "\n"


def _words(message: Any) -> str:
    if message.type in _TEXTS:
        name = message.type.removesuffix("s")
        return f'- {name} "{getattr(message, _TEXTS[message.type])}"'
    if message.type in _METAS:
        return f"- {_METAS[message.type](message)}"
    return f"{message.channel + 1} {_MESSAGES[message.type](message)}"
