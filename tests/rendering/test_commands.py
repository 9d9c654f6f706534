"""The command line: exit codes, files, messages on one line, JSON also for failures, nothing half-written."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from fixtures import demo
from rendering import pipeline
from rendering.midi import encode, meta
from rendering.proof import Verdict
from rendering.score_document import write_score
from tests.rendering.command_line import SCORE, STRINGS, files_in
from tests.rendering.notation import read_notation

GONE = ": the file cannot be read: no such file or directory – nothing was done"
PACE = " is not from 4 to 960 quarters a minute – nothing was done"
HELP = " – nothing was done; see python -m rendering {} --help"


# ── render: what it writes ──


def test_render_writes_its_files(run: Any, folder: Path) -> None:
    code, out, err = run("render", "score.json", "--map", "map.json", "-o", "new/out")
    assert (code, err) == (0, [])
    assert files_in(folder / "new/out") == {"all.mid", "tracks/01 Violin.mid", "report.json", "report.txt", "notes.json"}
    assert out.splitlines() == [
        "3 notes on 1 tracks; marks: 1 exact, 1 plain; proof 100 %: 3 of 3 notes heard as chosen, 0 yielded",
        "written to new/out",
    ]
    assert [p.name for p in (folder / "new").iterdir()] == ["out"]


def test_render_into_an_empty_folder(run: Any, folder: Path) -> None:
    (folder / "out").mkdir()
    assert run("render", "score.json", "-o", "out")[0] == 0
    assert (folder / "out/all.mid").read_bytes()[:4] == b"MThd"


@pytest.mark.parametrize("what", ["file", "folder"])
def test_render_into_what_holds_something(run: Any, folder: Path, what: str) -> None:
    target = folder / "out" if what == "file" else folder / "out/letter.txt"
    target.parent.mkdir(exist_ok=True)
    target.write_text("mine", "utf-8")
    code, out, err = run("render", "score.json", "-o", "out")
    assert (code, out) == (2, "")
    assert err == ["out: the folder holds something already – nothing was written; name a new or an empty one"]
    assert target.read_text("utf-8") == "mine"


def test_render_where_nothing_can_be_written(run: Any, folder: Path) -> None:
    code, _, err = run("render", "score.json", "-o", "score.json/out")
    assert (code, err) == (2, ["score.json/out: it cannot be written: file exists – nothing was written"])


def test_nothing_half_written(run: Any, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The disk is full at the third file: no folder, and nothing beside it."""
    written = Path.write_bytes
    count = 0

    def full(path: Path, body: bytes) -> int:
        nonlocal count
        count += 1
        if count == 3:
            raise OSError(28, "No space left on device")
        return written(path, body)

    monkeypatch.setattr(Path, "write_bytes", full)
    code, _, err = run("render", "score.json", "-o", "out")
    assert (code, err) == (2, ["out: it cannot be written: no space left on device – nothing was written"])
    assert sorted(p.name for p in folder.iterdir()) == ["map.json", "score.json"]


# ── Exit codes ──


def test_strict_counts_errors(run: Any, folder: Path) -> None:
    low = write_score(read_notation("voice 1: C1:w |"))
    (folder / "low.json").write_bytes(low)
    assert run("render", "low.json", "--map", "map.json", "-o", "a")[0] == 0
    assert run("render", "low.json", "--map", "map.json", "-o", "b", "--strict")[0] == 1
    assert files_in(folder / "a") == files_in(folder / "b")
    assert run("render", "score.json", "--map", "map.json", "-o", "c", "--strict")[0] == 0


def test_a_disagreement_always_counts(run: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pipeline, "prove", lambda *_: [Verdict(notes=3, agree=2, disagree=[(0, 0, "5 ticks late")])])
    code, out, _ = run("render", "score.json", "--map", "map.json", "-o", "out")
    assert code == 1
    assert "proof 66.67 %: 2 of 3 notes heard as chosen, 0 yielded, 1 disagree" in out


def test_check_tells_all_and_exits_1(run: Any, folder: Path) -> None:
    bad = json.loads(json.dumps(STRINGS))
    bad["articulations"][0]["triggers"] = [{"keyswitch": 200}]
    bad["articulations"][1]["plays"] = [["pizicato"]]
    (folder / "bad.json").write_text(json.dumps(bad), "utf-8")
    code, out, err = run("check", "bad.json")
    assert (code, err) == (1, [])
    assert out.splitlines() == [
        "error: /articulations/0/triggers/0/keyswitch: the number must be 127 or less – the document is not accepted",
        (
            "error: /articulations/1/plays/0/0: there is no mark “pizicato”; the nearest are pizzicato, lip pizzicato, spiccato"
            " – the document is not accepted"
        ),
    ]
    assert run("check", "map.json")[:2] == (0, "no problems\n")


def test_check_of_other_documents(run: Any, folder: Path) -> None:
    """A template is checked with the maps beside it; an assignment and a score document by what they are."""
    template = {
        "kind": "template", "edition": 1, "name": "T",
        "tracks": [{"id": n, "name": n, "map": {"file": f"{n}.json"}, "channel": i} for i, n in enumerate(("map", "none", "bad"), 1)],
    }  # fmt: skip
    (folder / "bad.json").write_text("{}", "utf-8")
    (folder / "template.json").write_text(json.dumps(template), "utf-8")
    code, out, _ = run("check", "template.json")
    assert (code, out.splitlines()) == (1, [
        "error: none.json: the file cannot be read: no such file or directory – nothing was done",
        "error: bad.json: the map has 5 errors – nothing is rendered with it",
    ])  # fmt: skip
    (folder / "assignment.json").write_text('[{"part": "P1", "tracks": ["a"]}, {"tracks": []}]', "utf-8")
    assert run("check", "assignment.json")[:2] == (1, "error: /1: “part” is missing – the document is not accepted\n")
    assert run("check", "score.json")[:2] == (0, "no problems\n")
    (folder / "late.json").write_bytes(SCORE.replace(b'"length":3840', b'"length":960', 1))
    assert run("check", "late.json")[0] == 1


@pytest.mark.parametrize(("arguments", "told"), [
    ([], "score: the following arguments are required: COMMAND – nothing was done; see python -m rendering --help"),
    (["render", "score.json"], "score: the following arguments are required: -o/--output" + HELP.format("render")),
    (["render", "score.json", "-o", "x", "--ppq", "12"], "score: argument --ppq: a number from 24 to 32767" + HELP.format("render")),
    (["render", "score.json", "-o", "x", "--preroll", "some"],
     "score: argument --preroll: auto, none or a number of measures up to 100" + HELP.format("render")),
    (["listen", "x.mid", "--map", "m", "--channel", "17"], "score: argument --channel: a number from 1 to 16" + HELP.format("listen")),
    (["inspect"], "score: a SCORE is required, or --marks" + HELP.format("inspect")),
    (["inspect", "nothing.xml"], "nothing.xml" + GONE),
    (["check", "."], ".: the file cannot be read: is a directory – nothing was done"),
    (["render", "score.json", "-o", "x", "--tempo", "nan"], "score: the tempo nan" + PACE),
    (["render", "score.json", "-o", "x", "--tempo", "2"], "score: the tempo 2" + PACE),
    (["render", "score.json", "-o", "x", "--tempo", "a.mid"], "a.mid" + GONE),
    (["render", "score.json", "-o", "x", "--map", "Cello=map.json"],
     "score: no part is called “Cello” – nothing is rendered; the parts are P1 “Violin”"),
    (["render", "score.json", "-o", "x", "--map", "map.json", "--map", "map.json"],
     "Violin: several maps fit its sound strings.violin equally well: Strings, Strings – nothing is rendered; name the part with its map"),
    (["tryout", "map.json", "-o", "no/such/folder.mid"],
     "no/such/folder.mid: it cannot be written: no such file or directory – nothing was written"),
])  # fmt: skip
def test_nothing_produced(run: Any, folder: Path, arguments: list[str], told: str) -> None:
    """Exit 2, one line on stderr, nothing on stdout; with --json the same as a document."""
    before = files_in(folder)
    assert run(*arguments) == (2, "", [told])
    assert files_in(folder) == before
    if arguments:
        code, out, err = run(*arguments, "--json")
        assert (code, err) == (2, [told])
        assert [p["message"] for p in json.loads(out)["problems"]] == [told]


@pytest.mark.parametrize("arguments", [
    ["render", "score.json", "--map", "map.json", "-o", "out"], ["inspect", "score.json"], ["inspect", "--marks"], ["check", "map.json"],
    ["tryout", "map.json", "-o", "tryout.mid"], ["write", "score.json", "-o", "score.musicxml"],
])  # fmt: skip
def test_json_of_every_command(run: Any, arguments: list[str]) -> None:
    code, out, err = run(*arguments, "--json")
    assert (code, err) == (0, [])
    assert isinstance(json.loads(out), dict)


def test_the_real_process(folder: Path) -> None:
    """Exit codes and messages as a shell sees them, without a traceback."""
    environment = os.environ | {"PYTHONPATH": str(Path(demo.__file__).parent.parent)}

    def shell(*arguments: str) -> tuple[int, str, str]:
        done = subprocess.run(
            [sys.executable, "-m", "rendering", *arguments], cwd=folder, env=environment, capture_output=True, text=True, check=False
        )
        return done.returncode, done.stdout, done.stderr

    assert shell("check", "map.json") == (0, "no problems\n", "")
    told = "gone.json: the file cannot be read: no such file or directory – nothing was done\n"
    assert shell("check", "gone.json") == (2, "", told)
    code, out, _ = shell("inspect", "--help")
    assert code == 0
    assert "--marks" in out


# ── The other options and commands ──


def test_maps_by_id_by_name_and_by_sound(run: Any, folder: Path) -> None:
    (folder / "a=b.json").write_text(json.dumps(STRINGS), "utf-8")
    for n, given in enumerate(("map.json", "P1=map.json", "Violin=map.json", "a=b.json")):
        code, out, _ = run("render", "score.json", "--map", given, "-o", f"out{n}", "--json")
        assert code == 0
        assert json.loads(out)["tracks"][0]["map"] == "Strings"


def test_explain(run: Any) -> None:
    _, out, _ = run("render", "score.json", "--map", "map.json", "-o", "a", "--explain", "Violin", "1")
    assert out.splitlines()[2:] == [
        "Violin, measure 1, beat 1, key 72: plays Plucked",
        "Violin, measure 1, beat 3, key 74: plays Bowed; plain: key click",
    ]
    _, out, _ = run("render", "score.json", "-o", "b", "--explain", "Viola", "1")
    assert out.splitlines()[2:] == ["no note in part “Viola”, measure 1"]


def test_options_reach_the_report(run: Any, folder: Path) -> None:
    tempo = [(0, meta.tempo(400_000)), (960, meta.tempo(800_000))]
    (folder / "tempo.mid").write_bytes(encode.file([encode.track([], tempo, 0, 1920)], 480))
    given = [
        "--ppq",
        "480",
        "--restate",
        "note",
        "--lead",
        "none",
        "--preroll",
        "1",
        "--tracks",
        "all",
        "--in-tie",
        "restrike",
        "--left-over",
        "general-midi",
    ]
    code, out, _ = run("render", "score.json", "--map", "map.json", "-o", "a", "--json", *given, "--tempo", "tempo.mid")
    assert code == 0
    assert json.loads(out)["choices"] == {
        "ppq": 480, "restate": "note", "lead": "none", "preroll": 1, "tracks": "all", "in_tie": "restrike", "tempo": "file",
        "left_over": "general-midi", "grid": "none",
    }  # fmt: skip
    code, out, _ = run("render", "score.json", "-o", "b", "--json", "--tempo", "90.5")
    assert json.loads(out)["choices"]["tempo"] == 90_500


def test_a_templates_choices_hold_unless_the_command_line_says_otherwise(run: Any, folder: Path) -> None:
    template = {
        "kind": "template", "edition": 1, "name": "T", "choices": {"ppq": 480, "lead": "none"},
        "tracks": [{"id": "v", "name": "V", "map": {"file": "map.json"}, "channel": 1}],
    }  # fmt: skip
    (folder / "template.json").write_text(json.dumps(template), "utf-8")
    _, out, _ = run("render", "score.json", "--template", "template.json", "-o", "a", "--json", "--ppq", "240")
    choices = json.loads(out)["choices"]
    assert (choices["ppq"], choices["lead"]) == (240, "none")
    assert json.loads(out)["inputs"].keys() == {"score", "template", "map:v"}


def test_inspect_marks(run: Any) -> None:
    """Every mark once, under its axis; as JSON the published table."""
    _, out, _ = run("inspect", "--marks")
    _, as_json, _ = run("inspect", "--marks", "--json")
    table = json.loads(as_json)["marks"]
    lines = out.splitlines()
    assert lines[0] == "1 technique"
    assert lines[1].startswith("    pizzicato (passage); sound/pizzicato; note/pizzicato; it pizz., pizzicato, ")
    assert len([line for line in lines if line.startswith("    ")]) == len(table)
    assert len([line for line in lines if not line.startswith(" ")]) == len({row["axis"] for row in table})
