"""Bad input at every door: a clear refusal with its place, nothing half-saved, no process of the service ended."""

from __future__ import annotations

import io
import json
import os
import zipfile
import zlib
from typing import Any

import pytest

from mappings import inline, models
from tests.mappings.calls import call, problem, resolve
from tests.mappings.world import TINY_SCORE, World, map_document

TABLES = (models.Map, models.MapRevision, models.Document, models.Blob, models.Score, models.ScoreVersion, models.Audit, models.MapMark)


def rows() -> dict[str, int]:
    return {table.__name__: table.objects.count() for table in TABLES}


def changed(**changes: Any) -> bytes:
    return json.dumps(map_document(**changes)).encode()


def with_articulation(**changes: Any) -> bytes:
    document = map_document()
    document["articulations"][1] |= changes
    return json.dumps(document).encode()


TWO_DEFAULTS = [{"id": "bow", "default": "bowed"}, {"id": "bow", "default": "short"}]
# name, body, status, code, (pointer, code) of each fault
DOCUMENTS = [
    ("wrong JSON", b'{"kind": "articulation-map",', 400, "not-json", [("", "not-json")]),
    ("not UTF-8", b'{"kind": "\xff"}', 400, "not-json", [("", "not-json")]),
    ("a number that is none", b'{"kind": NaN}', 400, "not-json", [("", "not-json")]),
    ("nested too deep", b"[" * 100_000, 400, "not-json", [("", "too-deep")]),
    ("empty", b"", 400, "not-json", [("", "not-json")]),
    ("doubled keys", changed()[:-1] + b', "name": "Again"}', 422, "invalid", [("/name", "duplicate-key")]),
    ("an unknown mark", with_articulation(plays=[["stacato"]]), 422, "invalid", [("/articulations/1/plays/0/0", "unknown-mark")]),
    ("key 200", with_articulation(triggers=[{"keyswitch": 200}]), 422, "invalid",
     [("/articulations/1/triggers/0/keyswitch", "shape.less-than-equal")]),
    ("a switch inside the range", with_articulation(triggers=[{"keyswitch": 60}]), 422, "invalid",
     [("/articulations/1/triggers/0/keyswitch", "switch-in-range")]),
    ("two defaults", changed(memories=TWO_DEFAULTS), 422, "invalid",
     [("/memories/1/id", "memory-doubled"), ("/articulations/1/plays", "default-plays-marks")]),
    ("an unknown field", changed(colour="red"), 422, "invalid", [("/colour", "shape.extra-forbidden")]),
    ("a NUL", changed(name="a\x00b"), 422, "invalid", [("/name", "control-character")]),
    ("half of a surrogate pair", b'{"name": "\\ud800"}', 400, "not-json", [("", "not-json")]),
    ("a list", b"[]", 422, "invalid", [("", "shape.model-type")]),
]  # fmt: skip


@pytest.mark.parametrize(("body", "status", "code", "faults"), [row[1:] for row in DOCUMENTS], ids=[row[0] for row in DOCUMENTS])
def test_a_bad_document_is_refused_and_nothing_changes(
    body: bytes, status: int, code: str, faults: list[tuple[str, str]], world: World
) -> None:
    before = rows()
    path = f"/maps/{world.ours.map.pk}/document"
    answer = world.clients["ada"].put(f"/api/v1{path}", body, content_type="application/json", headers={"if-match": "*"})
    assert problem(answer) == (status, code, faults)
    assert rows() == before
    assert call(world.clients["ada"], "GET", path).headers["Revision"] == "1"


def test_all_faults_of_a_document_are_told_at_once(world: World) -> None:
    document = map_document(range={"lowest": -1, "highest": 128}, players="many")
    document["articulations"][0]["plays"] = [["stacato"]]
    document["articulations"][1]["triggers"] = [{"keyswitch": "H4"}]
    body = {"instrument": "no id", "document": document}
    status, code, faults = problem(call(world.clients["ada"], "POST", f"/teams/{world.ours.team.pk}/maps", body))
    assert (status, code) == (422, "invalid")
    assert {pointer for pointer, _ in faults} == {
        "/instrument", "/document/range/lowest", "/document/range/highest", "/document/players",
        "/document/articulations/0/plays/0/0", "/document/articulations/1/triggers/0/keyswitch",
    }  # fmt: skip
    for pointer, _ in faults:
        resolve(body, pointer)


def test_a_fault_says_where_what_and_the_consequence(world: World) -> None:
    document = map_document()
    document["articulations"][1]["plays"] = [["stacato"]]
    body = {"instrument": str(world.ours.instrument.pk), "document": document}
    fault = call(world.clients["ada"], "POST", f"/teams/{world.ours.team.pk}/maps", body).json()["errors"][0]
    assert fault["detail"] == (
        "/document/articulations/1/plays/0/0: there is no mark “stacato”; the nearest are staccato, marcato, staccatissimo"
        " – the document is not accepted"
    )


def test_warnings_come_with_a_saved_document(world: World) -> None:
    """A pedal as a switch is odd, but it can be meant: the document is taken, and the oddness told."""
    body = with_articulation(triggers=[{"keyswitch": 25}, {"controller": 64, "value": 127}])
    path = f"/api/v1/maps/{world.ours.map.pk}/document"
    answer = world.clients["ada"].put(path, body, content_type="application/json", headers={"if-match": "*"})
    assert (answer.status_code, answer.headers["Revision"]) == (200, "2")
    assert [(it["severity"], it["code"], it["pointer"]) for it in answer.json()["problems"]] == [
        ("warning", "pedal-controller", "/articulations/1/triggers/1/controller")
    ]


# ── Scores ──

PNG = b"\x89PNG\r\n\x1a\n" + zlib.compress(b"\x00" * 100)


@pytest.mark.parametrize(("body", "detail"), [
    (b"", "body: the body is empty – nothing was stored"),
    (PNG, "body: this is neither MusicXML, nor a zip of it, nor MIDI – nothing was stored"),
    (b"%PDF-1.7", "body: this is neither MusicXML, nor a zip of it, nor MIDI – nothing was stored"),
], ids=["empty", "a PNG", "a PDF"])  # fmt: skip
def test_what_cannot_be_a_score_is_refused_at_the_door(body: bytes, detail: str, world: World) -> None:
    before = rows()
    answer = world.clients["ada"].post(f"/api/v1/teams/{world.ours.team.pk}/scores", body, content_type="application/octet-stream")
    assert (answer.status_code, answer.json()["detail"]) == (422, detail)
    assert rows() == before


BOMB = b'<?xml version="1.0"?><!DOCTYPE s [<!ENTITY a "ha">' + b"".join(
    b'<!ENTITY %c "%s">' % (c + 1, b"&%c;" % c * 10) for c in range(ord("a"), ord("j"))
) + b"]><score-partwise><movement-title>&j;</movement-title></score-partwise>"  # fmt: skip


def zipped(name: str, data: bytes) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, data)
    return made.getvalue()


REFUSED = {
    "broken XML": TINY_SCORE[:-30],
    "an XML bomb": BOMB,
    "XML, but no score": b"<html><body/></html>",
    "a zip without a score": zipped("readme.txt", b"nothing"),
    "a zip bomb": zipped("score.musicxml", b"<score-partwise>" + b" " * 60_000_000),
    "a broken zip": b"PK\x03\x04" + bytes(40),
    "a broken MIDI file": b"MThd\x00\x00",
    "an unknown encoding": b'<?xml version="1.0" encoding="klingon"?><score-partwise/>',
}


@pytest.mark.parametrize("body", REFUSED.values(), ids=REFUSED)
def test_a_score_that_cannot_be_read_ends_refused_with_its_problems(body: bytes, world: World) -> None:
    client, before, pid = world.clients["ada"], rows(), os.getpid()
    made = call(client, "POST", f"/teams/{world.ours.team.pk}/scores", body)
    assert (made.status_code, made.json()["state"]) == (201, "reading")
    inline.carry()
    version = call(client, "GET", f"{made.headers['Location'].removeprefix('/api/v1')}/versions/1").json()
    assert (version["state"], version["summary"], version["reason"]) == ("refused", None, "the file was read and refused")
    assert {it["severity"] for it in version["problems"]} == {"error"}
    assert all(" – " in it["message"] for it in version["problems"])
    after = rows()
    assert {name: after[name] - before[name] for name in ("Score", "ScoreVersion", "Blob")} == {"Score": 1, "ScoreVersion": 1, "Blob": 1}
    assert os.getpid() == pid


def test_a_time_signature_of_nothing_is_refused_and_kills_nobody(world: World) -> None:
    """0/0 ends some programs by a division: here it is refused, with its place."""
    client = world.clients["ada"]
    body = TINY_SCORE.replace(b"<beats>2</beats><beat-type>4<", b"<beats>0</beats><beat-type>0<")
    path = call(client, "POST", f"/teams/{world.ours.team.pk}/scores", body).headers["Location"].removeprefix("/api/v1")
    inline.carry()
    version = call(client, "GET", f"{path}/versions/1").json()
    errors = [it["message"] for it in version["problems"] if it["severity"] == "error"]
    assert errors == [
        "Violin, measure 1: time signature 0/0 has neither beats nor a beat – the score is refused, for its measures cannot be told"
    ]
    assert version["state"] == "refused"


def test_a_refused_version_cannot_be_rendered_and_says_why(world: World) -> None:
    client = world.clients["ada"]
    made = call(client, "POST", f"/teams/{world.ours.team.pk}/scores", REFUSED["broken XML"])
    score, path = made.json()["id"], made.headers["Location"].removeprefix("/api/v1")
    render = {"score": score}
    waiting = [call(client, "GET", f"{path}/versions/1/file"), call(client, "POST", f"/teams/{world.ours.team.pk}/renders", render)]
    assert [problem(answer)[:2] for answer in waiting] == [(409, "not-read-yet")] * 2
    inline.carry()
    refused = [call(client, "GET", f"{path}/versions/1/file"), call(client, "POST", f"/teams/{world.ours.team.pk}/renders", render)]
    assert [problem(answer)[:2] for answer in refused] == [(422, "score-refused")] * 2
    assert all(answer.json()["errors"] for answer in refused)
    assert call(client, "GET", f"{path}/versions/1").status_code == 200


# ── Limits ──


def padded(body: bytes, size: int) -> bytes:
    return body + b" " * (size - len(body))


@pytest.mark.parametrize(("method", "route", "limit"), [
    ("PUT", "/maps/{map}/document", 1 << 20), ("PUT", "/libraries/{library}", 256 << 10),
])  # fmt: skip
def test_a_body_may_have_its_limit_and_not_one_byte_more(method: str, route: str, limit: int, world: World) -> None:
    body = changed(key_offset=1) if "document" in route else b'{"name": "Fell"}'
    path = "/api/v1" + route.format(map=world.ours.map.pk, library=world.ours.library.pk)
    for size, status in ((limit + 1, 413), (limit * 5, 413), (limit, 200)):
        answer = world.clients["ada"].generic(method, path, padded(body, size), content_type="application/json", headers={"if-match": "*"})
        assert answer.status_code == status, answer.content[:300]
        if status == 413:
            assert answer.json()["detail"] == f"body: it has more than {limit} bytes – nothing was stored"
            assert answer.headers["Content-Type"] == "application/problem+json"


def test_a_score_may_have_32_mib_and_not_one_byte_more(world: World) -> None:
    path, limit = f"/api/v1/teams/{world.ours.team.pk}/scores", 32 << 20
    before = rows()
    over = world.clients["ada"].post(path, padded(TINY_SCORE, limit + 1), content_type="application/octet-stream")
    assert (over.status_code, over.json()["detail"]) == (413, f"body: it has more than {limit} bytes – nothing was stored")
    assert rows() == before
    assert world.clients["ada"].post(path, padded(TINY_SCORE, limit), content_type="application/octet-stream").status_code == 201


@pytest.mark.parametrize(("kind", "status"), [
    ("application/vnd.recordare.musicxml+xml", 201), ("text/xml", 201), ("application/json", 415), ("multipart/form-data", 415), ("", 415),
])  # fmt: skip
def test_scores_come_as_raw_bodies_of_known_types(kind: str, status: int, world: World) -> None:
    answer = world.clients["ada"].generic("POST", f"/api/v1/teams/{world.ours.team.pk}/scores", TINY_SCORE, content_type=kind)
    assert answer.status_code == status, answer.content


def test_a_body_without_a_length_is_refused(world: World) -> None:
    answer = world.clients["ada"].generic(
        "POST", f"/api/v1/teams/{world.ours.team.pk}/scores", b"", content_type="text/xml", headers={"transfer-encoding": "chunked"}
    )
    assert (answer.status_code, answer.json()["detail"]) == (411, "body: its length is not said – send Content-Length")


def test_a_team_stores_no_more_than_it_may(world: World, settings: Any) -> None:
    settings.TEAM_BYTES = models.Team.objects.get(pk=world.ours.team.pk).bytes_used + 100
    before = rows()
    answer = call(
        world.clients["ada"], "POST", f"/teams/{world.ours.team.pk}/scores", TINY_SCORE.replace(b"Two", os.urandom(400).hex().encode())
    )
    assert problem(answer)[:2] == (413, "team-full")
    assert rows() == before
