"""The command line on bad input, and its commands that listen and try out."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from rendering.midi import encode
from rendering.readers import Limits
from tests.rendering.command_line import SCORE, STRINGS

# ── Bad input ──

BOMB = b'<!DOCTYPE a [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;">]><score-partwise>&c;</score-partwise>'
NO_METER = (
    b'<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Violin</part-name></score-part></part-list><part id="P1">'
    b'<measure number="1"><attributes><divisions>1</divisions><time><beats>0</beats><beat-type>0</beat-type></time></attributes>'
    b"<note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration></note></measure></part></score-partwise>"
)


@pytest.mark.parametrize(("data", "told"), [
    (b"", "score: the file is empty – nothing is read"),
    (b"\x89PNG\r\n\x1a\n" + bytes(40), "score: this is a PNG picture, no MusicXML and no Standard MIDI File – nothing is read"),
    (b"<score-partwise><part>", "score: the XML is broken in line 1 ("),
    (BOMB, "score: the document declares entities of its own – nothing is read"),
    (b"<html/>", "score: the document is a <html>, not a MusicXML score – nothing is read"),
    (b'{"kind": "score"', "document: this is not JSON: line 1, column 17 cannot be read – the document is not accepted"),
    (b"PK\x03\x04 no zip", "score: "),
    (b"MThd\x00\x00\x00\x06\x00\x01", "MIDI file: the data end at byte 10, in the middle of something – nothing was read"),
])  # fmt: skip
def test_bad_scores(run: Any, folder: Path, data: bytes, told: str) -> None:
    """Each is refused: exit 2, one line, no traceback, no folder."""
    (folder / "bad").write_bytes(data)
    code, out, err = run("render", "bad", "-o", "out")
    assert (code, out, len(err)) == (2, "", 1)
    assert err[0].startswith(told)
    assert " – " in err[0]
    assert not (folder / "out").exists()
    assert run("inspect", "bad")[0] == 2


def test_a_meter_of_nothing(run: Any, folder: Path) -> None:
    (folder / "bad").write_bytes(NO_METER)
    code, _, err = run("render", "bad", "-o", "out")
    assert code == 2
    assert err == [
        "Violin, measure 1: time signature 0/0 has neither beats nor a beat – the score is refused, for its measures cannot be told"
    ]
    assert not (folder / "out").exists()


def test_one_byte_over_the_limit(run: Any, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Limits, "command_line", classmethod(lambda cls: cls(raw_bytes=len(SCORE) - 1)))
    told = f"score: the file has {len(SCORE)} bytes, {len(SCORE) - 1} are allowed – nothing is read"
    assert run("render", "score.json", "-o", "out") == (2, "", [told])
    assert run("render", "score.json", "-o", "out", "--no-limits")[0] == 0


@pytest.mark.parametrize(("change", "told"), [
    (lambda text: text[:-1], ["    document: this is not JSON: line 1, column 395 cannot be read"]),
    (lambda text: text.replace('"name": "Strings"', '"name": "a", "name": "b"'),
     ["    /name: the field “name” stands here more than once"]),
    (lambda text: text.replace("pizzicato", "pizicato"), ["    /articulations/1/plays/0/0: there is no mark “pizicato”"]),
    (lambda text: text.replace('"keyswitch": 24', '"keyswitch": 200'),
     ["    /articulations/0/triggers/0/keyswitch: the number must be 127 or less"]),
    (lambda text: text.replace('"keyswitch": 25', '"keyswitch": 60'), ["    /articulations/1/triggers/0/keyswitch: the key 60"]),
    (lambda text: text.replace('"default": "bowed"}]', '"default": "bowed"}, {"id": "bow", "default": "plucked"}]'),
     ["    /memories/1/id: "]),
])  # fmt: skip
def test_bad_maps(run: Any, folder: Path, change: Any, told: list[str]) -> None:
    """The file is named first, then every error of it with its place; nothing is rendered."""
    (folder / "bad.json").write_text(change(json.dumps(STRINGS)), "utf-8")
    code, out, err = run("render", "score.json", "--map", "bad.json", "-o", "out")
    assert (code, out) == (2, "")
    assert err[0] == f"bad.json: the map has {len(told)} errors – nothing is rendered with it"
    assert len(err) == 1 + len(told)
    assert all(line.startswith(start) for line, start in zip(err[1:], told, strict=True))
    assert not (folder / "out").exists()


def test_a_template_without_files(run: Any, folder: Path) -> None:
    template = {"kind": "template", "edition": 1, "name": "T", "tracks": [{"id": "v", "name": "V", "map": {"id": "m"}, "channel": 1}]}
    (folder / "template.json").write_text(json.dumps(template), "utf-8")
    told = (
        "template.json: its track v does not name its map by file"
        " – nothing is rendered; on the command line maps are files beside the template"
    )
    assert run("render", "score.json", "--template", "template.json", "-o", "out") == (2, "", [told])


def test_tryout_prints_what_is_where(run: Any, folder: Path) -> None:
    code, out, _ = run("tryout", "map.json", "-o", "tryout.mid")
    assert code == 0
    assert out.splitlines() == [
        "measure 3, beat 1: 1 Bowed – key C1 (24) – G3 F#5 E7 – track “Strings”, channel 1",
        "measure 6, beat 1: 2 Plucked – key C#1 (25) – G3 F#5 E7 – track “Strings”, channel 1",
        "written to tryout.mid",
    ]
    assert (folder / "tryout.mid").read_bytes()[:4] == b"MThd"


def with_channels(folder: Path) -> None:
    made = STRINGS | {"articulations": [
        {"id": "bowed", "name": "Bowed", "memory": "bow"},
        {"id": "plucked", "name": "Plucked", "memory": "bow", "plays": [["pizzicato"]], "triggers": [{"channel": 3}]},
    ]}  # fmt: skip
    (folder / "channels.json").write_text(json.dumps(made), "utf-8")


def notes_on(*channels: int) -> bytes:
    events = sorted(
        encode.event(960 * n + at, rank, status | channel - 1, 60, 80 * (rank > 0))
        for n, channel in enumerate(channels)
        for at, rank, status in ((0, 15, 0x90), (900, 0, 0x80))
    )
    return encode.file([encode.track(events, [], 0, 9600)], 960)


def test_listen_to_a_map_with_channels_of_its_own(run: Any, folder: Path) -> None:
    """Channel 3 is the map's; of the others one must be the track's own, said or alone."""
    with_channels(folder)
    (folder / "a.mid").write_bytes(notes_on(1, 3))
    (folder / "b.mid").write_bytes(notes_on(1, 2, 3))
    (folder / "c.mid").write_bytes(notes_on(3))
    code, out, _ = run("listen", "a.mid", "--map", "channels.json", "--json")
    assert (code, [note["entries"] for note in json.loads(out)["notes"]]) == (0, [[0], [1]])
    told = "b.mid: the map names channels of its own, and the file plays on several others: 1, 2"
    assert run("listen", "b.mid", "--map", "channels.json") == (
        2, "", [told + " – nothing was listened to; --channel says which is the track's"],
    )  # fmt: skip
    code, out, _ = run("listen", "b.mid", "--map", "channels.json", "--channel", "2", "--json")
    heard = json.loads(out)
    assert [(note["on"], note["entries"]) for note in heard["notes"]] == [(960, [0]), (1920, [1])]
    assert [p["message"] for p in heard["problems"]] == [
        "track 1: 1 notes on port 1, channel 1, which no map belongs to – they were not listened to"
    ]
    code, out, _ = run("listen", "c.mid", "--map", "channels.json", "--json")
    assert [note["entries"] for note in json.loads(out)["notes"]] == [[1]]


def test_listen_to_a_render(run: Any, folder: Path) -> None:
    run("render", "score.json", "--map", "map.json", "-o", "out")
    code, out, _ = run("listen", "out/all.mid", "--map", "map.json", "--json")
    assert (code, [note["entries"] for note in json.loads(out)["notes"]]) == (0, [[1], [0], [0]])
    code, out, _ = run("listen", "out/all.mid", "--map", "map.json")
    assert "Plucked" in out
    assert run("listen", "score.json", "--map", "map.json")[0] == 2
