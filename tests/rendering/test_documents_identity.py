"""What is kept is what was read: canonical bytes, digests and pointers over maps of all kinds."""

from __future__ import annotations

import json
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from rendering.codes import message
from rendering.documents import canonical, digest, read, schemas
from rendering.maps.checks import check
from rendering.maps.compile import compile_map
from rendering.maps.document import ArticulationMap
from tests.rendering.any_maps import any_maps
from tests.rendering.made_maps import resolves

SCHEMA = Draft202012Validator(schemas([ArticulationMap])["articulation-map"])
SLOW = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])


def shuffled(document: Any, draw: Any) -> Any:
    """Return the same JSON with the fields of every object in another order."""
    if isinstance(document, dict):
        keys = draw(st.permutations(list(document)))
        return {key: shuffled(document[key], draw) for key in keys}
    return [shuffled(item, draw) for item in document] if isinstance(document, list) else document


@SLOW
@given(document=any_maps(), data=st.data())
def test_reading_and_writing_again_is_the_identity(document: Any, data: st.DataObject) -> None:
    body = json.dumps(document).encode()
    kept = canonical(read(ArticulationMap, body))
    assert canonical(read(ArticulationMap, kept)) == kept
    other = json.dumps(shuffled(document, data.draw), ensure_ascii=data.draw(st.booleans()), indent=data.draw(st.sampled_from([None, 2])))
    assert digest(canonical(read(ArticulationMap, other.encode()))) == digest(kept)


@SLOW
@given(document=any_maps())
def test_the_schema_accepts_what_the_reader_accepts(document: Any) -> None:
    assert [error.message for error in SCHEMA.iter_errors(document)] == []
    assert SCHEMA.is_valid(json.loads(canonical(read(ArticulationMap, json.dumps(document).encode()))))


@SLOW
@given(document=any_maps())
def test_every_map_compiles_and_what_is_said_of_it_has_a_place(document: Any) -> None:
    read_map = read(ArticulationMap, json.dumps(document).encode())
    sampler = compile_map(read_map)
    assert len(sampler.start) == sampler.registers
    assert all(len(entry.loudness.velocity) == 1001 and min(entry.loudness.velocity) >= 1 for entry in sampler.entries)
    for found in check(read_map):
        assert found.place.pointer is not None
        assert resolves(document, found.place.pointer), found
        assert message(found).count(" – ") >= 1
