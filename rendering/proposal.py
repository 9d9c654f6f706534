"""Which tracks the parts of a score go to by themselves, told from its summary: nothing is read or rendered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from rendering.assign import Described, automatic_tracks
from rendering.codes import message
from rendering.maps.document import ArticulationMap
from rendering.problems import Place, problem
from rendering.score import Part
from rendering.templates import Template


def propose(parts: Sequence[Mapping[str, Any]], template: Template, maps: Mapping[str, ArticulationMap]) -> list[dict[str, Any]]:
    """Return a row for each of a summary's `parts`: {"part", "name", "tracks": [ids], "problems": [sentences]}.

    Without tracks a part is left over. `maps` are the maps of the template's tracks by track id. The rows
    with tracks, without names and problems, are an assignment that asks for just this.
    """
    return [_row(_described(i, part), template, maps) for i, part in enumerate(parts)]


def _described(index: int, part: Mapping[str, Any]) -> Described:
    return Described(
        index=index,
        part=Part(id=part["id"], name=part["name"]),
        sound=part["sound"],
        players=part["players"],
        numbers=tuple(part["numbers"]),
        program=-1,
        unpitched=False,
    )


def _row(it: Described, template: Template, maps: Mapping[str, ArticulationMap]) -> dict[str, Any]:
    tracks, found = automatic_tracks(it, template, maps)
    if not tracks:
        found = [problem("part-without-track", Place(part=it.part.id, part_name=it.part.name), sound=it.sound or "unknown")]
    return {"part": it.part.id, "name": it.part.name, "tracks": tracks, "problems": [message(p) for p in found]}
