"""Slurs for the notes that are joined: the longest runs, each one slur."""

from __future__ import annotations

from typing import NamedTuple

from rendering.annotate.slurs import LEGATO, PORTATO, chord_end
from rendering.score import SLUR_ARRIVES, SLUR_LEAVES, Line


class Group(NamedTuple):
    """Rows [first, end) of a line that are struck together."""

    first: int
    end: int


class Slurs(NamedTuple):
    """The slurs of a line: rows where one starts, rows where one stops, and for each row whether one covers it."""

    starts: set[int]
    stops: set[int]
    covered: list[bool]


def slurs_of(line: Line) -> Slurs:
    """Return the slurs that our reader takes for the line's joins, and for legato where a rest parts its notes."""
    groups = _groups(line)
    found = Slurs(set(), set(), [False] * len(line))
    if not any(line.slur) and not any(m & LEGATO for m in line.marks):
        return found
    for first, last in _bridged(line, groups, _runs(line, groups)):
        found.starts.add(groups[first].first)
        found.stops.add(groups[last].first)
        for row in range(groups[first].first, groups[last].end):
            found.covered[row] = True
    return found


def _groups(line: Line) -> list[Group]:
    groups: list[Group] = []
    row = 0
    while row < len(line):
        end = chord_end(line, row)
        groups.append(Group(row, end))
        row = end
    return groups


def _runs(line: Line, groups: list[Group]) -> list[tuple[int, int]]:
    """Return (first, last) groups of each run of joined notes; a legato note by itself is a run of one."""
    runs: list[tuple[int, int]] = []
    open_run = False
    for i, group in enumerate(groups):
        rows = range(group.first, group.end)
        arrives = any(line.slur[row] & SLUR_ARRIVES for row in rows)
        if open_run and arrives:
            runs[-1] = (runs[-1][0], i)
        elif any(line.slur[row] & SLUR_LEAVES or line.marks[row] & LEGATO for row in rows):
            runs.append((i, i))
        open_run = any(line.slur[row] & SLUR_LEAVES for row in rows)
    return runs


def _bridged(line: Line, groups: list[Group], runs: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return the runs of two groups and more, with lone legato notes reached over the rest beside them."""
    found: list[tuple[int, int]] = []
    for run in runs:
        lone = run[0] == run[1] or (found and found[-1][0] == found[-1][1])
        if found and lone and found[-1][1] + 1 == run[0] and _rest_between(line, groups[found[-1][1]], groups[run[0]]):
            found[-1] = (found[-1][0], run[1])
        else:
            found.append(run)
    return [run for run in found if run[0] < run[1]]


def _rest_between(line: Line, before: Group, after: Group) -> bool:
    return line.offset[after.first] > line.offset[before.first] + line.duration[before.first]


def legato_by_slur(line: Line, slurs: Slurs, row: int) -> int:
    """Return the mark that a slur gives to the note in a row: legato, but not where it is portato."""
    return LEGATO if slurs.covered[row] and not line.marks[row] & PORTATO else 0
