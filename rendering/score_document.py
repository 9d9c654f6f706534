"""The neutral score as a JSON document, so that any program can make one.

Notes are rows, as in `rendering.score.Note`, but with marks as names and the lyric as text:
[offset, duration, key, cents, [marks], tie, slur, grace, lyric, source, instrument].
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Annotated, Literal

from pydantic import Field

from rendering.documents import DocumentModel, canonical, escaped, limited, read, shown
from rendering.maps.document import MarkName, Sound
from rendering.marks import EITHER, mask, names
from rendering.problems import Place, Problem, Refused, problem
from rendering.readers import Limits
from rendering.score import Hairpin, Instrument, Level, Line, Measure, Note, Ornament, Part, Score, Steal, Strokes

_BRACE = re.compile(rb"(\xef\xbb\xbf)?\s*\{")

Position = Annotated[int, Field(ge=0, le=1 << 40)]
Text = Annotated[str, Field(max_length=1000)]
Staff = Annotated[int, Field(ge=0, le=100)]
Key = Annotated[int, Field(ge=0, le=127)]
Semitones = Annotated[int, Field(ge=-24, le=24)]
Fraction1000 = Annotated[int, Field(ge=0, le=1000)]

NoteRow = tuple[
    Position,
    Position,
    Key,
    Annotated[int, Field(ge=-50, le=50)],
    tuple[MarkName, ...],
    Annotated[int, Field(ge=0, le=4)],
    Annotated[int, Field(ge=0, le=3)],
    Annotated[int, Field(ge=0, le=6)],
    Text,
    Position,
    Annotated[int, Field(ge=0, le=1000)],
]


class MeasureDocument(DocumentModel):
    """One measure as written; `length` is what it really holds."""

    ordinal: Annotated[int, Field(ge=1)]
    number: Text
    start: Position
    length: Position
    meter: tuple[Annotated[int, Field(ge=0, le=255)], Annotated[int, Field(ge=0, le=256)]]
    key: Annotated[int, Field(ge=-7, le=7)] = 0


class LineDocument(DocumentModel):
    """The notes of one voice on one staff."""

    staff: Staff
    voice: Text
    notes: tuple[NoteRow, ...]


class InstrumentDocument(DocumentModel):
    """One instrument of a part; the first is the part's own."""

    id: Text = ""
    name: Text = ""
    sound: Sound = ""
    players: Literal["", "solo", "ensemble"] = ""
    program: Annotated[int, Field(ge=-1, le=127)] = -1
    unpitched: bool = False
    drum_key: Annotated[int, Field(ge=-1, le=127)] = -1


class PartDocument(DocumentModel):
    """One part; keys of notes sound already, `transpose` says what was added to the written ones.

    `ornaments`, `strokes`, `rolls`, `only` and `steals` name their note by its source first; the rest as in `rendering.score`.
    """

    id: Annotated[Text, Field(min_length=1)]
    name: Text
    instruments: Annotated[tuple[InstrumentDocument, ...], Field(min_length=1)] = (InstrumentDocument(),)
    transpose: tuple[tuple[Position, Annotated[int, Field(ge=-127, le=127)]], ...] = ()
    lines: tuple[LineDocument, ...] = ()
    levels: tuple[tuple[Position, Staff, Text, Literal["mark", "sound", "note", "once", "attack"], Fraction1000, Position], ...] = ()
    hairpins: tuple[tuple[Position, Position, Staff, Text, Literal[-1, 1], bool], ...] = ()
    pedals: tuple[tuple[Position, Position], ...] = ()
    ornaments: tuple[tuple[Position, Semitones, Semitones, Semitones, bool], ...] = ()
    strokes: tuple[tuple[Position, Position, bool], ...] = ()
    rolls: tuple[tuple[Position, Text], ...] = ()
    only: tuple[tuple[Position, tuple[Annotated[int, Field(ge=0, le=999)], ...]], ...] = ()
    steals: tuple[tuple[Position, Fraction1000, Fraction1000, Position], ...] = ()


class ScoreDocument(DocumentModel):
    """A score as annotated, in written order; `itinerary` says how it is played."""

    kind: Literal["score"]
    edition: Literal[1]
    unit: Annotated[int, Field(ge=1, le=1_000_000)]
    title: Text = ""
    measures: Annotated[tuple[MeasureDocument, ...], Field(min_length=1)]
    itinerary: tuple[tuple[Annotated[int, Field(ge=1)], Annotated[int, Field(ge=1)], Annotated[int, Field(ge=1)]], ...]
    tempo: tuple[tuple[Position, Annotated[int, Field(ge=1, le=0xFFFFFF)]], ...] = ()
    rehearsal: tuple[tuple[Position, Text], ...] = ()
    unread: tuple[tuple[Text, Text, Position, Staff], ...] = ()
    parts: tuple[PartDocument, ...]


def write_score(score: Score) -> bytes:
    """Return the canonical bytes of a score."""
    return canonical(
        ScoreDocument(
            kind="score",
            edition=1,
            unit=score.unit,
            title=score.title,
            measures=tuple(MeasureDocument(**m._asdict()) for m in score.measures),
            itinerary=tuple(score.itinerary),
            tempo=tuple(score.tempo),
            rehearsal=tuple(score.rehearsal),
            unread=tuple(score.unread),
            parts=tuple(_part_document(part) for part in score.parts),
        )
    )


def _part_document(part: Part) -> PartDocument:
    return PartDocument(
        id=part.id,
        name=part.name,
        instruments=tuple(InstrumentDocument(**i._asdict()) for i in part.instruments),
        transpose=tuple(part.transpose),
        lines=tuple(LineDocument(staff=x.staff, voice=x.voice, notes=tuple(_rows(x, part.lyrics))) for x in part.lines),
        levels=tuple(tuple(v) for v in part.levels),
        hairpins=tuple(tuple(h) for h in part.hairpins),
        pedals=tuple(part.pedals),
        ornaments=tuple((source, *ornament) for source, ornament in part.ornaments.items()),
        strokes=tuple((source, *strokes) for source, strokes in part.strokes.items()),
        rolls=tuple(part.rolls.items()),
        only=tuple(part.only.items()),
        steals=tuple((source, *steal) for source, steal in part.steals.items()),
    )


def _rows(line: Line, lyrics: list[str]) -> Iterator[NoteRow]:
    for i in range(len(line)):
        n = line.note(i)
        yield (
            n.offset, n.duration, n.key, n.cents, tuple(names(n.marks)), n.tie, n.slur, n.grace, lyrics[n.lyric], n.source, n.instrument,
        )  # fmt: skip


def is_score_document(data: bytes) -> bool:
    """Tell whether a file is a JSON document, by its content: its first character is a brace."""
    return _BRACE.match(data) is not None


def read_score(data: bytes, limits: Limits | None = None) -> Score:
    """Return the score in a JSON document; raises Refused with every problem found, or for what is over a limit."""
    limits = limits or Limits()
    if len(data) > limits.raw_bytes:
        raise Refused([problem("file-too-large", count=len(data), most=limits.raw_bytes)])
    document = read(ScoreDocument, data)
    problems = list(_over(document, limits)) or list(_incoherent(document))
    if problems:
        raise Refused(limited(problems))
    return Score(
        unit=document.unit,
        title=document.title,
        measures=[Measure(**m.model_dump()) for m in document.measures],
        itinerary=list(document.itinerary),
        tempo=list(document.tempo),
        rehearsal=list(document.rehearsal),
        unread=list(document.unread),
        parts=[_part(part) for part in document.parts],
    )


def _part(document: PartDocument) -> Part:
    part = Part(
        id=document.id,
        name=document.name,
        instruments=[Instrument(**i.model_dump()) for i in document.instruments],
        transpose=list(document.transpose),
        levels=[Level(*v) for v in document.levels],
        hairpins=[Hairpin(*h) for h in document.hairpins],
        pedals=list(document.pedals),
        ornaments={row[0]: Ornament(row[1], row[2], row[3], row[4]) for row in document.ornaments},
        strokes={row[0]: Strokes(row[1], row[2]) for row in document.strokes},
        rolls=dict(document.rolls),
        only=dict(document.only),
        steals={row[0]: Steal(row[1], row[2], row[3]) for row in document.steals},
    )
    lyrics: dict[str, int] = {"": 0}
    for it in document.lines:
        line = Line(it.staff, it.voice)
        for row in it.notes:
            lyric = lyrics.setdefault(row[8], len(lyrics))
            line.add(Note(row[0], row[1], row[2], row[3], mask(*row[4]), row[5], row[6], row[7], lyric, row[9], row[10]))
        part.lines.append(line)
    part.lyrics = list(lyrics)
    return part


def _over(document: ScoreDocument, limits: Limits) -> Iterator[Problem]:
    """What is over a limit; counted before anything is built."""
    if len(document.parts) > limits.parts:
        yield problem("too-many-parts", most=limits.parts)
    if max((len(part.lines) for part in document.parts), default=0) > limits.voices:
        yield problem("too-many-voices", most=limits.voices)
    if sum(len(line.notes) for part in document.parts for line in part.lines) > limits.notes:
        yield problem("too-many-notes", most=limits.notes)
    if max((len(part.levels) + len(part.hairpins) for part in document.parts), default=0) > limits.notes:
        yield problem("too-many-signs", most=limits.notes)
    if sum(max(last - first + 1, 0) for first, last, _ in document.itinerary) > limits.played:
        yield problem("too-many-measures-played", most=limits.played)


def _incoherent(document: ScoreDocument) -> Iterator[Problem]:
    """What the shape alone cannot forbid: order, and references that lead nowhere."""
    at = 0
    for i, m in enumerate(document.measures):
        if m.start != at or m.ordinal != i + 1:
            yield _problem("score-measures", ("measures", i), number=m.number)
        at = m.start + m.length
    for i, (first, last, _) in enumerate(document.itinerary):
        if not first <= last <= len(document.measures):
            yield _problem("score-itinerary", ("itinerary", i), first=first, last=last, measures=len(document.measures))
    yield from _ordered((row[0] for row in document.tempo), ("tempo",))
    yield from _ordered((row[0] for row in document.rehearsal), ("rehearsal",))
    known: set[str] = set()
    for i, part in enumerate(document.parts):
        if part.id in known:
            yield _problem("score-part", ("parts", i, "id"), id=shown(part.id))
        known.add(part.id)
        yield from _ordered((row[0] for row in part.levels), ("parts", i, "levels"))
        yield from _spans([(row[0], row[1]) for row in part.hairpins], ("parts", i, "hairpins"))
        yield from _spans(part.pedals, ("parts", i, "pedals"))
        for j, line in enumerate(part.lines):
            yield from _line_problems(part, line, at, ("parts", i, "lines", j, "notes"))


Path = tuple[str | int, ...]


def _ordered(starts: Iterable[int], path: Path) -> Iterator[Problem]:
    before = 0
    for n, start in enumerate(starts):
        if start < before:
            yield _problem("score-order", (*path, n), offset=start, before=before)
        before = start


def _spans(spans: Sequence[tuple[int, int]], path: Path) -> Iterator[Problem]:
    yield from _ordered((start for start, _ in spans), path)
    for n, (start, stop) in enumerate(spans):
        if stop < start:
            yield _problem("score-backwards", (*path, n), start=start, stop=stop)


def _line_problems(part: PartDocument, line: LineDocument, end: int, path: Path) -> Iterator[Problem]:
    yield from _ordered((row[0] for row in line.notes), path)
    for n, row in enumerate(line.notes):
        if row[0] + row[1] > end:
            yield _problem("score-outside", (*path, n), stop=row[0] + row[1], end=end)
        if (row[1] == 0) != (row[7] > 0):
            yield _problem("score-duration", (*path, n), duration=row[1])
        if row[10] >= len(part.instruments):
            yield _problem("score-instrument", (*path, n), index=row[10], count=len(part.instruments))
        for name in row[4]:
            if name in EITHER:
                yield _problem("score-mark", (*path, n), mark=name, marks=", ".join(EITHER[name]))


def _problem(code: str, path: Path, **arguments: str | int) -> Problem:
    return problem(code, Place(pointer=escaped(path)), **arguments)
