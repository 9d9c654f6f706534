"""A small score and map for tests of the command line."""

from __future__ import annotations

from pathlib import Path

from rendering.score_document import write_score
from tests.rendering.notation import read_notation

SCORE = write_score(read_notation("voice 1: C5:h[pizzicato] D5:h[key_click] | E5:w |"))
STRINGS = {
    "kind": "articulation-map", "edition": 1, "name": "Strings", "sound": "strings.violin", "range": {"lowest": 55, "highest": 100},
    "memories": [{"id": "bow", "default": "bowed"}],
    "articulations": [
        {"id": "bowed", "name": "Bowed", "memory": "bow", "triggers": [{"keyswitch": 24}]},
        {"id": "plucked", "name": "Plucked", "memory": "bow", "plays": [["pizzicato"]], "triggers": [{"keyswitch": 25}]},
    ],
}  # fmt: skip


def files_in(folder: Path) -> set[str]:
    """Return the names of all files below a folder."""
    return {str(p.relative_to(folder)) for p in folder.rglob("*") if p.is_file()}
