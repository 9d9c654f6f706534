"""Everything beside the notes as directions: words, dynamics, hairpins, pedals, tempo, rehearsal marks."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from lxml import etree
from lxml.etree import _Element

from rendering.marks.lexicon import read_words
from rendering.score import Part, Score
from rendering.writers.musicxml.loudness import Dynamic, dynamics_of, from_silence
from rendering.writers.musicxml.partlist import clean
from rendering.writers.musicxml.planning import Said
from rendering.writers.musicxml.reach import EVERYWHERE, Reach, Scope

UNSEEN = (("print-object", "no"),)  # written for the ear alone
MOST_WEDGES = 16  # numbers that MusicXML has for hairpins under way at once
# Order of what stands at one place: what ends before what begins, states before what is played in them.
TEMPO, REHEARSAL, WORDS, STOP, LOUDNESS, START = range(6)


class Direction(NamedTuple):
    """One direction at a Unit: its direction-type element as (name, attributes, text), and attributes of its sound."""

    unit: int
    order: int
    scope: Scope
    tag: str
    attributes: tuple[tuple[str, str], ...] = ()
    text: str = ""
    sound: tuple[tuple[str, str], ...] = ()


def directions_of(part: Part, said: list[Said], reach: Reach) -> list[Direction]:
    """Return the directions of a part in the order in which they are written."""
    found = [_step(s) for s in said]
    found += [_dynamic(d) for d in dynamics_of(part, reach)]
    found += _wedges(part)
    return sorted(found, key=place)


def directions_of_score(score: Score) -> list[Direction]:
    """Return what is said once for all parts: tempo and rehearsal marks."""
    found = [_tempo(unit, micros, shown=_is_shown(score, unit)) for unit, micros in score.tempo]
    found += [Direction(unit, REHEARSAL, EVERYWHERE, "rehearsal", text=text) for unit, text in score.rehearsal if text]
    return sorted(found, key=place)


def unread_of(score: Score, part: Part, family: str) -> list[Direction]:
    """Return the words of a part that nobody understood, as they stood; as a dynamic those that were part of one."""
    return [
        Direction(unit, WORDS, (staff, ""), "dynamics" if _is_understood(text, family) else "words", text=text)
        for text, name, unit, staff in score.unread if name == part.id
    ]  # fmt: skip


def _is_understood(text: str, family: str) -> bool:
    actions, _ = read_words(text, family)
    return any(action.kind in {"marks", "dynamics"} for action in actions)


def place(direction: Direction) -> tuple[int, int]:
    """Return the order of directions: by Unit, at one place by what they are."""
    return direction.unit, direction.order


def _step(said: Said) -> Direction:
    step = said.step
    if step.sign:
        return Direction(said.unit, WORDS, said.scope, "pedal", (("type", step.sign), ("line", "no"), ("sign", "yes")))
    return Direction(said.unit, WORDS, said.scope, "words", text=step.text)


def _dynamic(dynamic: Dynamic) -> Direction:
    if dynamic.percent:
        return Direction(dynamic.unit, LOUDNESS, dynamic.scope, "other-direction", UNSEEN, sound=(("dynamics", dynamic.percent),))
    return Direction(dynamic.unit, LOUDNESS, dynamic.scope, "dynamics", text=dynamic.name)


def _wedges(part: Part) -> Iterator[Direction]:
    """Hairpins, each with a number of its own while it is under way."""
    drawn = from_silence(part)
    until: list[int] = []
    for pin in part.hairpins:
        number = next((i for i, stop in enumerate(until) if stop <= pin.start), len(until))
        until[number : number + 1] = [pin.stop]
        scope = pin.staff, pin.voice
        name = ("number", str(number % MOST_WEDGES + 1))
        niente = (("niente", "yes"),) if pin.niente else ()
        kind = "crescendo" if pin.direction > 0 else "diminuendo"
        at_start, at_stop = (niente, ()) if (pin.start, *scope) in drawn else ((), niente)
        yield Direction(pin.start, START, scope, "wedge", (("type", kind), name, *at_start))
        yield Direction(pin.stop, STOP, scope, "wedge", (("type", "stop"), name, *at_stop))


def _is_shown(score: Score, unit: int) -> bool:
    """A tempo is printed where a measure begins; others bend it: they are for the ear alone."""
    return any(m.start == unit for m in score.measures)


def _tempo(unit: int, micros: int, *, shown: bool) -> Direction:
    speed = 60_000_000 / micros
    sound = (("tempo", _decimal(speed, 6)),)
    if shown:
        return Direction(unit, TEMPO, EVERYWHERE, "metronome", text=_decimal(speed, 1), sound=sound)
    return Direction(unit, TEMPO, EVERYWHERE, "other-direction", UNSEEN, sound=sound)


def _decimal(number: float, places: int) -> str:
    return f"{number:.{places}f}".rstrip("0").rstrip(".")


def add_direction(measure: _Element, direction: Direction, offset: int, staves: int) -> None:
    """Append a direction to a measure, `offset` Units after the place that the walk has come to."""
    staff, voice = direction.scope
    element = etree.SubElement(measure, "direction", _placement(direction, staves))
    kind = etree.SubElement(element, "direction-type")
    _add_type(kind, direction)
    if offset:
        etree.SubElement(element, "offset", sound="yes").text = str(offset)
    if voice:
        etree.SubElement(element, "voice").text = voice
    if staff and staves > 1:
        etree.SubElement(element, "staff").text = str(staff)
    if direction.sound:
        etree.SubElement(element, "sound", dict(direction.sound))


def _placement(direction: Direction, staves: int) -> dict[str, str]:
    """A dynamic between two staves is for both: one for the upper alone stands above it, one for the lower below."""
    if direction.tag in {"words", "metronome", "rehearsal"}:
        return {"placement": "above"}
    return {"placement": "above" if staves > 1 and direction.scope[0] == 1 else "below"}


def _add_type(kind: _Element, direction: Direction) -> None:
    attributes = dict(direction.attributes)
    if direction.tag == "dynamics":
        dynamics = etree.SubElement(kind, "dynamics", attributes)
        for name in direction.text.split("+"):
            add_dynamic(dynamics, clean(name))
    elif direction.tag == "metronome":
        metronome = etree.SubElement(kind, "metronome", attributes)
        etree.SubElement(metronome, "beat-unit").text = "quarter"
        etree.SubElement(metronome, "per-minute").text = direction.text
    else:
        etree.SubElement(kind, direction.tag, attributes).text = clean(direction.text) or None


def add_dynamic(dynamics: _Element, name: str) -> None:
    """Append one dynamic: MusicXML has elements for the common ones."""
    if name in ELEMENTS:
        etree.SubElement(dynamics, name)
    else:
        etree.SubElement(dynamics, "other-dynamics").text = name


ELEMENTS = frozenset({
    "p", "pp", "ppp", "pppp", "ppppp", "pppppp", "f", "ff", "fff", "ffff", "fffff", "ffffff", "mp", "mf", "sf", "sfp", "sfpp", "fp",
    "rf", "rfz", "sfz", "sffz", "fz", "n", "pf", "sfzp",
})  # fmt: skip
