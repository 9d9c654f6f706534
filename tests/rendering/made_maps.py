"""Articulation maps for tests: the small violin map of this project's own description, and changes to it."""

from __future__ import annotations

import json
from copy import deepcopy
from pathlib import Path
from typing import Any

from rendering.codes import message
from rendering.documents import read
from rendering.maps.checks import check
from rendering.maps.document import ArticulationMap
from rendering.problems import Refused

DATA = Path(__file__).parent / "data" / "maps"
EVERY_TRIGGER = (DATA / "every-trigger.json").read_bytes()

Json = dict[str, Any]

VIOLINS: Json = {
    "kind": "articulation-map", "edition": 1, "name": "Violins (test)", "sound": "strings.violin", "range": {"lowest": 55, "highest": 100},
    "loudness": {"by": "controller", "controller": 1, "points": [[0, 8], [500, 64], [1000, 127]], "velocity": 96, "silence": 11},
    "memories": [{"id": "bow", "default": "bowed"}, {"id": "mute", "default": "mute-off"}],
    "articulations": [
        {"id": "bowed", "memory": "bow", "triggers": [{"keyswitch": 24}]},
        {"id": "slurred", "memory": "bow", "plays": [["legato"]], "triggers": [{"keyswitch": 25}]},
        {"id": "short", "memory": "bow", "plays": [["staccato"]], "triggers": [{"keyswitch": 26}]},
        {"id": "mute-off", "memory": "mute", "triggers": [{"controller": 20, "value": 0}]},
        {"id": "mute-on", "memory": "mute", "plays": [["con sordino"]], "triggers": [{"controller": 20}]},
    ],
}  # fmt: skip


def violins(*more: Json, change: dict[str, Json] | None = None, **fields: Any) -> Json:
    """Return the violin map with further articulations, with fields of some changed, and with its own changed."""
    made = deepcopy(VIOLINS) | fields
    made["articulations"] = [articulation | (change or {}).get(articulation["id"], {}) for articulation in made["articulations"]]
    made["articulations"] += [{"memory": "bow"} | articulation for articulation in more]
    return made


def as_map(document: Json) -> ArticulationMap:
    """Return a document as it would be read from a file."""
    return read(ArticulationMap, json.dumps(document).encode())


def refused(model: Any, document: Any) -> list[str]:
    """Return the sentences with which a document is refused; [] if it is read."""
    try:
        read(model, document if isinstance(document, bytes) else json.dumps(document).encode())
    except Refused as refusal:
        return [message(found) for found in refusal.problems]
    return []


def said(document: Json) -> list[str]:
    """Return the sentences of a map's checks."""
    return [message(found) for found in check(as_map(document))]


def resolves(document: Any, pointer: str) -> bool:
    """Tell whether a JSON pointer (RFC 6901) names a part of a document; written apart from the code it checks."""
    if pointer == "":
        return True
    if not pointer.startswith("/"):
        return False
    for token in pointer[1:].split("/"):
        name = token.replace("~1", "/").replace("~0", "~")
        if isinstance(document, list) and name.isdigit() and int(name) < len(document):
            document = document[int(name)]
        elif isinstance(document, dict) and name in document:
            document = document[name]
        else:
            return False
    return True
