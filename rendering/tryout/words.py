"""Triggers in words, and the printed list."""

from __future__ import annotations

from collections.abc import Iterable

from rendering.maps.document import (
    AnyTrigger,
    ArticulationMap,
    Channel,
    Controller,
    Keyswitch,
    Program,
    Shift,
    Track,
    Velocities,
)
from rendering.maps.keys import key_name

_HOW_HELD = {"no": "", "note-on": ", held at the note-on", "note": ", held through the note"}


def tryout_text(rows: Iterable[dict[str, object]]) -> str:
    """Return the printed list of a tryout, one articulation a line, ended by a newline."""
    lines = []
    for row in rows:
        keys = row["keys"]
        shown = " ".join(keys) if isinstance(keys, list) and keys else "no key that can be sent"
        where = f"measure {row['measure']}, beat {row['beat']}: {row['marker']}"
        lines.append(f"{where} – {row['trigger']} – {shown} – track “{row['track']}”, channel {row['channel']}")
    return "\n".join(lines) + "\n"


def trigger_words(document: ArticulationMap, index: int) -> str:
    """Return the triggers of an articulation in words, in their order; "no switch" if it has none."""
    return ", then ".join(_words(trigger, document.middle_c) for trigger in document.articulations[index].triggers) or "no switch"


def _words(trigger: AnyTrigger, middle_c: str) -> str:
    match trigger:
        case Keyswitch():
            name = f"key {key_name(trigger.keyswitch, middle_c)} ({trigger.keyswitch})"
            return f"{name} as a toggle" if trigger.toggle else name + _HOW_HELD[trigger.hold]
        case Controller():
            low, high = trigger.band
            return f"controller {trigger.controller} at {low if low == high else f'{low} to {high}'}"
        case Program():
            banks = ((trigger.bank_msb, "bank MSB"), (trigger.bank_lsb, "bank LSB"))
            return ", ".join([f"program {trigger.program}", *(f"{name} {value}" for value, name in banks if value is not None)])
        case Channel():
            return f"channel {trigger.channel}"
        case Velocities():
            return "velocities {} to {}".format(*trigger.velocities)
        case Shift():
            return f"keys {trigger.shift:+d} semitones"
        case Track():
            return f"track “{trigger.track}”"
