"""Counts what became of each mark on each written note."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from rendering.marks import MARKS
from rendering.resolve.decision import OUTCOMES, Decision, Outcome
from rendering.resolve.lines import Voice


def count_outcomes(voices: Sequence[Voice], decisions: Sequence[Decision], merged: Iterable[tuple[int, int]]) -> dict[str, dict[str, int]]:
    """Return mark name -> outcome -> how many written notes of these voices.

    A note that is played more than once counts once, with its worst outcome; `merged` are the (voice,
    row) of notes that sound as part of another.
    """
    gone = set(merged)
    counts: Counter[tuple[int, int]] = Counter()
    for number, voice in enumerate(voices):
        rows = {row for v, row in gone if v == number}
        for bit_outcomes, times in _by_note(voice, decisions, rows):
            for pair in bit_outcomes:
                counts[pair] += times
    table: dict[str, dict[str, int]] = {}
    for (bit, outcome), n in sorted(counts.items()):
        table.setdefault(MARKS[bit].name, {})[OUTCOMES[outcome]] = n
    return table


def _by_note(voice: Voice, decisions: Sequence[Decision], merged: set[int]) -> list[tuple[tuple[tuple[int, int], ...], int]]:
    sources = voice.line.source
    if not merged and len(set(sources)) == len(sources):
        return [(decisions[d].outcomes, n) for d, n in Counter(voice.decisions).items()]
    worst: dict[int, dict[int, int]] = {}
    for row, (source, d) in enumerate(zip(sources, voice.decisions, strict=True)):
        note = worst.setdefault(source, {})
        for bit, outcome in decisions[d].outcomes:
            seen = max(outcome, int(Outcome.MERGED)) if row in merged else outcome
            note[bit] = max(note.get(bit, 0), seen)
    return [(tuple(note.items()), 1) for note in worst.values()]


def totals(marks: dict[str, dict[str, int]]) -> dict[str, int]:
    """Return outcome -> count over all marks, outcomes from best to worst, those that occur."""
    sums = {outcome: sum(row.get(outcome, 0) for row in marks.values()) for outcome in OUTCOMES}
    return {outcome: n for outcome, n in sums.items() if n}
