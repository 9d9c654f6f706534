"""Whether the ids in a map name something: what must hold before it can be compiled."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rendering.documents import escaped, shown
from rendering.maps.document import Articulation, ArticulationMap
from rendering.problems import Place, Problem, problem


def at(*path: str | int) -> Place:
    """Return the place of a part of the document."""
    return Place(pointer=escaped(path))


def references(document: ArticulationMap) -> list[Problem]:
    """Return a problem for each id that is doubled, and each reference that does not resolve; all errors."""
    memory_of = {it.id: it.memory for it in document.articulations}
    found = list(_doubled("memory-doubled", "memories", [memory.id for memory in document.memories]))
    found += _doubled("articulation-doubled", "articulations", [it.id for it in document.articulations])
    for i, memory in enumerate(document.memories):
        found += _default(i, memory.id, memory.default, memory_of)
    memories = {memory.id for memory in document.memories}
    for i, it in enumerate(document.articulations):
        found += _articulation(i, it, memories, memory_of)
    return found


def _doubled(code: str, field: str, ids: list[str]) -> Iterator[Problem]:
    seen: set[str] = set()
    for i, name in enumerate(ids):
        if name in seen:
            yield problem(code, at(field, i, "id"), id=shown(name))
        seen.add(name)


def _default(i: int, memory: str, default: str, memory_of: dict[str, str]) -> Iterator[Problem]:
    if default not in memory_of:
        yield problem("default-unknown", at("memories", i, "default"), id=shown(default), memory=shown(memory))
    elif memory_of[default] != memory:
        yield problem("default-elsewhere", at("memories", i, "default"), id=shown(default), memory=shown(memory))


def _articulation(i: int, it: Articulation, memories: set[str], memory_of: dict[str, str]) -> Iterator[Problem]:
    if it.memory not in memories:
        yield problem("memory-unknown", at("articulations", i, "memory"), memory=shown(it.memory))
    for j, name in enumerate(it.resets):
        if name not in memories:
            yield problem("memory-unknown", at("articulations", i, "resets", j), memory=shown(name))
    for field, names in (("with", it.with_), ("alternates", it.alternates)):
        yield from _unknown(i, field, names, memory_of)


def _unknown(i: int, field: str, names: Iterable[str], known: dict[str, str]) -> Iterator[Problem]:
    for j, name in enumerate(names):
        if name not in known:
            yield problem("articulation-unknown", at("articulations", i, field, j), id=shown(name))
