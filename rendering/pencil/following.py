"""Which measure and note of a new version of a score is which of the old one, by what they hold.

Parts are matched by their music, then by id and name; measures by aligning the music of all parts;
notes by place and key inside matched measures. Nothing is guessed beyond: what has gone has no match.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from difflib import SequenceMatcher
from math import lcm
from typing import NamedTuple

from rendering.pencil.anchors import Spot
from rendering.score import Part, Score

MOST_PAIRS = 4_000_000  # of measures that are compared with each other in search of the best alignment
MOST_GAP = 60_000  # the same, where measures have to be looked into
WHOLE = 4  # notes that an equal measure counts for beyond its own
SAME = 1.1  # how much more two parts are alike for having one id, or one name


class Sound(NamedTuple):
    """One note inside its measure, times in a unit that both scores share."""

    offset: int
    key: int
    grace: bool
    duration: int
    spot: Spot


Bar = list[Sound]


class Following:
    """The matches of two versions: index of a part, ordinal of a measure, spot of a note → those of the new one."""

    def __init__(self, old: Score, new: Score) -> None:
        self.old: Score = old
        self.new: Score = new
        self.unit: int = lcm(old.unit, new.unit)
        self.bars: list[list[Bar]] = [_bars(part, old, self.unit) for part in old.parts]
        self.new_bars: list[list[Bar]] = [_bars(part, new, self.unit) for part in new.parts]
        self.parts: dict[int, int] = _match_parts(old, new, self.bars, self.new_bars)
        self.measures: dict[int, int] = self._match_measures()
        self.known: dict[int, dict[Spot, Spot]] = {}

    def notes(self, part: int) -> dict[Spot, Spot]:
        """Return old spot → new spot of all notes of a part (index) that are still there."""
        if part not in self.known:
            self.known[part] = {}
            for before, after in self.measures.items():
                mine = self.bars[part][before - 1]
                theirs = self.new_bars[self.parts[part]][after - 1]
                if mine and theirs:
                    self.known[part] |= _match_notes(mine, theirs, self.old.parts[part], self.new.parts[self.parts[part]])
        return self.known[part]

    def _match_measures(self) -> dict[int, int]:
        """Return old ordinal → new ordinal of the measures that are still there."""
        pairs = sorted(self.parts.items())
        ours = _columns([self.bars[old] for old, _ in pairs], len(self.old.measures))
        theirs = _columns([self.new_bars[new] for _, new in pairs], len(self.new.measures))
        return {a + 1: b + 1 for a, b in _align(ours, theirs)}


def _bars(part: Part, score: Score, unit: int) -> list[Bar]:
    """Return the notes of each measure of a part."""
    found: list[Bar] = [[] for _ in score.measures]
    scale = unit // score.unit
    starts = [m.start for m in score.measures]
    for i, line in enumerate(part.lines):
        for row, offset in enumerate(line.offset):
            index = max(bisect_left(starts, offset + 1) - 1, 0)
            at = (offset - starts[index]) * scale
            found[index].append(Sound(at, line.key[row], line.grace[row] > 0, line.duration[row] * scale, Spot(i, row)))
    return found


def _print(bar: Bar) -> int:
    """Return one number for what a measure holds, whichever voices have it."""
    return hash(tuple(sorted(sound[:4] for sound in bar)))


EMPTY = _print([])


def _match_parts(old: Score, new: Score, bars: list[list[Bar]], new_bars: list[list[Bar]]) -> dict[int, int]:
    """Return index → index; the pairs that are most alike first, each part once."""
    prints, theirs = [_signature(part) for part in bars], [_signature(part) for part in new_bars]
    pairs: list[tuple[float, int, int, int]] = []
    for i, part in enumerate(old.parts):
        for j, other in enumerate(new.parts):
            named = (part.id == other.id) + (part.name == other.name)
            alike = (WHOLE * (prints[i][0] & theirs[j][0]).total() + (prints[i][1] & theirs[j][1]).total()) * SAME**named
            if alike or named:
                pairs.append((-alike, -named, abs(i - j), i * len(new.parts) + j))
    found: dict[int, int] = {}
    for *_, pair in sorted(pairs):
        i, j = divmod(pair, len(new.parts))
        if i not in found and j not in found.values():
            found[i] = j
    return found


def _signature(bars: list[Bar]) -> tuple[Counter[int], Counter[tuple[int, int]]]:
    """Return the measures that hold notes, and all notes by place and key."""
    return Counter(_print(bar) for bar in bars if bar), Counter(sound[:2] for bar in bars for sound in bar)


Column = list[Bar]  # one measure of all matched parts


def _columns(parts: list[list[Bar]], count: int) -> list[Column]:
    return [[bars[m] for bars in parts] for m in range(count)]


def _align(ours: list[Column], theirs: list[Column]) -> list[tuple[int, int]]:
    """Return pairs of indexes, ascending: equal measures in the longest runs, then in the gaps those most alike."""
    a, b = [_prints(column, -n) for n, column in enumerate(ours, 1)], [_prints(column, n) for n, column in enumerate(theirs, 1)]
    head = 0
    while head < min(len(a), len(b)) and a[head] == b[head]:
        head += 1
    tail = 0
    while tail < min(len(a), len(b)) - head and a[-1 - tail] == b[-1 - tail]:
        tail += 1
    stop, end = len(a) - tail, len(b) - tail
    blocks = [(0, 0, head), (stop, end, tail)]
    if (stop - head) * (end - head) <= MOST_PAIRS:
        matcher = SequenceMatcher(None, a[head:stop], b[head:end], autojunk=False)
        blocks[1:1] = [(i + head, j + head, n) for i, j, n in matcher.get_matching_blocks() if n]
    found: list[tuple[int, int]] = []
    left = right = 0
    for i, j, n in blocks:
        found += _fill(ours, theirs, range(left, i), range(right, j))
        found += [(i + x, j + x) for x in range(n)]
        left, right = i + n, j + n
    return found


def _prints(column: Column, other: int) -> tuple[int, ...]:
    """Return what a measure holds; one without a note is like no other, for silence says nothing about its place."""
    found = tuple(map(_print, column))
    return found if any(p != EMPTY for p in found) else (other,)


def _fill(ours: list[Column], theirs: list[Column], left: range, right: range) -> list[tuple[int, int]]:
    """Return pairs inside a gap between equal measures: in order, as alike as can be; what is then left, as many against as many."""
    found: list[tuple[int, int]] = []
    i, j = left.start, right.start
    for k, m in [*_most_alike(ours, theirs, left, right), (left.stop, right.stop)]:
        if k - i == m - j:
            found += zip(range(i, k), range(j, m), strict=True)
        found += [(k, m)] if k < left.stop and m < right.stop else []
        i, j = k + 1, m + 1
    return found


def _most_alike(ours: list[Column], theirs: list[Column], left: range, right: range) -> list[tuple[int, int]]:
    """Return the pairs in order that have most in common together; none in a gap that is too wide to look through."""
    if not left or not right or len(left) * len(right) > MOST_GAP:
        return []
    held, theirs_held = [_held(ours[i]) for i in left], [_held(theirs[j]) for j in right]
    best = [[0] * (len(right) + 1) for _ in range(len(left) + 1)]
    for n, one in enumerate(held, 1):
        for k, two in enumerate(theirs_held, 1):
            alike = _alike(one, two)
            best[n][k] = max(best[n - 1][k], best[n][k - 1], best[n - 1][k - 1] + alike if alike else 0)
    found: list[tuple[int, int]] = []
    n, k = len(left), len(right)
    while n and k:
        if best[n][k] == best[n - 1][k]:
            n -= 1
        elif best[n][k] == best[n][k - 1]:
            k -= 1
        else:
            n, k = n - 1, k - 1
            found.append((left[n], right[k]))
    return found[::-1]


Held = Counter[tuple[int, int, int, bool]]


def _held(column: Column) -> Held:
    """Return the notes of a measure by part, place and key."""
    return Counter((i, *sound[:3]) for i, bar in enumerate(column) for sound in bar)


def _alike(one: Held, two: Held) -> int:
    """Return how much two measures have in common: two for a note at one place and key of a part, one for silence."""
    return 2 * (one & two).total() or int(not one and not two)


def _match_notes(bar: Bar, other: Bar, part: Part, new: Part) -> dict[Spot, Spot]:
    """Return the matches inside one measure.

    By place and key: in the same staff and voice, the same staff, anywhere. Then by staff, voice and place where
    as many notes are left on both sides (other pitches), and by staff, voice and key (other rhythm).
    """
    found: dict[Spot, Spot] = {}
    left, right = sorted(bar), sorted(other)
    for place, key, depth in ((True, True, 2), (True, True, 1), (True, True, 0), (True, False, 2), (False, True, 2)):
        mine = _grouped(left, part, place, key, depth)
        theirs = _grouped(right, new, place, key, depth)
        for name, sounds in mine.items():
            matches = theirs.get(name, [])
            if len(sounds) == len(matches) or (place and key):
                found |= {a.spot: b.spot for a, b in zip(sounds, matches, strict=False)}
        done = set(found.values())
        left = [sound for sound in left if sound.spot not in found]
        right = [sound for sound in right if sound.spot not in done]
    return found


def _grouped(sounds: list[Sound], part: Part, place: bool, key: bool, depth: int) -> dict[tuple[object, ...], list[Sound]]:
    groups: dict[tuple[object, ...], list[Sound]] = {}
    for sound in sounds:
        line = part.lines[sound.spot.line]
        name = (sound.grace, sound.offset if place else -1, sound.key if key else -1, *(line.staff, line.voice)[:depth])
        groups.setdefault(name, []).append(sound)
    return groups
