"""The report of a render as a document: its published shape (kind "report", edition 1)."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, Tag

from rendering.documents import TAG, DocumentModel
from rendering.marks import BIT

Count = Annotated[int, Field(ge=0)]
Ordinal = Annotated[int, Field(ge=1)]
MidiNumber = Annotated[int, Field(ge=1, le=16)]
Digest = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
Outcome = Literal["exact", "shaped", "written-out", "merged", "stand-in", "plain", "silent"]
Mark = Annotated[str, Field(json_schema_extra={"enum": sorted(BIT)})]
Outcomes = dict[Outcome, Ordinal]


class Where(DocumentModel):
    """Where something is; fields that do not apply are left out.

    `measure` is the printed number, `ordinal` counts measures from 1, `beat` is "n" or "n/d" from 1 in the
    meter's unit, `note` counts the part's `<note>` elements from 1, `pointer` is a JSON pointer (RFC 6901).
    """

    part: str = ""
    part_name: str = ""
    measure: str = ""
    ordinal: Ordinal | None = None
    beat: Annotated[str, Field(pattern=r"^-?\d+(/\d+)?$")] | None = None
    staff: Ordinal | None = None
    voice: str = ""
    note: Ordinal | None = None
    pass_: Ordinal | None = Field(default=None, alias="pass")
    pointer: str | None = None


class Disagreement(Where):
    """A note that is not heard as decided, or something heard that nobody wrote; `heard` says what."""

    heard: str


class Proof(DocumentModel):
    """What the simulated listener heard: `notes` = `agree` + `yielded` + those of `disagree` that are written."""

    notes: Count
    agree: Count
    yielded: Count
    disagree: tuple[Disagreement, ...]


class PartReport(DocumentModel):
    """A part of the score and how many of its written notes sound (a tied chain is one)."""

    id: str
    name: str
    notes: Count


class ScoreReport(DocumentModel):
    """The score; `measures` as written, `played` with repeats, `notes` as played."""

    title: str
    measures: Count
    played: Count
    notes: Count
    parts: tuple[PartReport, ...]


class PrerollReport(DocumentModel):
    """What was put before the music."""

    measures: Count
    ticks: Count


def _number_or_word(value: Any) -> str:
    return TAG + ("word" if isinstance(value, str) else "number")


NumberOrWord = Annotated[Annotated[str, Tag(TAG + "word")] | Annotated[int, Tag(TAG + "number")], Discriminator(_number_or_word)]


class ChoicesReport(DocumentModel):
    """The choices that the render was made with; `tempo` is "score", "file" or thousandths of a quarter a minute."""

    ppq: Annotated[int, Field(ge=24, le=32_767)]
    restate: Literal["change", "phrase", "note"]
    lead: Literal["notes", "track", "none"]
    preroll: NumberOrWord
    tracks: Literal["used", "all"]
    in_tie: Literal["wait", "restrike"]
    tempo: NumberOrWord
    left_over: Literal["report", "general-midi"]
    grid: str


class TrackReport(DocumentModel):
    """One track: what it plays and what became of the marks.

    `map` is the map's name, `port` and `channel` count from 1, `delay_ms` is by how much the whole track is to
    be played early, `notes` as played; `outcomes` and `marks` count written notes: those that occur.
    """

    id: str
    name: str
    parts: tuple[str, ...]
    map: str
    port: Ordinal
    channel: MidiNumber
    delay_ms: int
    notes: Count
    outcomes: Outcomes
    marks: dict[Mark, Outcomes]


class Unread(DocumentModel):
    """Words of the score that were not understood."""

    text: str
    where: Where


class Finding(DocumentModel):
    """One problem; equal ones of a part are told once, at the first place, with their count."""

    code: str
    severity: Literal["error", "warning", "remark"]
    where: Where
    arguments: dict[str, str | int]
    message: str
    count: Ordinal


class Report(DocumentModel):
    """What a render made of a score: errors first among its problems.

    `inputs` are SHA-256 digests of what went in, by name: "score", "template", "assignment", "map:TRACK" …
    """

    kind: Literal["report"]
    edition: Literal[1]
    engine: str
    tables: str
    inputs: dict[str, Digest]
    choices: ChoicesReport
    score: ScoreReport
    preroll: PrerollReport
    tracks: tuple[TrackReport, ...]
    proof: Proof
    unread: tuple[Unread, ...]
    problems: tuple[Finding, ...]
