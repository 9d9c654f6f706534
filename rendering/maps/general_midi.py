"""Built-in maps of General MIDI Level 1: what parts play on when no map is given.

The only maps that ship as truth, since that standard is open: programs by sound, four of them as
articulations of the instruments they belong to, and the drum keys of channel 10.

Loudness is velocity, a straight line from 1 to 127. It keeps what files state: MusicXML's 100 % is a
level of 0.9 * 1000 / 127 and becomes velocity 90 again, f becomes 96 as in the worked example of
SMF 1.0 (whose 64 for mezzo forte and 32 for piano no line through equal steps can meet), and a velocity
read from a MIDI sketch comes out as it went in.
"""

from __future__ import annotations

import json
from functools import cache

from rendering import documents
from rendering.maps.document import ArticulationMap
from rendering.maps.names import sound_of_name
from rendering.maps.tables import rows

PROGRAM_NAMES: tuple[str, ...] = tuple(row["name"] for row in rows("gm_programs.tsv"))
PROGRAM_OF: dict[str, int] = {row["sound"]: int(row["program"]) for row in rows("gm_sounds.tsv")}
DRUM_OF: dict[str, int] = {row["sound"]: int(row["key"]) for row in reversed(rows("gm_drums.tsv")) if not row["plays"]}
DRUM_OF |= {row["sound"]: int(row["key"]) for row in rows("gm_drum_kin.tsv")}

# What a sound of which General MIDI has nothing nearer is played on, as a guess: this project's choice.
FAMILY_OF: dict[str, int] = {
    "strings": 48, "pluck": 24, "keyboard": 0, "brass": 61, "voice": 52, "wind": 73, "wind.flutes": 73, "wind.reed": 68, "wind.pipes": 109,
    "pitched-percussion": 12, "synth": 88, "synth.tone": 80, "synth.pad": 88, "synth.effects": 99,
}  # fmt: skip
PIANO = 0
DRUM_SET = "drum.group.set"  # the sound of the drum map
UNPITCHED = ("drum", "metal", "wood", "rattle", "effect")
BOWED = frozenset((40, 41, 42, 43, 48, 49))
BRASS_MUTES = (
    "straight mute", "cup mute", "harmon mute", "harmon mute stem in", "harmon mute stem extended", "harmon mute no stem",
    "bucket mute", "plunger mute", "hat mute", "solotone mute", "practice mute", "whisper mute", "mica mute",
)  # fmt: skip
# program -> (id, name, marks that it plays, program): other programs that are the same instrument played otherwise.
OTHERWISE: dict[int, list[tuple[str, str, list[str], int]]] = {
    **{bowed: [("tremolo", "Tremolo", ["tremolo"], 44), ("pizzicato", "Pizzicato", ["pizzicato"], 45)] for bowed in BOWED},
    56: [("muted", "Muted", ["con sordino"], 59)],
    26: [("muted", "Muted", ["palm mute"], 28), ("harmonic", "Harmonics", ["natural harmonic"], 31)],
    27: [("muted", "Muted", ["palm mute"], 28), ("harmonic", "Harmonics", ["natural harmonic"], 31)],
    33: [("slap", "Slapped", ["slap"], 36)],
    52: [("oo", "Oo", ["oo"], 53)],
}
STAND_INS: dict[int, list[dict[str, object]]] = {
    56: [{"for": mute, "use": ["con sordino"]} for mute in BRASS_MUTES],
    52: [{"for": "hummed", "use": ["oo"]}],
}


def general_midi_for(sound: str, name: str, program: int, *, unpitched: bool = False) -> tuple[ArticulationMap, bool]:
    """Return the built-in map of a part, and whether it is only a guess (the caller warns).

    By the instrument's sound ("" = unknown), else by the program that the file states (-1 = none), else by
    its name; else, as a guess, by the family of its sound; else a piano. Parts without pitch, by their
    sound or as said, get the drum map.
    """
    for said in (sound, "" if program >= 0 else sound_of_name(name)):
        found = program_of(said)
        if unpitched or (found < 0 and said.partition(".")[0] in UNPITCHED):
            return drums(), False
        if found >= 0:
            return general_midi(found, said), False
    if program >= 0:
        return general_midi(program, sound), False
    return general_midi(max(_nearest(FAMILY_OF, sound), PIANO), sound), True


def program_of(sound: str) -> int:
    """Return the program (0-127) of a MusicXML sound or of the nearest sound it belongs to; -1 if none is."""
    return _nearest(PROGRAM_OF, sound)


def drum_key(sound: str) -> int:
    """Return the drum key of a MusicXML sound or of the nearest sound it belongs to; -1 if none is."""
    return _nearest(DRUM_OF, sound)


def _nearest(table: dict[str, int], sound: str) -> int:
    while sound and sound not in table:
        sound = sound.rpartition(".")[0]
    return table.get(sound, -1)


@cache
def general_midi(program: int, sound: str = "") -> ArticulationMap:
    """Return the map of a program (0-127): it, and the programs that are the same instrument played otherwise."""
    others = OTHERWISE.get(program, [])
    articulations: list[dict[str, object]] = [_articulation("ordinary", PROGRAM_NAMES[program], [], program)]
    articulations += [_articulation(name, title, [marks], other) for name, title, marks, other in others]
    return _map(f"General MIDI: {PROGRAM_NAMES[program]}", sound, "ordinary", articulations, STAND_INS.get(program, []))


def _articulation(name: str, title: str, plays: list[list[str]], program: int) -> dict[str, object]:
    return {"id": name, "name": title, "memory": "program", "plays": plays, "triggers": [{"program": program}]}


@cache
def drums() -> ArticulationMap:
    """Return the map of the drum keys, a strike each; its sound is `DRUM_SET`, its place channel 10."""
    strikes: list[dict[str, object]] = [
        {
            "id": f"key-{row['key']}", "name": row["name"], "memory": "drums", "plays": [[row["plays"]]] if row["plays"] else [],
            "key": int(row["key"]), "strike": row["sound"], "rings": True,
        }
        for row in rows("gm_drums.tsv")
    ]  # fmt: skip
    return _map("General MIDI: drums", DRUM_SET, "key-38", strikes, [])


def _map(
    name: str, sound: str, default: str, articulations: list[dict[str, object]], stand_ins: list[dict[str, object]]
) -> ArticulationMap:
    made = {
        "kind": "articulation-map", "edition": 1, "name": name, "sound": sound, "bend_range": 2,
        "memories": [{"id": articulations[0]["memory"], "default": default}],
        "articulations": articulations, "stand_ins": stand_ins,
    }  # fmt: skip
    return documents.read(ArticulationMap, json.dumps(made).encode())
