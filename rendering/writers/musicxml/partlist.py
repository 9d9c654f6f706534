"""The head of the document: title, parts, instruments; names that XML can hold."""

from __future__ import annotations

import re
from typing import NamedTuple

from lxml import etree
from lxml.etree import _Element

from rendering.score import Instrument, Part, Score

SOFTWARE = "Ripieno"
_ID = re.compile(r"[^\W\d][\w.-]*")
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")


class Ids(NamedTuple):
    """Of each part, in order: its id in the document, and those of its instruments."""

    parts: list[str]
    instruments: list[list[str]]


def clean(text: str) -> str:
    """Return text without the characters that XML cannot hold."""
    return _CONTROL.sub("", text)


def ids_of(score: Score) -> Ids:
    """Return ids that are unique in the document; those of the score wherever they are good ones."""
    taken: set[str] = set()
    parts = [_fresh(part.id, f"P{i}", taken) for i, part in enumerate(score.parts, 1)]
    instruments = [
        [_fresh(row.id, f"{name}-I{i}", taken) for i, row in enumerate(part.instruments, 1)]
        for name, part in zip(parts, score.parts, strict=True)
    ]
    return Ids(parts, instruments)


def _fresh(wanted: str, otherwise: str, taken: set[str]) -> str:
    name = wanted if _ID.fullmatch(wanted) and wanted not in taken else otherwise
    number = 1
    while name in taken:
        number += 1
        name = f"{otherwise}-{number}"
    taken.add(name)
    return name


def add_head(root: _Element, score: Score, ids: Ids) -> None:
    """Append title, encoding and part list."""
    if score.title:
        etree.SubElement(etree.SubElement(root, "work"), "work-title").text = clean(score.title)
    encoding = etree.SubElement(etree.SubElement(root, "identification"), "encoding")
    etree.SubElement(encoding, "software").text = SOFTWARE
    part_list = etree.SubElement(root, "part-list")
    for part, name, instruments in zip(score.parts, ids.parts, ids.instruments, strict=True):
        _add_part(part_list, part, name, instruments)


def _add_part(part_list: _Element, part: Part, name: str, instruments: list[str]) -> None:
    element = etree.SubElement(part_list, "score-part", id=name)
    etree.SubElement(element, "part-name").text = clean(part.name)
    if not says_instruments(part):
        return
    for instrument, own in zip(part.instruments, instruments, strict=True):
        _add_instrument(element, instrument, own, part.name)
    for instrument, own in zip(part.instruments, instruments, strict=True):
        _add_midi(element, instrument, own)


def says_instruments(part: Part) -> bool:
    """Say whether anything is known of the part's instruments beyond the part's own name."""
    return len(part.instruments) > 1 or part.instruments[0] != Instrument()


def _add_instrument(element: _Element, instrument: Instrument, name: str, part_name: str) -> None:
    row = etree.SubElement(element, "score-instrument", id=name)
    etree.SubElement(row, "instrument-name").text = clean(instrument.name or part_name)
    if instrument.sound:
        etree.SubElement(row, "instrument-sound").text = clean(instrument.sound)
    if instrument.players:
        etree.SubElement(row, instrument.players)


def _add_midi(element: _Element, instrument: Instrument, name: str) -> None:
    """MusicXML counts programs and unpitched keys from 1."""
    numbers = (("midi-program", instrument.program), ("midi-unpitched", instrument.drum_key))
    said = [(tag, number + 1) for tag, number in numbers if number >= 0]
    if said:
        row = etree.SubElement(element, "midi-instrument", id=name)
        for tag, number in said:
            etree.SubElement(row, tag).text = str(number)
