"""Random maps of every trigger kind and random scores, for the properties of the engine."""

from __future__ import annotations

import json
from typing import Any

from hypothesis import assume
from hypothesis import strategies as st

from rendering import documents
from rendering.codes import severity
from rendering.maps.checks import check
from rendering.maps.document import ArticulationMap
from rendering.marks import mask
from rendering.score import (
    GRACE_NONE,
    GRACE_SLASHED,
    SLUR_ARRIVES,
    SLUR_LEAVES,
    TIE_NONE,
    TIE_START,
    TIE_STOP,
    Hairpin,
    Instrument,
    Level,
    Line,
    Measure,
    Note,
    Part,
    Score,
    Strokes,
)

UNIT = 960
BAR = 4 * UNIT
KINDS = ("latched", "held", "hold-through", "controller", "band", "program", "bank", "velocities", "shift", "paged", "toggle", "channel")
MARKS = ("staccato", "accent", "tenuto", "pizzicato", "tremolo", "sul ponticello", "spiccato", "con sordino")
# Marks that are written out where a map has no sample of them.
ORNAMENTS = (
    "trill half", "trill whole", "mordent", "inverted mordent", "turn", "delayed turn", "inverted vertical turn", "shake", "schleifer",
    "haydn", "fingered tremolo", "flutter-tongue", "roll", "bisbigliando", "arpeggio", "arpeggio down", "non arpeggio", "glissando",
    "flam", "drag", "ruff",
)  # fmt: skip
FIRST_SWITCH_KEY = 0  # switches lie on 0-35, music on 48-84


def triggers(kind: str, i: int) -> list[dict[str, Any]]:
    """Return the triggers of articulation `i` of a memory switched in this way."""
    key = FIRST_SWITCH_KEY + i
    return {
        "latched": [{"keyswitch": key}],
        "held": [{"keyswitch": key, "hold": "note-on"}] if i else [],
        "hold-through": [{"keyswitch": key, "hold": "note"}] if i else [],
        "controller": [{"controller": 20, "value": i * 20}],
        "band": [{"controller": 21, "value": [i * 16, i * 16 + 15]}],
        "program": [{"program": i}],
        "bank": [{"program": i % 2, "bank_msb": 0, "bank_lsb": i}],
        "velocities": [{"velocities": [1 + i * 20, 20 + i * 20]}],
        "shift": [{"shift": i * 40}] if i < 2 else [],
        "paged": [{"keyswitch": 12 + i // 2}, {"keyswitch": 16 + i % 2}],
        "toggle": [{"keyswitch": key, "toggle": True}] if i else [],
        "channel": [{"channel": 5 + i}],
    }[kind]


@st.composite
def maps(draw: st.DrawFn, kinds: tuple[str, ...] = KINDS) -> ArticulationMap:
    """Return a map without errors: a bow memory of one kind, and often a mute memory on a controller."""
    kind = draw(st.sampled_from(kinds))
    count = 2 if kind in {"shift", "toggle"} else draw(st.integers(2, 5))
    sets = draw(st.lists(st.sampled_from(MARKS[:7]), min_size=count - 1, max_size=count - 1, unique=True))
    joins = draw(st.booleans())
    articulations = [_articulation(draw, kind, i, [] if i == 0 else [[sets[i - 1]]], "bow") for i in range(count)]
    if joins and kind != "velocities":
        articulations[-1] |= {"plays": [["legato"]], "joins": True, "voices": 1, "overlap_ms": draw(st.integers(0, 120))}
    memories = [{"id": "bow", "default": "bow-0"}]
    if draw(st.booleans()):
        memories.append({"id": "mute", "default": "mute-0"})
        sounding = {"acts_on": "sounding"} if draw(st.booleans()) else {}
        for i in range(2):
            mute = {"plays": [["con sordino"]] if i else [], "triggers": [{"controller": 30, "value": 127 * i}]}
            articulations.append({"id": f"mute-{i}", "memory": "mute", **mute, **sounding})
    body = {
        "kind": "articulation-map", "edition": 1, "name": kind, "sound": "strings.violin",
        "range": {"lowest": 48, "highest": 84}, "loudness": _loudness(draw, kind), "memories": memories, "articulations": articulations,
    }  # fmt: skip
    made = documents.read(ArticulationMap, json.dumps(body).encode())
    assume(not any(severity(p) == "error" for p in check(made)))
    return made


def _articulation(draw: st.DrawFn, kind: str, i: int, plays: list[list[str]], memory: str) -> dict[str, Any]:
    made: dict[str, Any] = {"id": f"{memory}-{i}", "memory": memory, "plays": plays, "triggers": triggers(kind, i)}
    if kind == "paged":
        made["together"] = True
    if draw(st.booleans()):
        made["lead_ms"] = {"first": draw(st.integers(0, 150)), "connected": draw(st.integers(0, 80))}
    return made


def _loudness(draw: st.DrawFn, kind: str) -> dict[str, Any]:
    points = [[0, 1], [1000, 127]]
    if kind == "velocities" or draw(st.booleans()):
        return {"by": "velocity", "points": points}
    return {"by": "controller", "controller": 11, "points": [[0, 0], [1000, 127]], "velocity": 96}


@st.composite
def lines(draw: st.DrawFn, bars: int, staff: int, voice: str, source: int) -> Line:
    """Return a line of notes, chords, rests, ties, slurs and graces that fills `bars` measures."""
    line = Line(staff, voice)
    at, slurred, tied = 0, False, -1
    while at < bars * BAR:
        length = min(draw(st.sampled_from((60, 120, 240, 320, 480, 960, 1920))), bars * BAR - at)
        shape = draw(st.sampled_from(("note", "note", "note", "slur", "slur", "tie", "chord", "rest", "grace")))
        key = tied if tied >= 0 else draw(st.integers(50, 82))
        if shape == "rest" and tied < 0:
            slurred = False
            at += length
            continue
        marks = mask(*draw(st.lists(st.sampled_from(MARKS), max_size=2, unique=True)))
        if draw(st.integers(0, 3)) == 0:
            marks |= mask(*draw(st.lists(st.sampled_from(ORNAMENTS), min_size=1, max_size=2, unique=True)))
        last = at + length >= bars * BAR
        leaves = shape == "slur" and not last
        slur = (SLUR_ARRIVES if slurred else 0) | (SLUR_LEAVES if leaves else 0)
        marks |= mask("legato") if slur else 0
        if shape == "grace" and tied < 0 and not slurred:
            line.add(Note(at, 0, draw(st.integers(50, 82)), 0, 0, TIE_NONE, 0, GRACE_SLASHED, 0, source, 0))
            source += 1
        starts = shape == "tie" and not last
        tie = (TIE_STOP if tied >= 0 else 0) + (TIE_START if starts else 0)
        line.add(Note(at, length, key, 0, marks, tie, slur, GRACE_NONE, 0, source, 0))
        source += 1
        if shape == "chord" and tied < 0:
            line.add(Note(at, length, key - 2, 0, marks, TIE_NONE, slur, GRACE_NONE, 0, source, 0))
            source += 1
        slurred, tied = leaves, key if starts else -1
        at += length
    return line


@st.composite
def scores(draw: st.DrawFn, parts: int = 2, voices: int = 2) -> Score:
    """Return a score of a few measures, perhaps with tempo changes, hairpins, dynamics and a repeat."""
    bars = draw(st.integers(1, 4))
    measures = [Measure(i + 1, str(i + 1), i * BAR, BAR, (4, 4), 0) for i in range(bars)]
    itinerary = [(1, bars, 1)] * (1 + draw(st.booleans()))
    itinerary = [(a, b, n + 1) for n, (a, b, _) in enumerate(itinerary)]
    tempo = [(0, draw(st.integers(200_000, 1_500_000)))]
    tempo += [(u * 480, draw(st.integers(200_000, 1_500_000))) for u in sorted(draw(st.sets(st.integers(1, bars * 8), max_size=2)))]
    made = Score(unit=UNIT, title="random", measures=measures, itinerary=itinerary, tempo=tempo)
    for n in range(draw(st.integers(1, parts))):
        part = Part(id=f"P{n + 1}", name=f"Violin {n + 1}", instruments=[Instrument(sound="strings.violin")])
        source = 1
        for v in range(draw(st.integers(1, voices))):
            line = draw(lines(bars, 1, str(v + 1), source))
            source = max([source, *(s + 1 for s in line.source)])
            part.lines.append(line)
        struck = draw(st.sets(st.integers(1, source), max_size=4))
        part.strokes = {n: Strokes(draw(st.sampled_from((80, 120, 240, 480))), draw(st.booleans())) for n in sorted(struck)}
        part.levels = [Level(0, 0, "", "mark", draw(st.sampled_from((125, 375, 625, 1000))), 0)]
        if draw(st.booleans()):
            start = draw(st.integers(0, bars * 2 - 1)) * (BAR // 2)
            part.hairpins = [Hairpin(start, start + BAR // 2, 0, "", draw(st.sampled_from((-1, 1))), niente=False)]
        made.parts.append(part)
    return made
