"""The demo: loads, renders, writes; a second run changes nothing."""

from __future__ import annotations

import io
import json
import stat
from pathlib import Path

import mido
import pytest
from django.core.management import call_command
from django.test import Client

from fixtures import demo
from mappings import models
from tests.mappings.world import bearer

TABLES = (models.Library, models.Instrument, models.MapRevision, models.TemplateRevision, models.ScoreVersion, models.Render, models.Token)


def run() -> str:
    out = io.StringIO()
    call_command("demo", stdout=out)
    return out.getvalue()


def files(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@pytest.mark.django_db
def test_the_demo_renders_by_both_libraries_and_a_second_run_changes_nothing(tmp_path: Path) -> None:
    first = run()
    counts, written = {table: table.objects.count() for table in TABLES}, files(tmp_path / "demo")
    second = run()
    assert ({table: table.objects.count() for table in TABLES}, files(tmp_path / "demo")) == (counts, written)
    password = first.split("password ")[1].split(" ")[0]
    assert first.replace(f"password {password} (shown this once)", "the password shown on the first run") == second
    assert Client().login(username="ADA@demo.invalid", password=password)
    for template in demo.TEMPLATES:
        assert f"{template.name}: " in first
    for folder in (tmp_path / "demo").iterdir():
        if folder.is_dir():
            assert_rendered(folder, first)


def assert_rendered(folder: Path, said: str) -> None:
    report = json.loads((folder / "report.json").read_bytes())
    proof = report["proof"]
    assert (proof["disagree"], proof["agree"] + proof["yielded"]) == ([], proof["notes"])
    assert f"proof: {proof['agree']} of {proof['notes']} notes heard as chosen, 0 not" in said
    names = [track.name for track in mido.MidiFile(folder / "all.mid", charset="utf-8").tracks[1:]]
    assert names == [track["name"] for track in report["tracks"]]
    assert len(list((folder / "tracks").iterdir())) == len(names)


@pytest.mark.django_db
def test_the_demos_token_is_private_and_serves_the_api(tmp_path: Path) -> None:
    run()
    path = tmp_path / "demo" / "token"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    client = bearer(path.read_text("ascii").strip())
    team = client.get("/api/v1/teams").json()["items"][0]
    assert (team["name"], team["role"]) == (demo.TEAM, "owner")
    maps = client.get(f"/api/v1/teams/{team['id']}/maps?limit=100").json()["items"]
    assert len(maps) == sum(len(library.instruments) for library in demo.LIBRARIES)
    digests = {render["inputs_digest"] for render in client.get(f"/api/v1/teams/{team['id']}/renders").json()["items"]}
    assert len(digests) == len(demo.TEMPLATES)
