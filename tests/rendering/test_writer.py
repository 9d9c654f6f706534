"""Scores written as MusicXML 4.0 and read back: the same notes, marks, levels; and what cannot be said is told."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from lxml import etree

from fixtures import demo
from rendering.codes import message
from rendering.marks import mask, names
from rendering.pipeline import load
from rendering.problems import Problem
from rendering.score import Hairpin, Instrument, Level, Ornament, Score, Strokes
from rendering.writers import write_musicxml
from rendering.writers.musicxml import read_back
from rendering.writers.musicxml.comparing import differences
from rendering.writers.musicxml.elements import shapes_of
from rendering.writers.musicxml.passages import steps
from rendering.writers.musicxml.pitches import interval, pitch_of, written_fifths
from rendering.writers.musicxml.values import values_of
from tests.musicxml_schema import faults
from tests.rendering.made_scores import document, measures, note
from tests.rendering.made_sketches import score_of
from tests.rendering.notation import read_notation
from tests.rendering.page_scores import page_scores
from tests.rendering.strategies import scores

RUN = settings(
    deadline=None,
    max_examples=40,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.large_base_example, HealthCheck.data_too_large],
)
DEEP = settings(RUN, max_examples=4000)


def written(score: Score) -> tuple[etree._Element, list[Problem]]:
    """Return the document of a score, valid against the schema, and problems."""
    data, problems = write_musicxml(score)
    assert faults(data) == []
    return etree.fromstring(data), problems


def texts(root: etree._Element, path: str) -> list[str]:
    return [e.text or "" for e in root.iterfind(path)]


def check_page(score: Score) -> None:
    data, problems = write_musicxml(score)
    assert [message(p) for p in problems if p.code != "repeats-written-straight"] == []
    assert faults(data) == []


# ── The whole ──


def test_the_demo_comes_back_whole() -> None:
    score, _ = load((demo.FOLDER / "lamps-along-the-weir.musicxml").read_bytes())
    root, problems = written(score)
    assert problems == []
    assert texts(root, "work/work-title") == [score.title]
    assert texts(root, "part-list/score-part/part-name") == [part.name for part in score.parts]


@RUN
@given(score=page_scores())
def test_what_a_page_can_say_comes_back_whole(score: Score) -> None:
    check_page(score)


@pytest.mark.deep
@DEEP
@given(score=page_scores())
def test_what_a_page_can_say_comes_back_whole_at_length(score: Score) -> None:
    check_page(score)


# What a random score may ask that no page can say: states that stop at a grace note, staccato under a slur that
# is not portato, slurs that lead to no note, strokes of any length.
CONTRADICTIONS = ("marks ", "tie or slur", "strokes through the stem", "tempo")


def check_any(score: Score) -> None:
    data, problems = write_musicxml(score)
    assert faults(data) == []
    told = Counter(str(dict(p.arguments)["what"]) for p in problems if p.code == "written-otherwise")
    assert {what for what in told if not what.startswith(CONTRADICTIONS)} == set()


@RUN
@given(score=scores())
def test_any_score_keeps_its_notes_and_the_rest_is_told(score: Score) -> None:
    check_any(score)


@pytest.mark.deep
@DEEP
@given(score=scores())
def test_any_score_keeps_its_notes_at_length(score: Score) -> None:
    check_any(score)


def test_the_comparison_sees_what_is_changed() -> None:
    """Each thing that may be lost, changed in a copy, is found and named."""
    text = "tempo 120\npart P1 Violin strings.violin\nvoice 1: =p < (C5:q[staccato] D5:q) / E5:h~ | E5:h F5:q[trill_half] r:q |"
    changes = {
        "marks legato+staccato as legato": lambda s: s.parts[0].lines[0].marks.__setitem__(0, mask("legato")),
        "onset or key": lambda s: s.parts[0].lines[0].key.__setitem__(0, 71),
        "length": lambda s: s.parts[0].lines[0].duration.__setitem__(1, 480),
        "tie or slur": lambda s: s.parts[0].lines[0].slur.__setitem__(0, 0),
        "dynamics": lambda s: s.parts[0].levels.clear(),
        "hairpins": lambda s: s.parts[0].hairpins.clear(),
        "instruments": lambda s: s.parts[0].instruments.__setitem__(0, Instrument()),
        "lyric": lambda s: (s.parts[0].lyrics.append("la"), s.parts[0].lines[0].lyric.__setitem__(0, 1)),
        "tempo": lambda s: s.tempo.__setitem__(0, (0, 400_000)),
        "order of measures": lambda s: s.itinerary.append((1, 1, 2)),
        "length of measure": lambda s: s.measures.__setitem__(1, s.measures[1]._replace(length=960)),
        "name": lambda s: setattr(s.parts[0], "name", "Viola"),
        "number of parts": lambda s: s.parts.clear(),
    }
    for what, change in changes.items():
        other = read_notation(text)
        change(other)
        assert what in {found.what for found in differences(read_notation(text), other)}, what
    assert differences(read_notation(text), read_notation(text)) == []


# ── Values and pitches ──


def spelled(start: int, length: int) -> list[str]:
    """Return values as "type.." with "3:2" for a tuplet, 960 Units a quarter."""
    return [
        v.type + "." * v.dots + (f" {v.actual}:{v.normal}" if v.actual != v.normal else "")
        for v in values_of(start, length, 960)
    ]  # fmt: skip


@pytest.mark.parametrize(("start", "length", "values"), [
    (0, 960, ["quarter"]), (0, 1680, ["quarter.."]), (480, 960, ["quarter"]), (0, 3360, ["half.."]),
    (0, 1200, ["quarter", "16th"]), (720, 1200, ["16th", "quarter"]), (0, 4800, ["whole", "quarter"]), (0, 8640, ["breve", "quarter"]),
    (0, 320, ["eighth 3:2"]), (320, 640, ["quarter 3:2"]), (0, 192, ["16th 5:4"]), (0, 576, ["eighth. 5:4"]), (0, 640, ["quarter 3:2"]),
    (640, 1280, ["half 3:2"]), (0, 800, ["quarter 3:2", "16th 3:2"]), (0, 479, ["eighth 480:479"]),
    (17, 960, ["quarter"]), (17, 1900, ["quarter 960:943", "quarter 320:319"]),
])  # fmt: skip
def test_lengths_as_values(start: int, length: int, values: list[str]) -> None:
    assert spelled(start, length) == values
    assert sum(v.length for v in values_of(start, length, 960)) == length


@pytest.mark.parametrize(("key", "cents", "fifths", "pitch"), [
    (60, 0, 0, ("C", "", 4)), (61, 0, 0, ("C", "1", 4)), (61, 0, -5, ("D", "-1", 4)), (70, 0, 0, ("B", "-1", 4)), (70, 0, 4, ("A", "1", 4)),
    (59, 0, -7, ("C", "-1", 4)), (60, 0, 7, ("B", "1", 3)), (60, 25, 0, ("C", "0.25", 4)), (61, -50, 0, ("C", "0.5", 4)),
    (0, 0, 0, ("C", "-12", 0)), (127, 0, 0, ("G", "", 9)),
])  # fmt: skip
def test_keys_are_spelled_by_the_key_signature(key: int, cents: int, fifths: int, pitch: tuple[str, str, int]) -> None:
    assert pitch_of(key, cents, fifths) == pitch


@pytest.mark.parametrize(("semitones", "said"), [
    (-2, (-1, -2, 0)), (-7, (-4, -7, 0)), (-9, (-5, -9, 0)), (3, (2, 3, 0)), (-14, (-1, -2, -1)), (12, (0, 0, 1)), (-21, (-5, -9, -1)),
])  # fmt: skip
def test_transpositions_in_letters_semitones_and_octaves(semitones: int, said: tuple[int, int, int]) -> None:
    """MusicXML 4.0, transpose: a B flat clarinet is diatonic -1, chromatic -2; the rest by the same rule."""
    assert interval(semitones) == said


def test_a_transposing_part_has_its_own_key() -> None:
    """Clarinets in B flat read two sharps more than sound, in E flat three, a horn in F one (common practice, no source)."""
    assert [written_fifths(0, t) for t in (-2, -7, 3, 12, 0)] == [2, 1, 3, 0, 0]


def test_notes_are_tied_over_bar_lines_and_inside_measures() -> None:
    root, problems = written(score_of("0 1 1 program 73\n480 1 1 note 72 4080", ppq=480))
    assert problems == []
    notes = [n for n in root.iter("note") if n.find("pitch") is not None]
    assert [(n.findtext("type"), len(n.findall("dot")), [t.get("type") for t in n.findall("tie")]) for n in notes] == [
        ("half", 1, ["start"]), ("whole", 0, ["stop", "start"]), ("quarter", 1, ["stop"]),
    ]  # fmt: skip


def test_tuplets_are_bracketed() -> None:
    root, _ = written(read_notation("voice 1: C5:e3 D5:e3 E5:e3 C5:q3 D5:q3 E5:q3 F5:q |"))
    assert [(t.get("type"), n.findtext("pitch/step")) for n in root.iter("note") for t in n.iter("tuplet")] == [
        ("start", "C"), ("stop", "E"), ("start", "C"), ("stop", "E"),
    ]  # fmt: skip


def test_voices_that_overlap_come_back() -> None:
    """Notes of one voice that sound into each other are written one after the other, the place going back between."""
    score = read_notation("voice 1: C5:h E5:h |")
    line = score.parts[0].lines[0]
    line.duration[0] = 2880
    root, problems = written(score)
    assert problems == []
    assert len(root.findall("part/measure/backup")) == 1


def test_staves_get_clefs_where_their_notes_lie() -> None:
    text = "0 1 - name Piano\n0 1 1 note 40 960\n0 1 1 note 72 960"
    root, problems = written(score_of(text))
    assert problems == []
    assert [(c.get("number"), c.findtext("sign")) for c in root.iter("clef")] == [("1", "G"), ("2", "F")]
    assert texts(root, "part/measure/attributes/staves") == ["2"]


def test_drums_keep_their_keys() -> None:
    root, problems = written(score_of("0 1 10 note 36 480\n480 1 10 note 42 480"))
    assert problems == []
    assert texts(root, "part-list/score-part/midi-instrument/midi-unpitched") == ["37", "43"]
    assert texts(root, "part/measure/attributes/clef/sign") == ["percussion"]


def test_a_pedal_is_written_where_it_is_pressed_and_lifted() -> None:
    text = "0 1 - name Piano\n0 1 1 note 60 480\n240 1 1 controller 64 127\n480 1 1 note 62 480\n1200 1 1 controller 64 0"
    root, problems = written(score_of(text))
    assert problems == []
    assert [(p.get("type"), d.findtext("offset")) for d in root.iter("direction") for p in d.iter("pedal")] == [
        ("start", "240"), ("stop", "240"),
    ]  # fmt: skip


# ── Marks ──


def words(notation: str) -> list[str]:
    root, problems = written(read_notation(notation))
    assert [message(p) for p in problems] == []
    return texts(root, ".//words")


def test_states_are_words_where_they_begin_and_where_they_end() -> None:
    assert words("voice 1: C5:q {con_sordino} D5:q {con_sordino,pizzicato} E5:q {con_sordino} F5:q | {} C5:w |") == [
        "con sord.", "pizz.", "arco", "senza sord.",
    ]  # fmt: skip
    assert words("voice 1: {sul_ponticello} C5:h {sul_tasto} D5:h | {} E5:w |") == ["sul pont.", "sul tasto", "ord."]


def test_states_of_one_voice_are_said_to_it() -> None:
    score = read_notation("part P1 Violin strings.violin\nvoice 1: {pizzicato} C5:w |\nvoice 2: C4:w |")
    root, problems = written(score)
    assert problems == []
    assert [(d.findtext(".//words"), d.findtext("voice")) for d in root.iter("direction") if d.find(".//words") is not None] == [
        ("pizz.", "1")
    ]


@pytest.mark.parametrize(("state", "wanted", "said"), [
    ("", "pizzicato", ["pizz."]), ("pizzicato", "", ["arco"]), ("sul ponticello", "sul tasto", ["sul tasto"]),
    ("pizzicato, con sordino", "", ["arco", "senza sord."]), ("sul ponticello, con sordino", "con sordino", ["ord."]),
    ("pizzicato", "spiccato", ["spicc.", "arco"]), ("legato", "", ["senza legato"]), ("a 2", "tutti", ["tutti"]),
])  # fmt: skip
def test_steps_from_state_to_state(state: str, wanted: str, said: list[str]) -> None:
    def bits(text: str) -> int:
        return mask(*(name for name in text.split(", ") if name))

    found, reached = steps(bits(state), bits(wanted), "strings")
    assert ([step.text for step in found], names(reached)) == (said, names(bits(wanted)))


@pytest.mark.parametrize(
    "family", ["strings", "woodwind", "brass", "keyboard", "harp", "timpani", "cymbals", "mallets", "handbells", "voice", ""]
)
def test_every_sign_of_a_family_means_its_mark_there(family: str) -> None:
    """Each mark that has an element, alone on a note of a part of that family, is read back as that mark alone."""
    sound = {"strings": "strings.violin", "woodwind": "wind.flutes.flute", "brass": "brass.trumpet", "keyboard": "keyboard.piano",
             "harp": "pluck.harp", "timpani": "drum.timpani", "cymbals": "metal.cymbal", "mallets": "pitched-percussion.marimba",
             "handbells": "pitched-percussion.handbells", "voice": "voice.soprano", "": ""}[family]  # fmt: skip
    score = read_notation("voice 1: " + " ".join("C5:w |" for _ in shapes_of(family)))
    score.parts[0].name, score.parts[0].instruments = "Part", [Instrument(name="Part", sound=sound)]
    bits = sorted(shapes_of(family))
    score.parts[0].lines[0].marks = [1 << bit for bit in bits]
    back = read_back(write_musicxml(score, check=False)[0])
    wrong = {names(1 << bit)[0]: names(m) for bit, m in zip(bits, back.parts[0].lines[0].marks, strict=True) if m != 1 << bit}
    assert wrong == {}


def test_slurs_join_what_is_joined() -> None:
    root, problems = written(read_notation("voice 1: (C5:q D5:q E5:q) F5:q | (G5:h A5:h) |"))
    assert problems == []
    assert [(s.get("type"), n.findtext("pitch/step")) for n in root.iter("note") for s in n.iter("slur")] == [
        ("start", "C"), ("stop", "E"), ("start", "G"), ("stop", "A"),
    ]  # fmt: skip


def test_ornaments_show_the_accidentals_that_they_play() -> None:
    score = read_notation("voice 1: C5:h[turn] D5:h[mordent] |")
    score.parts[0].ornaments = {1: Ornament(1, -1, -3), 2: Ornament(2, -1, -3, long=True)}
    root, problems = written(score)
    assert problems == []
    found = [(o.tag, o.get("placement"), o.text) for n in root.iter("note") for g in n.iter("ornaments") for o in g]
    assert found == [
        ("turn", None, None), ("accidental-mark", "above", "flat"), ("accidental-mark", "below", "natural"),
        ("mordent", None, None), ("accidental-mark", "below", "sharp"),
    ]  # fmt: skip
    assert root.find(".//mordent").get("long") == "yes"  # type: ignore[union-attr]


def test_strokes_through_the_stem() -> None:
    score = read_notation("voice 1: C5:h D5:q E5:e[tremolo] F5:e[tremolo] |")
    score.parts[0].strokes = {1: Strokes(480, exact=True), 2: Strokes(240, exact=True), 3: Strokes(120, exact=False)}
    root, problems = written(score)
    assert problems == []
    assert [(t.get("type"), t.text) for t in root.iter("tremolo")] == [
        ("single", "1"),
        ("single", "2"),
        ("single", "2"),
        ("unmeasured", "0"),
    ]


# ── Loudness and time ──


def test_dynamics_by_name_and_by_percentage() -> None:
    """MusicXML 4.0: dynamics in percent of a forte of velocity 90, so that 100 is 0.9 x 1000 / 127 of full."""
    score = read_notation("voice 1: =p C5:q =mf D5:q E5:q^note500 F5:q |")
    score.parts[0].levels.append(Level(2880, 0, "", "sound", 437, 0))
    root, problems = written(score)
    assert problems == []
    assert [e.tag for d in root.iter("dynamics") for e in d] == ["p", "mf"]
    assert [n.get("dynamics") for n in root.iter("note")] == [None, None, "70.556", None]
    assert [s.get("dynamics") for s in root.iter("sound") if s.get("dynamics")] == ["61.666"]


def test_accents_of_dynamics() -> None:
    """sf is p + 2/8, at least f; fp strikes at f and goes on at p; sf with mp strikes likewise and goes on at mp."""
    score = read_notation("voice 1: =p C5:q D5:q^once E5:q^attack750 F5:q^attack750 |")
    score.parts[0].levels += [Level(1920, 0, "", "mark", 375, 0), Level(2880, 0, "", "mark", 500, 0)]
    score.parts[0].levels.sort(key=lambda v: (v.offset, v.source))
    root, problems = written(score)
    assert problems == []
    assert [[e.tag for e in d] for d in root.iter("dynamics")] == [["p"], ["sf"], ["fp"], ["sf", "mp"]]


def test_hairpins_end_with_numbers_of_their_own() -> None:
    score = read_notation("voice 1: C5:w | D5:w |")
    score.parts[0].hairpins = [Hairpin(0, 1920, 0, "", 1, niente=False), Hairpin(960, 7680, 0, "", -1, niente=True)]
    root, problems = written(score)
    assert problems == []
    assert [(w.get("type"), w.get("number"), w.get("niente")) for w in root.iter("wedge")] == [
        ("crescendo", "1", None), ("diminuendo", "2", None), ("stop", "1", None), ("stop", "2", "yes"),
    ]  # fmt: skip


def test_tempo_to_the_microsecond_for_those_who_read_it() -> None:
    score = score_of("0 1 - tempo 461538\n100 1 - tempo 500001\n0 2 1 note 60 1920")
    root, problems = written(score)
    assert problems == []
    speeds = [float(s.get("tempo") or 0) for s in root.iter("sound") if s.get("tempo")]
    assert [round(60_000_000 / speed) for speed in speeds] == [461_538, 500_001]
    assert [m.findtext("per-minute") for m in root.iter("metronome")] == ["130"]  # what bends the tempo is for the ear


def test_a_caesura_is_not_waited_for_twice() -> None:
    """The silence of a caesura is in the tempo map already; who reads the file again must not add it."""
    data = document(measures(note("C4", 16, notations="<articulations><caesura/></articulations>"), note("D4", 16)))
    score, _ = load(data)
    assert len(score.tempo) == 3
    _, problems = written(score)
    assert problems == []
