"""A real quartet movement all the way: uploaded, assigned to the demo's strings, rendered, downloaded, compared.

The score is music21's corpus file beethoven/opus59no1/movement2 (Op. 59 No. 1, second movement), read from the
installed package; fifteen of its measures are not as long as their meter says. Onsets and keys are held against
the tests' plain reader, and that against Verovio in tests/outside/test_oracles.py.
"""

from __future__ import annotations

import io
import json
from collections import Counter
from fractions import Fraction
from typing import Any

import mido
import pytest
from django.core.management import call_command
from django.test import Client

from fixtures import demo
from mappings import jobs
from rendering.documents import read
from rendering.maps.compile import compile_map
from rendering.maps.document import ArticulationMap
from rendering.marks import BIT
from tests.mappings.world import bearer
from tests.outside import plain_reader
from tests.outside.reading import CORPUS
from tests.outside.test_oracles import TABLE

MOVEMENT = "beethoven/opus59no1/movement2.mxl"
TRACKS = {"P1": "violin-1", "P2": "violin-2", "P3": "violas", "P4": "cellos"}


@pytest.mark.django_db
def test_a_quartet_movement_comes_out_as_proven_midi() -> None:
    rendered = _whole_way()
    check_the_proof_finds_no_disagreement(rendered)
    check_onsets_and_keys_are_those_of_the_page(rendered)
    check_what_is_told_is_what_the_file_says(rendered)
    check_every_staccato_note_plays_a_short_articulation(rendered)
    check_every_pizzicato_and_arco_of_the_page_is_a_switch(rendered)


def _whole_way() -> dict[str, Any]:
    call_command("demo", stdout=io.StringIO())
    from django.conf import settings

    client = bearer((settings.DATA / "demo" / "token").read_text("ascii").strip())
    team = client.get("/api/v1/teams").json()["items"][0]["id"]
    template = next(t["id"] for t in client.get(f"/api/v1/teams/{team}/templates").json()["items"] if t["name"] == demo.TEMPLATES[0].name)
    data = (CORPUS / MOVEMENT).read_bytes()
    answer = client.post(f"/api/v1/teams/{team}/scores?title=Allegretto", data, content_type="application/vnd.recordare.musicxml")
    assert answer.status_code == 201
    score = answer.json()["id"]
    _carry()
    made = client.post(
        f"/api/v1/teams/{team}/renders",
        json.dumps({
            "score": score, "score_version": 1, "template": template, "options": {},
            "assignment": [{"part": part, "tracks": [track]} for part, track in TRACKS.items()],
        }),
        content_type="application/json",
    )  # fmt: skip
    assert made.status_code == 201, made.json()["errors"]
    render = made.json()["id"]
    _carry()
    return {"report": client.get(f"/api/v1/renders/{render}/report").json(), "data": data, **_files(client, render)}


def _carry() -> None:
    for job in jobs.sweep():
        jobs.run(*job)


def _files(client: Client, render: str) -> dict[str, Any]:
    def body(name: str) -> bytes:
        answer = client.get(f"/api/v1/renders/{render}/files/{name}")
        assert answer.status_code == 200, name
        return b"".join(answer.streaming_content) if answer.streaming else answer.content

    return {"midi": body("all.mid"), "notes": json.loads(body("notes.json"))}


def check_the_proof_finds_no_disagreement(rendered: dict[str, Any]) -> None:
    proof = rendered["report"]["proof"]
    assert proof["disagree"] == []
    assert proof["notes"] > 6500
    assert proof["yielded"] <= proof["notes"] // 100


def check_onsets_and_keys_are_those_of_the_page(rendered: dict[str, Any]) -> None:
    """What is heard, by notes.json, against the plain reader; graces apart, whose onset is this project's choice."""
    reading = plain_reader.read(rendered["data"])
    graces = {(part, n.source) for part, notes in reading.parts.items() for n in notes if n.grace}
    shift = rendered["report"]["preroll"]["ticks"]
    heard: Counter[tuple[str, Fraction, int]] = Counter()
    for row in rendered["notes"]["rows"]:
        note = dict(zip(rendered["notes"]["columns"], row, strict=True))
        if (note["part"], note["note"]) not in graces:
            heard[note["part"], Fraction(note["heard"] - shift, 960), note["key"]] += 1
    plain = Counter((part, n.onset, n.key) for part, notes in plain_reader.play(reading).items() for n in notes)
    # A note whose lead had to be cut is heard late; the report counts these, and there is hardly one.
    late, due = list((heard - plain).elements()), list((plain - heard).elements())
    assert len(late) == len(due) <= rendered["report"]["proof"]["yielded"] <= 10
    for (part, onset, key), (same_part, page, same_key) in zip(sorted(late), sorted(due), strict=True):
        assert (part, key) == (same_part, same_key)
        assert 0 < onset - page < Fraction(1, 32)
    assert TABLE[MOVEMENT] == []  # Verovio differs in no note of this movement, graces apart


def check_what_is_told_is_what_the_file_says(rendered: dict[str, Any]) -> None:
    """The rows of notes.json are the note-ons of the bytes, as mido reads them, switches apart."""
    samplers = [compile_map(read(ArticulationMap, i.body)) for i in demo.LIBRARIES[0].instruments]
    switches = {m.name: {*m.latches, *m.toggles, *m.held} for m in samplers}
    rows = [dict(zip(rendered["notes"]["columns"], row, strict=True)) for row in rendered["notes"]["rows"]]
    for track in mido.MidiFile(file=io.BytesIO(rendered["midi"]), charset="utf-8").tracks[1:]:
        mine = next(t for t in rendered["report"]["tracks"] if t["name"] == track.name)
        at, found = 0, Counter()
        for message in track:
            at += message.time
            if message.type == "note_on" and message.velocity and message.note not in switches[mine["map"]]:
                found[at, message.note] += 1
        assert found == Counter((n["on"], n["key"]) for n in rows if n["track"] == mine["id"] and n["on"] is not None)


def check_every_staccato_note_plays_a_short_articulation(rendered: dict[str, Any]) -> None:
    """But those of which a mark of a higher rank asks for another sample; of these the dot shortens the note."""
    rows = [dict(zip(rendered["notes"]["columns"], row, strict=True)) for row in rendered["notes"]["rows"]]
    dotted = [n for n in rows if "staccato" in n["outcomes"]]
    higher = {"pizzicato", "portato", "legato", "trill half", "trill whole"}
    short = [n for n in dotted if not higher & n["outcomes"].keys()]
    assert len(short) > 1000
    assert {(n["outcomes"]["staccato"], n["articulations"][0]) for n in short} == {("exact", "short")}
    others = [n for n in dotted if higher & n["outcomes"].keys()]
    assert len(others) < 100
    assert {n["outcomes"]["staccato"] for n in others} == {"shaped"}


def check_every_pizzicato_and_arco_of_the_page_is_a_switch(rendered: dict[str, Any]) -> None:
    """Words of the XML, counted plainly, against where notes begin and end to be plucked."""
    root = plain_reader.document(rendered["data"])
    words = Counter(text for w in root.iter("words") for text in [(w.text or "").strip().lower().rstrip(".")] if text in {"pizz", "arco"})
    assert words == {"pizz": 4, "arco": 3}
    rows = [dict(zip(rendered["notes"]["columns"], row, strict=True)) for row in rendered["notes"]["rows"]]
    changes: Counter[str] = Counter()
    for part in TRACKS:
        plucked = False
        for n in sorted((n for n in rows if n["part"] == part and n["pass"] == 1), key=lambda n: (n["heard"], n["key"])):
            now = "pizzicato" in n["outcomes"]
            if now != plucked:
                changes["pizz" if now else "arco"] += 1
                plucked = now
            assert not now or n["outcomes"]["pizzicato"] == "exact"
    assert changes == words
    assert "pizzicato" in BIT
