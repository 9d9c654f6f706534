"""Random articulation maps of all triggers that have no errors: for properties that hold for any sound map."""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import product
from typing import Any

from hypothesis import assume
from hypothesis import strategies as st

from rendering.codes import severity
from rendering.documents import read
from rendering.maps.checks import check
from rendering.maps.document import ArticulationMap
from rendering.marks import MARKS

LOWEST, HIGHEST = 48, 72  # sounding keys; switches are taken from below, other zones from above
Triggers = list[dict[str, Any]]
ONCE = ("channel", "velocities", "shift", "track")  # triggers that act on the note: one memory at most


class Supply:
    """Keys, controllers and marks that have not been used yet, so that memories stay independent."""

    def __init__(self, draw: st.DrawFn, lowest_sent: int) -> None:
        self.draw = draw
        self.keys = list(range(lowest_sent))
        self.controllers = [3, 9, 14, 20, 21, 22, 23, 24, 25, 26]
        self.marks = [mark.name for mark in MARKS]

    def one(self, of: list[Any]) -> Any:
        return of.pop(self.draw(st.integers(0, len(of) - 1)))

    def key(self) -> int:
        return int(self.one(self.keys))

    def some(self, low: int = 2, high: int = 4) -> int:
        return self.draw(st.integers(low, high))

    def keyswitch(self, key: int | None = None, **fields: Any) -> dict[str, Any]:
        timing = {"ahead_ms": self.draw(st.sampled_from([0, 10, 150])), "length_ms": self.draw(st.sampled_from([1, 20, 400]))}
        return {"keyswitch": self.key() if key is None else key, **timing, **fields}


def latched(supply: Supply) -> list[Triggers]:
    return [[supply.keyswitch()] for _ in range(supply.some())]


def paged(supply: Supply) -> list[Triggers]:
    pages, items = [supply.key() for _ in range(2)], [supply.key() for _ in range(2)]
    return [[supply.keyswitch(page), supply.keyswitch(item)] for page, item in product(pages, items)]


def held(supply: Supply) -> list[Triggers]:
    holds = [supply.draw(st.sampled_from(["note-on", "note"])) for _ in range(supply.some(1, 3))]
    return [*latched(supply), *([supply.keyswitch(hold=hold)] for hold in holds)]


def toggled(supply: Supply) -> list[Triggers]:
    return [[], *([supply.keyswitch(toggle=True)] for _ in range(supply.some(1, 2)))]


def by_controller(supply: Supply) -> list[Triggers]:
    number, cuts = supply.one(supply.controllers), sorted(supply.draw(st.sets(st.integers(1, 126), min_size=1, max_size=3)))
    bands = zip([0, *cuts], [*(cut - 1 for cut in cuts), 127], strict=True)
    return [[{"controller": number, "value": [low, high] if low < high else low}] for low, high in bands]


def two_ways(supply: Supply) -> list[Triggers]:
    number = supply.one(supply.controllers)
    return [[{"controller": number, "value": 10 * i}, supply.keyswitch()] for i in range(supply.some())]


def by_program(supply: Supply) -> list[Triggers]:
    banks = supply.draw(st.sampled_from([{}, {"bank_msb": 1}, {"bank_msb": 0, "bank_lsb": 3}]))
    programs = supply.draw(st.sets(st.integers(0, 127), min_size=2, max_size=3))
    return [[{"program": program, **banks}] for program in sorted(programs)]


def by_channel(supply: Supply) -> list[Triggers]:
    channels = supply.draw(st.lists(st.integers(1, 16), min_size=1, max_size=3, unique=True))
    return [[], *([{"channel": channel}] for channel in channels)]


def by_velocities(supply: Supply) -> list[Triggers]:
    cut = supply.draw(st.integers(2, 126))
    return [[{"velocities": [1, cut]}], [{"velocities": [cut + 1, 127]}]]


def by_shift(supply: Supply) -> list[Triggers]:
    return [[], [{"shift": HIGHEST - LOWEST + 1}]]


def by_track(supply: Supply) -> list[Triggers]:
    return [[], *([{"track": f"chair {i}"}] for i in range(1, supply.some(2, 3)))]


KINDS = {
    "latched": latched, "paged": paged, "held": held, "toggled": toggled, "controller": by_controller, "two ways": two_ways,
    "program": by_program, "channel": by_channel, "velocities": by_velocities, "shift": by_shift, "track": by_track,
}  # fmt: skip


def articulations(draw: st.DrawFn, supply: Supply, memory: str, kind: str) -> Iterator[dict[str, Any]]:
    """Yield the articulations of a memory, its default first."""
    for i, triggers in enumerate(KINDS[kind](supply)):
        found: dict[str, Any] = {"id": f"{memory}-{i}", "name": f"{kind} {memory} {i}", "memory": memory, "triggers": triggers}
        if i:
            found["plays"] = [[supply.one(supply.marks)]]
        if kind == "paged":
            found["together"] = True
        found["lead_ms"] = {"first": draw(st.sampled_from([0, 35, 120])), "connected": draw(st.sampled_from([0, 60]))}
        if draw(st.booleans()):
            found |= {"joins": True, "overlap_ms": draw(st.sampled_from([0, 60, 2000]))}
        if draw(st.booleans()):
            found["length"] = {"at_most_ms": draw(st.sampled_from([1, 90, 5000]))}
        if draw(st.booleans()):
            found["loudness"] = draw(LOUDNESS)
        yield found


LOUDNESS: st.SearchStrategy[dict[str, Any]] = st.sampled_from([
    {"by": "velocity", "points": [[0, 20], [1000, 127]]},
    {"by": "controller", "controller": 1, "points": [[0, 8], [500, 64], [1000, 127]], "velocity": 90},
    {"by": "both", "controller": 11, "points": [[0, 0], [1000, 127]]},
])  # fmt: skip


@st.composite
def maps(draw: st.DrawFn, kinds: tuple[str, ...] = tuple(KINDS)) -> ArticulationMap:
    """Maps of one to three memories, each with its own kind of trigger, that `check` finds no error in."""
    once = (*ONCE, "program")
    chosen = draw(st.lists(st.sampled_from(kinds), min_size=1, max_size=3).filter(lambda k: all(k.count(x) < 2 for x in once)))
    offset = draw(st.sampled_from([0, 12, -12]))
    supply = Supply(draw, LOWEST + offset)
    entries = [list(articulations(draw, supply, f"m{i}", kind)) for i, kind in enumerate(chosen)]
    resets = [f"m{i}" for i, other in enumerate(chosen) if other in ("latched", "paged", "controller", "toggled")]
    if "program" in chosen and draw(st.booleans()):
        own = entries[chosen.index("program")]
        own[:] = [entry | {"resets": resets} for entry in own]
    if len(entries) > 1 and draw(st.booleans()):
        entries[0][-1]["with"] = [entries[1][-1]["id"]]
    document = {
        "kind": "articulation-map", "edition": 1, "name": "Random", "range": {"lowest": LOWEST, "highest": HIGHEST}, "key_offset": offset,
        "middle_c": draw(st.sampled_from(["C3", "C4", "C5"])), "loudness": draw(LOUDNESS),
        "memories": [{"id": f"m{i}", "default": own[0]["id"]} for i, own in enumerate(entries)],
        "articulations": draw(st.permutations([entry for own in entries for entry in own])),
    }  # fmt: skip
    found = read(ArticulationMap, json.dumps(document).encode())
    assume(not any(severity(p) == "error" for p in check(found)))
    return found
