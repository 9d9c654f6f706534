"""Pencil marks moved to a new version of their score: a pure function that follows the music."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

from rendering.pencil.anchors import Spot, chord_at, place_in, reach_of, rows_between
from rendering.pencil.document import Anchor, Item, PencilMarks, Until
from rendering.pencil.following import Following
from rendering.score import GRACE_WITH, Part, Score

OF_NOTES = frozenset({"add", "remove", "slur", "syllable"})


def reanchor(old: Score, new: Score, pencil: PencilMarks) -> tuple[PencilMarks, tuple[Item, ...]]:
    """Return the marks with anchors in the new version, and the orphans: those whose notes, or places, are gone.

    Orphans keep their old anchors and are not in the document returned; its `score_version` is the old one.
    A passage lives on as long as one of its notes does.
    """
    following = Following(old, new)
    moved = [(item, _moved(following, item)) for item in pencil.items]
    kept = tuple(after for _, after in moved if after is not None)
    return pencil.model_copy(update={"items": kept}), tuple(item for item, after in moved if after is None)


def _moved(following: Following, item: Item) -> Item | None:
    index = next((i for i, part in enumerate(following.old.parts) if part.id == item.at.part), -1)
    if index not in following.parts:
        return _moved_tempo(following, item) if item.kind == "tempo" else None
    part = following.new.parts[following.parts[index]]
    by_note = item.kind in OF_NOTES or item.at.chord is not None or item.at.grace is not None
    return _with_notes(following, item, index, part) if by_note else _with_places(following, item, part)


def _moved_tempo(following: Following, item: Item) -> Item | None:
    """A tempo is everybody's: it outlives the part that it was written in."""
    at = _place(following, item.at.ordinal, item.at.beat)
    if at is None or not following.new.parts:
        return None
    return item.model_copy(update={"at": _anchor(item.at, following.new.parts[0], at)})


def _anchor(at: Anchor, part: Part, place: Until) -> Anchor:
    return at.model_copy(update={"part": part.id, "ordinal": place.ordinal, "beat": place.beat})


# ── By place: dynamics, hairpins, tempo ──


def _with_places(following: Following, item: Item, part: Part) -> Item | None:
    at = _place(following, item.at.ordinal, item.at.beat)
    if item.until is None:
        return item.model_copy(update={"at": _anchor(item.at, part, at)}) if at is not None else None
    until = _place(following, item.until.ordinal, item.until.beat)
    inside = [following.measures[m] for m in range(item.at.ordinal, item.until.ordinal + 1) if m in following.measures]
    if not inside:
        return None
    at = at or Until(ordinal=inside[0], beat="1")
    until = until or _end_of(following.new, inside[-1])
    if (at.ordinal, Fraction(at.beat)) >= (until.ordinal, Fraction(until.beat)):
        return None
    return item.model_copy(update={"at": _anchor(item.at, part, at), "until": until})


def _place(following: Following, ordinal: int, beat: str) -> Until | None:
    """Return where a place is now: as far from the start of its measure as before."""
    after = following.measures.get(ordinal, 0)
    if not after:
        return None
    old, new = following.old, following.new
    measure = old.measures[ordinal - 1]
    offset = (Fraction(beat) - 1) * 4 * new.unit / (measure.meter[1] or 4)
    start, length = new.measures[after - 1].start, new.measures[after - 1].length
    if offset.denominator != 1 or offset >= max(length, 1):
        return None
    return place_in(new, start + int(offset))


def _end_of(score: Score, ordinal: int) -> Until:
    """Return the last beat of a measure."""
    measure = score.measures[ordinal - 1]
    beat = 4 * score.unit // (measure.meter[1] or 4)
    return place_in(score, measure.start + max(measure.length - beat, 0))


# ── By note: marks, levels of notes, slurs, syllables ──


def _with_notes(following: Following, item: Item, index: int, part: Part) -> Item | None:
    reach = reach_of(following.old, item)
    matches = following.notes(index)
    spots = [matches[spot] for spot in reach.spots if spot in matches] if reach is not None else []
    units = sorted({part.lines[spot.line].offset[spot.row] for spot in spots})
    if not units or (item.kind == "slur" and len(spots) < 2):
        return None
    at = _anchor(item.at, part, place_in(following.new, units[0]))
    at = _for_voice(at, item.at, part, spots)
    if item.until is not None:
        return item.model_copy(update={"at": at, "until": place_in(following.new, units[-1])})
    return item.model_copy(update={"at": _numbered(at, part, spots)})


def _for_voice(at: Anchor, before: Anchor, part: Part, spots: list[Spot]) -> Anchor:
    """Return the anchor with the staff and voice, where it names them, that most of its notes are in now."""
    line = part.lines[Counter(spot.line for spot in spots).most_common(1)[0][0]]
    changes: dict[str, object] = {}
    if before.staff is not None:
        changes["staff"] = line.staff
    if before.voice is not None:
        changes["voice"] = line.voice
    return at.model_copy(update=changes)


def _numbered(at: Anchor, part: Part, spots: list[Spot]) -> Anchor:
    """Return the anchor with the number that its note has now among those struck with it, and its grace note's."""
    first = spots[0]
    line = part.lines[first.line]
    unit = line.offset[first.row]
    changes: dict[str, object] = {}
    if at.grace is not None:
        rows = range(rows_between(line, unit, unit).start, first.row + 1)
        changes["grace"] = max(sum(line.grace[row] > 0 and not line.grace[row] & GRACE_WITH for row in rows), 1)
    if at.chord is not None:
        changes["chord"] = chord_at(part, at.model_copy(update=changes), unit).index(first) + 1
    return at.model_copy(update=changes)
