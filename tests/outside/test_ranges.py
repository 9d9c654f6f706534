"""Transpositions and lowest notes against several public sources at once.

ranges_consensus.tsv: per instrument, on how many of Abjad, music21, Georgetown College's handout, Wikipedia,
orchestralibrary.com and the MusicXML documentation its transposition rests, and whether the lowest notes agree;
ranges.tsv: each single value with its source. Rows from memory are not used. What is taken: transpositions on
which three or more sources agree, lowest notes on which all that give one agree; highest notes serve remarks only.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

import music21
import pytest

from rendering.maps.ranges import USUAL, usual_range
from rendering.maps.tables import rows

DATA = Path(__file__).parent / "data"


def table(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8") as lines:
        return list(csv.DictReader(lines, delimiter="\t", quoting=csv.QUOTE_NONE))


CONSENSUS = {row["instrument"]: row for row in table("ranges_consensus.tsv")}
NAMES = {row["sound"]: row["name"] for row in rows("ranges.tsv")}


def test_the_22_transpositions_with_three_sources_or_more() -> None:
    expected = {name: int(row["transposition_semitones"]) for name, row in CONSENSUS.items() if int(row["n_sources"]) >= 3}
    assert len(expected) == 22
    assert {NAMES[sound]: usual.transposition for sound, usual in USUAL.items() if usual.transposition is not None} == expected


def test_the_18_lowest_notes_on_which_sources_agree() -> None:
    expected = {
        name: int(re.match(r"\d+", row["sounding_low_midi_values"]).group())  # type: ignore[union-attr]
        for name, row in CONSENSUS.items()
        if row["agree_low"] == "yes"
    }
    assert len(expected) == 18
    assert {NAMES[sound]: usual.lowest for sound, usual in USUAL.items() if usual.lowest >= 0} == expected


def test_the_highest_is_the_highest_that_a_source_gives() -> None:
    for sound, usual in USUAL.items():
        row = CONSENSUS[NAMES[sound]]
        given = [
            int(one["midi_note(C4=60)"]) + (int(row["transposition_semitones"]) if one["quantity"] == "written_high" else 0)
            for one in table("ranges.tsv")
            if one["instrument"] == NAMES[sound] and one["quantity"].endswith("_high") and not one["source"].startswith("memory")
        ]
        assert usual.highest == max(given, default=-1), sound


def test_every_number_names_its_sources() -> None:
    for sound, usual in USUAL.items():
        assert bool(usual.lowest_sources) == (usual.lowest >= 0), sound
        assert bool(usual.highest_sources) == (usual.highest >= 0), sound
        assert bool(usual.transposition_sources) == (usual.transposition is not None), sound
        if usual.transposition is not None:
            assert len(usual.transposition_sources.split(", ")) >= 3, sound
        if usual.lowest >= 0:
            assert len(usual.lowest_sources.split(", ")) >= 2, sound


@pytest.mark.parametrize(("name", "sound"), [
    ("Violin", "strings.violin"), ("Viola", "strings.viola"), ("Violoncello", "strings.cello"), ("Flute", "wind.flutes.flute"),
    ("Oboe", "wind.reed.oboe"), ("Bassoon", "wind.reed.bassoon"), ("Piccolo", "wind.flutes.flute.piccolo"),
    ("EnglishHorn", "wind.reed.english-horn"), ("AltoSaxophone", "wind.reed.saxophone.alto"), ("Tuba", "brass.tuba"),
])  # fmt: skip
def test_against_the_installed_music21(name: str, sound: str) -> None:
    """Source: music21's instrument module; its lowest note is written, so its transposition is added."""
    instrument = getattr(music21.instrument, name)()
    shift = instrument.transposition.semitones if instrument.transposition else 0
    usual = usual_range(sound)
    assert usual is not None
    assert usual.lowest == instrument.lowestNote.midi + shift
    assert usual.transposition == shift


def test_unknown_sounds_have_no_range() -> None:
    assert usual_range("wind.reed.zurna") is None
    assert usual_range("") is None
