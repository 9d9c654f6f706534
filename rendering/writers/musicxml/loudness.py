"""Levels as dynamics: names where there is one, percentages where there is none."""

from __future__ import annotations

from bisect import bisect_left
from typing import NamedTuple

from rendering.annotate.dynamics import ACCENT, ATTACKS, DEFAULT, FORTE
from rendering.annotate.loud_words import LOUDEST, SOFTER, STEADY
from rendering.score import Level, Part
from rendering.writers.musicxml.reach import EVERYWHERE, Reach, Scope

NAMES: dict[int, str] = {level: name for name, level in STEADY.items()} | {SOFTER: "pppp"}
STRUCK: dict[tuple[int, int], str] = {(first, then): name for name, (first, then) in reversed(ATTACKS.items()) if first is not None}


class Dynamic(NamedTuple):
    """One dynamic at a Unit: a name ("f", "sf+mp"), or a percentage as MusicXML counts it."""

    unit: int
    scope: Scope
    name: str
    percent: str = ""


def percent_of(level: int) -> str:
    """Return thousandths as MusicXML's percentage of the forte at velocity 90, exact enough to be read back."""
    return f"{level * 127 / 900:.3f}".rstrip("0").rstrip(".") or "0"


def levels_of_notes(part: Part) -> dict[int, str]:
    """Return source of a note -> the percentage of its own dynamics attribute."""
    return {v.source: percent_of(v.level) for v in part.levels if v.kind == "note"}


def from_silence(part: Part) -> set[tuple[int, int, str]]:
    """Return (Unit, staff, voice) where a crescendo from nothing begins: its hairpin says so, and needs no dynamic."""
    silent = {(v.offset, v.staff, v.voice) for v in part.levels if v.kind == "mark" and v.level == 0}
    return silent & {(pin.start, pin.staff, pin.voice) for pin in part.hairpins if pin.niente and pin.direction > 0}


def dynamics_of(part: Part, reach: Reach) -> list[Dynamic]:
    """Return the dynamics of a part in the order of time."""
    writer = _Dynamics(part, reach)
    drawn = from_silence(part)
    for level in part.levels:
        if level.kind in {"mark", "sound"} and (level.level or level[:3] not in drawn):
            writer.steady(level)
    for unit in sorted(writer.once):
        writer.single(unit)
    return sorted(writer.found, key=_unit)


def _unit(dynamic: Dynamic) -> int:
    return dynamic.unit


class _Dynamics:
    """`once` and `struck`: Unit -> source of a note -> its level, of sf and its kin, and of fp and its kin."""

    def __init__(self, part: Part, reach: Reach) -> None:
        self.part = part
        self.reach = reach
        self.found: list[Dynamic] = []
        self.state: dict[Scope, int] = {}
        self.once: dict[int, dict[int, int]] = {}
        self.struck: dict[int, dict[int, int]] = {}
        self.last: dict[tuple[int, Scope], Level] = {(v.offset, (v.staff, v.voice)): v for v in part.levels if v.kind == "mark"}
        for level in part.levels:
            if level.kind in {"once", "attack"}:
                found = self.once if level.kind == "once" else self.struck
                found.setdefault(level.offset, {})[level.source] = level.level

    def steady(self, level: Level) -> None:
        """Write a dynamic that holds; with it, where the notes there are struck otherwise, how."""
        scope = level.staff, level.voice
        struck = self.struck_by(level.offset, scope) if level is self.last.get((level.offset, scope)) else None
        if struck is not None:
            self.found.append(Dynamic(level.offset, scope, self.attack(struck, level.level, scope)))
        elif level.kind == "mark" and level.level in NAMES:
            self.found.append(Dynamic(level.offset, scope, NAMES[level.level]))
        else:
            self.found.append(Dynamic(level.offset, scope, "", percent_of(level.level)))
        if scope == EVERYWHERE:
            self.state.clear()
        self.state[scope] = level.level

    def sources(self, unit: int, scope: Scope) -> list[int]:
        """Return the notes that begin at a Unit in reach of a scope, without grace notes."""
        found: list[int] = []
        for i in self.reach.lines(scope, unit):
            line = self.part.lines[i]
            row = bisect_left(line.offset, unit)
            while row < len(line) and line.offset[row] == unit:
                if not line.grace[row]:
                    found.append(line.source[row])
                row += 1
        return found

    def struck_by(self, unit: int, scope: Scope) -> int | None:
        """Return the one level at which all notes in reach are struck; None where there is none."""
        known = self.struck.get(unit, {})
        levels = {known.get(source) for source in self.sources(unit, scope)} if known else set()
        return levels.pop() if len(levels) == 1 else None

    def attack(self, struck: int, then: int, scope: Scope) -> str:
        """Return the name of a dynamic that strikes at one level and goes on at another."""
        if (struck, then) in STRUCK:
            return STRUCK[struck, then]
        before = self.state.get(scope, self.state.get((scope[0], ""), self.state.get(EVERYWHERE, DEFAULT)))
        stressed = min(max(before + ACCENT, FORTE), LOUDEST)
        short = {375: "sfp", 250: "sfpp"}.get(then)
        return short if short and struck == stressed else f"sf+{NAMES.get(then, 'p')}"

    def single(self, unit: int) -> None:
        """Write sf for the notes that have it: for all there at once, or voice by voice."""
        marked = self.once[unit].keys()
        if set(self.sources(unit, EVERYWHERE)) == set(marked):
            self.found.append(Dynamic(unit, EVERYWHERE, "sf"))
            return
        for i, _ in enumerate(self.part.lines):
            scope = self.reach.scopes([i], unit)[-1]
            if marked & set(self.sources(unit, scope)):
                self.found.append(Dynamic(unit, scope, "sf"))
