"""The demo's string parts, rendered by us and played by sfizz: each note's tone is the articulation chosen for it."""

from __future__ import annotations

import json
from collections import defaultdict
from functools import cache
from typing import Any

import pytest

from fixtures import demo
from rendering.documents import read
from rendering.listening import Seat, listen
from rendering.maps.compile import compile_map
from rendering.maps.document import ArticulationMap
from rendering.midi import decode
from rendering.pipeline import Rendering, render
from rendering.templates import Template
from tests.outside.ears.sfz import HeardTone, disagreements, play_sfz

STRINGS = ["solo-violin", "violin-1", "violin-2", "violas", "cellos", "basses"]
TEMPLATE = read(Template, (demo.FOLDER / "tarn-house-template.json").read_bytes())


@cache
def rendered() -> tuple[Rendering, dict[str, ArticulationMap]]:
    maps = {track.id: read(ArticulationMap, (demo.FOLDER / (track.map.file or "")).read_bytes()) for track in TEMPLATE.tracks}
    return render(demo.SCORE, template=TEMPLATE, template_maps=maps), maps


def chosen(track: str) -> dict[int, set[str]]:
    """Return the ids of the articulations chosen at each tick at which notes of a track are sent."""
    trace: dict[str, Any] = json.loads(rendered()[0].files["notes.json"])
    at = trace["columns"].index
    found: dict[int, set[str]] = defaultdict(set)
    for row in trace["rows"]:
        if row[at("track")] == track:
            found[row[at("on")]].update(row[at("articulations")])
    return found


@cache
def played(track: str) -> tuple[list[HeardTone], list[str]]:
    """Return the tones heard of a track in the file of all tracks, and the ids of its articulations by index."""
    result, maps = rendered()
    table = compile_map(maps[track])
    data = result.files["all.mid"]
    name = next(t.name for t in TEMPLATE.tracks if t.id == track)
    index = next(i for i, t in enumerate(decode.read(data).tracks) if t.name == name)
    return play_sfz(data, table, index), [e.id for e in table.entries]


@pytest.mark.parametrize("track", STRINGS)
def test_the_tone_heard_is_the_articulation_chosen(track: str) -> None:
    tones, names = played(track)
    wanted = chosen(track)
    assert len(tones) >= 40
    assert {tone.tick for tone in tones} == wanted.keys()
    heard = {tone.tick: {names[e] for entries in tone.entries for e in entries} for tone in tones}
    assert heard == wanted
    assert all(entries for tone in tones for entries in tone.entries)


def test_many_articulations_are_heard() -> None:
    """So that the comparison above is one of many different tones."""
    assert len({name for track in STRINGS for ids in chosen(track).values() for name in ids}) >= 12


@pytest.mark.parametrize("track", STRINGS)
def test_our_listener_hears_what_sfizz_plays_joins_included(track: str) -> None:
    result, maps = rendered()
    table = compile_map(maps[track])
    channel = next(t.channel for t in TEMPLATE.tracks if t.id == track)
    heard = listen(decode.read(result.files["all.mid"]).tracks, [Seat(table, channel - 1)])
    tones, _ = played(track)
    assert disagreements(tones, heard, range(len(heard))) == []
    assert [tone.joined for tone in tones] == [bool(joined) for joined in heard.joined]
    assert sum(heard.joined) >= 10
