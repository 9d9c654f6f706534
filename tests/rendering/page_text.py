"""A MusicXML document as lines that can be read and compared: one a measure, staff and voice.

    P1 1 1.1 | "mf" C5 q~ C5 e (D5 e3 E5 e3 F5 e3) r h

part, measure, staff.voice; then what stands there in order: directions in quotation marks (metronomes as =120,
hairpins < > /, pedals P and *), notes as pitch and value (w h q e s t x for whole to 64th, dots, the tuplet's number),
+ between the notes of a chord, ~ for a tie that starts, ( ) for slurs, [accent] for what stands at the note.
"""

from __future__ import annotations

from collections.abc import Iterator

from lxml import etree
from lxml.etree import _Element

SHORT = {"breve": "b", "whole": "w", "half": "h", "quarter": "q", "eighth": "e", "16th": "s", "32nd": "t", "64th": "x"}
WEDGES = {"crescendo": "<", "diminuendo": ">", "stop": "/"}
PEDALS = {"start": "P", "stop": "*"}
ALTERS = {"1": "#", "-1": "b", "": ""}


def page_text(data: bytes) -> list[str]:
    """Return a document's lines, part by part, measure by measure."""
    return [line for part in etree.fromstring(data).iterfind("part") for m in part.iterfind("measure") for line in _measure(part, m)]


def _measure(part: _Element, measure: _Element) -> Iterator[str]:
    voices: dict[str, list[str]] = {}
    waiting: list[str] = []
    last = "1.1"
    for element in measure:
        if element.tag == "direction":
            waiting += list(_direction(element))
        elif element.tag == "note":
            last = f"{element.findtext('staff') or '1'}.{element.findtext('voice')}"
            shown = voices.setdefault(last, [])
            shown += waiting
            waiting = []
            if element.find("chord") is not None:
                shown[-1] = _joined(shown[-1], _note(element))
            else:
                shown.append(_note(element))
        elif element.tag == "forward":
            voices.setdefault(last, []).append(f".{element.findtext('duration')}")
    voices.setdefault(last, []).extend(waiting)
    for name, shown in sorted(voices.items()):
        yield f"{part.get('id')} {measure.get('number')} {name} | {' '.join(shown)}"


def _joined(chord: str, note: str) -> str:
    return f"{chord}+{note.split(maxsplit=1)[0]}"


def _direction(direction: _Element) -> Iterator[str]:
    late = f"@{direction.findtext('offset')}" if direction.find("offset") is not None else ""
    for kind in direction.iterfind("direction-type/*"):
        if kind.tag == "metronome":
            yield f"={kind.findtext('per-minute')}{late}"
        elif kind.tag == "wedge":
            yield WEDGES[kind.get("type") or ""] + late
        elif kind.tag == "pedal":
            yield PEDALS[kind.get("type") or ""] + late
        elif kind.tag == "dynamics":
            yield f'"{" ".join(str(e.tag) for e in kind)}"{late}'
        elif kind.text:
            yield f'"{kind.text}"{late}'


def _note(note: _Element) -> str:
    pitch = _pitch(note)
    value = SHORT.get(note.findtext("type") or "", note.findtext("duration") or "")
    value += "." * len(note.findall("dot")) + (note.findtext("time-modification/actual-notes") or "")
    tie = "~" if any(t.get("type") == "start" for t in note.findall("tie")) else ""
    slurs = {s.get("type") for s in note.iter("slur")}
    marks = [str(e.tag) for g in note.iterfind("notations/*") if len(g) and g.tag != "tuplet" for e in g]
    shown = f"[{','.join(marks)}]" if marks else ""
    return f"{'(' * ('start' in slurs)}{pitch} {value}{tie}{shown}{')' * ('stop' in slurs)}"


def _pitch(note: _Element) -> str:
    if note.find("rest") is not None:
        return "r"
    if note.find("unpitched") is not None:
        return f"x{(note.find('instrument').get('id') or '').rpartition('-')[2]}" if note.find("instrument") is not None else "x"  # type: ignore[union-attr]
    alter = ALTERS.get(note.findtext("pitch/alter") or "", "?")
    return f"{note.findtext('pitch/step')}{alter}{note.findtext('pitch/octave')}"
