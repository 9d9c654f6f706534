"""The commands of `python -m rendering`, each from parsed arguments to text and exit code."""

from __future__ import annotations

import json
import shutil
import tempfile
from argparse import Namespace
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

from rendering.codes import severity
from rendering.documents import canonical, digest, parse, read
from rendering.inspecting import inspect, inspect_text
from rendering.listening import Seat, hear_text, listen
from rendering.maps.checks import check
from rendering.maps.compile import compile_map
from rendering.maps.document import ArticulationMap
from rendering.maps.table import Sampler
from rendering.marks.published import MarkRow, marks_table
from rendering.midi import decode
from rendering.pencil import PencilMarks, apply, check_pencil
from rendering.pipeline import Rendering, load, render
from rendering.places import place_of
from rendering.problems import Place, Problem, Refused, problem
from rendering.readers import Limits
from rendering.rendered import Options
from rendering.report import grouped, summary
from rendering.score_document import read_score
from rendering.templates import Assignment, Template, check_template
from rendering.timeline import DEFAULT_MICROS, PPQ, to_ticks
from rendering.tryout import tryout, tryout_text
from rendering.writers import write_musicxml

DONE, ERRORS, NOTHING = 0, 1, 2
SET_TEMPO = 0x51


class Answer:
    """What a command says: text for people, a document for --json, and the exit code."""

    __slots__ = ("code", "document", "text")

    def __init__(self, text: str, document: dict[str, Any], code: int = DONE) -> None:
        self.text: str = text
        self.document: dict[str, Any] = document
        self.code: int = code


def read_bytes(name: str) -> bytes:
    """Return a file's bytes; Refused with the reason if it cannot be read."""
    try:
        return Path(name).read_bytes()
    except OSError as failed:
        raise Refused([problem("file-unreadable", Place(part_name=name), why=(failed.strerror or "unreadable").lower())]) from None


@contextmanager
def writing(name: Path) -> Iterator[None]:
    """Refuse with the reason where a file or folder cannot be written."""
    try:
        yield
    except OSError as failed:
        raise Refused([problem("file-unwritable", Place(part_name=str(name)), why=(failed.strerror or "unwritable").lower())]) from None


def read_map(name: str) -> ArticulationMap:
    """Return the articulation map in a file; Refused with all its errors."""
    return _checked(name, read_bytes(name))


def _checked(name: str, body: bytes) -> ArticulationMap:
    try:
        document = read(ArticulationMap, body)
        errors = [p for p in check(document) if _is_error(p)]
    except Refused as refused:
        errors = list(refused.problems)
    if errors:
        raise Refused([problem("map-unusable", Place(part_name=name), count=len(errors)), *errors])
    return document


def _is_error(found: Problem) -> bool:
    return severity(found) == "error"


def _limits(arguments: Namespace) -> Limits:
    return Limits.none() if arguments.no_limits else Limits.command_line()


# ── render ──


def render_command(arguments: Namespace) -> Answer:
    """Render a score into a folder."""
    folder = Path(arguments.output)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise Refused([problem("folder-not-empty", Place(part_name=str(folder)))])
    template, maps_of_tracks = _template(arguments.template)
    maps = [_named_map(text) for text in arguments.map]
    assignment = read(Assignment, read_bytes(arguments.assignment)) if arguments.assignment else None
    pencil = _pencil(arguments.pencil)
    made = render(
        read_bytes(arguments.score),
        maps=maps,
        template=template,
        template_maps=maps_of_tracks,
        assignment=assignment,
        pencil=pencil,
        options=_options(arguments, template),
        limits=_limits(arguments),
        digests=_digests(template, assignment),
    )
    with writing(folder):
        _write(folder, made.files)
    text = f"{summary(made.report)}\nwritten to {folder}"
    if arguments.explain:
        text += "\n" + _explain(made, *arguments.explain)
    return Answer(text, made.report, _render_code(made, arguments.strict))


def _render_code(made: Rendering, strict: bool) -> int:
    errors = any(p["severity"] == "error" for p in made.report["problems"])
    return ERRORS if not made.agree or (strict and errors) else DONE


def _named_map(text: str) -> tuple[str, ArticulationMap]:
    """Read "FILE" or "PART=FILE"; a file whose name holds an equals sign is a file."""
    part, _, name = ("", "", text) if Path(text).is_file() else text.rpartition("=")
    return part, read_map(name)


def _pencil(name: str | None) -> PencilMarks | None:
    """Read pencil marks; Refused with all their errors."""
    if not name:
        return None
    pencil = read(PencilMarks, read_bytes(name))
    errors = [p for p in check_pencil(pencil) if _is_error(p)]
    if errors:
        raise Refused(errors)
    return pencil


def _template(name: str | None) -> tuple[Template | None, dict[str, ArticulationMap]]:
    """Read a template and the maps that its tracks name by `file`, beside the template's own file."""
    if not name:
        return None, {}
    template = read(Template, read_bytes(name))
    maps: dict[str, ArticulationMap] = {}
    known: dict[str, ArticulationMap] = {}
    for track in template.tracks:
        if track.map.file is None:
            raise Refused([problem("map-not-a-file", Place(part_name=name), track=track.id)])
        path = str(Path(name).parent / track.map.file)
        if path not in known:
            known[path] = read_map(path)
        maps[track.id] = known[path]
    errors = [p for p in check_template(template, maps) if _is_error(p)]
    if errors:
        raise Refused(errors)
    return template, maps


def _options(arguments: Namespace, template: Template | None) -> Options:
    """The command line's choices; those not given come from the template, else from the defaults."""
    chosen = {n: getattr(arguments, n) for n in Options.__slots__ if n != "tempo" and getattr(arguments, n, None) is not None}
    if template:
        own = template.choices.model_dump(exclude_none=True)
        chosen = {**{n: v for n, v in own.items() if n in Options.__slots__}, **chosen}
    chosen["tempo"] = _tempo(arguments.tempo, chosen.get("ppq", PPQ))
    return Options(**chosen)


def _tempo(wanted: str | None, ppq: int) -> int | tuple[tuple[int, int], ...] | None:
    """The tempo to play in: None = the score's; a number of quarters a minute; or a MIDI file's tempo map."""
    if wanted in (None, "score"):
        return None
    try:
        speed = Decimal(wanted)
    except InvalidOperation:
        return _tempo_map(wanted, ppq)
    if not speed.is_finite() or not 4 <= speed <= 960:
        raise Refused([problem("tempo-outside", tempo=wanted)])
    return int(speed * 1000)


def _tempo_map(name: str, ppq: int) -> tuple[tuple[int, int], ...]:
    file = decode.read(read_bytes(name))
    found = [(to_ticks(m.tick, file.ppq, ppq), int.from_bytes(m.contents, "big")) for m in file.tracks[0].metas if m.kind == SET_TEMPO]
    return tuple(found) or ((0, DEFAULT_MICROS),)


def _digests(template: Template | None, assignment: Assignment | None) -> dict[str, str]:
    documents = {"template": template, "assignment": assignment}
    return {name: digest(canonical(document)) for name, document in documents.items() if document}


def _write(folder: Path, files: dict[str, bytes]) -> None:
    """Make all files beside the folder, then move them there at once: a broken run leaves nothing."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    made = Path(tempfile.mkdtemp(prefix=".ripieno-", dir=folder.parent))
    try:
        for name, body in files.items():
            path = made / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(body)
        made.chmod(0o755)
        if folder.exists():
            folder.rmdir()
        made.rename(folder)
    finally:
        shutil.rmtree(made, ignore_errors=True)


def _explain(made: Rendering, part: str, measure: str) -> str:
    """Say why each note of a part's measure plays what it plays."""
    table = json.loads(made.files["notes.json"])
    score = made.run.score
    ids = {p.id for p in score.parts if part in (p.id, p.name)}
    lines = []
    for row in table["rows"]:
        values = dict(zip(table["columns"], row, strict=True))
        if values["part"] in ids:
            place = place_of(score, values["part"], values["note"])
            if place.measure == measure:
                lines.append(f"{place.part_name}, measure {measure}, beat {place.beat}, key {values['key']}: {values['reason']}")
    return "\n".join(lines) or f"no note in part “{part}”, measure {measure}"


# ── inspect, check, listen, tryout ──


def inspect_command(arguments: Namespace) -> Answer:
    """Show what was read of a score; with --marks instead every mark there is."""
    if arguments.marks:
        table = marks_table()
        return Answer("\n".join(marks_text(table)), {"marks": table})
    if arguments.score is None:
        raise Refused([problem("usage", why="a SCORE is required, or --marks", command="python -m rendering inspect")])
    found = inspect(read_bytes(arguments.score), _limits(arguments), arguments.grid)
    return Answer(inspect_text(found).rstrip(), found)


def marks_text(table: Sequence[MarkRow]) -> Iterator[str]:
    """Yield the marks as lines: rank and axis, then each mark with its MusicXML elements and wordings."""
    axis = ""
    for row in table:
        if row["axis"] != axis:
            axis = row["axis"]
            yield f"{row['rank']} {axis}"
        wordings = [f"{language} {', '.join(words)}" for language, words in _by_language(row).items()]
        yield "    " + "; ".join([f"{row['name']} ({row['reach']})", *row["musicxml"], *wordings])


def _by_language(row: MarkRow) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for wording in row["wordings"]:
        found.setdefault(wording["language"], []).extend(wording["wordings"])
    return found


def check_command(arguments: Namespace) -> Answer:
    """Check a map, a template, an assignment, pencil marks or a score document: all problems at once."""
    body = read_bytes(arguments.file)
    try:
        problems = _check_document(body, Path(arguments.file).parent)
    except Refused as refused:
        problems = list(refused.problems)
    rows = grouped(problems)
    text = "\n".join(f"{row['severity']}: {row['message']}" for row in rows) or "no problems"
    errors = any(row["severity"] == "error" for row in rows)
    return Answer(text, {"problems": rows}, ERRORS if errors else DONE)


def _check_document(body: bytes, beside: Path) -> list[Problem]:
    """Check a document by its kind; a template with the maps that its tracks name by file, which lie `beside` it."""
    _, sent = parse(body)
    if isinstance(sent, list):
        read(Assignment, body)
        return []
    kind = sent.get("kind") if isinstance(sent, dict) else None
    if kind == "score":
        read_score(body, Limits.none())
        return []
    if kind == "template":
        template = read(Template, body)
        maps, problems = _maps_beside(template, beside)
        return problems + check_template(template, maps)
    if kind == "pencil-marks":
        return check_pencil(read(PencilMarks, body))
    return check(read(ArticulationMap, body))


def _maps_beside(template: Template, folder: Path) -> tuple[dict[str, ArticulationMap], list[Problem]]:
    """Return the maps of a template's tracks by track id, and a problem for each file that is no usable map."""
    maps: dict[str, ArticulationMap] = {}
    problems: list[Problem] = []
    known: dict[str, ArticulationMap | None] = {}
    for track in template.tracks:
        if track.map.file is None:
            continue
        path = str(folder / track.map.file)
        if path not in known:
            known[path], found = _usable_map(path)
            problems += found
        document = known[path]
        if document is not None:
            maps[track.id] = document
    return maps, problems


def _usable_map(path: str) -> tuple[ArticulationMap | None, list[Problem]]:
    try:
        return read_map(path), []
    except Refused as refused:
        return None, list(refused.problems[:1])  # which file it is; its own errors stand in its own check


def write_command(arguments: Namespace) -> Answer:
    """Write a score as MusicXML, with pencil marks if there are any."""
    score, problems = load(read_bytes(arguments.score), _limits(arguments), grid=arguments.grid)
    pencil = _pencil(arguments.pencil)
    if pencil is not None:
        score, lost = apply(score, pencil)
        problems += lost
    data, found = write_musicxml(score)
    with writing(Path(arguments.output)):
        Path(arguments.output).write_bytes(data)
    rows = grouped([*problems, *found])
    text = "\n".join([*(f"{row['severity']}: {row['message']}" for row in rows), f"written to {arguments.output}"])
    return Answer(text, {"problems": rows})


def listen_command(arguments: Namespace) -> Answer:
    """Say what a sampler with this map hears in a MIDI file, note by note."""
    sampler = compile_map(read_map(arguments.map))
    tracks = decode.read(read_bytes(arguments.midi)).tracks
    seats = _seats(sampler, tracks, arguments.channel, Place(part_name=arguments.midi))
    heard = listen(tracks, seats)
    rows = grouped(heard.problems)
    text = hear_text(heard, arguments.middle_c).rstrip()
    text = "\n".join([text, *(f"{row['severity']}: {row['message']}" for row in rows)])
    notes = [
        {
            "on": heard.on[i],
            "off": heard.off[i],
            "key": heard.sounding[i],
            "entries": list(heard.entries(i)),
            "joined": bool(heard.joined[i]),
        }
        for i in range(len(heard))
    ]
    return Answer(text, {"notes": notes, "problems": rows})


def _seats(sampler: Sampler, tracks: Sequence[decode.Track], channel: int | None, place: Place) -> list[Seat]:
    """Put the map on each channel that is played on; one that names channels of its own, once on each port.

    `channel` 1-16 is the only one to listen to. Refused where the map names channels and the file plays on
    several others: which of them is the track's own cannot be known.
    """
    named = {e.channel for e in sampler.entries if e.channel >= 0}
    played: dict[int, list[int]] = {}
    for port, number in sorted({(t.port, c) for t in tracks for c in t.channels}):
        played.setdefault(port, []).append(number)
    seats = []
    for port, numbers in played.items():
        own = [channel - 1] if channel else [n for n in numbers if n not in named]
        if named and len(own) > 1:
            told = ", ".join(str(n + 1) for n in own)
            raise Refused([problem("which-channel", place, channels=told)])
        if named and not own:  # it plays on the channels that the map names alone
            own = [next((n for n in range(16) if n not in named), 0)]
        seats += [Seat(sampler, n, port) for n in own]
    return seats or [Seat(sampler, (channel or 1) - 1)]


def tryout_command(arguments: Namespace) -> Answer:
    """Write a MIDI file that plays every articulation of a map."""
    document = read_map(arguments.map)
    data, rows = tryout(document, compile_map(document))
    with writing(Path(arguments.output)):
        Path(arguments.output).write_bytes(data)
    return Answer(f"{tryout_text(rows)}written to {arguments.output}", {"rows": rows})
