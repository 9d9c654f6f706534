"""Meta events of a Standard MIDI File as bytes, each whole: FF, type, length, contents.

Texts are written in UTF-8. SMF 1.0 recommends ASCII and leaves other codes to the computer at hand;
names of tracks come from people of all languages. The end of track is written by `encode.track`.
"""

from __future__ import annotations

from rendering.midi.encode import variable_length

TEXT, TRACK_NAME, MARKER, PORT, END, TEMPO, TIME_SIGNATURE, KEY_SIGNATURE = 0x01, 0x03, 0x06, 0x21, 0x2F, 0x51, 0x58, 0x59


def meta(kind: int, contents: bytes) -> bytes:
    """Return a meta event of any type, 0 to 127."""
    if not 0 <= kind <= 127:
        raise ValueError(f"meta type {kind} is not in 0 to 127")
    return bytes((0xFF, kind)) + variable_length(len(contents)) + contents


def text(words: str) -> bytes:
    """Return a text event (FF 01)."""
    return meta(TEXT, words.encode())


def track_name(name: str) -> bytes:
    """Return the name of a track (FF 03); it stands at tick 0."""
    return meta(TRACK_NAME, name.encode())


def marker(words: str) -> bytes:
    """Return a marker (FF 06), such as a rehearsal letter."""
    return meta(MARKER, words.encode())


def port(number: int) -> bytes:
    """Return the port of a track (FF 21), counted from 0.

    Widely read and written, but not part of SMF 1.0; MusicXML calls it unofficial.
    """
    if not 0 <= number <= 127:
        raise ValueError(f"port {number} is not in 0 to 127")
    return meta(PORT, bytes((number,)))


def tempo(micros: int) -> bytes:
    """Return a set-tempo event (FF 51): microseconds per quarter note, 1 to 16777215."""
    if not 1 <= micros <= 0xFFFFFF:
        raise ValueError(f"{micros} microseconds per quarter note are not in 1 to 16777215")
    return meta(TEMPO, micros.to_bytes(3, "big"))


def time_signature(beats: int, unit: int) -> bytes:
    """Return a time signature (FF 58) `beats`/`unit`, with 8 thirty-seconds to a quarter note.

    The metronome clicks once a beat unit, once a dotted one in 6, 9 and 12 (SMF 1.0 gives 6/8 as
    06 03 24 08: 36 clocks, a dotted quarter). `unit` is a power of two up to 128; ValueError
    otherwise, for other denominators cannot be said in a MIDI file.
    """
    if not 1 <= beats <= 255 or unit not in (1, 2, 4, 8, 16, 32, 64, 128):
        raise ValueError(f"a MIDI file cannot say {beats}/{unit}")
    clocks = 96 // unit * (3 if beats in (6, 9, 12) and unit >= 8 else 1)
    return meta(TIME_SIGNATURE, bytes((beats, unit.bit_length() - 1, max(clocks, 1), 8)))


def key_signature(fifths: int, minor: bool = False) -> bytes:
    """Return a key signature (FF 59): -7 (seven flats) to 7 (seven sharps)."""
    if not -7 <= fifths <= 7:
        raise ValueError(f"a key signature of {fifths} fifths is not in -7 to 7")
    return meta(KEY_SIGNATURE, bytes((fifths & 0xFF, int(minor))))
