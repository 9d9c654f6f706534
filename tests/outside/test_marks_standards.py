"""The marks against the open standards' own lists: everything they can ask for is a mark or has a stated reason.

Lists: MusicXML 4.0 XSD (repository w3c/musicxml @830fb18c) and its sounds.xml; SMuFL 1.4 metadata (glyphnames.json,
ranges.json); MEI 5 data.ARTICULATION; M2-123 as listed in midi2-dev/MIDI2.0Workbench libs/profiles.js @ddf0d762, second
hand; instruments of music21's instrument module.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from rendering.marks import BIT, ELEMENT_MARKS, MARKS, family_of, glyph_mask
from rendering.marks.checks import standing
from rendering.marks.elements import key_of
from rendering.marks.tables import listed, rows

DATA = Path(__file__).parent / "data"
LISTS = json.loads((DATA / "musicxml_lists.json").read_text(encoding="utf-8"))


def table(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, delimiter="\t"))


@pytest.mark.parametrize("parent", LISTS["children"])
def test_every_child_element_has_a_mark_or_a_reason(parent: str) -> None:
    group = {"accordion-registration": "accordion"}.get(parent, parent)
    assert [child for child in LISTS["children"][parent] if not standing(group, child)] == []


def test_the_lists_of_articulations_technical_and_ornaments_are_whole() -> None:
    counts = {parent: len(LISTS["children"][parent]) for parent in ("articulations", "technical", "ornaments")}
    assert counts == {"articulations": 17, "technical": 31, "ornaments": 16}


@pytest.mark.parametrize("enumeration", LISTS["enumerations"])
def test_every_enumerated_value_has_a_mark_or_a_reason(enumeration: str) -> None:
    assert [value for value in LISTS["enumerations"][enumeration] if not standing(enumeration, value)] == []


def test_a_name_that_no_list_holds_has_neither() -> None:
    assert standing("articulations", "staccato-ish") == standing("mute", "sock") == ""


def test_no_row_names_an_element_or_value_that_musicxml_does_not_have() -> None:
    values = {("mute", value) for value in LISTS["enumerations"]["mute"]}
    for name, group in (("beater-value", "beater"), ("handbell-value", "handbell"), ("stick-type", "stick-type")):
        values |= {(group, value) for value in LISTS["enumerations"][name]}
    for name in ("stick-material", "stick-location", "tremolo-type", "trill-step", "tied-type", "pedal-type"):
        values |= {(name.removesuffix("-type") if name != "stick-type" else name, value) for value in LISTS["enumerations"][name]}
    for parent in ("articulations", "technical", "ornaments", "notations"):
        values |= {(parent, child) for child in LISTS["children"][parent]}
    groups = {group for group, _ in values}
    paths = [key_of(path) for mark in MARKS for path in mark.musicxml]
    assert [(group, value) for group, value, _ in paths if group in groups and (group, value) not in values] == []


def test_every_articulation_sign_means_what_musicxml_says() -> None:
    """The XSD's own words: dot, wedge, stroke; tenuto line and dot; vertical and horizontal accent."""
    signs = {"staccato": "Staccato", "staccatissimo": "StaccatissimoWedge", "spiccato": "StaccatissimoStroke"}
    signs |= {"detached-legato": "TenutoStaccato", "strong-accent": "Marcato", "accent": "Accent", "tenuto": "Tenuto"}
    for element, glyph in signs.items():
        assert glyph_mask(f"artic{glyph}Above") == 1 << BIT[ELEMENT_MARKS["articulations", element]]


def test_every_smufl_glyph_of_a_playing_technique_has_a_mark_or_a_reason() -> None:
    reasons = {(row["list"], item) for row in rows("standards.tsv") if row["standard"] == "SMuFL 1.4" for item in row["item"].split()}
    glyphs = [(row["range"], row["glyph"]) for row in table("smufl_glyphs.tsv")]
    assert len(glyphs) > 1000
    missing = [g for g in glyphs if not glyph_mask(g[1]) and g not in reasons and (g[0], "*") not in reasons and g[0] != "range"]
    assert missing == []


def test_no_row_names_a_glyph_that_smufl_does_not_have() -> None:
    known = {row["glyph"] for row in table("smufl_glyphs.tsv")}
    named = [glyph for mark in MARKS for glyph in mark.smufl]
    named += [item for row in rows("standards.tsv") if row["standard"] == "SMuFL 1.4" for item in row["item"].split() if item != "*"]
    assert [glyph for glyph in named if glyph not in known] == []


def test_every_mei_articulation_has_a_mark_or_a_reason() -> None:
    values = set((DATA / "mei_articulations.txt").read_text(encoding="utf-8").split())
    marks = {value for mark in MARKS for value in mark.mei}
    reasons = {row["item"] for row in rows("standards.tsv") if row["standard"] == "MEI 5"}
    assert marks | reasons == values
    assert not marks & reasons


def test_every_class_of_m2_123_has_a_mark_or_a_reason() -> None:
    listed_classes = table("m2_123_lists.tsv")
    classes = {(row["attribute_type"], row["subclass"], row["subclass_name"]) for row in listed_classes if row["attribute_type"] != "mute"}
    mutes = {(row["subclass"], row["subclass_name"]) for row in listed_classes if row["attribute_type"] == "mute"}
    assert {(row["class"], row["subclass"], row["subclass_name"]) for row in rows("m2_123.tsv")} == classes
    assert {(row["value"], row["name"]) for row in rows("m2_123_mutes.tsv")} == mutes
    assert (len(classes), len(mutes)) == (102, 23)
    assert all("second hand" in row["source"] for row in [*rows("m2_123.tsv"), *rows("m2_123_mutes.tsv")])


def test_marks_that_share_a_name_with_a_class_of_m2_123_are_of_that_class() -> None:
    by_name = {row["subclass_name"].casefold(): row for row in rows("m2_123.tsv")}
    for name in (
        "détaché",
        "sautillé",
        "portato",
        "col legno battuto",
        "col legno tratto",
        "flautando",
        "cuivré",
        "lontano",
        "marcato",
        "staccatissimo",
    ):
        row = by_name[{"détaché": "detaché"}.get(name, name)]
        assert listed(row["marks"], "|") == [name]


def test_every_standard_sound_has_a_family_but_synthesisers() -> None:
    sounds = (DATA / "musicxml_sounds.txt").read_text(encoding="utf-8").split()
    assert len(sounds) == 894
    families = {sound: family_of(sound, "") for sound in sounds}
    assert {sound.split(".")[0] for sound, family in families.items() if not family} == {"synth"}
    tops = {
        "strings": {"strings"}, "brass": {"brass"}, "wind": {"woodwind"}, "voice": {"voice"}, "pluck": {"plucked", "harp"},
        "keyboard": {"keyboard", "organ", "accordion"}, "pitched-percussion": {"mallets", "handbells"},
        "metal": {"percussion", "cymbals"}, "drum": {"percussion", "timpani"},
    }  # fmt: skip
    for top, allowed in tops.items():
        assert {family for sound, family in families.items() if sound.split(".")[0] == top} == allowed


def test_names_and_sounds_of_music21s_instruments_agree() -> None:
    """Where music21 names both: an instrument's name leads to the family of its sound. The exceptions are stated."""
    stated = {
        "Sampler": "no instrument of a score: unknown by name",
        "Timbales": "French scores write it for timpani, and those are far more",
    }
    differing = {}
    for row in table("music21_instruments.tsv"):
        name, sound = row["instrumentName"], row["instrumentSound"]
        if sound and name and family_of("", name) != family_of(sound, ""):
            differing[name] = (family_of("", name), family_of(sound, ""))
    assert {name: pair for name, pair in differing.items() if name not in stated} == {}
