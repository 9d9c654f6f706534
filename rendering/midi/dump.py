"""A MIDI file as text, one event a line, so that two files can be compared by eye and by `diff`."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from rendering.midi import decode
from rendering.midi.meta import KEY_SIGNATURE, PORT, TEMPO, TIME_SIGNATURE

_NAMES = ("note_off", "note_on", "key_pressure", "controller", "program", "pressure", "bend")
_TEXTS = {1: "text", 2: "copyright", 3: "track_name", 4: "instrument_name", 5: "lyric", 6: "marker", 7: "cue"}


def text(data: bytes) -> str:
    """Return "tick track channel message", one line an event, ended by a newline.

    Events stand in the order of the file, tracks one after the other, numbered from 1; channels from
    1 to 16, "-" where there is none; keys, programs, controllers and ports as the numbers in the
    file, bends -8192 to 8191, 0 = centre. The first line names format and ticks per quarter note.
    Refused as in `decode.read`.
    """
    file = decode.read(data)
    lines = [f"format {file.smf_format}, {file.ppq} ticks per quarter note"]
    for number, track in enumerate(file.tracks, 1):
        lines += [f"{tick} {number} {words}" for tick, words in _in_order(track)]
        lines.append(f"{track.end} {number} - end_of_track")
    return "\n".join(lines) + "\n"


def _in_order(track: decode.Track) -> Iterator[tuple[int, str]]:
    """Yield (tick, channel and message) of meta events and channel messages as they stand in the file."""
    start = 0
    for meta in track.metas:
        yield from ((e >> 28, channel_message(e)) for e in track.events[start : meta.position])
        yield meta.tick, f"- {_meta(meta)}"
        start = meta.position
    yield from ((e >> 28, channel_message(e)) for e in track.events[start:])


def channel_message(event: int) -> str:
    """Return channel and words of one event, such as "1 note_on 60 96"."""
    status, data1, data2 = event >> 16 & 0xFF, event >> 8 & 127, event & 127
    kind, channel = (status >> 4) - 8, (status & 15) + 1
    if kind == 6:
        return f"{channel} bend {(data2 << 7 | data1) - 8192}"
    values = f"{data1}" if kind in (4, 5) else f"{data1} {data2}"
    return f"{channel} {_NAMES[kind]} {values}"


def _meta(meta: decode.Meta) -> str:
    """Return the words of a meta event or sysex; a known one of odd length is shown as bytes."""
    kind, contents = meta.kind, meta.contents
    if kind in _TEXTS:
        return f"{_TEXTS[kind]} {_quoted(decode.text(contents))}"
    if kind == TEMPO and len(contents) == 3:
        return f"tempo {int.from_bytes(contents, 'big')}"
    if kind == TIME_SIGNATURE and len(contents) == 4:
        return f"time_signature {contents[0]}/{1 << contents[1]} {contents[2]} {contents[3]}"
    if kind == KEY_SIGNATURE and len(contents) == 2:
        return f"key_signature {(contents[0] ^ 128) - 128} {'minor' if contents[1] else 'major'}"
    if kind == PORT and len(contents) == 1:
        return f"port {contents[0]}"
    head = {decode.SYSEX: "sysex", decode.ESCAPE: "escape"}.get(kind, f"meta {kind:02X}")
    return " ".join(chain((head,), (f"{byte:02X}" for byte in contents)))


def _quoted(words: str) -> str:
    """Return a text on one line in quotes, everything escaped that is not printable, a quote or a backslash."""
    return '"' + "".join(c if c.isprintable() and c not in '\\"' else _escaped(c) for c in words) + '"'


def _escaped(character: str) -> str:
    return '\\"' if character == '"' else character.encode("unicode_escape").decode()
