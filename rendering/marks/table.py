"""Marks: the vocabulary in which a score asks and a map answers.

A *mark* is one thing asked of a note or a passage. It answers one musical question, its *axis*; the order
of the axes is their rank. A mark's *bit* is its place in `MARKS`, and a set of marks is an int with those
bits set, so that stages pass, join and compare sets of marks as ints.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches

from rendering.marks.tables import TableError, listed, rows

# Highest rank first: losing a mark of an earlier axis is worse than losing all later ones.
# The last four hold what MusicXML can ask for beyond the technique of playing.
AXES: tuple[str, ...] = (
    "technique", "connection", "length", "attack", "repetition", "place", "colour", "mute", "vibrato",
    "pitch source", "string", "bow", "beater", "ring", "voice", "syllable", "players", "distance",
    "device", "registration", "ornament", "gesture", "chord", "breath",
)  # fmt: skip

# Names that a map may use for several marks at once: it plays any of them. Scores always say which.
EITHER: dict[str, tuple[str, ...]] = {
    "trill": ("trill half", "trill whole"),
    "harmonic": ("natural harmonic", "artificial harmonic"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One row of the table.

    name      the word of the trade, lower case
    axis      the musical question it answers
    question  what it shares one answer at a time with; the axis, unless marks of the axis go together
              (up bow at the frog)
    reach     "note", or "passage" = until cancelled; words can make a passage of a note's mark
    families  where it is usual ("any" = everywhere); for reading and choosing it is no limit
    ends      further marks whose passage it ends when it begins
    musicxml  "group/element" or "group/value", with "@family" where only that family means it
    smufl     canonical glyph names
    mei       values of MEI's data.ARTICULATION
    m2_123    (attribute type, subclass), known second-hand only
    source    where the row comes from
    """

    name: str
    axis: str
    question: str
    reach: str
    families: tuple[str, ...]
    ends: tuple[str, ...]
    musicxml: tuple[str, ...]
    smufl: tuple[str, ...]
    mei: tuple[str, ...]
    m2_123: tuple[tuple[str, str], ...]
    source: str


def _classes() -> dict[str, list[tuple[str, str]]]:
    """Return mark name -> the M2-123 classes that mean it alone (a class may mean any of several)."""
    found: dict[str, list[tuple[str, str]]] = {}
    for row in rows("m2_123.tsv"):
        for name in listed(row["marks"], "|"):
            found.setdefault(name, []).append((row["class"], row["subclass"]))
    return found


def _mark(row: dict[str, str], classes: dict[str, list[tuple[str, str]]]) -> Mark:
    return Mark(
        name=row["name"],
        axis=row["axis"],
        question=row["question"],
        reach=row["reach"],
        families=tuple(listed(row["families"])),
        ends=tuple(listed(row["ends"])),
        musicxml=tuple(listed(row["musicxml"], "|")),
        smufl=tuple(row["smufl"].split()),
        mei=tuple(row["mei"].split()),
        m2_123=tuple(classes.get(row["name"], ())),
        source=row["source"],
    )


def _read() -> tuple[Mark, ...]:
    classes = _classes()
    marks = [_mark(row, classes) for row in rows("marks.tsv")]
    return tuple(sorted(marks, key=lambda mark: AXES.index(mark.axis)))


MARKS: tuple[Mark, ...] = _read()
BIT: dict[str, int] = {mark.name: bit for bit, mark in enumerate(MARKS)}


def mask(*wanted: str) -> int:
    """Return the set of the marks named; KeyError for a name that is not in the table."""
    found = 0
    for name in wanted:
        found |= 1 << BIT[name]
    return found


def names(marks: int) -> list[str]:
    """Return the names in a set of marks, highest rank first; [] for the empty set."""
    found: list[str] = []
    while marks:
        low = marks & -marks
        found.append(MARKS[low.bit_length() - 1].name)
        marks ^= low
    return found


def mask_of(items: Iterable[str]) -> int:
    """Return the set that a cell of the tables lists: marks, "@axis" for all of an axis, "!mark" for all but it.

    TableError for a name that is in no table.
    """
    found = left_out = 0
    for item in items:
        if item.startswith("!"):
            left_out |= _one(item[1:])
        else:
            found |= _one(item)
    return found & ~left_out


def _one(item: str) -> int:
    if item in BIT:
        return 1 << BIT[item]
    if item[:1] == "@" and item[1:] in AXES:
        return sum(1 << bit for bit, mark in enumerate(MARKS) if mark.axis == item[1:])
    raise TableError(f"no mark or axis {item!r}")


def expand(name: str) -> tuple[str, ...]:
    """Return the marks that a name in a map stands for: itself, or each of a collective name's.

    "trill" -> ("trill half", "trill whole"). KeyError for a name that is in neither table.
    """
    if name in EITHER:
        return EITHER[name]
    return (MARKS[BIT[name]].name,)


def nearest(name: str) -> list[str]:
    """Return the three names, of marks and collective ones, that are most like `name`, best first."""
    known = [*BIT, *EITHER]
    return get_close_matches(name.casefold()[:60], known, n=3, cutoff=0.0)


def _weights() -> tuple[int, ...]:
    """Return one weight a bit, so that a sum of lower axes' weights never reaches one of a higher axis."""
    weight_of: dict[str, int] = {}
    weight = 1
    for axis in reversed(AXES):
        weight_of[axis] = weight
        weight *= 1 + sum(mark.axis == axis for mark in MARKS)
    return tuple(weight_of[mark.axis] for mark in MARKS)


def _axis_masks() -> tuple[int, ...]:
    return tuple(mask_of([f"@{mark.axis}"]) for mark in MARKS)


def _cancels() -> tuple[int, ...]:
    asked: dict[tuple[str, str], int] = {}
    for bit, mark in enumerate(MARKS):
        question = (mark.axis, mark.question)
        asked[question] = asked.get(question, 0) | 1 << bit
    return tuple(
        (asked[(mark.axis, mark.question)] | mask_of(mark.ends)) & ~(1 << bit) for bit, mark in enumerate(MARKS)
    )  # fmt: skip


# Per bit. Sums of weights compare losses by rank.
WEIGHT: tuple[int, ...] = _weights()
# Per bit: all marks of its axis, itself included.
AXIS_MASK: tuple[int, ...] = _axis_masks()
# Per bit: the marks whose passage ends where this one begins: other answers to its question, and what the
# table lists. For passage states only: marks written on one note stand side by side.
CANCELS: tuple[int, ...] = _cancels()
# The marks whose reach is the passage.
PASSAGE: int = sum(1 << bit for bit, mark in enumerate(MARKS) if mark.reach == "passage")
