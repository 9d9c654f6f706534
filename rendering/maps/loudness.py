"""Loudness: points of a document become tables with a value for each of the 1,001 levels."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

from rendering.maps import document as documents
from rendering.maps.document import ByBoth, ByVelocity
from rendering.maps.table import Loudness
from rendering.timeline import half_up


@lru_cache(maxsize=512)
def loudness_table(document: documents.Loudness, band: tuple[int, int] | None) -> Loudness:
    """Return the tables of a loudness; velocities are folded into `band`, both ends included, if there is one."""
    silence = -1 if document.silence is None else document.silence
    velocity = _velocities(document)
    if band is not None:
        velocity = tuple(_folded(v, band) for v in velocity)
    if isinstance(document, ByVelocity):
        return Loudness(by="velocity", velocity=velocity, silence=silence)
    return Loudness(by=document.by, velocity=velocity, controller=document.controller, value=interpolated(document.points), silence=silence)


def _velocities(document: documents.Loudness) -> tuple[int, ...]:
    if isinstance(document, ByVelocity):
        points = document.points
    elif document.velocity is not None:
        points = ((0, document.velocity),)
    elif isinstance(document, ByBoth):
        points = document.velocity_points or document.points
    return tuple(value or 1 for value in interpolated(points))  # velocity 0 would be a note-off


def _folded(velocity: int, band: tuple[int, int]) -> int:
    low, high = band
    return low + half_up((velocity - 1) * (high - low), 126)


@lru_cache(maxsize=512)
def interpolated(points: tuple[tuple[int, int], ...]) -> tuple[int, ...]:
    """Return the 1,001 values at levels 0-1000: linear between the points, half up, constant outside them."""
    values = [points[0][1]] * (points[0][0] + 1)
    for (level, value), (next_level, next_value) in pairwise(points):
        span, rise = next_level - level, next_value - value
        values += [value + (2 * step * rise + span) // (2 * span) for step in range(1, span + 1)]  # half up, a thousand times a map
    return tuple(values + [points[-1][1]] * (1001 - len(values)))
