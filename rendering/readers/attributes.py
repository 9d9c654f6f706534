"""Attributes (divisions, key, time, transposition, staves) and bar lines."""

from __future__ import annotations

import re

from lxml.etree import _Element

from rendering.problems import Refused, problem
from rendering.readers.asread import Bar
from rendering.readers.cursor import NO_DIRECTION, Cursor
from rendering.readers.numbers import decimal_of, rounded, text_of, whole_of


def read_attributes(cursor: Cursor, attributes: _Element) -> None:
    """Take over what changes from here on."""
    for child in attributes:
        tag = child.tag
        if tag == "divisions":
            cursor.set_divisions(child.text or "")
        elif tag == "time":
            read_time(cursor, child)
        elif tag == "key":
            read_key(cursor, child)
        elif tag == "transpose":
            read_transpose(cursor, child)
        elif tag == "staves":
            cursor.part.staves = whole_of(child.text, 1, 99) or 1


def read_time(cursor: Cursor, time: _Element) -> None:
    """Note a meter; sums like 3+2/8 and 2/4+3/8 are added up."""
    if time.find("senza-misura") is not None:
        add_meter(cursor, 0, 0)
        return
    beats = [text_of(b) for b in time.iterfind("beats")]
    units = [text_of(u) for u in time.iterfind("beat-type")]
    meter = add_up(beats, units)
    if meter is None:
        text = ", ".join(f"{b}/{u}" for b, u in zip(beats, units, strict=False))[:40]
        if beats and not any(n.strip("0 ") for n in beats + units):
            raise Refused([problem("meter-of-nothing", cursor.place(), text=text)])
        cursor.report("bad-meter", text=text)
    else:
        add_meter(cursor, *meter)


def add_up(beats: list[str], units: list[str]) -> tuple[int, int] | None:
    """Return the sum of meters as (beats, unit) over their largest unit; None where it is no meter."""
    pairs: list[tuple[int, int]] = []
    for beat, unit in zip(beats, units, strict=False):
        numbers = re.split(r"\s*\+\s*", beat)
        if not all(re.fullmatch(r"[0-9]{1,3}", n) for n in [*numbers, unit]):
            return None
        pairs.append((sum(map(int, numbers)), int(unit)))
    if not pairs or not all(0 < b <= 999 and 0 < u <= 256 for b, u in pairs):
        return None
    largest = max(u for _, u in pairs)
    if any(largest % u for _, u in pairs):
        return None
    return sum(b * (largest // u) for b, u in pairs), largest


def add_meter(cursor: Cursor, beats: int, unit: int) -> None:
    """Keep the first meter that any part gives for a measure."""
    meters = cursor.score.meters
    at = len(meters)
    while at and meters[at - 1][0] >= cursor.measure:
        if meters[at - 1][0] == cursor.measure:
            return
        at -= 1
    meters.insert(at, (cursor.measure, beats, unit))


def read_key(cursor: Cursor, key: _Element) -> None:
    """Keep the written key; a key of freely chosen alterations has no fifths and leaves the last one."""
    fifths = whole_of(key.findtext("fifths"), -99, 99)
    if fifths is not None:
        cursor.fifths = min(max(fifths, -7), 7)
        cursor.part.keys.append((cursor.measure, cursor.fifths))


def read_transpose(cursor: Cursor, transpose: _Element) -> None:
    """MusicXML: what to add to the written pitch to get the sounding one; octave-change comes on top."""
    chromatic = decimal_of(transpose.findtext("chromatic") or "0")
    octaves = whole_of(transpose.findtext("octave-change") or "0", -9, 9)
    if chromatic is None or octaves is None or abs(chromatic) > 48:
        cursor.report("bad-transposition")
        return
    semitones = rounded(chromatic) + 12 * octaves
    where = whole_of(transpose.get("number"), 1, 99) or 0
    cursor.part.transposes.append((cursor.measure, cursor.now, where, semitones))


def read_barline(cursor: Cursor, barline: _Element) -> None:
    """Note repeats and endings."""
    repeat, ending = barline.find("repeat"), barline.find("ending")
    fermata = barline.find("fermata")
    if fermata is not None:  # what comes before the bar line is held, a beat of it
        cursor.direction = (-cursor.score.unit, True, 0, "", "")
        cursor.sign("fermata", text=text_of(fermata), number="1")
        cursor.direction = NO_DIRECTION
    final = repeat is None and text_of(barline, "bar-style") == "light-heavy"
    if repeat is None and ending is None and not final:
        return
    if repeat is not None and barline.get("location") == "middle":
        cursor.report("repeat-inside-measure")
    cursor.score.bars.append(
        Bar(
            measure=cursor.measure,
            right=(barline.get("location") or "right") != "left",
            repeat=(repeat.get("direction") or "") if repeat is not None else "",
            times=(whole_of(repeat.get("times"), 1, 10**9 - 1) or 0) if repeat is not None else 0,
            after_jump=repeat is not None and repeat.get("after-jump") == "yes",
            ending=(ending.get("type") or "") if ending is not None else "",
            passes=passes_of(ending) if ending is not None else (),
            final=final,
        )
    )


def passes_of(ending: _Element) -> tuple[int, ...]:
    """Return the numbers of an ending: its number attribute ("1, 2", "1-3"), else those in its text."""
    for text in (ending.get("number") or "", ending.text or ""):
        found: list[int] = []
        for first, last in re.findall(r"([0-9]{1,3})(?:\s*[-–]\s*([0-9]{1,3}))?", text):
            found += range(int(first), int(last or first) + 1)
        if found:
            return tuple(found)
    return ()
