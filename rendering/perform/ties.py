"""Ties: a chain of tied notes is one note."""

from __future__ import annotations

from rendering.marks import AXIS_MASK, BIT, PASSAGE
from rendering.perform.breaths import BREATH
from rendering.perform.played import Played
from rendering.problems import Problem, problem
from rendering.score import SLUR_ARRIVES, SLUR_LEAVES, TIE_NONE, TIE_START, TIE_STOP, TIE_THROUGH

CONNECTION = AXIS_MASK[BIT["legato"]]  # a slur may begin or end inside a tie


def merge_ties(played: Played, problems: list[tuple[Problem, int, int]], *, restrike: bool = False) -> None:
    """Merge the chains of one line in place.

    A start without a stop is merged when the next note on its key follows at once, as exporters
    that forget the stop mean it; a start that nothing follows stays a plain note. Both are told. Where a
    passage state changes inside a chain, the chain goes on in the old one, or with `restrike` ends there.
    """
    on, off, key, tie, slur = played.on, played.off, played.key, played.tie, played.slur
    running: dict[int, int] = {}  # key -> row of the chain that a tie leaves open
    dropped: list[int] = []
    for i, k in enumerate(key):
        head = running.pop(k, -1)
        if head >= 0 and off[head] == on[i] and not played.grace[i]:
            if tie[i] not in (TIE_STOP, TIE_THROUGH):
                problems.append((problem("tie-without-stop"), played.source[head], -1))
            changes = (played.marks[head] ^ played.marks[i]) & PASSAGE & ~CONNECTION
            if changes:
                problems.append((problem("state-inside-tie", done="struck again" if restrike else "it waits"), played.source[i], -1))
                if restrike:
                    if tie[i] in (TIE_START, TIE_THROUGH):
                        running[k] = i
                    continue
            off[head] = off[i]
            played.marks[head] |= played.marks[i] & BREATH
            slur[head] = (slur[head] & SLUR_ARRIVES) | (slur[i] & SLUR_LEAVES)
            tie[head] = TIE_START if tie[i] in (TIE_START, TIE_THROUGH) else TIE_NONE
            dropped.append(i)
            if tie[i] in (TIE_START, TIE_THROUGH):
                running[k] = head
        elif tie[i] in (TIE_START, TIE_THROUGH):
            running[k] = i
    played.remove(dropped)


def merge_across(lines: list[Played]) -> None:
    """Merge in place ties that lead from one voice or staff of a part into another."""
    starts = {
        (played.key[i], played.off[i]): (played, i)
        for played in lines
        for i, tie in enumerate(played.tie)
        if tie in (TIE_START, TIE_THROUGH)
    }
    if not starts:
        return
    for played in lines:
        dropped = []
        for i, tie in enumerate(played.tie):
            if tie in (TIE_STOP, TIE_THROUGH) and (played.key[i], played.on[i]) in starts:
                other, row = starts.pop((played.key[i], played.on[i]))
                if other is played:
                    continue
                other.off[row] = played.off[i]
                other.tie[row] = TIE_NONE
                dropped.append(i)
        played.remove(dropped)
