"""Tempo and rehearsal marks: one of each for all parts."""

from __future__ import annotations

from rendering.annotate.placing import Placed
from rendering.timeline import micros_per_quarter


def tempo_of(parts: list[list[Placed]], first: int) -> list[tuple[int, int]]:
    """Return (Unit, microseconds per quarter), ascending.

    A sound's tempo is what MusicXML defines for playing; a metronome mark counts where there is none at
    its place. Of several parts the first one counts. What stands at the first note (`first`) holds from 0.
    """
    sounds: dict[int, int] = {}
    marks: dict[int, int] = {}
    for placed in parts:
        for unit, _, _, sign in placed:
            kind = sounds if sign.kind == "tempo" else marks if sign.kind == "metronome" else None
            if kind is not None:
                kind.setdefault(0 if unit <= first else unit, sign.value)
    found = marks | sounds
    return [(unit, int(micros_per_quarter(found[unit]))) for unit in sorted(found)]


def rehearsal_of(parts: list[list[Placed]]) -> list[tuple[int, str]]:
    """Return (Unit, text) of rehearsal marks, one a place, ascending."""
    found: dict[int, str] = {}
    for placed in parts:
        for unit, _, _, sign in placed:
            if sign.kind == "rehearsal":
                found.setdefault(unit, sign.text)
    return sorted(found.items())
