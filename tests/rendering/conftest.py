"""What tests of the command line share: a folder with a score and a map, and a way to run a command in it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from rendering.__main__ import main
from tests.rendering.command_line import SCORE, STRINGS

Said = tuple[int, str, list[str]]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder with a score and a map, in which the commands run."""
    (tmp_path / "score.json").write_bytes(SCORE)
    (tmp_path / "map.json").write_text(json.dumps(STRINGS), "utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def run(folder: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    def call(*arguments: str) -> Said:
        code = main(list(arguments))
        said = capsys.readouterr()
        return code, said.out, said.err.splitlines()

    return call
