"""The MIDI files of a render: their names, their head, their meters and markers, and where they end."""

from __future__ import annotations

from io import BytesIO

import mido
import pytest

from rendering.documents import digest
from rendering.files import file_name
from rendering.midi import decode, dump
from rendering.pipeline import Rendering, render_score
from rendering.rendered import Options
from rendering.score import Instrument, Measure, Part, Score
from tests.rendering.golden_files import made_map
from tests.rendering.notation import read_notation

STRINGS = made_map({"articulations": [{"id": "bowed", "triggers": [{"keyswitch": 24}], "lead_ms": {"first": 50}}]})
TWO = """
tempo 120 2:1=60
rehearsal 2 A
part P1 Violin strings.violin
voice 1: C5:w | D5:w |
part P2 Cello strings.cello
voice 1: C3:w |
"""


def rendered(score: Score, **options: object) -> Rendering:
    return render_score(score, maps=[(p.id, STRINGS) for p in score.parts], options=Options(**options))  # type: ignore[arg-type]


def conductor(made: Rendering) -> list[str]:
    """Return the conductor's lines of the dump without its number."""
    return [line.replace(" 1 - ", " ", 1) for line in dump.text(made.files["all.mid"]).splitlines() if " 1 - " in line]


@pytest.mark.parametrize(("name", "part"), [
    ("Violin 1", "Violin 1"),
    ("Flöte / Pikkolo", "Flöte _ Pikkolo"),
    ("Clarinet in B♭ (a 2)", "Clarinet in B_ _a 2_"),
    ("../../etc/passwd", "_.._etc_passwd"),
    ("a:b*c?d|e", "a_b_c_d_e"),
    ("dot.and-dash_", "dot.and-dash_"),
    ("x" * 80, "x" * 60),
    ("", "track"),
    (" .. ", "track"),
])  # fmt: skip
def test_names_of_tracks_in_file_names(name: str, part: str) -> None:
    """Word characters, space, point and dash stay; at most 60; never empty, never a way out of the folder."""
    assert file_name(name) == part


@pytest.mark.parametrize(("count", "first", "last"), [(2, "01", "02"), (12, "01", "12"), (100, "001", "100")])
def test_numbers_have_two_digits_or_more(count: int, first: str, last: str) -> None:
    score = read_notation("voice 1: C5:w |")
    part = score.parts[0]
    score.parts = [Part(id=f"P{n}", name="Violin", instruments=part.instruments, lines=part.lines) for n in range(count)]
    names = [name for name in rendered(score).files if name.startswith("tracks/")]
    assert (names[0], names[-1], len(names)) == (f"tracks/{first} Violin.mid", f"tracks/{last} Violin.mid", count)


def test_parts_go_to_channels_in_score_order() -> None:
    """Channels 1-9, 11-16, then the next port; the tenth is General MIDI's for drums."""
    score = read_notation("voice 1: C5:w |")
    part = score.parts[0]
    score.parts = [Part(id=f"P{n}", name=f"V{n}", instruments=part.instruments, lines=part.lines) for n in range(17)]
    score.parts[3].instruments = [Instrument(sound="drum.snare-drum", unpitched=True, drum_key=38)]
    made = render_score(score)
    places = [(t["port"], t["channel"]) for t in made.report["tracks"]]
    assert places[3] == (1, 10)
    assert places[:3] + places[4:] == [(1, c) for c in range(1, 17) if c != 10] + [(2, 1)]
    assert '0 18 - port 1\n0 18 - text "port 2"\n' in dump.text(made.files["all.mid"])


def test_all_tracks_end_together_and_single_files_have_the_conductor() -> None:
    made = rendered(read_notation(TWO))
    whole = decode.read(made.files["all.mid"])
    assert {t.end for t in whole.tracks} == {7680 + made.run.shift}
    names = ["tracks/01 Violin.mid", "tracks/02 Cello.mid"]
    for number, name in enumerate(names, 1):
        one = decode.read(made.files[name])
        assert [t.events for t in one.tracks] == [[], whole.tracks[number].events]
        assert [t.metas for t in one.tracks] == [whole.tracks[0].metas, whole.tracks[number].metas]
        assert one.smf_format == 1


def test_the_conductor_with_preroll() -> None:
    """50 ms of lead need a measure in front: what stands at the start stays there, all else moves."""
    assert conductor(rendered(read_notation(TWO))) == [
        '0 track_name "Conductor"',
        "0 tempo 500000",
        "0 time_signature 4/4 24 8",
        "0 key_signature 0 major",
        "7680 tempo 1000000",
        '7680 marker "A"',
        "11520 end_of_track",
    ]


def test_digests_are_in_every_track() -> None:
    """A text with the digests of the score and the track's map, so that a bounce can be traced; as in the report."""
    score = read_notation(TWO)
    made = render_score(score, maps=[(p.id, STRINGS) for p in score.parts], digests={"score": digest(b"x")})
    inputs = made.report["inputs"]
    for track, part in zip(mido.MidiFile(file=BytesIO(made.files["all.mid"])).tracks[1:], ("P1", "P2"), strict=True):
        (said,) = [m.text.split() for m in track if m.type == "text" and m.text.startswith("ripieno ")]
        assert dict(word.split("=") for word in said[1:]) == {"map": inputs[f"map:{part}"], "score": inputs["score"]}


def test_the_score_names_the_conductor() -> None:
    score = read_notation(TWO)
    score.title = "Lamps – Ålborg"
    assert conductor(rendered(score))[0] == '0 track_name "Lamps – Ålborg"'


@pytest.mark.parametrize(("measures", "signatures"), [
    ([(3840, (4, 4)), (3840, (4, 4))], ["0 time_signature 4/4 24 8"]),
    ([(3840, (4, 4)), (2880, (3, 4))], ["0 time_signature 4/4 24 8", "3840 time_signature 3/4 24 8"]),
    ([(3840, (4, 4)), (2880, (6, 8))], ["0 time_signature 4/4 24 8", "3840 time_signature 6/8 36 8"]),
    ([(3840, (4, 4)), (960, (4, 4))], ["0 time_signature 4/4 24 8", "3840 time_signature 1/4 24 8"]),  # holds less than it says
    ([(3840, (4, 4)), (4320, (4, 4))], ["0 time_signature 4/4 24 8", "3840 time_signature 9/8 36 8"]),  # holds more
    ([(3840, (4, 4)), (6720, (0, 0))], ["0 time_signature 4/4 24 8", "3840 time_signature 7/4 24 8"]),  # senza misura
    ([(1920, (4, 8)), (1280, (4, 12))], ["0 time_signature 4/8 12 8"]),  # no power of two can say it
    ([(3840, (4, 4)), (3840, (4, 4)), (2880, (3, 4)), (3840, (4, 4))],
     ["0 time_signature 4/4 24 8", "7680 time_signature 3/4 24 8", "10560 time_signature 4/4 24 8"]),
])  # fmt: skip
def test_meters_make_the_sequencers_bars_as_long_as_the_measures(
    measures: list[tuple[int, tuple[int, int]]], signatures: list[str]
) -> None:
    """SMF 1.0: a time signature has a numerator and a power of two; an uneven measure shows what it really holds."""
    score = read_notation("voice 1: C5:w |")
    at, score.measures = 0, []
    for n, (length, meter) in enumerate(measures, 1):
        score.measures.append(Measure(n, str(n), at, length, meter, 0))
        at += length
    score.itinerary = [(1, len(measures), 1)]
    made = rendered(score, lead="none")
    assert [line for line in conductor(made) if "time_signature" in line] == signatures


def test_keys_where_they_change() -> None:
    score = read_notation("voice 1: C5:w | D5:w | E5:w |")
    score.measures = [m._replace(key=key) for m, key in zip(score.measures, (-3, -3, 5), strict=True)]
    lines = [line for line in conductor(rendered(score, lead="none")) if "key_signature" in line]
    assert lines == ["0 key_signature -3 major", "7680 key_signature 5 major"]


def test_rehearsal_marks_come_back_at_a_repeat() -> None:
    made = rendered(read_notation("play 1-2 1-2\nrehearsal 2 B\nvoice 1: C5:w | D5:w |"), lead="none")
    assert [line for line in conductor(made) if "marker" in line] == ['3840 marker "B"', '11520 marker "B"']


def test_nothing_that_no_map_asked_for() -> None:
    """No controller 7, 10, 120-127, no bank or program: a map with one key switch sends keys alone."""
    made = rendered(read_notation(TWO))
    kinds = {e >> 20 & 15 for t in decode.read(made.files["all.mid"]).tracks for e in t.events}
    assert kinds == {8, 9}
