"""Signs over single notes as the notes that they stand for: (tick, key) of each, the first at the note's start.

Each lasts until the next one, the last until the note ends, so that its length is filled exactly. [] where the note
is too short for its sign.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from rendering.ornaments.numbers import Numbers
from rendering.score import Ornament
from rendering.timeline import half_up

Notes = list[tuple[int, int]]


class Plain(NamedTuple):
    """A note with a sign: when it starts and ends in ticks, how long it is in milliseconds, its key and neighbours."""

    on: int
    off: int
    ms: int
    key: int
    near: Ornament
    numbers: Numbers

    def ticks(self, ms: int) -> int:
        """Return how many ticks of this note a time takes, at the note's mean speed."""
        return half_up((self.off - self.on) * ms, self.ms) if self.ms else 0


def evenly(note: Plain, keys: list[int], shortest: int) -> Notes:
    """Share the note's length equally among the keys."""
    count, length = len(keys), note.off - note.on
    if note.ms < count * shortest or length < count:
        return []
    return [(note.on + half_up(i * length, count), key) for i, key in enumerate(keys)]


def at_most(note: Plain, keys: list[int], longest: int, share: int) -> Notes:
    """Give each key but the last one `share` thousandths of the note, at most `longest` and at least the shortest ms."""
    count, length = len(keys), note.off - note.on
    if note.ms < count * note.numbers.shortest:
        return []
    wanted = max(min(half_up(length * share, 1000), note.ticks(longest)), note.ticks(note.numbers.shortest))
    step = min(wanted, length // count)
    return [(note.on + i * step, key) for i, key in enumerate(keys)] if step else []


def repeated(note: Plain, ms: int) -> Notes:
    """Strike the key again about every `ms` milliseconds, at least once."""
    return evenly(note, [note.key] * max(half_up(note.ms, ms), 2), note.numbers.shortest)


def trill(note: Plain) -> Notes:
    """The main note first, then in turn with the upper one, an odd number of notes: it ends on the main note."""
    count = max(2 * (note.ms // (2 * note.numbers.trill)) + 1, 3)
    return evenly(note, [note.key + note.near.upper * (i % 2) for i in range(count)], note.numbers.shortest)


def mordent(note: Plain) -> Notes:
    return _mordent(note, note.near.lower)


def inverted_mordent(note: Plain) -> Notes:
    return _mordent(note, note.near.upper)


def _mordent(note: Plain, beside: int) -> Notes:
    keys = [note.key, note.key + beside] * (2 if note.near.long else 1)
    return at_most(note, [*keys, note.key], note.numbers.figure, note.numbers.mordent_beat)


def turn(note: Plain) -> Notes:
    return at_most(note, _around(note, note.near.upper, note.near.lower), note.numbers.turn, note.numbers.turn_beat)


def inverted_turn(note: Plain) -> Notes:
    return at_most(note, _around(note, note.near.lower, note.near.upper), note.numbers.turn, note.numbers.turn_beat)


def delayed_turn(note: Plain) -> Notes:
    return _delayed(note, note.near.upper, note.near.lower)


def delayed_inverted_turn(note: Plain) -> Notes:
    return _delayed(note, note.near.lower, note.near.upper)


def _around(note: Plain, first: int, then: int) -> list[int]:
    return [note.key + first, note.key, note.key + then, note.key]


def _delayed(note: Plain, first: int, then: int) -> Notes:
    """The main note, and the four notes of the turn at its end, in at most half of it."""
    step = min(note.ticks(note.numbers.figure), (note.off - note.on) // 8)
    if note.ms < 8 * note.numbers.shortest or not step:
        return []
    start = note.off - 4 * step
    return [(note.on, note.key), *((start + i * step, key) for i, key in enumerate(_around(note, first, then)))]


def haydn(note: Plain) -> Notes:
    """A turn that begins with the main note."""
    keys = [note.key, *_around(note, note.near.upper, note.near.lower)]
    return at_most(note, keys, note.numbers.figure, 1000 // len(keys))


def schleifer(note: Plain) -> Notes:
    """Two steps up to the main note, on the beat."""
    return at_most(note, [note.key + note.near.third, note.key + note.near.lower, note.key], note.numbers.figure, 1000 // 3)


FIGURES: dict[str, Callable[[Plain], Notes]] = {
    "trill half": trill,
    "trill whole": trill,
    "shake": trill,
    "mordent": mordent,
    "inverted mordent": inverted_mordent,
    "turn": turn,
    "inverted turn": inverted_turn,
    "vertical turn": turn,
    "inverted vertical turn": inverted_turn,
    "delayed turn": delayed_turn,
    "delayed inverted turn": delayed_inverted_turn,
    "haydn": haydn,
    "schleifer": schleifer,
    "tremolo": lambda note: repeated(note, note.numbers.tremolo),
    "roll": lambda note: repeated(note, note.numbers.roll),
    "flutter-tongue": lambda note: repeated(note, note.numbers.flutter),
    "bisbigliando": lambda note: repeated(note, note.numbers.bisbigliando),
}
