"""Broken documents: no traceback, every pointer resolves in the document as sent, no sentence speaks Python."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Iterator
from copy import deepcopy
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rendering.codes import message
from rendering.codes.documents import SHAPE
from rendering.documents import canonical, read
from rendering.maps.checks import check
from rendering.maps.document import ArticulationMap
from rendering.problems import Problem, Refused
from rendering.templates import Template, check_template
from tests.rendering.made_maps import EVERY_TRIGGER, VIOLINS, resolves

PYTHON = re.compile(
    r"\b(?:int|str|float|bool|tuple|dict|list\[|NoneType|None|True|False|object at|instance|dataclass|Traceback|Error|validator|pydantic)\b"
)
TEMPLATE = {
    "kind": "template", "edition": 1, "name": "T", "links": {"far hall": "t2"}, "choices": {"preroll": 2, "lead": "notes"},
    "tracks": [
        {"id": "t1", "name": "Violins", "map": {"id": "m", "revision": 3}, "channel": 1, "for": [{"sound": "strings.violin", "number": 1}],
         "layer": {"interval": 12}},
        {"id": "t2", "name": "Far hall", "map": {"file": "far.json"}, "channel": 2, "local": {"level": -100}},
    ],
}  # fmt: skip
SEEDS: list[tuple[Any, Any]] = [(ArticulationMap, json.loads(EVERY_TRIGGER)), (ArticulationMap, VIOLINS), (Template, TEMPLATE)]
KEYS = [
    "keyswitch", "controller", "value", "program", "with", "plays", "by", "velocity", "id", "memory", "kind", "toggle", "(keyswitch)",
    "[key]", "a/b", "~", "", "0", "\x01keyswitch", "resets", "together", "alternates", "middle_c", "range", "default",
]  # fmt: skip
SCALARS: list[Any] = [
    None, True, False, 0, -1, 1, 60, 127, 128, 10**20, 1.0, 0.5, -0.0, 1e300, "", " ", "C1", "C10", "Cb-2", "bowed", "mute",
    "staccato", "stacato", "a\x00b", "a\nb", "no", "velocity", "both", "x" * 300, "{0}", "%s", "“", "\U0001f3bb", [], {}, [[]],
    [1, 2], [127, 0], {"by": "both"},
]  # fmt: skip


def spots(document: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    yield path
    for step, value in document.items() if isinstance(document, dict) else enumerate(document) if isinstance(document, list) else ():
        yield from spots(value, (*path, step))


def broken(seed: Any, chance: random.Random) -> Any:
    """Return a copy of a sound document with one to four faults."""
    document = deepcopy(seed)
    for _ in range(chance.randint(1, 4)):
        path = chance.choice(list(spots(document)))
        if not path:
            document = chance.choice([document, document, document, chance.choice(SCALARS)])
            continue
        holder = document
        for step in path[:-1]:
            holder = holder[step]
        fault(holder, path[-1], chance)
    return document


def fault(holder: Any, step: Any, chance: random.Random) -> None:
    kind = chance.randrange(4)
    if kind == 0:
        holder[step] = deepcopy(chance.choice(SCALARS))
    elif kind == 1:
        del holder[step]
    elif kind == 2 and isinstance(holder, dict):
        holder[chance.choice(KEYS)] = deepcopy(chance.choice(SCALARS))
    elif isinstance(holder, list):
        holder.insert(step, deepcopy(holder[step]))


def examined(model: Any, body: bytes) -> list[Problem]:
    """Return all that is said of a document, and make sure that one that is read is kept unchanged."""
    try:
        document = read(model, body)
    except Refused as refused:
        return list(refused.problems)
    kept = canonical(document)
    assert canonical(read(model, kept)) == kept
    return check_template(document, {}) if model is Template else check(document)


def look_at(model: Any, document: Any) -> set[str]:
    """Return the codes of what is said of a document, each of which was looked at."""
    problems = examined(model, json.dumps(document).encode())
    for found in problems:
        assert found.place.pointer is not None
        assert resolves(document, found.place.pointer), (found, document)
        said = re.sub("“[^”]*”", "“…”", message(found).partition(": ")[2])
        assert not PYTHON.search(said), said
        assert len(message(found)) < 700
    return {found.code for found in problems}


@pytest.mark.parametrize("seed", range(300))
def test_broken_documents(seed: int) -> None:
    model, sound = SEEDS[seed % 3]
    look_at(model, broken(sound, random.Random(seed)))


@pytest.mark.deep
def test_ten_thousand_broken_maps() -> None:
    met: set[str] = set()
    for seed in range(10_000):
        met |= look_at(ArticulationMap, broken(SEEDS[seed % 2][1], random.Random(1_000_000 + seed)))
    assert len(met & SHAPE.keys()) >= 20, "the faults reach most codes of shape"
    assert len(met - SHAPE.keys()) >= 20, "and many of the checks"


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from(KEYS) | st.text(max_size=4), inner, max_size=4),
    max_leaves=20,
)


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(document=JSON, model=st.sampled_from([ArticulationMap, Template]))
def test_any_json(document: Any, model: Any) -> None:
    look_at(model, document)


@settings(max_examples=60, deadline=None)
@given(body=st.binary(max_size=60))
def test_any_bytes(body: bytes) -> None:
    assert examined(ArticulationMap, body)
