"""What can be wrong with a map beyond its shape: every problem at once, each with its place."""

from __future__ import annotations

from rendering.codes import severity
from rendering.documents import MOST_PROBLEMS, limited
from rendering.maps import field_checks, mark_checks, state_checks, switch_checks
from rendering.maps.compile import compile_map
from rendering.maps.document import ArticulationMap
from rendering.maps.facts import Facts
from rendering.maps.references import references
from rendering.problems import Problem

CHECKS = (
    field_checks.ranges,
    field_checks.bands,
    field_checks.conditions,
    field_checks.strikes,
    field_checks.needs,
    field_checks.alternates,
    field_checks.usual,
    switch_checks.keys_in_range,
    switch_checks.keys_two_ways,
    switch_checks.latch_places,
    switch_checks.shared,
    switch_checks.doubled,
    switch_checks.paged,
    switch_checks.too_many,
    switch_checks.held_defaults,
    switch_checks.controllers,
    switch_checks.banks,
    mark_checks.plays,
    mark_checks.rivals,
    mark_checks.reachable,
    mark_checks.stand_ins,
)
# Of the compiled map: only once its ids resolve.
COMPILED_CHECKS = (state_checks.states, state_checks.velocity_gaps)


def check(document: ArticulationMap) -> list[Problem]:
    """Return every problem of a map, each with a pointer that resolves in it as sent; empty if it is sound.

    Of hundreds the first are listed, errors before all else, and the rest is counted.
    """
    facts = Facts(document)
    found = references(document)
    sampler = None if found else compile_map(document)
    for one in CHECKS:
        found += one(facts)
    if sampler is not None:
        for compiled in COMPILED_CHECKS:
            found += compiled(facts, sampler)
    if len(found) > MOST_PROBLEMS:
        found.sort(key=lambda one: severity(one) != "error")
    return limited(found)
