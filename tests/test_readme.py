"""README.md does what it says: each example runs as it stands there and answers as printed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.readme import ROOT, Example, examples, fits, under


def link_tree(folder: Path) -> Path:
    """Fill a folder with what a clone holds, so that the examples' files land there and not in the tree."""
    for name in ("fixtures", "rendering", "mappings", "manage.py"):
        (folder / name).symlink_to(ROOT / name)
    (folder / ".venv").symlink_to(sys.prefix)
    return folder


def run(example: Example, folder: Path, **environment: str) -> str:
    """Run an example in bash; AssertionError with what it said unless it ends well."""
    done = subprocess.run(
        ["bash", "-euo", "pipefail", "-c", example.command],
        cwd=folder, env={**os.environ, **environment}, capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    assert done.returncode == 0, f"{example.command}\n{done.stdout}\n{done.stderr}"
    return done.stdout


@pytest.fixture(scope="module")
def clone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return link_tree(tmp_path_factory.mktemp("clone"))


def test_the_command_line_answers_as_printed(clone: Path) -> None:
    said = [(example, run(example, clone)) for example in under("By command line")]
    assert len(said) >= 6
    assert [(e.command, answer) for e, answer in said if e.answer and not fits(e.answer, answer)] == []


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
