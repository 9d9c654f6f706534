"""The service as a process of its own, over real HTTP."""

from __future__ import annotations

import io
import json
import os
import shutil
import subprocess
import zipfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import mido
import pytest

from fixtures import demo
from tests.mappings.server import HTTP, Server, fresh_database, until
from tests.mappings.world import TINY_SCORE, map_document, template_document

PASSWORD = "reeds-under-the-weir-9"


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    with fresh_database() as database, Server(tmp_path_factory.mktemp("served"), database) as server:
        yield server


def newcomer(server: Server, email: str) -> tuple[HTTP, str]:
    """Return a client with a token of a new user, and the id of the user's new team."""
    server.manage("createsuperuser", "--noinput", "--email", email, "--name", "Nell", DJANGO_SUPERUSER_PASSWORD=PASSWORD)
    person = HTTP(server.url)
    person.sign_in(email, PASSWORD)
    made = person.ask("POST", "/api/v1/teams", {"name": "Weir Ensemble"}, X_CSRFToken=person.csrf)
    assert made.status == 201, made
    team = made.json()["id"]
    wish = {"name": "script", "scopes": ["read", "write"], "expires_at": "2999-01-01T00:00:00Z"}
    refused = person.ask("POST", f"/api/v1/teams/{team}/tokens", wish, X_CSRFToken=person.csrf)
    assert (refused.status, refused.json()["errors"][0]["pointer"]) == (422, "/expires_at")
    token = person.ask("POST", f"/api/v1/teams/{team}/tokens", {**wish, "expires_at": in_a_week()}, X_CSRFToken=person.csrf)
    return HTTP(server.url, token.json()["secret"]), team


def in_a_week() -> str:
    from datetime import UTC, datetime, timedelta

    return (datetime.now(UTC) + timedelta(days=7)).isoformat()


def wait_for(client: HTTP, path: str, *states: str, seconds: float = 60) -> Any:
    """Return an item once it is in one of the states."""

    def look() -> Any:
        found = client.ask("GET", path).json()
        return found if found["state"] in states else None

    return until(look, seconds)


def test_a_newcomers_path(served: Server) -> None:
    """Team, library, instrument, map, template, score, render, files: nothing but HTTP, from the sign-in page on."""
    client, team = newcomer(served, "nell@weir.invalid")
    library = client.ask("POST", f"/api/v1/teams/{team}/libraries", {"name": "Weir Strings"}).json()
    wish = {"name": "Violins", "sound": "strings.violin", "players": "ensemble"}
    instrument = client.ask("POST", f"/api/v1/libraries/{library['id']}/instruments", wish).json()
    made = client.ask("POST", f"/api/v1/teams/{team}/maps", {"instrument": instrument["id"], "document": map_document()})
    map_id = made.json()["id"]
    address = f"/api/v1/maps/{map_id}/document"
    named = map_document(range={"lowest": "G3", "highest": "E7"})  # keys by name: it says the same as before
    same = client.ask("PUT", address, named, If_Match=made.headers["ETag"])
    assert (same.status, same.headers["Revision"], same.headers["ETag"]) == (200, "1", made.headers["ETag"])
    saved = client.ask("PUT", address, {**named, "bend_range": 2}, If_Match=made.headers["ETag"])
    assert (saved.status, saved.headers["Revision"]) == (200, "2")
    template = client.ask("POST", f"/api/v1/teams/{team}/templates", {"document": template_document(map_id)}).json()
    score = client.ask("POST", f"/api/v1/teams/{team}/scores", TINY_SCORE, kind="application/vnd.recordare.musicxml+xml").json()
    assert wait_for(client, f"/api/v1/scores/{score['id']}", "ready", "refused")["state"] == "ready"
    asked = client.ask("POST", f"/api/v1/teams/{team}/renders", {"score": score["id"], "template": template["id"]})
    render = wait_for(client, asked.headers["Location"], "done", "failed")
    assert (render["state"], render["notes"], render["agree"]) == ("done", 2, 2)
    files = client.ask("GET", f"{asked.headers['Location']}/files").json()["items"]
    fetched = {file["name"]: client.ask("GET", file["href"]).body for file in files}
    assert set(fetched) >= {"all.mid", "tracks/01 Violins.mid", "report.json", "report.txt", "notes.json"}
    with zipfile.ZipFile(io.BytesIO(client.ask("GET", f"{asked.headers['Location']}/archive").body)) as archive:
        assert {name: archive.read(name) for name in archive.namelist()} == fetched
    keys = [
        m.note for track in mido.MidiFile(file=io.BytesIO(fetched["all.mid"])).tracks for m in track if m.type == "note_on" and m.velocity
    ]
    assert keys == [24, 69, 25, 71], "the switch to bowed, A4, the switch to short, B4"
    assert json.loads(fetched["report.json"])["proof"]["disagree"] == []


def test_pages_and_errors_over_http(served: Server) -> None:
    client = HTTP(served.url)
    page = client.ask("GET", "/api/v1/docs")
    assert (page.status, "default-src 'none'" in page.headers["Content-Security-Policy"]) == (200, True)
    assert client.ask("GET", "/readyz").json() == {"ready": True, "missing": []}
    for path in ("/static/drf_spectacular_sidecar/swagger-ui-dist/swagger-ui-bundle.js", "/static/mappings/sheet.css"):
        assert client.ask("GET", path).status == 200
    missing = client.ask("GET", "/api/v1/nothing")
    assert (missing.status, missing.headers["Content-Type"]) == (404, "application/problem+json")
    assert client.ask("GET", "/nothing").headers["Content-Type"].startswith("text/html")
    assert client.ask("GET", "/livez", Host="elsewhere.invalid").status == 400


@pytest.mark.deep
@pytest.mark.browser
def test_the_page_of_the_description_shows_every_operation_in_a_browser(served: Server, tmp_path: Path) -> None:
    """Under a policy that allows no inline script or style, a page may well be valid and empty."""
    program = shutil.which("chromium")
    assert program, "needs Debian's chromium"
    command = [
        program, "--headless", "--no-sandbox", "--disable-gpu", "--virtual-time-budget=10000", "--enable-logging=stderr",
        f"--user-data-dir={tmp_path}", "--dump-dom", f"{served.url}/api/v1/docs",
    ]  # fmt: skip
    ran = subprocess.run(command, capture_output=True, timeout=120, check=True)
    operations = [method for methods in HTTP(served.url).ask("GET", "/api/v1/schema").json()["paths"].values() for method in methods]
    assert ran.stdout.count(b'class="opblock-summary-path"') == len(operations)
    assert b"Content Security Policy" not in ran.stderr


def big_score() -> bytes:
    """Return the demo's piece, every part many times: enough that rendering it takes a while."""
    import re

    head, parts = demo.SCORE.split(b"</part-list>")
    names = re.findall(rb'<score-part id="(P\d+)">.*?</score-part>', head, re.DOTALL)
    listed, played = head[: head.index(b"<part-list>") + 11], b""
    for copy in range(6):
        for name in names:
            one = re.search(rb'<score-part id="%b">.*?</score-part>' % name, head, re.DOTALL)
            part = re.search(rb'<part id="%b">.*?</part>' % name, parts, re.DOTALL)
            assert one
            assert part
            new = name + b"x%d" % copy
            listed += re.sub(rb'id="(P[^"]*)"', lambda m: b'id="' + m[1] + b'x%d"' % copy, one[0])  # noqa: B023 - called at once
            played += re.sub(rb'id="(P[^"]*)"', lambda m: b'id="' + m[1] + b'x%d"' % copy, part[0])  # noqa: B023
            assert new in played
    return listed + b"</part-list>" + played + b"</score-partwise>"


MOST_MEMORY = 500  # MiB of a server process while ten uploads of 32 MiB come in at once (seen: 202 on SQLite, 389 on PostgreSQL)


@pytest.mark.deep
def test_ten_large_uploads_at_once_keep_memory_bounded(served: Server) -> None:
    client, team = newcomer(served, "una@weir.invalid")
    body = b"<score-partwise>" + os.urandom((32 << 20) - 16)  # bytes that do not deflate: the worst case

    def send(number: int) -> int:
        return HTTP(served.url, client.token).ask("POST", f"/api/v1/teams/{team}/scores?title={number}", body, kind="text/xml").status

    with ThreadPoolExecutor(10) as pool:
        assert list(pool.map(send, range(10))) == [201] * 10
    peaks = {pid: int(Path(f"/proc/{pid}/status").read_text().split("VmHWM:")[1].split()[0]) // 1024 for pid in served.workers()}
    assert max(peaks.values()) < MOST_MEMORY
    scores = client.ask("GET", f"/api/v1/teams/{team}/scores").json()["items"]
    assert len(scores) == 10


@pytest.mark.deep
def test_a_killed_server_finishes_its_render_after_the_restart_once(served: Server, tmp_path: Path) -> None:
    client, team = newcomer(served, "kit@weir.invalid")
    score = client.ask("POST", f"/api/v1/teams/{team}/scores", big_score(), kind="text/xml").json()
    assert wait_for(client, f"/api/v1/scores/{score['id']}", "ready", "refused", seconds=120)["state"] == "ready"
    path = client.ask("POST", f"/api/v1/teams/{team}/renders", {"score": score["id"]}).headers["Location"]
    assert wait_for(client, path, "running")["attempt"] == 1
    served.kill()
    assert client.ask("GET", path).status == 0, "somebody still answers"
    served.start()
    assert client.ask("GET", path).json()["state"] == "running", "it was done before it was killed"
    done = wait_for(client, path, "done", "failed", seconds=120)
    assert (done["state"], done["attempt"], done["reason"]) == ("done", 2, "")
    files = [file["name"] for file in client.ask("GET", f"{path}/files").json()["items"]]
    assert len(files) == len(set(files))
    again = client.ask("POST", f"{path}/rerun").headers["Location"]
    assert wait_for(client, again, "done", "failed", seconds=120)["same_files"] is True
