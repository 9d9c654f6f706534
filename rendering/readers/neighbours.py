"""The steps above and below a note as key, measure and accidentals over its sign give them."""

from __future__ import annotations

from fractions import Fraction

from lxml.etree import _Element

from rendering.readers.cursor import STEPS, Cursor
from rendering.readers.numbers import decimal_of, rounded, text_of, whole_of
from rendering.score import Ornament

ALTERS = {
    "sharp": 1, "natural": 0, "flat": -1, "double-sharp": 2, "sharp-sharp": 2, "flat-flat": -2,
    "double-flat": -2, "natural-sharp": 1, "natural-flat": -1,
}  # fmt: skip
FIFTHS = "FCGDAEB"
LETTERS = "CDEFGAB"
# The elements that need neighbours, each with whether an accidental of no stated place is about the step below.
ORNAMENTS: dict[str, bool] = {
    "turn": False, "delayed-turn": False, "inverted-turn": False, "delayed-inverted-turn": False, "vertical-turn": False,
    "inverted-vertical-turn": False, "shake": False, "mordent": True, "inverted-mordent": False, "schleifer": True, "haydn": False,
}  # fmt: skip


def read_ornament(cursor: Cursor, element: _Element) -> None:
    """Add the mark of an ornament, and keep the neighbours that it plays."""
    tag = element.tag
    cursor.marks |= cursor.masks.get("ornaments", tag)
    above, below = accidentals_of(element, below=ORNAMENTS[tag])
    cursor.ornament = around(cursor, step_from(cursor, 1, above), below, long=element.get("long") == "yes")
    cursor.rare = True


def around(cursor: Cursor, upper: int, below: str = "", *, long: bool = False) -> Ornament:
    """Return the neighbours of the note under the cursor; `below` is the accidental of the step below."""
    return Ornament(upper, step_from(cursor, -1, below), step_from(cursor, -2, ""), long)


def accidentals_of(element: _Element, *, below: bool) -> tuple[str, str]:
    """Return the accidentals above and below an ornament's sign, "" for none.

    Of those whose place is not said the first is for the step above, or `below`, the second for the other one.
    """
    places = ["below", "above"] if below else ["above", "below"]
    found = {"above": "", "below": ""}
    for sibling in element.itersiblings():
        if sibling.tag != "accidental-mark":
            break
        place = sibling.get("placement") or next((p for p in places if not found[p]), places[0])
        if place in found:
            found[place] = (sibling.text or "").strip()
    return found["above"], found["below"]


def step_from(cursor: Cursor, steps: int, accidental: str) -> int:
    """Return the semitones from the note under the cursor to the step so many steps above it, negative for below.

    Two semitones a step where the note has no pitch that can be read.
    """
    values = cursor.values
    step, octave = (values.get("step") or "").strip(), whole_of(values.get("octave"), -9, 19)
    if step not in STEPS or octave is None:
        return 2 * steps
    octaves, place = divmod(LETTERS.index(step) + steps, 7)
    letter = LETTERS[place]
    alter = ALTERS[accidental] if accidental in ALTERS else sounding_alter(cursor, letter, str(octave + octaves))
    return STEPS[letter] + 12 * octaves - STEPS[step] + alter - alter_of(values.get("alter"))


def alter_of(text: str | None) -> int:
    return rounded(decimal_of(text) or Fraction(0))


def sounding_alter(cursor: Cursor, step: str, octave: str) -> int:
    """Return the alteration that key and measure give to a step: the last one written before, else the key's."""
    alter = alters_so_far(cursor).get((step, octave))
    if alter is not None:
        return alter
    place = FIFTHS.index(step)
    if cursor.fifths > place:
        return 1
    return -1 if cursor.fifths <= -(7 - place) else 0


def alters_so_far(cursor: Cursor) -> dict[tuple[str, str], int]:
    """Return (step, octave) -> last alteration in the measure before the note under the cursor; each note is read once."""
    note = cursor.open
    measure = note.getparent() if note is not None else None
    if measure is None or note is None:
        return {}
    if cursor.trills is None or cursor.trills[0] is not measure:
        cursor.trills = (measure, next(measure.iterchildren("note")), {})
    _, at, alters = cursor.trills
    while at is not note:
        pitch = at.find("pitch")
        if pitch is not None:
            alters[text_of(pitch, "step"), text_of(pitch, "octave")] = alter_of(pitch.findtext("alter"))
        at = next(at.itersiblings("note"))
    cursor.trills = (measure, note, alters)
    return alters
