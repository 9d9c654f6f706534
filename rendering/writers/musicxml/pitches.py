"""Sounding keys as written pitches: transposed back, spelled by the key signature."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

FIFTHS = "FCGDAEB"
STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
LOWEST_OCTAVE, HIGHEST_OCTAVE = 0, 9  # what MusicXML can say
# Letters by which an interval of so many semitones moves (common practice, no source).
LETTERS = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
FLATTER, SHARPER = -3, 9  # how far from the tonic, in fifths, its spellings reach: in C from E flat to G sharp


class Pitch(NamedTuple):
    """A written pitch; `alter` as MusicXML writes it, "" = none."""

    step: str
    alter: str
    octave: int


@lru_cache(maxsize=16384)
def pitch_of(key: int, cents: int, fifths: int) -> Pitch:
    """Return the pitch of a written key (60 = C4) in a key signature; `cents` are added to its alteration."""
    step, alter = _spelled(key % 12, fifths)
    octave = (key - STEPS[step] - alter) // 12 - 1
    within = min(max(octave, LOWEST_OCTAVE), HIGHEST_OCTAVE)
    return Pitch(step, _decimal(100 * (alter + 12 * (octave - within)) + cents), within)


def _spelled(pitch_class: int, fifths: int) -> tuple[str, int]:
    """Return step and alteration of a pitch class: the one of its spellings that lies near the key."""
    for place in range(fifths + FLATTER, fifths + SHARPER):
        alter, step = divmod(place + 1, 7)
        if (STEPS[FIFTHS[step]] + alter) % 12 == pitch_class:
            return FIFTHS[step], alter
    raise AssertionError("twelve neighbours on the line of fifths are all twelve pitch classes")


def _decimal(cents: int) -> str:
    """Return hundredths as a decimal of semitones, without zeros that say nothing; "" for 0."""
    if not cents:
        return ""
    whole, part = divmod(abs(cents), 100)
    text = f"{whole}.{part:02}".rstrip("0").rstrip(".")
    return f"-{text}" if cents < 0 else text


def written_fifths(concert: int, semitones: int) -> int:
    """Return the key signature of a part that sounds `semitones` above what is written, -5 to 6 where it transposes."""
    return (concert - 7 * semitones + 5) % 12 - 5 if semitones % 12 else concert


def interval(semitones: int) -> tuple[int, int, int]:
    """Return a transposition as MusicXML says it: letters, semitones and octaves, all of one sign."""
    sign = -1 if semitones < 0 else 1
    octaves, rest = divmod(abs(semitones), 12)
    return sign * LETTERS[rest], sign * rest, sign * octaves
