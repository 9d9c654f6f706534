"""The neutral score as MusicXML 4.0."""

from __future__ import annotations

from rendering.annotate import annotate
from rendering.places import place_at, place_of
from rendering.problems import Place, Problem, problem
from rendering.readers import Limits, read
from rendering.score import Score
from rendering.unfold import unfold
from rendering.writers.musicxml.comparing import Difference, differences
from rendering.writers.musicxml.document import document
from rendering.writers.musicxml.repeats import Signs, signs_of
from rendering.writers.musicxml.straight import straight

__all__ = ["write_musicxml"]


def write_musicxml(score: Score, *, check: bool = True) -> tuple[bytes, list[Problem]]:
    """Return a score as a MusicXML 4.0 document (partwise, UTF-8), and what could not be written as it is.

    With `check` the document is read back and compared with the score, so that nothing is lost without a word.
    """
    by_pass = any(part.only or any("\n" in text for text in part.lyrics) for part in score.parts)
    signs = signs_of(score.itinerary, len(score.measures), passes=by_pass)
    problems: list[Problem] = []
    if signs is None:
        score, signs = straight(score), Signs()
        problems.append(problem("repeats-written-straight"))
    data = document(score, signs)
    if check:
        problems += [_problem(score, found) for found in differences(score, read_back(data))]
    return data, problems


def read_back(data: bytes) -> Score:
    """Return the score in a document of ours."""
    as_read, _ = read(data, Limits.none())
    score, _ = annotate(as_read)
    unfold(score, as_read, Limits.none())
    return score


def _problem(score: Score, found: Difference) -> Problem:
    part = score.parts[found.part] if found.part >= 0 else None
    if part is not None and found.source:
        place = place_of(score, part.id, found.source)
    elif found.unit >= 0:
        place = place_at(score, part.id if part is not None else "", found.unit)
    else:
        place = Place(part=part.id, part_name=part.name) if part is not None else Place()
    return problem("written-otherwise", place, what=found.what)
