"""Keys and their scales, as sounding keys: what an ornament or a glissando passes through."""

from __future__ import annotations

from rendering.score import Ornament

MAJOR = (0, 2, 4, 5, 7, 9, 11)
WHITE = frozenset(MAJOR)


def scale(fifths: int) -> frozenset[int]:
    """Return the pitch classes of a key signature's scale."""
    return frozenset((7 * fifths + step) % 12 for step in MAJOR)


def neighbours(key: int, fifths: int) -> Ornament:
    """Return the neighbours of a sounding key in a key signature, where the page's own spelling is not known.

    A key outside the scale counts as a raised step in keys with sharps or none, as a lowered one in keys with flats.
    """
    steps = scale(fifths)
    base = key if key % 12 in steps else key - 1 if fifths >= 0 else key + 1
    lower = _next(base, -1, steps)
    return Ornament(upper=_next(base, 1, steps) - key, lower=lower - key, third=_next(lower, -1, steps) - key)


def _next(key: int, direction: int, steps: frozenset[int]) -> int:
    key += direction
    while key % 12 not in steps:
        key += direction
    return key


def passage(start: int, goal: int, steps: frozenset[int] | None) -> list[int]:
    """Return the keys from `start` up to, but without, `goal`: those of `steps`, or every one for None."""
    direction = 1 if goal > start else -1
    return [key for key in range(start, goal, direction) if steps is None or key == start or key % 12 in steps]
