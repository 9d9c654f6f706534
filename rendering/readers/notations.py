"""What is written at a note: articulations, ornaments, slurs, ties, lyrics."""

from __future__ import annotations

from fractions import Fraction

from lxml.etree import _Element

from rendering.marks import BIT, GLYPH_MARKS
from rendering.readers.cursor import Cursor
from rendering.readers.directions import dynamics_text
from rendering.readers.neighbours import ORNAMENTS, around, read_ornament, step_from
from rendering.readers.numbers import decimal_of, text_of, whole_of
from rendering.readers.signs import RING, TRILL_HALF, TRILL_WHOLE

GROUPS = frozenset({"articulations", "technical", "ornaments"})
STEPS_OF_TRILLS = {"unison": 0, "half": 1, "whole": 2}
MOST_SLURS = 32  # at one note
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
            length = (decimal_of(cursor.values.get("duration")) or Fraction(0)) / cursor.divisions
            cursor.note_sign("fermata", text_of(child), str(length))
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
    halvings = (strokes or 0) + FLAGS.get(text_of(cursor.open, "type"), 0)
    if strokes and kind != "unmeasured":
        cursor.strokes = halvings, halvings < 3
        cursor.rare = True
    if kind != "single" or strokes is None or halvings >= 3:
        cursor.marks |= cursor.masks.get("tremolo", kind)


def read_trill(cursor: Cursor, trill: _Element) -> None:
    """A trill is half or whole by its accidental, else by what the file says, else by key and measure."""
    roll = cursor.masks.get("ornaments", "trill-mark")
    if roll != TRILL_WHOLE:
        cursor.marks |= roll
        return
    accidental = next((e.text for e in trill.itersiblings("accidental-mark")), None)
    step = trill.get("trill-step")
    upper = STEPS_OF_TRILLS.get(step or "", 2) if accidental is None and step else step_from(cursor, 1, (accidental or "").strip())
    cursor.marks |= TRILL_HALF if upper <= 1 else TRILL_WHOLE
    cursor.ornament = cursor.ornament or around(cursor, upper)
    cursor.rare = True


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
    **dict.fromkeys(ORNAMENTS, read_ornament),
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
    if tag == "arpeggiate" and element.get("number"):
        cursor.roll = (element.get("number") or "")[:40]
        cursor.rare = True
    cursor.marks |= cursor.masks.get("arpeggiate", "down") if down else cursor.masks.get("notations", tag)


def read_lyric(cursor: Cursor, lyric: _Element) -> None:
    """Keep a note's text: verses on lines of their own, elided syllables joined."""
    text = "".join((e.text or "") if e.tag != "elision" else " " for e in lyric.iterchildren("text", "elision"))
    if not text.strip():
        return
    cursor.verses[whole_of(lyric.get("number"), 1, 99) or 1] = " ".join(text.split())[:200]
