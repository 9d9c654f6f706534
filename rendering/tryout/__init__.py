"""A MIDI file that plays every articulation of a map in turn, to check the map against the real library.

At 120 a minute in 4/4 each articulation has a marker on a bar line. Before it, in silence, stand the
switches that lead to it, one after the other, every other memory being on its default; from the marker
on follow a low, a middle and a high note, two beats or more apart, and for an articulation that joins
notes a slurred pair. Notes are sent early by the articulation's lead: if the lead is right, they are
heard on the beat.
"""

from __future__ import annotations

from rendering.maps.document import ArticulationMap
from rendering.maps.keys import key_name
from rendering.maps.table import Entry, Sampler
from rendering.midi import encode, meta
from rendering.timeline import DEFAULT_MICROS, PPQ, Clock
from rendering.tryout.desk import BEATS, Desk
from rendering.tryout.plan import Plan
from rendering.tryout.words import trigger_words, tryout_text

__all__ = ["trigger_words", "tryout", "tryout_text"]


def tryout(document: ArticulationMap, sampler: Sampler, ppq: int = PPQ) -> tuple[bytes, list[dict[str, object]]]:
    """Return a format 1 file and, for each articulation in the order of the file, what it plays.

    sampler  the table of the same map; the map should have no errors, else a switch may not do what it says
    rows     `marker` (also the text of the FF 06), `measure` and `beat` (from 1) where it stands,
             `articulation` and `memory` (ids), `trigger` (in words), `keys` (names of the sounding keys
             in the map's convention, in the order played, a slurred pair as "A4-B4"), `track` (the name of
             the MIDI track that plays it), `port` (from 1) and `channel` (1-16)

    The first track holds tempo, meter and markers; then comes one for each (track label, channel) that
    the map uses. Labels go to ports 2, 3 and so on. `keys` is empty where no key of the range can be sent.
    """
    clock = Clock([], ppq)
    desks: dict[tuple[int, int], Desk] = {}
    ports = {"": 0}
    rows: list[dict[str, object]] = []
    markers: list[tuple[int, bytes]] = []
    tick = BEATS * ppq
    for number, entry in enumerate(_in_order(sampler), 1):
        plan = Plan(sampler, entry)
        port = ports.setdefault(plan.label, len(ports))
        if (port, plan.channel) not in desks:
            desks[port, plan.channel] = Desk(sampler, plan, clock, port)
        desk = desks[port, plan.channel]
        first, tick = desk.play(plan, tick)
        marker = f"{number} {entry.name}"
        markers.append((first, meta.marker(marker)))
        rows.append(
            _row(document, sampler, plan) | {"marker": marker, "measure": first // (BEATS * ppq) + 1, "track": desk.name, "port": port + 1}
        )
    head = [(0, meta.track_name(sampler.name)), (0, meta.tempo(DEFAULT_MICROS)), (0, meta.time_signature(BEATS, 4)), *markers]
    chunks = [encode.track([], head, 0, tick), *(desk.chunk(tick) for desk in desks.values())]
    return encode.file(chunks, ppq), rows


def _row(document: ArticulationMap, sampler: Sampler, plan: Plan) -> dict[str, object]:
    return {
        "marker": "",
        "measure": 0,
        "beat": 1,
        "articulation": plan.entry.id,
        "memory": sampler.memories[plan.entry.memory],
        "trigger": trigger_words(document, plan.entry.index),
        "keys": ["-".join(key_name(key, document.middle_c) for key in keys) for keys in plan.groups],
        "track": "",
        "port": 0,
        "channel": plan.channel + 1,
    }


def _in_order(sampler: Sampler) -> list[Entry]:
    """Return all entries: the defaults first, then the others, each in the order of the map."""
    defaults = [sampler.entries[index] for index in sampler.defaults]
    return defaults + [entry for entry in sampler.entries if entry.index not in sampler.defaults]
