"""Sketches on their way to tracks: the pedal by the player who has one or has none, velocities, the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rendering.__main__ import main
from rendering.codes import message
from rendering.midi import dump
from rendering.pipeline import Rendering, load, render, render_score
from rendering.problems import Refused
from rendering.readers import Limits
from rendering.readers.musicxml import read_musicxml
from rendering.readers.xml import parse, partwise
from rendering.rendered import Options
from rendering.score_document import write_score
from tests.musicxml_schema import faults
from tests.rendering.golden_files import made_map
from tests.rendering.made_scores import document, measures, note
from tests.rendering.made_sketches import sketch
from tests.rendering.notation import read_notation

BOWED = made_map({"articulations": [{"id": "bowed", "name": "Bowed", "triggers": [{"keyswitch": 24}]}], "sound": "strings.cello"})


def events(made: Rendering, channel: str = "1") -> list[str]:
    """Return "tick message" of the notes and pedals of a channel."""
    lines = (line.split(" ", 3) for line in dump.text(made.files["all.mid"]).splitlines()[1:])
    return [f"{tick} {rest}" for tick, _, c, rest in lines if c == channel and (rest.startswith("note") or "controller 64" in rest)]


PEDALLED = "0 1 - name {name}\n0 1 1 program {program}\n0 1 1 controller 64 127\n0 1 1 note 48 480\n1920 1 1 controller 64 0"


def test_cellos_hold_what_a_pedal_held() -> None:
    """480 ticks a quarter: pedal down at 0, C3 0–480, pedal up at 1920, to cellos: on 0, off 3840 at 960 a quarter."""
    made = render(sketch(PEDALLED.format(name="Cello", program=42)), maps=[("", BOWED)])
    assert [e for e in events(made) if " 24 " not in e] == ["0 note_on 48 80", "3840 note_off 48 0"]
    assert made.report["tracks"][0]["marks"] == {"pedal": {"exact": 1}}
    assert made.agree


def test_a_piano_has_a_pedal_of_its_own() -> None:
    """MIDI 1.0: controller 64, 0–63 up, 64–127 down. At one tick it is down before the note begins."""
    made = render(sketch(PEDALLED.format(name="Piano", program=0)))
    assert events(made) == ["0 controller 64 127", "0 note_on 48 80", "960 note_off 48 0", "3840 controller 64 0"]
    assert made.report["tracks"][0]["marks"] == {"pedal": {"exact": 1}}
    assert made.agree


def test_a_held_note_ends_where_its_key_is_struck_again() -> None:
    text = (
        "0 1 - name Cello\n0 1 1 controller 64 127\n0 1 1 note 48 240\n480 1 1 note 52 240\n960 1 1 note 48 240\n1920 1 1 controller 64 0"
    )
    made = render(sketch(text), maps=[("", BOWED)])
    ends = [e for e in events(made) if "note_off" in e and " 24 " not in e]
    assert ends == ["1882 note_off 48 0", "3840 note_off 48 0", "3840 note_off 52 0"]  # the gap before a restrike: 20 ms
    assert made.agree


def test_notes_that_end_with_the_pedal_going_down_or_are_slurred_keep_their_ends() -> None:
    text = """
        0 1 - name Cello
        0 1 1 note 48 480
        480 1 1 controller 64 127
        960 1 1 note 50 600
        1440 1 1 note 52 480
        2880 1 1 controller 64 0
    """
    made = render(sketch(text), maps=[("", BOWED)])
    ends = [e for e in events(made) if "note_off" in e and " 24 " not in e]
    assert ends == ["960 note_off 48 0", "2879 note_off 50 0", "5760 note_off 52 0"]


def test_a_repeat_in_a_score_lifts_the_pedal() -> None:
    """The pedal of a neutral score is clipped to the measures that are played."""
    made = render(sketch(PEDALLED.format(name="Piano", program=0)))
    score = made.run.score
    score.itinerary = [(1, 1, 1), (1, 1, 2)]
    score.parts[0].pedals = [(480, 9600)]
    again = events(render_score(score))
    assert [e for e in again if "controller" in e] == [
        "960 controller 64 127",
        "3840 controller 64 0",
        "4800 controller 64 127",
        "7680 controller 64 0",
    ]


def test_every_velocity_comes_out_as_it_went_in() -> None:
    """The built-in maps' loudness is the straight line that velocities were read by."""
    text = "0 1 1 program 73\n" + "\n".join(f"{480 * v} 1 1 note 72 240 {v}" for v in range(1, 128))
    sent = [int(e.split()[3]) for e in events(render(sketch(text))) if "note_on" in e]
    assert sent == list(range(1, 128))


def test_the_grid_is_a_choice_of_the_render() -> None:
    data = sketch("0 1 1 program 73\n7 1 1 note 72 220")
    assert events(render(data))[0] == "14 note_on 72 80"
    made = render(data, options=Options(grid="1/16"))
    assert events(made)[0] == "0 note_on 72 80"
    assert made.report["choices"]["grid"] == "1/16"


def test_drums_keep_their_keys_on_channel_10() -> None:
    made = render(sketch("0 1 10 note 36 120 100\n240 1 10 note 42 120 50"))
    assert events(made, "10") == ["0 note_on 36 100", "240 note_off 36 0", "480 note_on 42 50", "720 note_off 42 0"]
    assert made.agree


def test_a_grid_is_for_sketches() -> None:
    """Scores that are written keep their rhythm, and the one who asked is told."""
    told = "score: a grid was asked for, and this is no MIDI sketch – the rhythm stays as it is written"
    for data in (document(measures(note("C4", 16))), write_score(read_notation("voice 1: C5:w |"))):
        assert [message(p) for p in load(data, grid="1/8")[1] if p.code.startswith("grid")] == [told]
        with pytest.raises(Refused):
            load(data, grid="an eighth")


# ── The command line ──


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "sketch.mid"
    path.write_bytes(
        sketch("0 1 - tempo 600000\n0 1 - meter 4/4\n0 2 - name Flute\n0 2 1 program 73\n5 2 1 note 72 235\n240 2 1 note 74 240")
    )
    return path


def test_render_takes_a_sketch_by_its_content(file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    odd = file.rename(tmp_path / "sketch.musicxml")
    assert main(["render", str(odd), "--grid", "1/8", "-o", str(tmp_path / "out")]) == 0
    assert "2 notes on 1 tracks" in capsys.readouterr().out
    assert sorted(p.name for p in (tmp_path / "out" / "tracks").iterdir()) == ["01 Flute.mid"]


def test_inspect_shows_what_was_read_of_a_sketch(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["inspect", str(file), "--grid", "1/8", "--json"]) == 0
    shown = json.loads(capsys.readouterr().out)
    assert [(p["name"], p["sound"], p["notes"]) for p in shown["parts"]] == [("Flute", "wind.flutes.flute", 2)]
    assert [p["code"] for p in shown["problems"]] == ["set-to-grid"]


def test_write_makes_a_sketch_a_score(file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = tmp_path / "made.musicxml"
    assert main(["write", str(file), "--grid", "1/8", "-o", str(made)]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == f"written to {made}"
    assert faults(made.read_bytes()) == []
    as_read, _ = read_musicxml(partwise(parse(made.read_bytes(), Limits())), Limits())
    line = as_read.parts[0].lines[1, "1"]
    assert (line.offset, line.duration, line.key) == ([0, 480], [480, 480], [72, 74])


def test_a_refused_sketch_is_one_line_and_exit_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "cut.mid"
    path.write_bytes(sketch("0 1 1 note 60 480")[:30])
    for command in (
        ["inspect", str(path)],
        ["render", str(path), "-o", str(tmp_path / "out")],
        ["write", str(path), "-o", str(tmp_path / "x")],
    ):
        assert main(command) == 2
        assert capsys.readouterr().err == "MIDI file: the data end at byte 30, in the middle of something – nothing was read\n"
    assert not (tmp_path / "out").exists()
