"""README.md does what it says: each example runs as it stands there and answers as printed."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.readme import ROOT, Example, examples, fits, under


def link_tree(folder: Path) -> Path:
    """Fill a folder with what a clone holds, so that the examples' files land there and not in the tree."""
    for name in ("fixtures", "rendering", "mappings", "manage.py"):
        (folder / name).symlink_to(ROOT / name)
    (folder / ".venv").symlink_to(sys.prefix)
    return folder


# A reader's machine: a SQLite database in ./var, whatever this run of the tests uses.
OWN_DATABASE = {k: v for k, v in os.environ.items() if not k.startswith(("RIPIENO_", "DATABASE_URL", "DJANGO_", "PYTEST"))}


def run(example: Example, folder: Path) -> str:
    """Run an example in bash; AssertionError with what it said unless it ends well."""
    done = subprocess.run(
        ["bash", "-euo", "pipefail", "-c", example.command],
        cwd=folder, env=OWN_DATABASE, capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    assert done.returncode == 0, f"{example.command}\n{done.stdout}\n{done.stderr}"
    return done.stdout


MARK = "-- the next example --"


def free_port() -> str:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return str(probe.getsockname()[1])


@contextmanager
def serving(command: str, folder: Path) -> Iterator[None]:
    """Run the service while the block lasts; end it and what it started."""
    port = int(command.split("127.0.0.1:")[1].split(maxsplit=1)[0])
    server = subprocess.Popen(
        ["bash", "-c", f"exec {command}"], cwd=folder, env=OWN_DATABASE, stderr=subprocess.DEVNULL, start_new_session=True
    )
    try:
        for _ in range(300):
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.1)
        yield
    finally:
        os.killpg(server.pid, signal.SIGTERM)
        server.wait(30)


@pytest.fixture(scope="module")
def clone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return link_tree(tmp_path_factory.mktemp("clone"))


def test_the_command_line_answers_as_printed(clone: Path) -> None:
    said = [(example, run(example, clone)) for example in under("By command line")]
    assert len(said) >= 6
    assert [(e.command, answer) for e, answer in said if e.answer and not fits(e.answer, answer)] == []


def test_the_api_answers_as_printed(clone: Path) -> None:
    """Run the set-up's demo, then every API example in one shell, as a reader's window would."""
    demo, (server, *asked) = under("See it")[0].command.rsplit("&& ", 1)[1], under("By API")
    port = free_port()
    run(Example("", demo, ""), clone)
    with serving(server.command.replace("8000", port), clone):
        script = f"\necho {MARK}\n".join(example.command for example in asked).replace("127.0.0.1:8000", f"127.0.0.1:{port}")
        said = run(Example("", script, ""), clone).split(MARK + "\n")
    assert [(e.command, answer) for e, answer in zip(asked, said, strict=True) if not fits(e.answer, answer)] == []
    assert zipfile.is_zipfile(clone / "weir.zip")


def test_its_files_are_where_it_says(clone: Path) -> None:
    assert {p.name for p in (clone / "weir").iterdir()} == {"all.mid", "tracks", "report.json", "report.txt", "notes.json"}
    assert (clone / "horn-tryout.mid").read_bytes()[:4] == b"MThd"


def test_an_answer_is_really_compared() -> None:
    assert fits("a … c\n…\nd\n", "a b c\nx\ny\nd\n")
    assert not fits("a … c\n…\nd\n", "a b c\nx\ny\ne\n")
    assert not fits("a\n", "a\nb\n")


def test_there_are_exactly_two_set_up_commands() -> None:
    set_up = [e.command for e in examples() if "-m venv" in e.command]
    assert [("demo" in c, "pytest" in c) for c in set_up] == [(True, False), (False, True)]
    assert all(len(c.strip().splitlines()) == 1 and "-c constraints.txt" in c for c in set_up)


def test_the_job_is_told_first() -> None:
    lines = (ROOT / "README.md").read_text("utf-8").splitlines()
    assert lines[0] == "# Ripieno"
    assert len(lines[2]) > 60


@pytest.mark.parametrize("package", ["rendering", "mappings"])
def test_developers_finds_every_room_on_its_map(package: str) -> None:
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    rooms = {p.stem for p in (ROOT / package).glob("*.py")} | {p.parent.name for p in (ROOT / package).glob("*/__init__.py")}
    assert {room for room in rooms - {"__init__", "__main__", "migrations"} if f"`{room}" not in text} == set()
