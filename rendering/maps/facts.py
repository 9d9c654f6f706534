"""What several checks of a map need to know, found once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from pydantic import BaseModel

from rendering.documents import escaped
from rendering.maps.document import AnyTrigger, Articulation, ArticulationMap, Keyswitch, Range, Shift
from rendering.problems import Place

ALIASES = {"with": "with_", "for": "for_"}


def place(document: BaseModel, *path: str | int) -> Place:
    """Return the place of a part of a document; where that was not sent, of what would hold it."""
    at: object = document
    kept: list[str | int] = []
    for step in path:
        if isinstance(at, BaseModel):
            name = ALIASES.get(str(step), str(step))
            if name not in at.model_fields_set:
                break
            at = getattr(at, name)
        elif isinstance(at, tuple) and isinstance(step, int):
            at = at[step]
        kept.append(step)
    return Place(pointer=escaped(kept))


class Use(NamedTuple):
    """Trigger `j` of articulation `i`."""

    i: int
    j: int
    it: Articulation
    trigger: AnyTrigger


@dataclass(slots=True)
class Facts:
    """A map with its triggers in one list, and what is known by id."""

    document: ArticulationMap
    uses: list[Use] = field(init=False)
    index: dict[str, int] = field(init=False)  # articulation id -> its place; of equal ids the first
    defaults: set[str] = field(init=False)

    def __post_init__(self) -> None:
        articulations = self.document.articulations
        self.uses = [Use(i, j, it, trigger) for i, it in enumerate(articulations) for j, trigger in enumerate(it.triggers)]
        self.index = {it.id: i for i, it in reversed(list(enumerate(articulations)))}
        self.defaults = {memory.default for memory in self.document.memories}

    def at(self, *path: str | int) -> Place:
        """Return the place of a part of the map."""
        return place(self.document, *path)

    def at_trigger(self, use: Use, *path: str | int) -> Place:
        """Return the place of a part of a trigger."""
        return self.at("articulations", use.i, "triggers", use.j, *path)

    def keyswitches(self) -> Iterator[tuple[Use, Keyswitch]]:
        """Yield every keyswitch of the map, in order."""
        for use in self.uses:
            if isinstance(use.trigger, Keyswitch):
                yield use, use.trigger

    def range_of(self, it: Articulation) -> Range:
        """Return the sounding keys of an articulation."""
        return it.range or self.document.range

    def sent(self, it: Articulation) -> tuple[int, int]:
        """Return lowest and highest key that is sent for notes of an articulation; may lie outside MIDI's."""
        if it.key is not None:
            return it.key, it.key
        shift = self.document.key_offset + sum(trigger.shift for trigger in it.triggers if isinstance(trigger, Shift))
        keys = self.range_of(it)
        return keys.lowest + shift, keys.highest + shift


def latches(trigger: Keyswitch) -> bool:
    """Tell whether the sampler remembers this key: it is neither held nor a toggle."""
    return trigger.hold == "no" and not trigger.toggle
