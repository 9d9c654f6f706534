"""What the stages of a render hand on to the report, the trace and the files."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from rendering.assign import Track
from rendering.ornaments import Context
from rendering.perform import PlayedPart, Playing
from rendering.problems import Problem
from rendering.proof import Verdict
from rendering.resolve import Decision, Voice
from rendering.resolve.stand_ins import Rules
from rendering.schedule import Scheduled
from rendering.score import Score

ENGINE = "0.1.0"
TABLES = "1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """The choices of a render.

    ppq      ticks per quarter note, 24 to 32,767
    restate  when switches are sent that change nothing: "change" (only at rehearsal marks and after long
             rests), "phrase" (also after any rest), "note"
    lead     "notes" (each is sent early by its own), "track" (notes stay on the grid but for the difference
             to the track's commonest lead, which the report gives as its delay), "none"
    preroll  "auto" (whole measures, if anything would fall before the start), a number of measures, "none"
    tracks   "used", or "all" of a template
    in_tie   what a change of technique inside a tie does: "wait" for the next note, or "restrike"
    tempo    None = the score's; else one speed in thousandths of a quarter a minute, or a tempo map as
             (tick at this ppq, microseconds a quarter), which the score's marks do not change
    left_over  parts that no track of the template plays: "report", or "general-midi"
    grid     of a MIDI sketch: "none" (as played), or what its rhythm is set to: "1/16", "1/16+1/24"
    """

    ppq: int = 960
    restate: Literal["change", "phrase", "note"] = "change"
    lead: Literal["notes", "track", "none"] = "notes"
    preroll: str | int = "auto"
    tracks: Literal["used", "all"] = "used"
    in_tie: Literal["wait", "restrike"] = "wait"
    tempo: int | tuple[tuple[int, int], ...] | None = None
    left_over: Literal["report", "general-midi"] = "report"
    grid: str = "none"

    def document(self) -> dict[str, str | int]:
        """Return the choices as the report shows them."""
        shown = {name: getattr(self, name) for name in self.__slots__}
        return shown | {"tempo": "score" if self.tempo is None else self.tempo if isinstance(self.tempo, int) else "file"}


@dataclass(slots=True, kw_only=True)
class TrackRun:
    """One track from its voices to its verdict."""

    track: Track
    voices: list[Voice]
    decisions: list[Decision]
    delay_ms: int
    scheduled: Scheduled
    label: str = ""  # not "": it plays what another track's map sends here by this label
    verdict: Verdict = field(default_factory=Verdict)

    @property
    def extra_ms(self) -> int:
        """By how much the whole track is sent early beside its leads."""
        return self.track.earlier_ms - self.delay_ms

    def merged(self) -> list[tuple[int, int]]:
        """Return (voice, row) of the notes that sound as part of another."""
        s = self.scheduled.notes
        return [(s.voice[i], s.row[i]) for i, gone in enumerate(s.merged) if gone] if any(s.merged) else []


@dataclass(slots=True, kw_only=True)
class Run:
    """All that one render found out; the report, the trace and the files are views of it."""

    score: Score
    playing: Playing
    parts: list[PlayedPart]
    options: Options
    tracks: list[TrackRun] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    shift: int = 0  # ticks of pre-roll
    bar: int = 1  # ticks of a measure of pre-roll
    end: int = 0  # tick at which all tracks end, without the pre-roll
    digests: dict[str, str] = field(default_factory=dict)
    stand_ins: Rules = ()  # the team's
    contexts: dict[int, Context] = field(default_factory=dict)  # of parts by their index, for what is written out
