"""Scores that others wrote, rendered whole: the MusicXML files of music21's corpus and the LilyPond MusicXML test suite.

Both are read from the installed music21 package (BSD; the suite: MIT). Every part of each file is rendered on
General MIDI and on the demo's violin map. The normal run takes a sample, the deep run all of them.
"""

from __future__ import annotations

import json
import random
from collections import Counter
from dataclasses import dataclass, field
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import mido
import pytest
from lxml.etree import _Element as Element

from fixtures import demo
from rendering.codes import message
from rendering.documents import read
from rendering.maps.document import ArticulationMap, Keyswitch
from rendering.pipeline import Rendering, load, render, render_score
from rendering.problems import Refused
from rendering.proof import YIELDING
from tests.outside import plain_reader
from tests.outside.plain_repeats import played_order
from tests.outside.reading import CORPUS, HARD, MUSIC21, corpus_files, lilypond_files

SAMPLE = 50
MOST_YIELDED = 0.01
REFUSED: dict[str, str] = {}  # file -> the first problem's sentence
STRINGS = ("first-violins", "second-violins", "violas", "cellos")


@cache
def demo_map(name: str, library: str = "tarn-house") -> ArticulationMap:
    return read(ArticulationMap, (demo.FOLDER / library / f"{name}.json").read_bytes())


@dataclass
class Tally:
    """What many renders came to."""

    files: int = 0
    notes: int = 0
    agree: int = 0
    yielded: int = 0
    refused: dict[str, str] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)

    def add(self, name: str, made: Rendering) -> None:
        proof = made.report["proof"]
        self.files += 1
        self.notes += proof["notes"]
        self.agree += proof["agree"]
        self.yielded += proof["yielded"]
        if proof["disagree"]:
            self.wrong.append(f"{name}: {proof['disagree'][0]}")
        if proof["agree"] + proof["yielded"] != proof["notes"] and not proof["disagree"]:
            self.wrong.append(f"{name}: {proof} does not add up")
        told = sum(p["count"] for p in made.report["problems"] if p["code"] in YIELDING)
        if proof["yielded"] > told:
            self.wrong.append(f"{name}: {proof['yielded']} yielded, {told} named by problems")
        self.wrong += [f"{name}: {what}" for what in stuck(made.files["all.mid"])]

    def line(self, what: str) -> str:
        share = 100 * self.yielded / self.notes
        return f"{what}: {self.files} files, {self.notes} notes, {self.agree} heard as chosen, {self.yielded} yielded ({share:.2f} %)"


def stuck(data: bytes) -> list[str]:
    """Return what mido reads that is no pair: a note-on without a later note-off, or one on a key that is down."""
    found = []
    for number, track in enumerate(mido.MidiFile(file=BytesIO(data)).tracks):
        tick = 0
        down: dict[tuple[int, int], int] = {}
        for m in track:
            tick += m.time
            if m.type == "note_on" and down.setdefault((m.channel, m.note), tick) != tick:
                found.append(f"track {number}, tick {tick}: key {m.note} is down already")
            elif m.type == "note_off" and down.pop((m.channel, m.note), tick) >= tick:
                found.append(f"track {number}, tick {tick}: the off of key {m.note} ends nothing")
        found += [f"track {number}: key {key} never comes up" for _, key in down]
    return found


def render_all(files: list[Path], on: str) -> Tally:
    """Render every file, each part on General MIDI, or on the demo's violin map."""
    tally = Tally()
    for path in files:
        name = str(path.relative_to(MUSIC21))
        try:
            score, problems = load(path.read_bytes())
        except Refused as refused:
            tally.refused[name] = message(refused.problems[0])
            continue
        maps = [(p.id, demo_map("first-violins")) for p in score.parts] if on == "violins" else []
        tally.add(name, render_score(score, problems=problems, maps=maps))
    return tally


def check(files: list[Path], on: str, capsys: pytest.CaptureFixture[str]) -> None:
    tally = render_all(files, on)
    assert tally.wrong == []
    assert tally.refused == {str(p.relative_to(MUSIC21)): why for p in files if (why := REFUSED.get(str(p.relative_to(MUSIC21))))}
    assert tally.files + len(tally.refused) == len(files)
    assert tally.yielded <= MOST_YIELDED * tally.notes
    with capsys.disabled():
        print("\n" + tally.line(f"on {on}"))


@cache
def sample() -> list[Path]:
    """Return the hardest files of the corpus, and others by chance; the suite's files are small."""
    hard = [CORPUS / name for name in HARD]
    rest = [p for p in [*corpus_files(), *lilypond_files()] if p not in hard]
    return hard[:4] + random.Random(20250101).sample(rest, SAMPLE)


@pytest.mark.parametrize("on", ["General MIDI", "violins"])
def test_a_sample_renders(on: str, capsys: pytest.CaptureFixture[str]) -> None:
    check(sample(), on, capsys)


@pytest.mark.deep
@pytest.mark.parametrize("on", ["General MIDI", "violins"])
def test_all_render(on: str, capsys: pytest.CaptureFixture[str]) -> None:
    files = [*corpus_files(), *lilypond_files()]
    assert len(files) >= 654 + 143
    check(files, on, capsys)


# ── Two movements of Beethoven's op. 59 on the demo's strings, held against plain counts of the XML ──

HIGHER = {"legato", "portato", "pizzicato", "trill half", "trill whole"}  # marks that such notes bear as well, of higher axes
MOVEMENTS = {"opus59no1": (4, 3), "opus59no3": (14, 10)}  # pizz. and arco on the page, over all parts


@cache
def movement(opus: str, library: str) -> tuple[Rendering, Element]:
    data = (CORPUS / "beethoven" / opus / "movement2.mxl").read_bytes()
    names = STRINGS if library == "tarn-house" else ("violins", "violins", "violas", "cellos")
    maps = [(f"P{n}", demo_map(name, library)) for n, name in enumerate(names, 1)]
    return render(data, maps=maps), plain_reader.document(data)


def rows(made: Rendering) -> list[dict[str, Any]]:
    table = json.loads(made.files["notes.json"])
    return [dict(zip(table["columns"], row, strict=True)) for row in table["rows"]]


def plays_alone(document: ArticulationMap, mark: str) -> set[str]:
    """Return the ids of the articulations that play a mark by itself."""
    return {a.id for a in document.articulations if (mark,) in a.plays}


@pytest.mark.parametrize("library", ["tarn-house", "copperfold"])
@pytest.mark.parametrize("opus", MOVEMENTS)
def test_every_staccato_note_plays_the_short_articulation(opus: str, library: str) -> None:
    """Outcome exact, unless the note bears a mark of a higher axis as well, whose sample is then shortened."""
    made, root = movement(opus, library)
    assert made.agree
    documents = {t.track.id: t.track.document for t in made.run.tracks}
    dotted = [row for row in rows(made) if "staccato" in row["outcomes"]]
    for row in dotted:
        exact = {mark for mark, outcome in row["outcomes"].items() if outcome == "exact"}
        assert "staccato" in exact or exact & HIGHER
        assert row["outcomes"]["staccato"] in {"exact", "shaped"}
        short = {a.id for a in documents[row["track"]].articulations if any("staccato" in marks for marks in a.plays)}
        assert bool(short & {*row["articulations"]}) == ("staccato" in exact)
    by_part = Counter(row["part"] for row in dotted)
    for part, measures in plain_reader.measures_of(root).items():
        assert by_part[part] >= written_dots(measures) > 0


def written_dots(measures: list[Element]) -> int:
    """Return how many sounding notes bear a dot of their own, or share that of their chord's first note; tied ones once."""
    count, dotted = 0, False
    for note in (n for measure in measures for n in measure.iterfind("note")):
        if note.find("chord") is None:
            dotted = note.find("notations/articulations/staccato") is not None
        held = note.find("tie[@type='stop']") is not None
        count += dotted and not held and note.find("rest") is None and note.find("cue") is None
    return count


def directions(measures: list[Element]) -> list[tuple[int, str]]:
    """Return (measure index, word) of pizz. and arco in the order of the page."""
    words = [(i, (w.text or "").strip().rstrip(".")) for i, m in enumerate(measures) for w in m.iterfind("direction/direction-type/words")]
    return [(i, word) for i, word in words if word in {"pizz", "arco"}]


def states_of_notes(measures: list[Element]) -> list[list[bool]]:
    """Return of each measure, note by note in the order of the page, whether it stands in pizz.; tied-on notes left out."""
    found: list[list[bool]] = []
    plucked = False
    for measure in measures:
        found.append([])
        for element in measure:
            words = [(w.text or "").strip().rstrip(".") for w in element.iterfind("direction-type/words")]
            plucked = {"pizz": True, "arco": False}.get(next((w for w in words if w in {"pizz", "arco"}), ""), plucked)
            if element.tag == "note" and element.find("rest") is None and element.find("tie[@type='stop']") is None:
                found[-1].append(plucked)
    return found


def turns(states: list[bool]) -> tuple[int, int]:
    """Return how often a row of states turns on, and off, beginning off."""
    pairs = list(zip([False, *states], states, strict=False))
    return sum(b and not a for a, b in pairs), sum(a and not b for a, b in pairs)


@pytest.mark.parametrize("library", ["tarn-house", "copperfold"])
@pytest.mark.parametrize("opus", MOVEMENTS)
def test_each_pizz_and_arco_of_the_page_switches(opus: str, library: str) -> None:
    """In the order of the page the plucked articulation comes and goes as often as the words stand there."""
    made, root = movement(opus, library)
    written = {part: directions(measures) for part, measures in plain_reader.measures_of(root).items()}
    words = Counter(word for found in written.values() for _, word in found)
    assert (words["pizz"], words["arco"]) == MOVEMENTS[opus]
    found = [0, 0]
    for t in made.run.tracks:
        plucked = plays_alone(t.track.document, "pizzicato")
        notes = {row["note"]: bool(plucked & {*row["articulations"]}) for row in rows(made) if row["track"] == t.track.id}
        on, off = turns([notes[n] for n in sorted(notes)])
        found[0] += on
        found[1] += off
    assert tuple(found) == MOVEMENTS[opus]


@pytest.mark.parametrize("opus", MOVEMENTS)
def test_the_bytes_switch_as_often_as_the_played_measures_ask(opus: str) -> None:
    """As mido reads them: the plucked key is pressed for each pizz. that is played, and left for each arco.

    The measures as played, repeats unfolded, come from the plain reader; on which state each ends, from its words.
    """
    made, root = movement(opus, "tarn-house")
    parts = plain_reader.measures_of(root)
    order = played_order(list(parts.values()), max(map(len, parts.values())))
    file = mido.MidiFile(file=BytesIO(made.files["all.mid"]))
    for track, t in zip(file.tracks[1:], made.run.tracks, strict=True):
        articulations = [a for a in t.track.document.articulations if a.memory == "bow"]
        bow = {s.keyswitch: a.id for a in articulations for s in a.triggers if isinstance(s, Keyswitch)}
        pressed = [bow[m.note] in plays_alone(t.track.document, "pizzicato") for m in track if m.type == "note_on" and m.note in bow]
        states = states_of_notes(parts[t.track.id])
        assert turns(pressed) == turns([state for i in order for state in states[i]])
