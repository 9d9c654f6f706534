"""The walk through a MusicXML document: a table of small methods over the elements that sound."""

from __future__ import annotations

from collections.abc import Callable

from lxml.etree import _Element

from rendering.problems import Problem, problem
from rendering.readers.asread import PartAsRead, ScoreAsRead
from rendering.readers.attributes import read_attributes, read_barline
from rendering.readers.cursor import BASE_UNIT, Cursor
from rendering.readers.directions import read_direction, read_sound
from rendering.readers.limits import Limits
from rendering.readers.notations import read_lyric, read_notations
from rendering.readers.partlist import read_part_list, read_title

# Children of a note whose text (or mere presence) is all that matters. Elsewhere, as in backup or
# direction, their text is left unused, because the next note starts afresh.
PLAIN = frozenset({
    "step", "octave", "alter", "duration", "voice", "staff", "chord", "rest", "grace", "cue",
    "display-step", "display-octave",
})  # fmt: skip


class Walk(Cursor):
    """One pass over the document; `read` is the whole of it."""

    __slots__ = ("listed", "table")

    def __init__(self, score: ScoreAsRead, limits: Limits) -> None:
        super().__init__(score, limits)
        self.listed: dict[str, PartAsRead] = {}
        self.table: dict[str, Callable[[_Element], None]] = {
            "part": self.on_part,
            "measure": self.on_measure,
            "note": self.on_note,
            "tie": self.on_tie,
            "notations": self.on_notations,
            "notehead": self.on_notehead,
            "lyric": self.on_lyric,
            "instrument": self.on_instrument,
            "backup": self.on_backup,
            "forward": self.on_forward,
            "attributes": self.on_attributes,
            "direction": self.on_direction,
            "sound": self.on_sound,
            "barline": self.on_barline,
            "harmony": self.on_silent,
            "figured-bass": self.on_silent,
        }

    def read(self, root: _Element) -> None:
        """Read a `score-partwise` into the score."""
        self.score.title = read_title(root)
        self.listed = {p.id: p for p in read_part_list(root)}
        self.allow("too-many-parts", len(self.listed), self.limits.parts)
        self.score.parts = list(self.listed.values())
        values, table = self.values, self.table
        for element in root.iter(*PLAIN, *table):
            tag = element.tag
            if tag in PLAIN:
                values[tag] = element.text
            else:
                table[tag](element)
        self.end_measure()
        table.clear()  # its methods hold the walk, the walk the document: let it go now

    # -- parts and measures ----------------------------------------------------------------------

    def on_part(self, part: _Element) -> None:
        self.end_measure()
        name = (part.get("id") or "").strip()
        found = self.listed.pop(name, None)
        if found is None:
            found = self.unlisted(name)
        self.begin_part(found)

    def unlisted(self, name: str) -> PartAsRead:
        """Return a new part for an id that the part list lacks, or that came before."""
        taken = {p.id for p in self.score.parts}
        fresh, n = name or "P", 1
        while fresh in taken:
            n += 1
            fresh = f"{name or 'P'}-{n}"
        part = PartAsRead(id=fresh, name=fresh)
        self.problems.append(problem("part-not-listed", id=name[:40], name=fresh[:40]))
        self.score.parts.append(part)
        self.allow("too-many-parts", len(self.score.parts), self.limits.parts)
        return part

    def on_measure(self, measure: _Element) -> None:
        self.end_measure()
        self.allow("too-many-notes", self.notes, self.limits.notes)
        self.measure += 1
        self.allow("too-many-measures-played", self.measure + 1, self.limits.played)
        score = self.score
        if self.measure == len(score.numbers):
            score.numbers.append((measure.get("number") or "").strip()[:40])
            if measure.get("implicit") == "yes":
                score.implicit.add(self.measure)

    def end_measure(self) -> None:
        self.end_note()
        if self.measure >= 0:
            self.part.lengths.append(max(self.now, self.furthest))
        self.now = self.furthest = self.chord_at = 0

    # -- notes -----------------------------------------------------------------------------------

    def on_note(self, note: _Element) -> None:
        if self.open is not None:
            self.end_note()
        self.open = note
        self.source += 1
        self.notes += 1
        self.values.clear()
        self.begin_note()

    def on_tie(self, tie: _Element) -> None:
        self.tie |= 1 if tie.get("type") == "start" else 2

    def on_notations(self, notations: _Element) -> None:
        read_notations(self, notations)

    def on_notehead(self, head: _Element) -> None:
        if (head.text or "").strip() == "diamond" and not self.harmonic:
            self.harmonic = "diamond"
            self.rare = True

    def on_lyric(self, lyric: _Element) -> None:
        read_lyric(self, lyric)

    def on_instrument(self, instrument: _Element) -> None:
        if self.instrument is None:
            self.instrument = instrument.get("id")

    # -- between the notes -----------------------------------------------------------------------

    def on_backup(self, backup: _Element) -> None:
        self.end_note()
        self.furthest = max(self.furthest, self.now)
        length = self.length_of(backup)
        if length > self.now:
            self.report("backup-too-far")
        self.now = max(self.now - length, 0)

    def on_forward(self, forward: _Element) -> None:
        self.end_note()
        self.now += self.length_of(forward)

    def on_attributes(self, attributes: _Element) -> None:
        self.end_note()
        read_attributes(self, attributes)

    def on_direction(self, direction: _Element) -> None:
        self.end_note()
        read_direction(self, direction)

    def on_sound(self, sound: _Element) -> None:
        """A sound element of its own; those inside a direction were read with it."""
        parent = sound.getparent()
        if parent is not None and parent.tag == "measure":
            self.end_note()
            read_sound(self, sound)

    def on_barline(self, barline: _Element) -> None:
        self.end_note()
        read_barline(self, barline)

    def on_silent(self, _element: _Element) -> None:
        """Chord symbols and figures are not played; their staff and duration are not a note's."""
        self.end_note()


def read_musicxml(root: _Element, limits: Limits) -> tuple[ScoreAsRead, list[Problem]]:
    """Return what a MusicXML document (partwise) says, and problems; Refused when it is over a limit."""
    score = ScoreAsRead(unit=BASE_UNIT)
    walk = Walk(score, limits)
    walk.allow("too-many-parts", sum(1 for _ in root.iterchildren("part")), limits.parts)
    walk.read(root)
    walk.allow("too-many-notes", walk.notes, limits.notes)
    return score, walk.problems
