"""What can be wrong with a map beyond its shape."""

from __future__ import annotations

from rendering.maps.document import ArticulationMap
from rendering.maps.references import references
from rendering.problems import Problem


def check(document: ArticulationMap) -> list[Problem]:
    """Return every problem of a map, each with a pointer into the document; empty if it is sound."""
    return references(document)
