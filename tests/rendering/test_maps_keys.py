"""Names of keys in the three conventions."""

from __future__ import annotations

import music21
import pytest

from rendering.maps.keys import OCTAVE_OF_ZERO, key_name, readings


@pytest.mark.parametrize(("name", "c3", "c4", "c5"), [
    ("C1", 36, 24, 12),
    ("C-2", 0, -12, -24),
    ("G8", 127, 115, 103),
    ("G9", 139, 127, 115),
    ("G10", 151, 139, 127),
    ("Cb4", 71, 59, 47),  # the octave belongs to the letter
    ("B#3", 72, 60, 48),
    ("c♯2", 49, 37, 25),
    ("E♭3", 63, 51, 39),
    ("F##3", 67, 55, 43),
    ("Bbb3", 69, 57, 45),
])  # fmt: skip
def test_readings(name: str, c3: int, c4: int, c5: int) -> None:
    assert readings(name) == {"C3": c3, "C4": c4, "C5": c5}


@pytest.mark.parametrize(
    "name", ["", "H4", "C", "C11", "C-3", "4C", "C#", "Cb#4", "C###4", "C 4", "C4 ", "60", "C+4", "Do4", "C４", "C-10"]
)
def test_what_is_no_name(name: str) -> None:
    assert readings(name) is None


def test_every_key_has_a_name_that_reads_back() -> None:
    for middle_c in OCTAVE_OF_ZERO:
        for key in range(128):
            found = readings(key_name(key, middle_c))
            assert found is not None
            assert found[middle_c] == key


def test_c4_is_key_60_in_music21() -> None:
    """Source: music21, where octave 4 starts at middle C (60), as in MusicXML; flats are written with "-"."""
    for step in "CDEFGAB":
        for sign, written in (("", ""), ("#", "#"), ("b", "-"), ("##", "##"), ("bb", "--")):
            for octave in range(9):
                found = readings(f"{step}{sign}{octave}")
                assert found is not None
                assert found["C4"] == music21.pitch.Pitch(f"{step}{written}{octave}").ps
