"""Golden files: what the rules ask for, event by event, written by hand and held against the engine.

Nothing is accepted by itself. A file that differs shows the difference; with `GOLDEN_ACTUAL=1` in the
environment what the engine gave is also written beside it, as `NAME.actual`, to be looked at::

    GOLDEN_ACTUAL=1 .venv/bin/python -m pytest tests/rendering/test_golden.py
"""

from __future__ import annotations

import os
from collections import Counter
from difflib import unified_diff
from pathlib import Path

import pytest

from rendering.midi import dump
from tests.outside.mido_dump import mido_dump
from tests.rendering.golden_files import FOLDER, Golden, golden_files


def difference(expected: list[str], actual: list[str], name: str) -> str:
    return "\n".join(unified_diff(expected, actual, f"{name}, as expected", f"{name}, as rendered", lineterm="", n=2))


@pytest.mark.parametrize("path", golden_files(), ids=lambda path: path.stem)
def test_golden(path: Path) -> None:
    golden = Golden(path)
    made = golden.render()
    actual = golden.actual(made)
    wrong = []
    for name, lines in actual.items():
        expected = golden.expected(name) if name in golden.sections else ["0"]
        if lines != expected:
            wrong.append(difference(expected, lines, f"{path.stem}, {name}"))
    if wrong and os.environ.get("GOLDEN_ACTUAL"):
        text = "".join(f"== {name} ==\n" + "\n".join(lines) + "\n" for name, lines in actual.items())
        path.with_suffix(".actual").write_text(text, "utf-8")
    assert not wrong, "\n" + "\n".join(wrong)
    assert made.report["proof"]["disagree"] == []


@pytest.mark.parametrize("path", golden_files(), ids=lambda path: path.stem)
def test_mido_reads_the_same(path: Path) -> None:
    """mido (PyPI) reads every file that a golden render writes to the same dump as our own decoder."""
    made = Golden(path).render()
    for name, data in made.files.items():
        if name.endswith(".mid"):
            assert mido_dump(data) == dump.text(data), name


def test_there_are_golden_files_of_every_kind() -> None:
    kinds = Counter(path.name.split("-")[0] for path in golden_files())
    assert kinds.keys() == {"choice", "collision", "law", "rule", "trigger"}
    assert not [path.name for path in FOLDER.iterdir() if path.suffix not in {".txt", ".actual"}]
