"""Every kind of trigger over scores that others wrote: proven without disagreement, hardly a note yields.

Scores: the LilyPond MusicXML test suite and music21's corpus, read from the installed music21 package.
"""

from __future__ import annotations

import json
import random
from collections import Counter
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from rendering import documents
from rendering.codes import severity
from rendering.maps.checks import check
from rendering.maps.document import ArticulationMap
from rendering.pipeline import load, render_score
from rendering.problems import Refused
from rendering.proof import YIELDING
from tests.outside.reading import CORPUS, corpus_files, lilypond_files
from tests.rendering.strategies import KINDS

PLAYED = ("staccato", "pizzicato", "accent", "tenuto", "tremolo")
MOVEMENTS = ("beethoven/opus59no1/movement2.mxl", "beethoven/opus59no3/movement2.mxl", "schumann_robert/opus41no1/movement1.mxl")


def triggers(kind: str, i: int) -> list[dict[str, Any]]:
    """The triggers of articulation `i`; keys 0-19 switch, music lies on 20-107."""
    return {
        "latched": [{"keyswitch": i}],
        "held": [{"keyswitch": i, "hold": "note-on"}] if i else [],
        "hold-through": [{"keyswitch": i, "hold": "note"}] if i else [],
        "controller": [{"controller": 20, "value": i * 20}],
        "band": [{"controller": 21, "value": [i * 16, i * 16 + 15]}],
        "program": [{"program": i}],
        "bank": [{"program": i % 2, "bank_msb": 0, "bank_lsb": i}],
        "velocities": [{"velocities": [1 + i * 20, 20 + i * 20]}],
        "shift": [{"shift": 44}] if i else [],
        "paged": [{"keyswitch": 12 + i // 2}, {"keyswitch": 16 + i % 2}],
        "toggle": [{"keyswitch": i, "toggle": True}] if i else [],
        "channel": [{"channel": 5 + i}],
    }[kind]


@cache
def made(kind: str) -> ArticulationMap:
    """A map of one kind: an entry for each mark, leads, and a joining one for slurs where the kind allows it."""
    count = 2 if kind in {"shift", "toggle"} else len(PLAYED) + 1
    articulations: list[dict[str, Any]] = []
    for i in range(count):
        it: dict[str, Any] = {"id": f"a{i}", "memory": "m", "plays": [[PLAYED[i - 1]]] if i else [], "triggers": triggers(kind, i)}
        it["lead_ms"] = {"first": 70 - 10 * i, "connected": 30}
        if kind == "paged":
            it["together"] = True
        articulations.append(it)
    if kind not in {"shift", "toggle", "velocities"}:
        joins = {"plays": [["legato"]], "joins": True, "voices": 1, "overlap_ms": 50, "triggers": triggers(kind, count)}
        articulations.append({**articulations[-1], "id": "joined", **joins})
    by_controller = kind not in {"velocities", "controller", "band"}
    loudness = {"by": "controller", "controller": 11, "velocity": 90} if by_controller else {"by": "velocity"}
    body = {
        "kind": "articulation-map", "edition": 1, "name": kind, "sound": "strings.violin",
        "range": {"lowest": 20, "highest": 63 if kind == "shift" else 107}, "loudness": {**loudness, "points": [[0, 1], [1000, 127]]},
        "memories": [{"id": "m", "default": "a0"}], "articulations": articulations,
    }  # fmt: skip
    document = documents.read(ArticulationMap, json.dumps(body).encode())
    assert not [p for p in check(document) if severity(p) == "error"]
    return document


def proven(files: list[Path], kind: str) -> Counter[str]:
    """Render files with one map on every part; return notes and yielded, and fail where the proof disagrees."""
    counts: Counter[str] = Counter()
    for file in files:
        try:
            score, _ = load(file.read_bytes())
        except Refused:
            continue  # which files are refused, and why, is held by test_corpus_render
        r = render_score(score, maps=[(p.id, made(kind)) for p in score.parts])
        proof = r.report["proof"]
        assert proof["disagree"] == [], (file.name, kind)
        told = sum(p["count"] for p in r.report["problems"] if p["code"] in YIELDING)
        assert proof["yielded"] <= told, file.name
        counts.update(notes=proof["notes"], yielded=proof["yielded"])
    return counts


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_on_a_sample_of_the_suite(kind: str) -> None:
    sample = random.Random(5).sample(lilypond_files(), 20)
    assert proven(sample, kind)["notes"] >= 20


@pytest.mark.deep
@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_on_the_whole_suite_and_a_sample_of_the_corpus(kind: str) -> None:
    sample = random.Random(6).sample(corpus_files(), 25) + [CORPUS / name for name in MOVEMENTS]
    counts = proven([*lilypond_files(), *sample], kind)
    print(f"{kind}: {counts['notes']} notes, {counts['yielded']} yielded")
    assert counts["notes"] > 5_000
    assert counts["yielded"] * 100 <= counts["notes"]
