"""Directions and sounds: words, dynamics, hairpins, tempo, pedals, jumps – as signs with their place.

Kinds of `Sign`, with what `text`, `number` and `value` hold:

words       text
rehearsal   text
dynamics    text = element names joined by "+" ("f", "sf+mp")
level       value = thousandths, from a sound element
wedge       text = "crescendo", "diminuendo", "stop"; number; value 1 = niente
tempo       value = thousandths of a quarter a minute, from a sound element
metronome   value = the same, from a metronome mark; number = a range, of which the value is the middle
modulation  number = new note value to old one, "3/2"
swing       number = first to second note, "2:1" (a second of 0 = straight), value = the pair in thousandths of a quarter
pizzicato   text = "yes" or "no", from a sound element
mute        text = "on", "off" or a mute's name
pedal       text = "start", "stop", "change", "sostenuto" …
sound-pedal text = "start" or "stop", number = "pedal", "soft" or "sostenuto"
fermata     text = its shape, number = quarters that its note lasts
note-words  text of an articulation or technique that has no element of its own, at a note
dashes, bracket, octave-shift, damp, damp-all, … text = their type
segno, coda the sign as printed; jump: text = "dacapo", "dalsegno", "tocoda", "segno", "coda", "fine",
            "forward-repeat", number = the sound attribute's value
"""

from __future__ import annotations

from lxml.etree import _Element

from rendering.readers.cursor import NO_DIRECTION, Cursor
from rendering.readers.metronomes import read_metronome, read_swing
from rendering.readers.numbers import decimal_of, rounded, text_of, whole_of
from rendering.readers.partlist import instrument_of

JUMPS = ("dacapo", "dalsegno", "tocoda", "segno", "coda", "fine", "forward-repeat")
TYPED = frozenset({"dashes", "bracket", "octave-shift", "pedal"})
SIGNS = frozenset({"segno", "coda", "damp", "damp-all"})
LONGEST_TEXT = 400


def read_direction(cursor: Cursor, direction: _Element) -> None:
    """Keep everything a direction says, at its place with its offset."""
    offset, staff, voice = None, 0, ""
    types: list[_Element] = []
    sounds: list[_Element] = []
    for child in direction:
        tag = child.tag
        if tag == "direction-type":
            types.extend(child)
        elif tag == "sound":
            sounds.append(child)
        elif tag == "offset":
            offset = child
        elif tag == "staff":
            staff = whole_of(child.text, 1, 99) or 0
        elif tag == "voice":
            voice = (child.text or "").strip()
    shift, exact = offset_of(cursor, offset)
    where = (staff, voice, direction.get("placement") or "")
    cursor.direction = (shift, exact, *where)
    words: list[str] = []
    for element in types:
        if element.tag == "words":
            words.append(element.text or "")
        else:
            read_type(cursor, element)
    text = " ".join(" ".join(words).split()) if words else ""
    if text:
        cursor.sign("words", text=text[:LONGEST_TEXT])
    for sound in sounds:
        own = sound.find("offset")
        moved = offset_of(cursor, own)[0] if own is not None else shift if exact else 0
        cursor.direction = (moved, True, *where)
        read_sound(cursor, sound)
    cursor.direction = NO_DIRECTION


def offset_of(cursor: Cursor, offset: _Element | None) -> tuple[int, bool]:
    """Return the Units of an offset element and whether it is meant for playing (MusicXML: sound="yes")."""
    if offset is None:
        return 0, False
    text = (offset.text or "0").strip()
    length = -cursor.length(text[1:]) if text.startswith("-") else cursor.length(text)
    return length, offset.get("sound") == "yes"


def read_type(cursor: Cursor, element: _Element) -> None:
    """Note one thing of a direction other than its words."""
    tag = element.tag
    if tag == "dynamics":
        text = dynamics_text(element)
        if text:
            cursor.sign("dynamics", text=text)
    elif tag == "wedge":
        niente = 1 if element.get("niente") == "yes" else 0
        cursor.sign("wedge", text=element.get("type") or "", number=element.get("number") or "1", value=niente)
    elif tag == "rehearsal":
        cursor.sign("rehearsal", text=text_of(element))
    elif tag == "metronome":
        read_metronome(cursor, element)
    elif tag == "string-mute":
        cursor.sign("mute", text=element.get("type") or "")
    elif tag in TYPED:
        cursor.sign(tag, text=element.get("type") or "", number=element.get("number") or "1")
    elif tag in SIGNS:
        cursor.sign(tag)
    elif tag == "other-direction" and text_of(element):
        cursor.sign("words", text=text_of(element)[:LONGEST_TEXT])


def dynamics_text(dynamics: _Element) -> str:
    """Return the names joined by "+": MusicXML lets dynamics be combined, "sf" with "mp" is sfmp."""
    names = [text_of(e) if e.tag == "other-dynamics" else str(e.tag) for e in dynamics]
    return "+".join(name for name in names if name)[:LONGEST_TEXT]


def read_sound(cursor: Cursor, sound: _Element) -> None:
    """Note what a sound element asks of playing."""
    tempo = speed_of(sound.get("tempo"))
    if tempo:
        cursor.sign("tempo", value=tempo)
    dynamics = sound.get("dynamics")
    level = cursor.percentage(dynamics) if dynamics is not None else -1
    if level >= 0:
        cursor.sign("level", value=level)
    pizzicato = sound.get("pizzicato")
    if pizzicato in {"yes", "no"}:
        cursor.sign("pizzicato", text=pizzicato)
    for name, pedal in (("damper-pedal", "pedal"), ("soft-pedal", "soft"), ("sostenuto-pedal", "sostenuto")):
        value = sound.get(name)
        if value is not None:
            cursor.sign("sound-pedal", number=pedal, text="stop" if value in {"no", "0"} else "start")
    for jump in JUMPS:
        value = sound.get(jump)
        if value is not None and value != "no":
            cursor.sign("jump", text=jump, number=value, place=sound.get("time-only") or "")
    for change in sound.iterchildren("instrument-change"):
        cursor.change_instrument(instrument_of(change))
    for swing in sound.iterchildren("swing"):
        read_swing(cursor, swing)
    for mute in sound.iterfind("play/mute"):
        cursor.sign("mute", text=text_of(mute))


def speed_of(text: str | None) -> int:
    """Return thousandths of a quarter a minute; 0 for none (MusicXML: 0 asks the user) or nonsense."""
    speed = decimal_of(text)
    return min(rounded(speed * 1000), 10**8) if speed is not None and speed > 0 else 0
