"""Golden pairs: a sketch as it was played, and the page that it becomes, written by hand and held against the engine.

A file has a heading that says what it shows, then `== sketch GRID ==` in the notation of made_sketches (480 ticks a
quarter) and `== page ==` in that of page_text.
"""

from __future__ import annotations

import re
from difflib import unified_diff
from pathlib import Path

import pytest

from rendering.readers.smf import read_sketch
from rendering.writers import write_musicxml
from tests.musicxml_schema import faults
from tests.rendering.made_sketches import sketch
from tests.rendering.page_text import page_text

FOLDER = Path(__file__).parent / "data" / "sketches"
FILES = sorted(FOLDER.glob("*.txt"))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_sketch_becomes_its_page(path: Path) -> None:
    head, grid, rest = re.split(r"^== sketch (\S+) ==\n", path.read_text("utf-8"), flags=re.MULTILINE)
    played, _, page = rest.partition("== page ==\n")
    assert head.strip()
    data, problems = write_musicxml(read_sketch(sketch(played), grid=grid)[0])
    assert (problems, faults(data)) == ([], [])
    expected = [line for line in page.splitlines() if line]
    found = page_text(data)
    assert found == expected, "\n" + "\n".join(unified_diff(expected, found, "as expected", "as written", lineterm=""))


def test_there_are_pairs_for_what_sketches_hold() -> None:
    assert [path.stem for path in FILES] == ["as-played", "drums", "pedal", "slurred-line", "two-hands"]
