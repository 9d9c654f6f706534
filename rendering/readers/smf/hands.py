"""The hands of a keyboard sketch that was played on one track.

The rule, this project's choice: notes that begin together are cut in two, the lower ones for the left
hand. Of all cuts that one is taken in which neither hand, with what it still holds, spans more than a
tenth, if there is one, and in which the notes lie nearest to where the hands were. They start at C3 and C5.
"""

from __future__ import annotations

from rendering.readers.smf.strands import Played

RIGHT, LEFT = 1, 2  # staves
SPAN = 16  # semitones: a tenth
TOO_WIDE = 1000  # a semitone beyond the span costs as much as moving so far
START = {LEFT: 48.0, RIGHT: 72.0}
MEMORY = 0.5  # how much of a hand's place its last notes leave


def staves_of(notes: list[Played]) -> list[int]:
    """Return for each note its staff: 1 for the right hand, 2 for the left."""
    hands = _Hands()
    found: list[int] = []
    at = 0
    while at < len(notes):
        end = at
        while end < len(notes) and notes[end].on == notes[at].on:
            end += 1
        cut = hands.take(notes[at:end])
        found += [LEFT] * cut + [RIGHT] * (end - at - cut)
        at = end
    return found


class _Hands:
    def __init__(self) -> None:
        self.place = dict(START)
        self.held: dict[int, list[tuple[int, int]]] = {LEFT: [], RIGHT: []}  # (off, key) of notes that sound

    def take(self, chord: list[Played]) -> int:
        """Give notes that begin together, lowest first, to the hands; return how many the left one takes."""
        for hand, held in self.held.items():
            self.held[hand] = [note for note in held if note[0] > chord[0].on]
        keys = [note.key for note in chord]
        cut = min(range(len(keys) + 1), key=lambda n: self.cost(LEFT, keys[:n]) + self.cost(RIGHT, keys[n:]))
        for hand, part in ((LEFT, chord[:cut]), (RIGHT, chord[cut:])):
            self.held[hand] += [(note.off, note.key) for note in part]
            if part:
                middle = sum(note.key for note in part) / len(part)
                self.place[hand] += (middle - self.place[hand]) * MEMORY
        return cut

    def cost(self, hand: int, keys: list[int]) -> float:
        if not keys:
            return 0
        held = [key for _, key in self.held[hand]]
        span = max(*keys, *held, 0) - min(*keys, *held, 127)
        return sum(abs(key - self.place[hand]) for key in keys) + TOO_WIDE * max(span - SPAN, 0)
