"""Examples for the API's description; a test sends each of them."""

from __future__ import annotations

from typing import Any

ID = "6f1c2a9e-4f0e-4f6f-9d55-0d6f5f0f7c11"

MAP: dict[str, Any] = {
    "kind": "articulation-map", "edition": 1, "name": "Reed Violins", "sound": "strings.violin", "players": "ensemble",
    "middle_c": "C4", "range": {"lowest": "G3", "highest": "E7"}, "bend_range": 2,
    "loudness": {"by": "controller", "controller": 1, "points": [[0, 8], [500, 64], [1000, 127]], "velocity": 96},
    "memories": [{"id": "bow", "default": "bowed"}, {"id": "mute", "default": "mute-off"}],
    "articulations": [
        {"id": "bowed", "name": "Bowed", "memory": "bow", "triggers": [{"keyswitch": "C1"}], "lead_ms": {"first": 90, "connected": 40}},
        {"id": "slurred", "name": "Slurred", "memory": "bow", "plays": [["legato"]], "triggers": [{"keyswitch": "C#1"}],
         "voices": 1, "overlap_ms": 60, "joins": True},
        {"id": "short", "name": "Short", "memory": "bow", "plays": [["staccato"], ["spiccato"]], "triggers": [{"keyswitch": "D1"}],
         "lead_ms": {"first": 15}, "length": {"at_most_ms": 250}},
        {"id": "plucked", "name": "Plucked", "memory": "bow", "plays": [["pizzicato"]], "triggers": [{"keyswitch": "D#1"}]},
        {"id": "mute-on", "name": "Mute on", "memory": "mute", "plays": [["con sordino"]], "triggers": [{"controller": 20, "value": 127}]},
        {"id": "mute-off", "name": "Mute off", "memory": "mute", "triggers": [{"controller": 20, "value": 0}]},
    ],
}  # fmt: skip

TEMPLATE: dict[str, Any] = {
    "kind": "template", "edition": 1, "name": "Evening strings",
    "tracks": [
        {"id": "vn1", "name": "Violins 1", "map": {"id": ID, "revision": None}, "channel": 1,
         "for": [{"sound": "strings.violin", "players": "ensemble", "number": 1}]},
        {"id": "vn2", "name": "Violins 2", "map": {"id": ID, "revision": 1}, "channel": 2, "local": {"level": -30, "earlier_ms": 5},
         "for": [{"sound": "strings.violin", "players": "ensemble", "number": 2}]},
    ],
}  # fmt: skip

BODIES: dict[str, Any] = {
    "NewTeam": {"name": "Weir Ensemble"},
    "ChangedTeam": {"name": "Weir Ensemble and Friends"},
    "ChangedMember": {"role": "editor"},
    "NewToken": {"name": "nightly bounce", "scopes": ["read"], "expires_at": "2027-01-31T12:00:00Z"},
    "NewLibrary": {"name": "Reed Strings"},
    "ChangedLibrary": {"name": "Reed Strings, second edition"},
    "NewInstrument": {"name": "Second Violins", "sound": "strings.violin", "players": "ensemble"},
    "ChangedInstrument": {"name": "Violins", "library": ID, "sound": "strings.violin", "players": "ensemble"},
    "NewMap": {"instrument": ID, "note": "first try", "document": MAP},
    "ChangedMap": {"name": "Reed Violins", "instrument": ID},
    "ArticulationMap": MAP,
    "NewTemplate": {"document": TEMPLATE},
    "ChangedTemplate": {"name": "Evening strings"},
    "Template": TEMPLATE,
    "Restore": {"revision": 1},
    "ForkMap": {"name": "Reed Violins, mine"},
    "ForkTemplate": {"name": "Evening strings, mine"},
    "ChangedScore": {"title": "Lamps on the Water"},
    "NewRender": {"score": ID, "template": ID, "assignment": [{"part": "P1", "tracks": ["vn1"]}], "options": {"restate": "phrase"}},
}

INVALID: dict[str, Any] = {
    "type": "urn:ripieno:problem:invalid", "title": "The body cannot be taken as it is", "status": 422,
    "errors": [{
        "pointer": "/articulations/2/plays/0/0", "code": "unknown-mark", "severity": "error",
        "detail": "/articulations/2/plays/0/0: there is no mark “stacato”; the nearest are staccato, marcato, staccatissimo"
                  " – the document is not accepted",
    }],
    "request_id": "8cd00bfbeb6e4a1aa3c1241304044005",
}  # fmt: skip
