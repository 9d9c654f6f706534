"""What was heard, note by note, as text."""

from __future__ import annotations

from collections.abc import Iterator

from rendering.listening.heard import NOTHING, TWO_AT_ONCE, Heard
from rendering.maps.keys import key_name


def hear_text(heard: Heard, middle_c: str = "C4") -> str:
    """Return a list of all notes heard, one a line in the order of the rows, ended by a newline.

    The first line states how keys are named. A line: tick of the note-on, tick of its end, port and
    channel from 1, sounding key, velocity, "memory: articulation" of each memory, then "joined" and
    what the note changed to while it sounded, if so. "no notes" when nothing is heard.
    """
    lines = [f"{middle_c} = key 60; ticks as sent"]
    changes: dict[int, list[str]] = {}
    for change in heard.changes:
        sampler = heard.seats[heard.seat[change.row]].sampler
        words = f"{sampler.memories[change.memory]} changes at {change.tick} to {_name(heard, change.row, change.after)}"
        changes.setdefault(change.row, []).append(words)
    lines += [", ".join([line, *changes.get(row, ())]) for row, line in enumerate(_notes(heard, middle_c))]
    return "\n".join(lines if len(heard) else [*lines, "no notes"]) + "\n"


def _notes(heard: Heard, middle_c: str) -> Iterator[str]:
    for row in range(len(heard)):
        memories = heard.seats[heard.seat[row]].sampler.memories
        names = [f"{memory}: {_name(heard, row, e)}" for memory, e in zip(memories, heard.entries(row), strict=True)]
        if heard.joined[row]:
            names.append("joined")
        where = f"{heard.on[row]}-{heard.off[row]} port {heard.port[row] + 1} channel {heard.channel[row] + 1}"
        yield f"{where} {key_name(heard.sounding[row], middle_c)} velocity {heard.velocity[row]} {', '.join(names)}"


def _name(heard: Heard, row: int, entry: int) -> str:
    if entry == NOTHING:
        return "nothing"
    if entry == TWO_AT_ONCE:
        return "two at once"
    return heard.seats[heard.seat[row]].sampler.entries[entry].name
