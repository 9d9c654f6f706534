"""Names of keys: "C1", "F#3", "Bb-1" and the three ways to count their octaves."""

from __future__ import annotations

import re

# Which octave's C is key 60. C4: MusicXML, MEI, SFZ's documentation; C3 and C5: common practice, no source.
OCTAVE_OF_ZERO = {"C3": -2, "C4": -1, "C5": 0}

NAME = re.compile(r"([A-Ga-g])(##|bb|♯♯|♭♭|#|b|♯|♭)?(-[12]|[0-9]|10)")
_STEP = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_SHARPS = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")


def readings(name: str) -> dict[str, int] | None:
    """Return the key that a name means under each convention, also outside 0-127; None if it is no name.

    The octave belongs to the letter: Cb4 lies below C4.
    """
    found = NAME.fullmatch(name)
    if found is None:
        return None
    letter, sign, octave = found.groups()
    bend = len(sign or "") * (1 if (sign or "")[:1] in {"#", "♯"} else -1)
    return {c: 12 * (int(octave) - lowest) + _STEP[letter.upper()] + bend for c, lowest in OCTAVE_OF_ZERO.items()}


def key_name(key: int, middle_c: str = "C4") -> str:
    """Return the name of a key, with sharps: 61 is C#4 where C4 is key 60."""
    return f"{_SHARPS[key % 12]}{key // 12 + OCTAVE_OF_ZERO[middle_c]}"
