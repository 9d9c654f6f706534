"""Bar lines with repeats and endings, and the words and signs of jumps."""

from __future__ import annotations

from lxml import etree
from lxml.etree import _Element

from rendering.readers.asread import Bar
from rendering.writers.musicxml.repeats import Signs

# kind of jump -> (what is printed: words or a sign, attribute of the sound, its value)
JUMPS: dict[str, tuple[str, str]] = {
    "dacapo": ("D.C.", "yes"), "dalsegno": ("D.S.", "segno"), "segno": ("", "segno"), "tocoda": ("To Coda", "coda"),
    "coda": ("", "coda"), "fine": ("Fine", "yes"),
}  # fmt: skip
AT_START = frozenset({"segno", "coda"})


class Navigation:
    """What the signs put at each measure, by its index."""

    def __init__(self, signs: Signs) -> None:
        self.bars: dict[tuple[int, bool], list[Bar]] = {}
        for bar in signs.bars:
            self.bars.setdefault((bar.measure, bar.right), []).append(bar)
        self.jumps: dict[tuple[int, bool], list[str]] = {}
        for measure, kind, _ in signs.jumps:
            self.jumps.setdefault((measure, kind not in AT_START), []).append(kind)

    def add_bars(self, measure: _Element, index: int, *, right: bool) -> None:
        """Append the bar line at one side of a measure, if it says anything."""
        bars = self.bars.get((index, right), [])
        ending = next((bar for bar in bars if bar.ending), None)
        repeat = next((bar for bar in bars if bar.repeat), None)
        if ending is None and repeat is None:
            return
        barline = etree.SubElement(measure, "barline", location="right" if right else "left")
        if repeat is not None:
            etree.SubElement(barline, "bar-style").text = "light-heavy" if right else "heavy-light"
        if ending is not None:
            number = ",".join(map(str, ending.passes))
            etree.SubElement(barline, "ending", number=number, type=_ending_type(ending))
        if repeat is not None:
            element = etree.SubElement(barline, "repeat", direction=repeat.repeat)
            if repeat.times:
                element.set("times", str(repeat.times))

    def add_jumps(self, element: _Element, index: int, *, end: bool) -> None:
        """Append the directions of jumps at the start or the end of a measure."""
        for kind in self.jumps.get((index, end), []):
            words, value = JUMPS[kind]
            direction = etree.SubElement(element, "direction", placement="above")
            direction_type = etree.SubElement(direction, "direction-type")
            if words:
                etree.SubElement(direction_type, "words").text = words
            else:
                etree.SubElement(direction_type, kind)
            etree.SubElement(direction, "sound", {kind: value})


def _ending_type(bar: Bar) -> str:
    return "start" if bar.ending == "start" else "stop" if bar.repeat else "discontinue"
