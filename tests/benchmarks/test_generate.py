"""The benchmark's score is a real score, and its table comes out; no time is tested here."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from lxml import etree

from tests.benchmarks.generate import DIVISIONS, ORCHESTRA, orchestra
from tests.benchmarks.stages import STAGES
from tests.musicxml_schema import faults

SCORE = orchestra(parts=40, measures=12, seed=7)
ROOT = etree.fromstring(SCORE)


def test_the_same_seed_gives_the_same_bytes() -> None:
    assert orchestra(parts=3, measures=5, seed=2) == orchestra(parts=3, measures=5, seed=2)
    assert orchestra(parts=3, measures=5, seed=2) != orchestra(parts=3, measures=5, seed=3)


def test_it_is_valid_musicxml_4() -> None:
    # Source: musicxml.xsd Version 4.0, W3C Music Notation Community Group
    assert faults(SCORE) == []


def test_every_measure_is_full() -> None:
    full = {sum(int(n.findtext("duration", "0")) for n in measure.iter("note")) for measure in ROOT.iter("measure")}
    assert full == {4 * DIVISIONS}


def test_parts_beyond_the_orchestra_begin_it_again() -> None:
    root = etree.fromstring(orchestra(parts=len(ORCHESTRA) + 1, measures=1))
    names = [name.text for name in root.iter("part-name")]
    assert (len(names), names[-1]) == (41, "Piccolo")


SIGNS = "slur tie staccato accent tenuto tremolo trill-mark wedge dynamics words time-modification transpose grace"


@pytest.mark.parametrize("sign", SIGNS.split())
def test_it_has_signs_of_each_kind(sign: str) -> None:
    assert ROOT.find(f".//{sign}") is not None


@pytest.mark.parametrize("sign", ["slur", "tie", "wedge"])
def test_what_begins_ends(sign: str) -> None:
    ends = [e.get("type") for e in ROOT.iter(sign)]
    assert ends.count("stop") * 2 == len(ends)


def test_the_table_lists_every_stage() -> None:
    command = [sys.executable, "-m", "tests.benchmarks.stages", "--parts", "4", "--measures", "6", "--rounds", "1"]
    said = subprocess.run(command, check=True, capture_output=True, text=True, cwd=Path(__file__).parents[2]).stdout
    lines = [line.split()[0] for line in said.splitlines() if line.startswith("  ")]
    assert [name for name in lines if name in STAGES] == list(STAGES)
    assert "0 disagree" in said
