"""Golden files: one phenomenon each, with its inputs and the MIDI events that the rule asks for.

A file is UTF-8 text. Lines before the first section say which rule it is and how its numbers come about.
Sections begin with `== name ==`:

    map            a map as JSON; what every map must have is filled in (see `made_map`)
    map NAME       a map for one part, by its id, or for one track of the template
    template       a template as JSON, filled in likewise
    assignment     its assignment as JSON
    options        one choice a line: lead track
    score          in the short notation of tests/rendering/notation.py
    score.json     instead: a neutral score as its document
    sketch         instead: a MIDI file of one track; ticks per quarter note, then `tick note_on key velocity` and its like
    musicxml       instead: measures as MusicXML, put into one part; for what is read from the page
    events         expected: `tick track channel message` of every channel message; tracks count from 2
    dump           expected instead: the whole dump, conductor and meta events included, but for the text with the digests
    problems       expected: each problem's sentence, in the report's order; left out: not looked at
    outcomes       expected: mark: outcome n, outcome n
    yielded        expected number of notes that gave way; 0 where it is left out

In expectations, what follows " # " is a remark, and empty lines count for nothing.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

from rendering.codes import message, severity
from rendering.documents import read
from rendering.maps.checks import check
from rendering.maps.document import ArticulationMap
from rendering.midi import dump, encode, meta
from rendering.pipeline import Rendering, load, render_score
from rendering.rendered import Options
from rendering.score import Score
from rendering.score_document import read_score
from rendering.templates import Assignment, Template
from tests.rendering.notation import read_notation

FOLDER = Path(__file__).parent / "golden"
INPUTS = {"map", "template", "assignment", "options", "score", "score.json", "sketch", "musicxml"}
EXPECTED = {"events", "dump", "problems", "outcomes", "yielded"}
LOUDNESS = {"by": "velocity", "points": [[0, 8], [500, 64], [1000, 127]]}  # mf, 625 thousandths, is velocity 80


class Golden:
    """One golden file, parted into its sections."""

    def __init__(self, path: Path) -> None:
        self.path = path
        head, *rest = re.split(r"^== (.+) ==\n", path.read_text("utf-8"), flags=re.MULTILINE)
        self.rule = head.strip()
        self.sections = dict(zip(rest[::2], rest[1::2], strict=True))
        unknown = {name.split(" ")[0] for name in self.sections} - INPUTS - EXPECTED
        if unknown or not self.rule or not self.sections.keys() & {"events", "dump"}:
            raise ValueError(f"{path.name}: no rule, no expectation, or unknown sections {sorted(unknown)}")

    def expected(self, name: str) -> list[str]:
        """Return the lines of a section without remarks and empty ones."""
        lines = (re.sub(r"(^| +)# .*$", "", line).rstrip() for line in self.sections[name].splitlines())
        return [line for line in lines if line]

    def maps(self) -> dict[str, ArticulationMap]:
        """Return the maps by part or track; "" for all."""
        return {name[4:]: made_map(json.loads(body)) for name, body in self.sections.items() if name.split(" ")[0] == "map"}

    def score(self) -> Score:
        if "score" in self.sections:
            return read_notation(self.sections["score"])
        if "score.json" in self.sections:
            return read_score(self.sections["score.json"].encode())
        if "sketch" in self.sections:
            return load(_sketch(self.expected("sketch")))[0]
        return load(_page(self.sections["musicxml"]))[0]

    def render(self) -> Rendering:
        """Render the inputs; every part, or every track of the template, on its own map or on the common one."""
        score, maps = self.score(), self.maps()
        chosen: dict[str, Any] = dict(line.split() for line in self.sections.get("options", "").splitlines())
        options = Options(**{n: int(v) if v.isdecimal() else v for n, v in chosen.items()})
        if "template" in self.sections:
            template = made_template(json.loads(self.sections["template"]))
            of_tracks = {t.id: maps[t.id] if t.id in maps else maps[""] for t in template.tracks}
            assignment = read(Assignment, self.sections.get("assignment", "[]").encode())
            return render_score(score, template=template, template_maps=of_tracks, assignment=assignment, options=options)
        given = [(p.id, maps[p.id] if p.id in maps else maps[""]) for p in score.parts if maps]
        return render_score(score, maps=given, options=options)

    def actual(self, made: Rendering) -> dict[str, list[str]]:
        """Return the lines that a render gives for each section that is expected."""
        whole = [line for line in dump.text(made.files["all.mid"]).splitlines() if ' text "ripieno ' not in line]
        found = {
            "dump": whole,
            "events": [line for line in whole[1:] if line.split(" ")[2] != "-"],
            "problems": [p["message"] for p in made.report["problems"]],
            "outcomes": [
                f"{mark}: " + ", ".join(f"{outcome} {n}" for outcome, n in row.items())
                for track in made.report["tracks"]
                for mark, row in track["marks"].items()
            ],
            "yielded": [str(made.report["proof"]["yielded"])],
        }
        return {name: lines for name, lines in found.items() if name in self.sections or name == "yielded"}


def golden_files() -> list[Path]:
    """Return all golden files, by name."""
    return sorted(FOLDER.glob("*.txt"))


def made_map(fields: dict[str, Any]) -> ArticulationMap:
    """Return a map without errors: what is left out is filled in, each memory's default is its first articulation."""
    defaults: dict[str, str] = {}
    for it in fields["articulations"]:
        it.setdefault("memory", "bow")
        defaults.setdefault(it["memory"], it["id"])
    base = {
        "kind": "articulation-map", "edition": 1, "name": "Strings", "sound": "strings.violin", "loudness": LOUDNESS,
        "range": {"lowest": 36, "highest": 100}, "memories": [{"id": m, "default": d} for m, d in defaults.items()],
    }  # fmt: skip
    made = read(ArticulationMap, json.dumps(base | fields).encode())
    errors = [found for found in check(made) if severity(found) == "error"]
    if errors:
        raise ValueError("; ".join(message(found) for found in errors))
    return made


def made_template(fields: dict[str, Any]) -> Template:
    """Return a template; its tracks name files that nobody opens, and channels from 1 on."""
    tracks = [{"name": t["id"], "map": {"file": "a"}, "channel": n} | t for n, t in enumerate(fields["tracks"], 1)]
    return read(Template, json.dumps({"kind": "template", "edition": 1, "name": "T"} | fields | {"tracks": tracks}).encode())


def _sketch(lines: list[str]) -> bytes:
    """Return a MIDI file with the events of these lines, all on channel 1."""
    statuses = {"note_off": 0x80, "note_on": 0x90, "controller": 0xB0}
    rows = [(int(tick), statuses[word], int(a), int(b)) for tick, word, a, b in (line.split() for line in lines[1:])]
    events = [encode.event(tick, 0, status, a, b) for tick, status, a, b in rows]
    return encode.file([encode.track(events, [(0, meta.tempo(500_000))], 0, rows[-1][0])], int(lines[0]))


def _page(measures: str) -> bytes:
    """Return a MusicXML file of one violin part with these measures; divisions of the first are 4 a quarter."""
    part = '<score-part id="P1"><part-name>Violin</part-name></score-part>'
    return f'<score-partwise version="4.0"><part-list>{part}</part-list><part id="P1">{measures}</part></score-partwise>'.encode()
