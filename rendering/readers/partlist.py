"""The head of a MusicXML document: title, parts, their instruments."""

from __future__ import annotations

from lxml.etree import _Element

from rendering.readers.asread import PartAsRead
from rendering.readers.numbers import text_of, whole_of
from rendering.score import Instrument


def read_title(root: _Element) -> str:
    """Return the title of the work, else of the movement; "" without one."""
    work, movement = text_of(root, "work/work-title"), text_of(root, "movement-title")
    return work or movement


def read_part_list(root: _Element) -> list[PartAsRead]:
    """Return the parts in the order of the part list; the first of equal ids counts."""
    parts: dict[str, PartAsRead] = {}
    for score_part in root.iterfind("part-list/score-part"):
        name = (score_part.get("id") or "").strip()
        if name not in parts:
            parts[name] = _read_part(score_part, name)
    return list(parts.values())


def _read_part(score_part: _Element, part_id: str) -> PartAsRead:
    name = text_of(score_part, "part-name") or text_of(score_part, "part-abbreviation")
    midi = {m.get("id"): m for m in score_part.iterfind("midi-instrument")}
    instruments = [_with_midi(instrument_of(row), midi.get(row.get("id"))) for row in score_part.iterfind("score-instrument")]
    return PartAsRead(id=part_id, name=name or part_id, instruments=instruments or [_lone_midi(score_part)])


def _lone_midi(score_part: _Element) -> Instrument:
    """Return the instrument of a part that lists none, with what a midi-instrument says."""
    return _with_midi(Instrument(), score_part.find("midi-instrument"))


def instrument_of(row: _Element) -> Instrument:
    """Return what a score-instrument or instrument-change says."""
    ensemble = row.find("ensemble") is not None
    return Instrument(
        id=(row.get("id") or "").strip(),
        name=text_of(row, "instrument-name"),
        sound=text_of(row, "instrument-sound"),
        players="ensemble" if ensemble else "solo" if row.find("solo") is not None else "",
    )


def _with_midi(instrument: Instrument, midi: _Element | None) -> Instrument:
    """MusicXML counts programs and unpitched keys from 1."""
    if midi is None:
        return instrument
    drum_key = (whole_of(midi.findtext("midi-unpitched"), 1, 128) or 0) - 1
    program = (whole_of(midi.findtext("midi-program"), 1, 128) or 0) - 1
    return instrument._replace(program=program, unpitched=drum_key >= 0, drum_key=drum_key)
