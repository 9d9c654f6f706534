"""Lengths as written values: types, dots and tuplets; what no single value says is parted, to be tied."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

# Quarters of each type, longest first.
TYPES: dict[str, Fraction] = {
    "maxima": Fraction(32), "long": Fraction(16), "breve": Fraction(8), "whole": Fraction(4), "half": Fraction(2), "quarter": Fraction(1),
    "eighth": Fraction(1, 2), "16th": Fraction(1, 4), "32nd": Fraction(1, 8), "64th": Fraction(1, 16), "128th": Fraction(1, 32),
    "256th": Fraction(1, 64), "512th": Fraction(1, 128), "1024th": Fraction(1, 256),
}  # fmt: skip
MOST_DOTS = 3
PLAIN: dict[Fraction, tuple[str, int]] = {
    quarters * (2 - Fraction(1, 2**dots)): (name, dots) for dots in range(MOST_DOTS, -1, -1) for name, quarters in TYPES.items()
}  # fmt: skip
MOST_TUPLET = 15  # the largest number that a tuplet of the page has
# Values inside a tuplet, and those into which a length inside one beat is parted: not finer, with one dot at most.
MOST_PIECES, FINEST = 2, Fraction(1, 16)
COARSE = {quarters: shape for quarters, shape in PLAIN.items() if shape[1] < 2 and quarters >= FINEST}


class Value(NamedTuple):
    """One written value: Units that it lasts, type, dots; `actual` notes in the time of `normal` (1, 1 = no tuplet).

    A value is `odd` when nobody would write it so: a length as played, off any grid. It is then a tuplet
    of one, so that its exact length is on the page.
    """

    length: int
    type: str
    dots: int
    actual: int = 1
    normal: int = 1
    odd: bool = False


@lru_cache(maxsize=65536)
def values_of(start: int, length: int, unit: int) -> tuple[Value, ...]:
    """Return the values that fill [start, start + length), in Units from the start of a measure; `unit` = a quarter.

    One where one says it all. Else the length is parted at the quarters, and inside one at what can be written.
    """
    whole = value_of(length, unit)
    if whole is not None:
        return (whole,)
    off_beat = unit - start % unit
    if off_beat < min(unit, length):
        return (*values_of(start, off_beat, unit), *values_of(start + off_beat, length - off_beat, unit))
    if length > unit:
        rest = length % unit
        return (*_parted(Fraction(length // unit), unit, 1, 1), *(values_of(0, rest, unit) if rest else ()))
    return _inside_a_beat(length, unit)


def value_of(length: int, unit: int) -> Value | None:
    """Return the one value that lasts `length`, with dots or in a tuplet; None where there is none."""
    quarters = Fraction(length, unit)
    actual, normal = tuplet_of(quarters)
    found = (PLAIN if actual == normal else COARSE).get(quarters * actual / normal)
    return Value(length, *found, actual, normal) if found is not None else None


def tuplet_of(quarters: Fraction) -> tuple[int, int]:
    """Return (actual, normal) of the tuplet that a length needs, by the odd part of its denominator; (1, 1) for none."""
    odd = quarters.denominator
    while odd % 2 == 0:
        odd //= 2
    if odd == 1 or odd > MOST_TUPLET:
        return 1, 1
    return odd, 1 << odd.bit_length() - 1


def _inside_a_beat(length: int, unit: int) -> tuple[Value, ...]:
    quarters = Fraction(length, unit)
    actual, normal = tuplet_of(quarters)
    written = quarters * actual / normal
    pieces = _parted(written, unit, actual, normal)
    return pieces if 0 < len(pieces) <= MOST_PIECES else (_odd(length, unit),)


def _parted(written: Fraction, unit: int, actual: int, normal: int) -> tuple[Value, ...]:
    """Return values that add up to `written` quarters, longest first; () where the grid is too fine."""
    found = []
    while written >= FINEST:
        largest = max(q for q in COARSE if q <= written)
        length = largest * unit * normal / actual
        if length.denominator != 1:
            return ()
        found.append(Value(int(length), *COARSE[largest], actual, normal))
        written -= largest
    return tuple(found) if not written else ()


def _odd(length: int, unit: int) -> Value:
    """Return the next longer plain type, as a tuplet of one that lasts just `length`."""
    quarters = Fraction(length, unit)
    name, plain = next((n, q) for n, q in reversed(TYPES.items()) if q > quarters)
    ratio = plain / quarters
    return Value(length, name, 0, ratio.numerator, ratio.denominator, odd=True)
