"""Texts and numbers of elements, read without trust: nothing here can raise or take long."""

from __future__ import annotations

import re
from fractions import Fraction

from lxml.etree import _Element

LONGEST_NAME = 200
_DECIMAL = re.compile(r"\s*([+-]?[0-9]{1,12}(?:\.[0-9]{0,12})?|[+-]?\.[0-9]{1,12})\s*", re.ASCII)


def text_of(element: _Element | None, path: str = "") -> str:
    """Return the text at a path as one line without outer spaces; "" where there is none."""
    if element is None:
        return ""
    text = element.findtext(path) if path else element.text
    return " ".join((text or "").split())[:LONGEST_NAME]


def decimal_of(text: str | None) -> Fraction | None:
    """Return the exact value of a decimal number of sane length; None for anything else."""
    match = _DECIMAL.fullmatch(text or "")
    return Fraction(match.group(1)) if match else None


def whole_of(text: str | None, low: int, high: int) -> int | None:
    """Return a whole number in [low, high]; None for anything else."""
    match = re.fullmatch(r"\s*([+-]?[0-9]{1,9})\s*", text or "")
    value = int(match.group(1)) if match else low - 1
    return value if low <= value <= high else None


def rounded(value: Fraction) -> int:
    """Return the nearest whole number, half up."""
    return (2 * value.numerator + value.denominator) // (2 * value.denominator)
