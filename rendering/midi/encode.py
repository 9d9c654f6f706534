"""Writes Standard MIDI Files (SMF 1.0, RP-001) from events that are plain ints.

An event is one int, `(tick << 28) + (rank << 24) + (status << 16) + (data1 << 8) + data2`, so that
sorting ints *is* the order in the file: by tick, then by rank (0 a note's off, 1 a held switch's
off, then switches in their order, 15 a note-on). `status` includes the channel. The rank is not
written. Running status is not used: every event can be read by itself.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from operator import itemgetter

TICK_BITS = 28
RANK_BITS = 24
OFF_RANK, HELD_OFF_RANK, FIRST_SWITCH_RANK, ON_RANK = 0, 1, 2, 15
NOTE_OFF, NOTE_ON, CONTROLLER, PROGRAM, BEND = 0x80, 0x90, 0xB0, 0xC0, 0xE0

LARGEST_NUMBER = 0x0FFFFFFF  # SMF 1.0: a variable-length quantity has at most four bytes
_MESSAGE = 0xFFFFFF
_MAYBE_SHORT = 0x400000  # set in the status of Cn, Dn and En, and of no other channel message
_SHORT = (0xC0, 0xD0)  # program and channel pressure carry one data byte
_PLACES = frozenset((0x05, 0x06, 0x07))  # lyric, marker, cue: they name a place in the music


def variable_length(number: int) -> bytes:
    """Return a number as a variable-length quantity, most significant seven bits first.

    ValueError below 0 and above 0FFFFFFF, which SMF 1.0 names as the largest.
    """
    if not 0 <= number <= LARGEST_NUMBER:
        raise ValueError(f"{number} is not in 0 to {LARGEST_NUMBER}")
    groups = [number & 127]
    while number := number >> 7:
        groups.append(number & 127 | 128)
    return bytes(reversed(groups))


_DELTAS: tuple[bytes, ...] = tuple(variable_length(n) for n in range(1 << 14))


def event(tick: int, rank: int, status: int, data1: int, data2: int = 0) -> int:
    """Return one event as an int; `status` includes the channel. Hot loops write this sum themselves."""
    return (tick << TICK_BITS) + (rank << RANK_BITS) + (status << 16) + (data1 << 8) + data2


def track(events: Sequence[int], metas: Sequence[tuple[int, bytes]], shift: int, end: int) -> bytes:
    """Return one MTrk chunk, closed by an end of track at `end + shift` or at the last event, if later.

    events  sorted ascending; each is written at its tick + shift
    metas   (tick, meta event as `rendering.midi.meta` makes it), in any order; before the events of
            the same tick, among themselves in the order given. Lyrics, markers and cues shift with
            the events. All others at tick 0 or before are the head block: they stay at tick 0.

    ValueError when events are not sorted or something falls before tick 0.
    """
    placed = sorted(((_place(tick, body, shift), body) for tick, body in metas), key=itemgetter(0))
    pieces: list[bytes] = []
    last = start = 0
    for tick, body in placed:
        stop = bisect_left(events, (tick - shift) << TICK_BITS)
        last = _write(pieces, events[start:stop], last, shift)
        pieces += (variable_length(tick - last), body)
        last, start = tick, stop
    last = _write(pieces, events[start:], last, shift)
    pieces += (variable_length(max(end + shift - last, 0)), b"\xff\x2f\x00")
    body = b"".join(pieces)
    return b"MTrk" + len(body).to_bytes(4, "big") + body


def _place(tick: int, body: bytes, shift: int) -> int:
    """Return the tick at which a meta event is written: the head block does not move."""
    return tick + shift if tick > 0 or body[1] in _PLACES else 0


def _write(pieces: list[bytes], events: Sequence[int], last: int, shift: int) -> int:
    """Append delta and message of each event to `pieces`; return the tick of the last one.

    Whole columns at a time, because a loop with an `append` an event takes a third longer.
    """
    if not events:
        return last
    ticks = [e >> TICK_BITS for e in events]
    deltas = [b - a for a, b in zip([last - shift, *ticks], ticks, strict=False)]
    written = [b""] * (2 * len(events))
    written[::2] = [_DELTAS[d] if 0 <= d < 16384 else variable_length(d) for d in deltas]
    written[1::2] = [_short(e) if e & _MAYBE_SHORT else (e & _MESSAGE).to_bytes(3, "big") for e in events]
    pieces += written
    return ticks[-1] + shift


def _short(an_event: int) -> bytes:
    """Return the bytes of a program change, channel pressure or bend."""
    message = (an_event & _MESSAGE).to_bytes(3, "big")
    return message[:2] if message[0] & 0xF0 in _SHORT else message


def file(tracks: Sequence[bytes], ppq: int, smf_format: int = 1) -> bytes:
    """Return a whole file from MTrk chunks; in format 1 the first holds the tempo map.

    `ppq` is 1 to 32767, ticks per quarter note. Format 0 takes exactly one track. ValueError otherwise.
    """
    if not 1 <= ppq <= 0x7FFF:
        raise ValueError(f"{ppq} ticks per quarter note are not in 1 to 32767")
    if smf_format not in (0, 1) or (smf_format == 0 and len(tracks) != 1):
        raise ValueError(f"format {smf_format} cannot hold {len(tracks)} tracks")
    numbers = (smf_format, len(tracks), ppq)
    return b"MThd\x00\x00\x00\x06" + b"".join(n.to_bytes(2, "big") for n in numbers) + b"".join(tracks)
