"""Who carries a row, and what a child process can do to the service: nothing."""

from __future__ import annotations

import os
import subprocess
import threading
import time
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connections
from django.utils import timezone

from mappings import blobs, exchange, inline, jobs, models
from mappings.jobs import children, leases, tidying
from mappings.services import renders, scores
from tests.mappings.calls import call
from tests.mappings.files import upload
from tests.mappings.world import TINY_SCORE, World, map_document

LONG_AGO = timedelta(hours=1)


def queue(world: World, **more: Any) -> models.Render:
    """Return a render that waits."""
    return renders.create(world.ours.actor, team=world.ours.team, asked=renders.Asked(score=world.ours.score.pk, **more))


def lose(row: Any) -> None:
    """Let the carrier of a row fall silent."""
    type(row).objects.filter(pk=row.pk).update(lease_until=timezone.now() - LONG_AGO)


def state(row: Any) -> tuple[str, int, str]:
    row.refresh_from_db()
    return row.state, row.attempt, row.reason


# ── The row decides ──


def test_a_row_is_claimed_once(world: World) -> None:
    render = queue(world)
    first, second = (leases.claim(models.Render, render.pk) for _ in range(2))
    assert (first is not None, second) == (True, None)
    assert state(render) == ("running", 1, "")


def test_a_lost_row_is_claimed_again_and_its_first_carrier_changes_nothing_more(world: World) -> None:
    render = queue(world)
    first = leases.claim(models.Render, render.pk)
    lose(render)
    assert leases.sweep(models.Render) == [render.pk]
    second = leases.claim(models.Render, render.pk)
    assert second is not None
    with pytest.raises(jobs.Gone):
        leases.beat(first, 500)
    assert leases.settle(first, "failed", "too late") is False
    with leases.settling(first) as held:
        assert held is False
    leases.beat(second, 500)
    assert leases.settle(second, "done") is True
    assert state(render) == ("done", 2, "")


def test_a_row_is_given_up_after_three_lost_carriers(world: World) -> None:
    render = queue(world)
    for _ in range(3):
        assert leases.claim(models.Render, render.pk) is not None
        lose(render)
    assert leases.claim(models.Render, render.pk) is None
    assert leases.sweep(models.Render) == []
    assert state(render) == ("failed", 3, "its carrier was lost 3 times – given up")


def test_a_reading_is_carried_by_the_same_rules(world: World) -> None:
    version = scores.create(world.ours.actor, team=world.ours.team, title="", upload=upload(TINY_SCORE))
    for _ in range(3):
        assert leases.claim(models.ScoreVersion, version.pk) is not None
        lose(version)
    leases.sweep(models.ScoreVersion)
    assert state(version) == ("refused", 3, "its carrier was lost 3 times – given up")


def test_a_cancelled_row_without_a_carrier_is_settled_by_the_sweep(world: World) -> None:
    render = queue(world)
    leases.claim(models.Render, render.pk)
    renders.cancel(world.ours.actor, render=render)
    lose(render)
    leases.sweep(models.Render)
    assert state(render) == ("cancelled", 1, "cancelled")


def test_a_waiting_render_that_is_cancelled_never_starts(world: World) -> None:
    render = queue(world)
    renders.cancel(world.ours.actor, render=render)
    assert (inline.carry(), state(render)) == (0, ("cancelled", 0, "cancelled"))


def test_no_team_takes_all_slots(world: World) -> None:
    """Two of ours run, however many wait; another team's one starts at once."""
    ours = [queue(world) for _ in range(5)]
    theirs = renders.create(world.theirs.actor, team=world.theirs.team, asked=renders.Asked(score=world.theirs.score.pk))
    claimed = [pk for pk in leases.sweep(models.Render) if leases.claim(models.Render, pk)]
    assert claimed == [ours[0].pk, ours[1].pk, theirs.pk]


def test_a_full_queue_is_refused_with_a_time(world: World) -> None:
    for _ in range(22):
        queue(world)
    answer = call(world.clients["ada"], "POST", f"/teams/{world.ours.team.pk}/renders", {"score": str(world.ours.score.pk)})
    assert (answer.status_code, answer.headers["Retry-After"]) == (429, "30")
    assert answer.json()["detail"] == "renders: 22 of 22 wait already – try again when one is done"


def test_readings_go_before_renders_and_old_ones_before_new(world: World) -> None:
    first, second = queue(world), queue(world)
    version = scores.create(world.ours.actor, team=world.ours.team, title="", upload=upload(TINY_SCORE))
    assert jobs.sweep() == [("reading", version.pk), ("render", first.pk), ("render", second.pk)]


# ── What a child can do ──


@pytest.fixture
def bad(settings: Any) -> Any:
    """Let children misbehave, within short limits."""
    settings.CHILD = "tests.mappings.bad_child"
    settings.WALL = timedelta(seconds=2)
    settings.CHILD_RESULT = 8 << 20
    return settings


def misbehaving(world: World, act: str) -> models.ScoreVersion:
    body = TINY_SCORE.replace(b"<work>", b"<!--" + act.encode() + b"--><work>")
    return scores.create(world.ours.actor, team=world.ours.team, title="", upload=upload(body))


@pytest.mark.parametrize(("act", "reason"), [
    ("eat memory", "it needs more than 2048 MiB of memory – stopped"),
    ("SIGSEGV", "its process ended by the signal SIGSEGV – nothing was stored"),
    ("SIGFPE", "its process ended by the signal SIGFPE – nothing was stored"),
    ("SIGKILL", "it was stopped from outside, or ran out of time – nothing was stored"),
    ("write too much", "its process ended with 1 – nothing was stored"),
    ("exit 7", "its process ended with 7 – nothing was stored"),
])  # fmt: skip
def test_a_child_that_ends_badly_ends_its_own_row_only(act: str, reason: str, world: World, bad: Any, tmp_path: Path) -> None:
    version, after = misbehaving(world, act), misbehaving(world, "behave")
    inline.carry()
    assert state(version) == ("refused", 1, reason)
    assert state(after)[0] == "ready"
    assert list((tmp_path / "work").iterdir()) == [], "a folder was left behind"


@pytest.mark.parametrize("act", ["spin", "sleep"])
def test_a_child_that_does_not_end_is_ended(act: str, world: World, bad: Any) -> None:
    version, began = misbehaving(world, act), time.monotonic()
    inline.carry()
    assert time.monotonic() - began < 15
    assert state(version)[2] in {
        "it took longer than 2 s – stopped",
        "it was stopped from outside, or ran out of time – nothing was stored",
    }


def test_a_cancel_is_heard_within_a_second_and_ends_the_child(open_world: World, bad: Any, tmp_path: Path) -> None:
    world = open_world
    bad.WALL = timedelta(seconds=60)
    version = misbehaving(world, "sleep")
    carrier = threading.Thread(target=carry_and_close)
    carrier.start()
    pid = wait_for_child(tmp_path)
    wait(lambda: models.ScoreVersion.objects.get(pk=version.pk).progress == 420)
    scores.archive(world.ours.actor, score=version.score, expected=None)
    began = time.monotonic()
    carrier.join(10)
    assert (carrier.is_alive(), time.monotonic() - began < 1.5) == (False, True)
    assert state(version)[::2] == ("refused", "cancelled")
    wait(lambda: not Path(f"/proc/{pid}").exists())


def carry_and_close() -> None:
    try:
        inline.carry()
    finally:
        connections.close_all()


def wait(true: Any, seconds: float = 10) -> Any:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if found := true():
            return found
        time.sleep(0.05)
    raise AssertionError(f"not within {seconds} s")


def wait_for_child(data: Path) -> int:
    """Return the id of the process that works in the data folder."""

    def look() -> int | None:
        out = subprocess.run(["pgrep", "-f", f"bad_child {data}"], capture_output=True, check=False).stdout.split()
        return int(out[0]) if out else None

    found: int = wait(look)
    return found


def test_other_requests_are_answered_while_a_child_spins(open_world: World, bad: Any) -> None:
    world = open_world
    misbehaving(world, "spin")
    carrier = threading.Thread(target=carry_and_close)
    carrier.start()
    times = []
    while carrier.is_alive():
        began = time.monotonic()
        assert call(world.clients["ada"], "GET", f"/teams/{world.ours.team.pk}/maps").status_code == 200
        times.append(time.monotonic() - began)
    assert len(times) > 10
    assert sorted(times)[len(times) // 2] < 0.5


def test_a_child_sees_no_secret_of_the_service(world: World, bad: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("RIPIENO_SECRET_KEY", "k" * 50)
    bad.WALL = timedelta(seconds=60)
    with children.Child(children.Job(said={"do": "read"}, files={"score": b"<!--sleep-->"})) as child:
        wait(lambda: child.progress() == 420)
        environment = Path(f"/proc/{child.process.pid}/environ").read_bytes().split(b"\0")
        limits = Path(f"/proc/{child.process.pid}/limits").read_text().splitlines()
    names = {entry.split(b"=")[0].decode() for entry in environment}
    assert names & set(children.SECRET) == set()
    assert "PATH" in names
    assert {line[:26].strip(): line[26:47].strip() for line in limits}["Max address space"] == str(2 << 30)


def test_left_over_folders_are_removed_when_they_are_old(settings: Any, tmp_path: Path) -> None:
    settings.DATA = tmp_path
    old, new = (children.work_folder() / name for name in ("old", "new"))
    old.mkdir()
    new.mkdir()
    os.utime(old, (0, 0))
    children.tidy()
    assert list(children.work_folder().iterdir()) == [new]


def test_what_nothing_needs_any_more_is_swept_out_when_it_is_old(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    team, libraries, old = world.ours.team, f"/teams/{world.ours.team.pk}/libraries", timezone.now() - timedelta(days=8)
    with monkeypatch.context() as then:
        then.setattr(timezone, "now", lambda: old)
        unused = blobs.keep_bytes(team.pk, b"MThd unused", "audio/midi")
        scores.create(world.ours.actor, team=team, title="", upload=upload(TINY_SCORE + b"<!-- in use -->"))
        call(world.clients["ada"], "POST", libraries, {"name": "Old"}, key="old")
    blobs.keep_bytes(team.pk, b"MThd unused, but fresh", "audio/midi")
    call(world.clients["ada"], "POST", libraries, {"name": "New"}, key="new")
    used, taken = models.Team.objects.get(pk=team.pk).bytes_used, len(bytes(models.Blob.objects.get(pk=unused.pk).data))
    kept = set(models.Blob.objects.exclude(pk=unused.pk).values_list("pk", flat=True))
    tidying.tidy()
    assert set(models.Blob.objects.values_list("pk", flat=True)) == kept
    assert models.Team.objects.get(pk=team.pk).bytes_used == used - taken
    assert list(models.IdempotencyKey.objects.values_list("key", flat=True)) == ["new"]


# ── What is settled is whole ──


def test_a_render_keeps_its_inputs_whatever_is_edited_later(world: World) -> None:
    render = queue(world, template=world.ours.template.pk, options={"tempo": 96_500, "preroll": 2, "restate": "note"})
    client, path = world.clients["ada"], f"/renders/{render.pk}"
    before = call(client, "GET", f"{path}/inputs").json()
    call(client, "PUT", f"/maps/{world.ours.map.pk}/document", map_document(key_offset=12), match="*")
    call(client, "DELETE", f"/templates/{world.ours.template.pk}", match="*")
    call(client, "DELETE", f"/maps/{world.ours.map.pk}", match="*")
    assert call(client, "GET", f"{path}/inputs").json() == before
    assert [(it["role"], it["ref"], it["revision"], it["made_by"]) for it in before["items"]] == [
        ("map", "vn", 1, "Ada"), ("score", "", None, None), ("template", "", 1, None),
    ]  # fmt: skip
    inline.carry()
    done = call(client, "GET", path).json()
    assert (done["state"], done["notes"], done["agree"]) == ("done", 2, 2)
    report = exchange.parse(exchange.Report, call(client, "GET", f"{path}/report").content)
    assert (report.choices.tempo, report.choices.preroll, set(report.inputs)) == (96_500, 2, {"score", "template", "map:vn"})
    again = call(client, "POST", f"{path}/rerun").json()
    inline.carry()
    repeated = call(client, "GET", f"/renders/{again['id']}").json()
    assert (repeated["same_files"], repeated["inputs_digest"], repeated["rerun_of"]) == (True, done["inputs_digest"], str(render.pk))


def test_dropped_files_are_gone_and_the_report_stays(world: World) -> None:
    client, path = world.clients["ada"], f"/renders/{world.ours.render.pk}"
    assert call(client, "DELETE", f"{path}/files").status_code == 204
    for sub in ("files", "files/all.mid", "archive"):
        assert call(client, "GET", f"{path}/{sub}").status_code == 410
    assert call(client, "DELETE", f"{path}/files").status_code == 410
    assert call(client, "GET", f"{path}/report").status_code == 200
    assert call(client, "GET", path).json()["pruned_at"] is not None


def test_a_render_whose_files_find_no_room_fails_and_says_so(world: World, settings: Any) -> None:
    render = queue(world)
    settings.TEAM_BYTES = models.Team.objects.get(pk=world.ours.team.pk).bytes_used + 10
    inline.carry()
    found, _, reason = state(render)
    assert (found, reason.startswith("team storage: "), reason.endswith("nothing was stored")) == ("failed", True, True)
    assert render.files.count() == 0


def test_nothing_is_to_be_had_of_a_render_before_its_end(world: World) -> None:
    render = queue(world)
    for sub in ("report", "files", "files/all.mid", "archive"):
        answer = call(world.clients["ada"], "GET", f"/renders/{render.pk}/{sub}")
        assert (answer.status_code, answer.json()["type"]) == (409, "urn:ripieno:problem:not-settled")
