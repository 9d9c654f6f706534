"""Notes as voices: what overlaps a little is played after each other, what overlaps more is slurred, the rest sounds together."""

from __future__ import annotations

from typing import NamedTuple

from rendering.readers.smf.strands import Played

SLIP = 8  # an overlap of less than an eighth of the earlier note is none
MOST = 2  # one of more than half of either note is two voices, not a slur


class Voiced(NamedTuple):
    """A note with its voice, from 1, and whether a slur arrives at it from the chord before in that voice."""

    note: Played
    voice: int
    arrives: bool


def part_overlaps(notes: list[Played]) -> list[Played]:
    """Return the notes with those cut that are held into the next one, where no third note sounds.

    Under an eighth of the earlier note: no slur. From there to half of either note: a slur. More: both
    sound on, as two voices.
    """
    cut = list(notes)
    sounding: list[int] = []  # indexes
    for i, note in enumerate(notes):
        sounding = [n for n in sounding if cut[n].off > note.on]
        alone = i + 1 == len(notes) or notes[i + 1].on > note.on
        if len(sounding) == 1 and alone:
            before = _before(notes[sounding[0]], note)
            if before is not None:
                cut[sounding.pop()] = before
        sounding.append(i)
    return cut


def _before(before: Played, note: Played) -> Played | None:
    """Return the earlier of two notes that overlap, cut and perhaps joined; None where they are two voices."""
    overlap, length = before.off - note.on, before.off - before.on
    if note.on == before.on:
        return None
    if overlap * SLIP < length:
        return before._replace(off=note.on)
    slurred = overlap * MOST <= min(length, note.off - note.on) and before.off < note.off and before.key != note.key
    return before._replace(off=note.on, joins=True) if slurred else None


def voices_of(notes: list[Played]) -> list[Voiced]:
    """Return the notes in voices without overlaps, ascending by time; those that begin and end together are one chord.

    Each chord goes to the voice from which a slur leads to it, else to the free one whose last notes lay
    nearest; where none is free, to a new one.
    """
    lasts: list[list[Voiced]] = []  # of each voice, its last chord
    found: list[Voiced] = []
    for chord in _chords(notes):
        start = chord[0].on
        free = [n for n, last in enumerate(lasts) if last[0].note.off <= start]
        slurred = next((n for n in free if lasts[n][0].note.joins and lasts[n][0].note.off == start), -1)
        voice = slurred if slurred >= 0 else min(free, key=lambda n: abs(lasts[n][-1].note.key - chord[-1].key), default=len(lasts))
        made = [Voiced(note, voice + 1, voice == slurred) for note in chord]
        lasts[voice : voice + 1] = [made]
        found += made
    return found


def _chords(notes: list[Played]) -> list[list[Played]]:
    """Return the notes parted into those that begin and end together; at one tick the highest chord first."""
    groups: dict[tuple[int, int], list[Played]] = {}
    for note in notes:
        groups.setdefault((note.on, note.off), []).append(note)
    return sorted(groups.values(), key=_place)


def _place(chord: list[Played]) -> tuple[int, int]:
    return chord[0].on, -chord[-1].key
