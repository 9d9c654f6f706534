"""A simulated sampler: what would be heard if these MIDI tracks were played.

It knows nothing of how the tracks were made. From the decoded bytes and the sampler tables alone it
follows each channel's registers and says for every note which articulation sounds, from when to when,
whether it is joined to the note before, and whether it stays the same while it sounds.

What a channel remembers is unknown (-1) at first, as after loading a file into the middle of a session;
only keys are up, and toggles are off, for a toggle cannot be set from outside. Nothing depends on the
order of different tracks at one tick, unless they share a port and channel: then they are merged by tick.
"""

from __future__ import annotations

from collections.abc import Sequence

from rendering.listening.ear import Ear
from rendering.listening.heard import NOTHING, TWO_AT_ONCE, Change, Damp, Heard, Seat
from rendering.listening.text import hear_text
from rendering.midi.decode import Track
from rendering.problems import Place, Problem, problem

__all__ = ["NOTHING", "TWO_AT_ONCE", "Change", "Damp", "Heard", "Seat", "hear_text", "listen"]


def listen(tracks: Sequence[Track], seats: Sequence[Seat], *, from_defaults: bool = False) -> Heard:
    """Return what is heard of decoded tracks by the samplers at `seats`.

    from_defaults  begin in `Sampler.start` instead of in a state that is not known
    ValueError when two seats hear one port and channel.
    """
    heard = Heard(seats)
    places = _places(seats)
    for (port, channel), stream in _streams(tracks).items():
        number = places.get((port, channel), -1)
        if number < 0:
            heard.problems += _unheard(port, channel, stream)
            continue
        first = len(heard)
        ear = Ear(heard, number, channel, port, stream[0][0], from_defaults)
        ear.hear(_merged(stream))
        ear.finish(max(track.end for _, track, _ in stream))
        _fill(heard, ear, first, stream)
    return heard


_Stream = list[tuple[int, Track, list[int]]]  # (index of the track, the track, its events on one channel)


def _places(seats: Sequence[Seat]) -> dict[tuple[int, int], int]:
    """Return the number of the seat that hears each (port, channel)."""
    places: dict[tuple[int, int], int] = {}
    for number, seat in enumerate(seats):
        for channel in {seat.channel, *(e.channel for e in seat.sampler.entries if e.channel >= 0)}:
            if places.setdefault((seat.port, channel), number) != number:
                raise ValueError(f"two seats hear port {seat.port}, channel {channel}")
    return places


def _streams(tracks: Sequence[Track]) -> dict[tuple[int, int], _Stream]:
    """Return the events of each (port, channel) by the tracks they stand in."""
    streams: dict[tuple[int, int], _Stream] = {}
    for index, track in enumerate(tracks):
        channels = track.channels
        for channel in channels:
            events = track.events if len(channels) == 1 else [e for e in track.events if e >> 16 & 15 == channel]
            streams.setdefault((track.port, channel), []).append((index, track, events))
    return streams


def _merged(stream: _Stream) -> list[int]:
    if len(stream) == 1:
        return stream[0][2]
    return sorted((e for _, _, events in stream for e in events), key=lambda e: e >> 28)


def _is_note_on(event: int) -> bool:
    return event >> 20 & 15 == 9 and event & 127 > 0


def _unheard(port: int, channel: int, stream: _Stream) -> list[Problem]:
    counts = [(index, sum(map(_is_note_on, events))) for index, _, events in stream]
    return [
        problem("midi-nobody-hears", Place(part_name=f"track {index + 1}"), port=port + 1, channel=channel + 1, count=count)
        for index, count in counts
        if count
    ]


def _fill(heard: Heard, ear: Ear, first: int, stream: _Stream) -> None:
    """Fill the columns that are the same, or a plain sum, for all rows of one span."""
    rows = len(heard) - first
    heard.seat += [ear.number] * rows
    heard.port += [ear.port] * rows
    heard.channel += [ear.channel] * rows
    drops = ear.predicates.drops
    keys = heard.key[first:]
    heard.sounding += [key - drops[cell] for key, cell in zip(keys, heard.cell[first:], strict=True)] if any(drops.values()) else keys
    if len(stream) == 1:
        heard.track += [stream[0][0]] * rows
    else:
        owner = {(e >> 28, e >> 8 & 127): index for index, _, events in reversed(stream) for e in events if _is_note_on(e)}
        heard.track += [owner[at] for at in zip(heard.on[first:], heard.key[first:], strict=True)]
    heard.spans[ear.port, ear.channel] = (first, len(heard))
