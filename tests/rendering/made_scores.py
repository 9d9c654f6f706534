"""MusicXML written by hand, in few words: notes, measures, parts, whole documents; and the engine's reading of them."""

from __future__ import annotations

import io
import zipfile

from rendering.annotate import annotate
from rendering.codes import message
from rendering.marks import names
from rendering.problems import Problem
from rendering.readers import read
from rendering.score import Line, Note, Score
from rendering.unfold import unfold

HEAD = '<?xml version="1.0" encoding="UTF-8"?>'
DIVISIONS = 4  # a quarter is 4, a 4/4 measure 16


def note(
    pitch: str,
    duration: int | str = 4,
    *,
    voice: str = "1",
    staff: str = "",
    chord: bool = False,
    grace: str = "",
    ties: str = "",
    extra: str = "",
    notations: str = "",
    attributes: str = "",
) -> str:
    """Return a note: pitch "C4", "F#4", "Bb3", "" for a rest; `ties` of "start stop"; `grace` "plain" or "slashed"."""
    parts = [f"<note{' ' * bool(attributes)}{attributes}>"]
    if grace:
        parts.append('<grace slash="yes"/>' if grace == "slashed" else "<grace/>")
    parts += ["<chord/>"] * chord
    parts.append(pitch_of(pitch) if pitch else "<rest/>")
    if not grace:
        parts.append(f"<duration>{duration}</duration>")
    parts += [f'<tie type="{kind}"/>' for kind in ties.split()]
    parts.append(f"<voice>{voice}</voice>")
    parts += [f"<staff>{staff}</staff>"] * bool(staff)
    parts.append(extra)
    parts += [f"<notations>{notations}</notations>"] * bool(notations)
    return "".join(parts) + "</note>"


def pitch_of(name: str) -> str:
    alter = {"#": "<alter>1</alter>", "b": "<alter>-1</alter>"}.get(name[1:2], "")
    return f"<pitch><step>{name[0]}</step>{alter}<octave>{name.lstrip('ABCDEFG').lstrip('#b')}</octave></pitch>"


def notes(pitches: str, duration: int = 4, **rest: str) -> str:
    """Return a row of notes of one length: "C4 D4 - E4", "-" for a rest."""
    return "".join(note("" if p == "-" else p, duration, **rest) for p in pitches.split())


def words(text: str, *, offset: str = "", staff: str = "", voice: str = "", sound: str = "", placement: str = "") -> str:
    return direction(f"<words>{text}</words>", offset=offset, staff=staff, voice=voice, sound=sound, placement=placement)


def dynamic(name: str, **rest: str) -> str:
    return direction(f"<dynamics><{name}/></dynamics>", **rest)


def wedge(kind: str, number: str = "1", **rest: str) -> str:
    return direction(f'<wedge type="{kind}" number="{number}"/>', **rest)


def direction(inside: str, *, offset: str = "", staff: str = "", voice: str = "", sound: str = "", placement: str = "") -> str:
    """Return a direction; `sound` holds the attributes of its sound element."""
    rest = f"<offset>{offset}</offset>" if offset else ""
    rest += f"<voice>{voice}</voice>" if voice else ""
    rest += f"<staff>{staff}</staff>" if staff else ""
    rest += f"<sound {sound}/>" if sound else ""
    place = f' placement="{placement}"' if placement else ""
    return f"<direction{place}><direction-type>{inside}</direction-type>{rest}</direction>"


def attributes(inside: str = "", *, time: str = "4/4", fifths: int = 0) -> str:
    beats, _, unit = time.partition("/")
    meter = f"<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>" if time else ""
    return f"<attributes><divisions>{DIVISIONS}</divisions><key><fifths>{fifths}</fifths></key>{meter}{inside}</attributes>"


def measures(*contents: str, first: str = "") -> str:
    """Return numbered measures; the first one gets the attributes, 4/4 unless `first` gives others."""
    head = first or attributes()
    return "".join(f'<measure number="{i}">{head if i == 1 else ""}{c}</measure>' for i, c in enumerate(contents, 1))


def document(*parts: str, names: tuple[str, ...] = (), listed: tuple[str, ...] = ()) -> bytes:
    """Return a score of parts P1, P2 …, each given by its measures; `listed` adds to their score-parts."""
    title = names or tuple("Violin" for _ in parts)
    extra = listed or tuple("" for _ in parts)
    head = "".join(
        f'<score-part id="P{i}"><part-name>{name}</part-name>{more}</score-part>'
        for i, (name, more) in enumerate(zip(title, extra, strict=True), 1)
    )
    body = "".join(f'<part id="P{i}">{part}</part>' for i, part in enumerate(parts, 1))
    return f"{HEAD}<score-partwise><part-list>{head}</part-list>{body}</score-partwise>".encode()


def packed(data: bytes, name: str = "score.musicxml", **others: bytes) -> bytes:
    """Return a compressed MusicXML file that names the score in its container."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("META-INF/container.xml", f'<container><rootfiles><rootfile full-path="{name}"/></rootfiles></container>')
        archive.writestr(name, data)
        for other, content in others.items():
            archive.writestr(other, content)
    return out.getvalue()


def score_of(data: bytes) -> tuple[Score, list[Problem]]:
    """Return a document read, annotated and unfolded, with all problems."""
    as_read, problems = read(data)
    score, found = annotate(as_read)
    return score, [*problems, *found, *unfold(score, as_read)]


def line_of(data: bytes, part: int = 0, line: int = 0) -> Line:
    return score_of(data)[0].parts[part].lines[line]


def rows(line: Line) -> list[Note]:
    return [line.note(i) for i in range(len(line))]


def marks_of(line: Line) -> list[str]:
    """Return the marks of each note as one text, in the order of rank."""
    return [", ".join(names(m)) for m in line.marks]


def messages(data: bytes) -> list[str]:
    """Return the sentences of all problems but the remarks that every small score gets."""
    return [message(p) for p in score_of(data)[1] if p.code not in {"no-dynamic"}]
