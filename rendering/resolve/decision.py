"""A decision: what is sent for a note of one kind, what becomes of its marks, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

from rendering.maps.table import NO_LIMIT
from rendering.marks import BIT, mask


class Outcome(IntEnum):
    """What became of a mark on a note, from best to worst."""

    EXACT = 0
    SHAPED = 1
    WRITTEN_OUT = 2
    MERGED = 3
    STAND_IN = 4
    PLAIN = 5
    SILENT = 6


OUTCOMES = ("exact", "shaped", "written-out", "merged", "stand-in", "plain", "silent")

# How a mark is shaped where no sample plays it: (thousandths of the written length, level added).
# Lengths and boosts are this project's numbers; no standard gives them.
SHAPES: dict[str, tuple[int, int]] = {
    "staccato": (500, 0),
    "staccatissimo": (250, 0),
    "stroke": (500, 0),
    "spiccato": (500, 0),
    "portato": (750, 0),
    "tenuto": (1000, 0),
    "détaché": (1000, 0),
    "non legato": (1000, 0),
    "secco": (500, 0),
    "legato": (1000, 0),
    "accent": (1000, 125),
    "soft accent": (1000, 63),
    "stress": (1000, 125),
    "unstress": (1000, -63),
    "marcato": (1000, 250),
}
SHAPED_BITS = {BIT[name]: shape for name, shape in SHAPES.items() if name in BIT}
SHAPEABLE = mask(*(name for name in SHAPES if name in BIT))
NOT_JOINING = -2
SHORTEST_MS = 40  # no shaped note is shorter, unless it is written shorter


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """How notes of one kind are played on one sampler.

    entries    the chosen entry of each memory, as indexes into `Sampler.entries`
    lead_ms    by how much the note-on is sent early, first or connected as the note is
    joining    index of the chosen entry that joins notes; -1 = none does
    joined     the note is joined to the one before: both on that entry, inside a slur
    overlap_ms how long the note before goes on sounding into it; 0 = not at all
    scale, at_most_ms  the sounding length: thousandths of the written one, and a bound
    velocity   1,001 velocities by level; controller, value: as in `Loudness`
    boost      added to the level
    key_add    sent key = sounding key + key_add
    fixed_key  the key of a strike, sent whatever the note's own; -1 = none
    channel    0-15; -1 = the track's own; track: label of the linked track that plays it, "" = this one
    outcomes   (mark bit, Outcome) of every mark of the note
    outside    the key lies outside the range of the map
    joins_to   what the note after it can be joined to: `joining`, or NOT_JOINING if it ends early or is silent
    silent     "" or the problem code that says why the note is not sent
    reason     one sentence
    turns      indexes of the decisions that take turns, this one first; () = it always plays
    """

    index: int
    entries: tuple[int, ...]
    lead_ms: int
    joining: int
    joined: bool
    overlap_ms: int
    gap_ms: int
    scale: int
    at_most_ms: int
    velocity: tuple[int, ...]
    boost: int
    controller: int
    value: tuple[int, ...]
    key_add: int
    fixed_key: int
    channel: int
    track: str
    outcomes: tuple[tuple[int, int], ...]
    joins_to: int
    outside: bool
    silent: str
    reason: str
    turns: tuple[int, ...] = ()

    @property
    def full(self) -> bool:
        """True when the note sounds for its written length."""
        return self.scale == 1000 and self.at_most_ms == NO_LIMIT


def sent_keys(keys: Sequence[int], chosen: Sequence[int], decisions: Sequence[Decision]) -> list[int]:
    """Return the keys that are sent for notes with the given sounding keys and decisions."""
    add = [d.key_add for d in decisions]
    if all(d.fixed_key < 0 for d in decisions):
        return [k + add[d] for k, d in zip(keys, chosen, strict=True)]
    fixed = [d.fixed_key for d in decisions]
    return [fixed[d] if fixed[d] >= 0 else k + add[d] for k, d in zip(keys, chosen, strict=True)]


# A level plus what is added to it, brought back into 0-1000: index it by the sum, which may be negative.
_CLAMPED: tuple[int, ...] = (*range(1001), *(1000,) * 4000, *(0,) * 4000)


def sounding_levels(levels: list[int], chosen: Sequence[int], decisions: Sequence[Decision], offset: int) -> list[int]:
    """Return the levels at which notes sound: as written, with the boosts of shaped accents and a track's offset."""
    add = [d.boost + offset for d in decisions]
    if not any(add):
        return levels
    return [_CLAMPED[v + add[d]] for v, d in zip(levels, chosen, strict=True)]
