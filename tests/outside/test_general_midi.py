"""General MIDI and the names of instruments against tables from outside the project.

gm_programs.tsv, gm_percussion.tsv: General MIDI Level 1, as MEI 5's data.MIDINAMES and pretty_midi list it.
musicxml_sounds.txt: the standard sounds of MusicXML 4.0 (sounds.xml).
music21_instruments.tsv: music21 10.5.1, instrument.py; and the installed music21 itself.
"""

from __future__ import annotations

import csv
from pathlib import Path

import music21
import pytest

from rendering.maps.compile import compile_map
from rendering.maps.general_midi import (
    DRUM_OF,
    FAMILY_OF,
    PROGRAM_NAMES,
    PROGRAM_OF,
    UNPITCHED,
    drums,
    general_midi,
    general_midi_for,
    program_of,
)
from rendering.maps.names import PHRASES, sound_of_name

DATA = Path(__file__).parent / "data"
SOUNDS = set((DATA / "musicxml_sounds.txt").read_text().split())


def table(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8") as lines:
        return list(csv.DictReader(lines, delimiter="\t", quoting=csv.QUOTE_NONE))


def test_the_128_programs_have_the_standards_names() -> None:
    assert [(int(row["program_0based"]), row["name_MEI_data.MIDINAMES"]) for row in table("gm_programs.tsv")] == list(
        enumerate(PROGRAM_NAMES)
    )


def test_the_47_drum_keys_have_the_standards_names() -> None:
    expected = [(int(row["key_0based"]), row["name_MEI_data.MIDINAMES"]) for row in table("gm_percussion.tsv")]
    assert [(entry.strike_key, entry.name) for entry in compile_map(drums()).entries] == expected


# Keys that music21 files under another of MusicXML's sounds: it takes the whistle for a flute.
OTHER_DRUM = {71: "wind.flutes.whistle", 72: "wind.flutes.whistle"}


def test_drum_keys_agree_with_music21() -> None:
    """Source: music21's PercussionMapper, "General MIDI Level 1 Percussion Key Map", as far as it knows a key's sound."""
    mapper = music21.midi.percussion.PercussionMapper()
    compared = 0
    for entry in compile_map(drums()).entries:
        try:
            sound = mapper.midiPitchToInstrument(entry.strike_key).instrumentSound
        except music21.midi.percussion.MIDIPercussionException:
            continue
        if sound is not None:
            compared += 1
            assert entry.strike.startswith(sound) or OTHER_DRUM.get(entry.strike_key) == sound, (entry.strike_key, entry.strike, sound)
    assert compared == 35


# Not in MusicXML's list, but in files that music21 writes.
WRITTEN_BY_MUSIC21 = {"wind.flutes.piccolo", "voice.choir"}


def test_every_sound_of_the_tables_is_one_of_musicxml() -> None:
    used = {
        *(PROGRAM_OF.keys() - WRITTEN_BY_MUSIC21),
        *DRUM_OF,
        *PHRASES.values(),
        *(entry.strike for entry in compile_map(drums()).entries),
    }
    families = {sound.rpartition(".")[0] for sound in SOUNDS} | {sound.split(".")[0] for sound in SOUNDS}
    assert {sound for sound in used if sound not in SOUNDS and sound not in families} == set()
    assert {sound for sound in FAMILY_OF if sound not in SOUNDS and sound not in families} == set()


def test_every_sound_of_musicxml_has_a_program_a_drum_or_at_least_a_family() -> None:
    without = {s for s in SOUNDS if general_midi_for(s, "", -1)[1] and not any(s == f or s.startswith(f + ".") for f in FAMILY_OF)}
    assert without == set()
    exact = [s for s in SOUNDS if program_of(s) >= 0 or s.partition(".")[0] in UNPITCHED]
    assert len(exact) > len(SOUNDS) // 2


# Where music21 gives a sound another program: its class, its program, and why ours is another.
OTHER_PROGRAM = {
    "Agogo": (113, "without pitch: a drum key"),
    "Woodblock": (115, "without pitch: a drum key"),
    "Alto": (53, "Choir Aahs; Voice Oohs (53) are for the syllable oo"),
    "Baritone": (53, "Choir Aahs"),
    "Bass": (53, "Choir Aahs"),
    "MezzoSoprano": (53, "Choir Aahs"),
    "Soprano": (53, "Choir Aahs"),
    "Tenor": (53, "Choir Aahs"),
    "ElectricGuitar": (26, "Electric Guitar (clean) rather than (jazz)"),
    "ElectricOrgan": (16, "its sound is that of any organ"),
    "ElectricPiano": (2, "its sound is that of any piano"),
    "Sampler": (55, "its sound is that of any piano"),
    "Mandolin": (48, "music21 gives String Ensemble 1; a guitar is nearer"),
    "Ukulele": (48, "music21 gives String Ensemble 1; a guitar is nearer"),
}


def test_programs_agree_with_music21() -> None:
    """Source: music21_instruments.tsv, by instrumentSound; each difference is listed with its reason."""
    different = {}
    compared = 0
    for row in table("music21_instruments.tsv"):
        if row["instrumentSound"] and row["midiProgram_0based"]:
            compared += 1
            first = compile_map(general_midi_for(row["instrumentSound"], "", -1)[0]).entries[0]
            if [switch.number for switch in first.switches] != [int(row["midiProgram_0based"])]:
                different[row["class"]] = int(row["midiProgram_0based"])
    assert compared == 75
    assert different == {name: program for name, (program, _) in OTHER_PROGRAM.items()}


@pytest.mark.parametrize("program", [40, 41, 42, 43, 46, 47, 56, 57, 58, 60, 68, 69, 70, 71, 72, 73])
def test_the_orchestras_programs(program: int) -> None:
    """Each orchestral program is reached by the English name that General MIDI gives it."""
    name = PROGRAM_NAMES[program]
    assert general_midi_for("", name, -1) == (general_midi(program, sound_of_name(name)), False)


# English names and abbreviations of music21 that mean something else here, or nothing, and why.
OTHER_NAME = {
    "Ago": "", "Gng": "", "Hmca": "", "Lte": "", "Oc": "", "Shn": "", "Sit": "", "Tko": "", "Tim": "", "Uke": "", "Ch": "",
    "Samp": "", "Sampler": "",
    "Bells": "pitched-percussion.tubular-bells",  # in an orchestra
    "Church Bells": "pitched-percussion.tubular-bells",
    "Brass": "brass.group", "Str": "strings.group", "Woodwind": "wind.group",  # sections, without a sound in music21
    "Choir": "voice.vocals", "Voice": "voice.vocals",  # voice.choir is no sound of MusicXML
    "Contrabassoon": "wind.reed.contrabassoon", "C Bsn": "wind.reed.contrabassoon",  # music21 gives the bassoon's
    "Cymbals": "metal.cymbal.crash", "Cym": "metal.cymbal.crash",
    "Electric Piano": "keyboard.piano.electric", "E.Pno": "keyboard.piano.electric",
    "Kb": "strings.contrabass",  # Kontrabass
    "Piccolo": "wind.flutes.flute.piccolo", "Picc": "wind.flutes.flute.piccolo",  # MusicXML's name for it
    "Timbales": "drum.timpani",  # French; the Latin ones are "latin timbales"
}  # fmt: skip


def test_names_agree_with_music21() -> None:
    """Source: music21_instruments.tsv, instrumentName and abbrev; each difference is listed."""
    found = {}
    compared = 0
    for row in table("music21_instruments.tsv"):
        for name in filter(None, (row["instrumentName"], row["abbrev"])):
            if row["instrumentSound"] or sound_of_name(name):
                compared += 1
                if sound_of_name(name) != row["instrumentSound"]:
                    found[name] = sound_of_name(name)
    assert compared > 180
    assert found == OTHER_NAME
