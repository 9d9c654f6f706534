"""What is written at a note: articulations, ornaments, slurs, ties, lyrics."""

from __future__ import annotations

from fractions import Fraction

from lxml.etree import _Element

from rendering.marks import BIT, GLYPH_MARKS
from rendering.readers.cursor import STEPS, Cursor
from rendering.readers.directions import dynamics_text
from rendering.readers.numbers import decimal_of, rounded, text_of, whole_of
from rendering.readers.signs import RING, TRILL_HALF, TRILL_WHOLE

GROUPS = frozenset({"articulations", "technical", "ornaments"})
ALTERS = {
    "sharp": 1, "natural": 0, "flat": -1, "double-sharp": 2, "sharp-sharp": 2, "flat-flat": -2,
    "double-flat": -2, "natural-sharp": 1, "natural-flat": -1,
}  # fmt: skip
MOST_SLURS = 32  # at one note
FIFTHS = "FCGDAEB"
FLAGS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5, "256th": 6}


def read_notations(cursor: Cursor, notations: _Element) -> None:
    """Collect the marks and lines of a note."""
    for child in notations:
        tag = child.tag
        if tag in GROUPS:
            for element in child:
                read_mark(cursor, tag, element)
        elif tag == "slur":
            read_line(cursor.slurs, child)
        elif tag == "tied":
            read_tied(cursor, child)
        elif tag == "dynamics":
            cursor.note_sign("dynamics", dynamics_text(child))
        elif tag == "fermata":
            cursor.note_sign("fermata")
        elif tag in {"arpeggiate", "non-arpeggiate", "glissando", "slide"}:
            read_gesture(cursor, tag, child)


def read_line(lines: list[tuple[int, str]], element: _Element) -> None:
    """Keep the start (1) or stop (-1) of a slur with its number; a note has few of them."""
    kind = {"start": 1, "stop": -1}.get(element.get("type") or "", 0)
    if kind and len(lines) < MOST_SLURS:
        lines.append((kind, element.get("number") or "1"))


def read_tied(cursor: Cursor, tied: _Element) -> None:
    kind = tied.get("type")
    if kind == "let-ring":
        cursor.marks |= RING
    else:
        cursor.tied |= {"start": 1, "stop": 2, "continue": 3}.get(kind or "", 0)


def read_mark(cursor: Cursor, group: str, element: _Element) -> None:
    """Add the mark of one articulation, technical or ornament element."""
    tag = element.tag
    special = SPECIAL.get(tag)
    if special is not None:
        special(cursor, element)
        return
    found = cursor.masks.get(group, tag)
    if not found and tag.startswith("other-"):
        name = GLYPH_MARKS.get(element.get("smufl") or "", "")
        if name:
            found = 1 << BIT[name]
        elif text_of(element):
            cursor.note_sign("note-words", text_of(element))
    cursor.marks |= found


def read_tremolo(cursor: Cursor, tremolo: _Element) -> None:
    """Three strokes and more, flags counted, mean as fast as possible; fewer mean exact repeats."""
    kind = tremolo.get("type") or "single"
    strokes = whole_of(tremolo.text, 0, 8)
    flags = FLAGS.get(text_of(cursor.open, "type"), 0)
    if kind == "single" and strokes is not None and strokes + flags < 3:
        cursor.strokes = strokes
        cursor.rare = True
    else:
        cursor.marks |= cursor.masks.get("tremolo", kind)


def read_trill(cursor: Cursor, trill: _Element) -> None:
    """A trill is half or whole by its accidental, else by what the file says, else by key and measure."""
    roll = cursor.masks.get("ornaments", "trill-mark")
    if roll != TRILL_WHOLE:
        cursor.marks |= roll
        return
    accidental = next((e.text for e in trill.itersiblings("accidental-mark")), None)
    step = trill.get("trill-step")
    from_step = accidental is None and step is not None
    half = step == "half" if from_step else upper_step(cursor, (accidental or "").strip()) <= 1
    cursor.marks |= TRILL_HALF if half else TRILL_WHOLE


def upper_step(cursor: Cursor, accidental: str) -> int:
    """Return the semitones from the note under the cursor to the step above it."""
    values = cursor.values
    step, octave = (values.get("step") or "").strip(), (values.get("octave") or "").strip()
    if step not in STEPS:
        return 2
    upper = "CDEFGAB"["CDEFGAB".index(step) + 1 - 7]
    above = octave if upper != "C" else str((whole_of(octave, -1, 9) or 0) + 1)
    alter = ALTERS[accidental] if accidental in ALTERS else sounding_alter(cursor, upper, above)
    distance = STEPS[upper] - STEPS[step] + (12 if upper == "C" else 0)
    return distance + alter - alter_of(values.get("alter"))


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


def read_harmonic(cursor: Cursor, harmonic: _Element) -> None:
    """Of a harmonic written as several notes only the sounding one is heard (see `annotate.harmonics`)."""
    cursor.rare = True
    kinds = {child.tag for child in harmonic}
    for kind in ("base", "touching", "sounding"):
        if f"{kind}-pitch" in kinds:
            cursor.harmonic = kind
    if "artificial" in kinds:
        cursor.marks |= cursor.masks.get("harmonic", "artificial")
    else:
        cursor.marks |= cursor.masks.get("technical", "harmonic")


def read_string(cursor: Cursor, string: _Element) -> None:
    cursor.marks |= cursor.masks.get("string", text_of(string))


def read_handbell(cursor: Cursor, handbell: _Element) -> None:
    cursor.marks |= cursor.masks.get("handbell", text_of(handbell))


def read_nothing(_cursor: Cursor, _element: _Element) -> None:
    """What says nothing by itself: an accidental is read with its trill, a wavy line draws a trill out."""


SPECIAL = {
    "tremolo": read_tremolo,
    "trill-mark": read_trill,
    "wavy-line": read_nothing,
    "harmonic": read_harmonic,
    "string": read_string,
    "handbell": read_handbell,
    "accidental-mark": read_nothing,
}


def read_gesture(cursor: Cursor, tag: str, element: _Element) -> None:
    """Arpeggios; a glissando belongs to the note it leaves, a slide (portamento) to the one it reaches."""
    kind = element.get("type")
    if (tag == "glissando" and kind != "start") or (tag == "slide" and kind != "stop"):
        return
    down = tag == "arpeggiate" and element.get("direction") == "down"
    cursor.marks |= cursor.masks.get("arpeggiate", "down") if down else cursor.masks.get("notations", tag)


def read_lyric(cursor: Cursor, lyric: _Element) -> None:
    """Keep a note's text: verses on lines of their own, elided syllables joined."""
    text = "".join((e.text or "") if e.tag != "elision" else " " for e in lyric.iterchildren("text", "elision"))
    if not text.strip():
        return
    cursor.verses[whole_of(lyric.get("number"), 1, 99) or 1] = " ".join(text.split())[:200]
