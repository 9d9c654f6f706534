"""The order in which measures are played, by repeats and endings alone; beside the plain reader.

No jumps (da capo, dal segno): where a file has them the tests say so.
"""

from __future__ import annotations

import re

from lxml.etree import _Element as Element


def bar_lines(parts: list[list[Element]]) -> tuple[set[int], set[int], dict[int, int], dict[int, set[int]]]:
    """Return measures with a forward repeat, those after a movement's end, repeats' times, endings' numbers."""
    rows = [(i, bar) for measures in parts for i, measure in enumerate(measures) for bar in measure.iterfind("barline")]
    forward = {i + (b.get("location") == "right") for i, b in rows if b.find("repeat[@direction='forward']") is not None}
    back = {i: int(r.get("times") or 0) for i, bar in rows for r in bar.iterfind("repeat[@direction='backward']")}
    fresh = {i + 1 for i, bar in rows if bar.findtext("bar-style") == "light-heavy" and bar.find("repeat") is None}
    starts = {i: set(map(int, re.findall(r"\d+", e.get("number", "")))) for i, b in rows for e in b.iterfind("ending[@type='start']")}
    stops = {i for i, bar in rows for e in bar.iterfind("ending") if e.get("type") != "start"}
    endings = {}
    for stop in stops & back.keys():  # a bracket without a start covers its last measure
        if not any(s <= stop and not stops & set(range(s, stop)) for s in starts):
            starts[stop] = {1}
    for start, numbers in starts.items():
        later = min((i for i in starts if i > start), default=max(map(len, parts)) + 1)
        stop = min((i for i in stops | back.keys() if start <= i < later), default=start)
        stop = later - 1 if later - 1 in back else stop  # a bracket drawn too short
        endings |= dict.fromkeys(range(start, stop + 1), numbers)
    return forward, fresh, back, endings


def played_order(parts: list[list[Element]], count: int) -> list[int]:
    """Return measure indexes as played; sections in sections are repeated within each other."""
    forward, fresh, back, endings = bar_lines(parts)
    order: list[int] = []
    at, sections = 0, [[0, 1]]  # first measure and playing of each section that is open
    while at < count:
        if at in fresh | forward and at != sections[-1][0] and (at - 1 not in endings or at not in endings):
            sections = [*([] if at in fresh else sections), [at, 1]]
        turn = sections[-1][1]
        if at in forward and at - 1 in endings and turn in endings.get(at, ()):
            endings = {i: numbers for i, numbers in endings.items() if i < at or numbers != endings[at]}
            sections = [*sections[:-1], [at, 1]]
            turn = 1
        played = turn in endings.get(at, {turn})
        order += [at] if played else []
        last = at + 1 not in endings
        total = back.get(at) or 2 if at not in endings else max(endings[at]) + (at + 1 in endings or endings.get(at) == {1})
        if played and at in back and turn < total:
            sections[-1][1] += 1
            at = sections[-1][0]
            continue
        at += 1
        if (at - 1 in endings or at - 1 in back) and last:
            sections = sections[:-1] if len(sections) > 2 else [[at, 1]]
    return order
