"""The tryout of a map: map to bytes to what a sampler hears, closed."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from rendering.listening import Heard, Seat, listen
from rendering.maps.compile import compile_map
from rendering.maps.document import ArticulationMap
from rendering.maps.keys import readings
from rendering.maps.table import Sampler
from rendering.midi import decode, dump
from rendering.midi.meta import MARKER
from rendering.tryout import trigger_words, tryout, tryout_text
from tests.outside.mido_dump import mido_dump
from tests.rendering.random_maps import maps
from tests.rendering.tapes import articulation_map

Rows = list[dict[str, Any]]


def played(document: ArticulationMap, ppq: int = 960) -> tuple[Sampler, decode.File, Rows, Heard]:
    """Return the table, the tryout's tracks and rows, and what a sampler hears at each place that rows name."""
    sampler = compile_map(document)
    data, rows = tryout(document, sampler, ppq)
    file = decode.read(data)
    labels = {row["port"] - 1: label_of(sampler, entry_of(sampler, row["articulation"])) for row in rows}
    claimed = {e.channel for e in sampler.entries}
    own = next((c for c in range(16) if c not in claimed), 0)
    return sampler, file, rows, listen(file.tracks, [Seat(sampler, own, port, label) for port, label in labels.items()])


def label_of(sampler: Sampler, entry: Any) -> str:
    """Return the label of the track that plays an entry with what it needs."""
    return next((e.track for e in (entry, *(sampler.entries[i] for i in entry.needs)) if e.track), "")


def entry_of(sampler: Sampler, name: str) -> Any:
    return next(e for e in sampler.entries if e.id == name)


def markers(file: decode.File) -> list[tuple[int, str]]:
    return [(m.tick, decode.text(m.contents)) for m in file.tracks[0].metas if m.kind == MARKER]


def assert_heard_as_marked(document: ArticulationMap) -> None:
    """Every note between a marker and the next is heard as that marker's articulation, all else on what it needs."""
    sampler, file, rows, heard = played(document)
    assert [row["articulation"] for row in rows[: len(sampler.defaults)]] == [sampler.entries[e].id for e in sampler.defaults]
    assert sorted(row["articulation"] for row in rows) == sorted(e.id for e in sampler.entries)
    assert markers(file) == [((row["measure"] - 1) * 4 * 960, row["marker"]) for row in rows]
    assert (heard.problems, heard.changes) == ([], [])
    starts = [tick for tick, _ in markers(file)]
    found: list[list[int]] = [[] for _ in rows]
    for row in sorted(range(len(heard)), key=lambda i: heard.on[i]):
        section = max(i for i, start in enumerate(starts) if heard.on[row] >= start - 400)  # leads are shorter than 400 ticks
        found[section].append(row)
    for row, notes in zip(rows, found, strict=True):
        assert_section(document, sampler, heard, row, notes)


def assert_section(document: ArticulationMap, sampler: Sampler, heard: Heard, row: dict[str, Any], notes: list[int]) -> None:
    entry = entry_of(sampler, row["articulation"])
    wanted = {entry.memory: entry.index, **{sampler.entries[i].memory: i for i in entry.needs}}
    every = tuple(wanted.get(memory, default) for memory, default in enumerate(sampler.defaults))
    groups = [[key_of(name, document.middle_c) for name in group.split("-") if name] for group in map(unsigned, row["keys"])]
    assert [heard.entries(i) for i in notes] == [every] * sum(map(len, groups))
    assert [heard.sounding[i] for i in notes] == [key for group in groups for key in group]
    assert [heard.joined[i] for i in notes] == [int(at > 0) for group in groups for at in range(len(group))]
    assert all(max(group) <= entry.highest and min(group) >= entry.lowest for group in groups)
    lead = max(sampler.entries[i].lead_first_ms for i in every)
    assert [heard.on[i] for i in notes[:1]] == [(row["measure"] - 1) * 4 * 960 - half_up_ticks(lead)]
    assert {heard.channel[i] + 1 for i in notes} == {row["channel"]}
    assert {heard.port[i] + 1 for i in notes} == {row["port"]}


def half_up_ticks(ms: int) -> int:
    """Return milliseconds in ticks at 120 quarters a minute, 960 ticks each."""
    return -((-ms * 192 * 2 + 100) // 200)


def unsigned(group: str) -> str:
    """Spell a negative octave so that the hyphen between the keys of a pair is the only one."""
    return group.replace("-1", "~1").replace("-2", "~2")


def key_of(name: str, middle_c: str) -> int:
    found = readings(name.replace("~", "-"))
    assert found is not None
    return found[middle_c]


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(maps())
def test_every_articulation_of_any_sound_map_is_heard_where_its_marker_stands(document: ArticulationMap) -> None:
    assert_heard_as_marked(document)


STRINGS = articulation_map([
    {"id": "bowed", "name": "Bowed", "triggers": [{"keyswitch": 24}], "lead_ms": {"first": 90, "connected": 40}},
    {"id": "slurred", "name": "Slurred", "plays": [["legato"]], "triggers": [{"keyswitch": 25}], "overlap_ms": 60, "joins": True},
    {"id": "trill", "name": "Trill", "plays": [["trill"]], "triggers": [{"keyswitch": 26, "hold": "note"}], "length": {"at_most_ms": 100}},
    {"id": "open", "name": "Open", "memory": "mute", "triggers": [{"controller": 20, "value": [0, 63]}]},
    {"id": "muted", "name": "Muted", "memory": "mute", "plays": [["con sordino"]], "triggers": [{"controller": 20, "value": 127}]},
], range={"lowest": 55, "highest": 57})  # fmt: skip


def test_a_tryout_event_by_event() -> None:
    data, _rows = tryout(STRINGS, compile_map(STRINGS))
    assert dump.text(data) == mido_dump(data)
    lines = dump.text(data).splitlines()
    assert lines[:9] == [
        "format 1, 960 ticks per quarter note", '0 1 - track_name "Test strings"', "0 1 - tempo 500000", "0 1 - time_signature 4/4 24 8",
        '7680 1 - marker "1 Bowed"', '19200 1 - marker "2 Open"', '30720 1 - marker "3 Slurred"', '46080 1 - marker "4 Trill"',
        '53760 1 - marker "5 Muted"',
    ]  # fmt: skip
    assert "\n".join(lines[10:]).splitlines()[:14] == [
        '0 2 - track_name "Test strings"', "0 2 - port 0",
        "3840 2 1 note_on 24 100", "3878 2 1 note_off 24 64", "3879 2 1 controller 20 31", "3880 2 1 controller 1 79",
        "7507 2 1 note_on 55 96", "9120 2 1 note_off 55 64", "9427 2 1 note_on 56 96", "11040 2 1 note_off 56 64",
        "11347 2 1 note_on 57 96", "12960 2 1 note_off 57 64", "15360 2 1 controller 20 31", "15361 2 1 controller 1 79",
    ]  # fmt: skip
    assert [line for line in lines if 36000 < int(line.split()[0].replace("format", "0")) < 41000] == [
        "36480 2 1 note_on 56 96", "38400 2 1 note_on 57 96", "38515 2 1 note_off 56 64", "39840 2 1 note_off 57 64",
    ]  # fmt: skip
    assert [line for line in lines if 46000 < int(line.split()[0].replace("format", "0")) < 47000][1:] == [
        "46061 2 1 note_on 26 100", "46080 2 1 note_on 55 96", "46272 2 1 note_off 55 64", "46272 2 1 note_off 26 64",
    ]  # fmt: skip


def test_the_printed_list() -> None:
    _, rows = tryout(STRINGS, compile_map(STRINGS))
    assert rows[2] == {
        "marker": "3 Slurred", "measure": 9, "beat": 1, "articulation": "slurred", "memory": "bow", "trigger": "key C#1 (25)",
        "keys": ["G3", "G#3", "A3", "G#3-A3"], "track": "Test strings", "port": 1, "channel": 1,
    }  # fmt: skip
    assert tryout_text(rows) == (
        "measure 3, beat 1: 1 Bowed – key C1 (24) – G3 G#3 A3 – track “Test strings”, channel 1\n"
        "measure 6, beat 1: 2 Open – controller 20 at 0 to 63 – G3 G#3 A3 – track “Test strings”, channel 1\n"
        "measure 9, beat 1: 3 Slurred – key C#1 (25) – G3 G#3 A3 G#3-A3 – track “Test strings”, channel 1\n"
        "measure 13, beat 1: 4 Trill – key D1 (26), held through the note – G3 G#3 A3 – track “Test strings”, channel 1\n"
        "measure 15, beat 1: 5 Muted – controller 20 at 127 – G3 G#3 A3 – track “Test strings”, channel 1\n"
    )


@pytest.mark.parametrize(("triggers", "words"), [
    ([], "no switch"),
    ([{"keyswitch": "C1"}], "key C1 (36)"),
    ([{"keyswitch": 37, "hold": "note-on"}], "key C#1 (37), held at the note-on"),
    ([{"keyswitch": 37, "toggle": True}], "key C#1 (37) as a toggle"),
    ([{"keyswitch": 36}, {"keyswitch": 37}], "key C1 (36), then key C#1 (37)"),
    ([{"controller": 20, "value": 5}, {"channel": 3}], "controller 20 at 5, then channel 3"),
    ([{"program": 40}], "program 40"),
    ([{"program": 40, "bank_msb": 0, "bank_lsb": 3}], "program 40, bank MSB 0, bank LSB 3"),
    ([{"velocities": [1, 64]}], "velocities 1 to 64"),
    ([{"shift": 24}], "keys +24 semitones"),
    ([{"shift": -12}], "keys -12 semitones"),
    ([{"track": "short notes"}], "track “short notes”"),
])  # fmt: skip
def test_triggers_in_words(triggers: list[dict[str, Any]], words: str) -> None:
    assert trigger_words(articulation_map([{"id": "it", "triggers": triggers}], middle_c="C3"), 0) == words


def test_strikes_are_played_by_their_key_and_damped() -> None:
    kit = articulation_map([
        {"id": "crash", "name": "Crash", "strike": "metal.cymbal.crash", "key": 49, "rings": True, "damp": 30},
        {"id": "choked", "name": "Choked", "strike": "metal.cymbal.splash", "key": 55, "memory": "other", "damp": 49},
    ], key_offset=12)  # fmt: skip
    _, _, rows, heard = played(kit)
    assert (heard.key, [row["keys"] for row in rows]) == ([49, 55], [["C#3"], ["G3"]])
    assert [(d.key, d.tick - heard.off[0]) for d in heard.damps] == [(30, 960)]


def test_what_an_articulation_puts_back_is_sent_again_after_it() -> None:
    """The plucked patch comes up with its mute off and needs it on; the memory of the mute stands before its own."""
    assert_heard_as_marked(articulation_map([
        {"id": "open", "memory": "mute", "triggers": [{"keyswitch": 24}]},
        {"id": "muted", "memory": "mute", "plays": [["con sordino"]], "triggers": [{"keyswitch": 25}]},
        {"id": "arco", "triggers": [{"program": 40}], "resets": ["mute"]},
        {"id": "plucked", "plays": [["pizzicato"]], "triggers": [{"program": 45}], "resets": ["mute"], "with": ["muted"]},
    ], range={"lowest": 55, "highest": 57}))  # fmt: skip


def test_a_range_without_a_key_that_can_be_sent_is_said() -> None:
    document = articulation_map([{"id": "it", "name": "Mute", "range": {"lowest": 60, "highest": 64}}], range={"lowest": 70, "highest": 80})
    _, _, rows, heard = played(document)
    assert (len(heard), rows[0]["keys"]) == (0, [])
    assert tryout_text(rows) == "measure 3, beat 1: 1 Mute – no switch – no key that can be sent – track “Test strings”, channel 1\n"


def test_it_stays_clear_of_switch_keys_and_inside_when() -> None:
    document = articulation_map([
        {"id": "low", "triggers": [{"keyswitch": 60}], "when": {"keys": [60, 63], "ms": [900, 1000], "level": [100, 200]}},
        {"id": "high", "triggers": [{"keyswitch": 62}], "plays": [["staccato"]]},
    ], range={"lowest": 60, "highest": 64})  # fmt: skip
    _, _, rows, heard = played(document)
    assert [row["keys"] for row in rows] == [["C#4"], ["C#4", "D#4", "E4"]]
    assert (heard.off[0] - heard.on[0], heard.level[0]) == (1728, (25,))  # 900 ms; level 199 of 1000 through a straight line


def test_ticks_a_quarter_may_be_chosen() -> None:
    data, _rows = tryout(STRINGS, compile_map(STRINGS), 96)
    file = decode.read(data)
    assert (file.ppq, markers(file)[0]) == (96, (768, "1 Bowed"))


def test_the_map_of_the_documents_page_is_heard() -> None:
    document = articulation_map(json.loads("""[
        {"id": "bowed", "plays": [], "triggers": [{"keyswitch": 24}], "lead_ms": {"first": 90, "connected": 40}},
        {"id": "slurred", "plays": [["legato"]], "triggers": [{"keyswitch": 25}], "voices": 1, "overlap_ms": 60, "joins": true},
        {"id": "off-string", "plays": [["spiccato"], ["staccato"]], "triggers": [{"keyswitch": 26}],
         "loudness": {"by": "velocity", "points": [[0, 20], [1000, 127]]}, "lead_ms": {"first": 15}, "length": {"at_most_ms": 250},
         "when": {"ms": [0, 400]}},
        {"id": "tremolo-muted", "plays": [["tremolo", "con sordino"]], "triggers": [{"keyswitch": 29}]},
        {"id": "mute-off", "memory": "mute", "triggers": [{"controller": 20, "value": 0}]},
        {"id": "mute-on", "memory": "mute", "plays": [["con sordino"]], "triggers": [{"controller": 20, "value": 127}]}]"""))  # fmt: skip
    assert_heard_as_marked(document)
