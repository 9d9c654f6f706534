"""The whole document: a score as MusicXML 4.0, partwise."""

from __future__ import annotations

from lxml import etree
from lxml.etree import _Element

from rendering.score import Measure, Part, Score
from rendering.writers.musicxml.attributes import Attributes
from rendering.writers.musicxml.barlines import Navigation
from rendering.writers.musicxml.directions import Direction, directions_of, directions_of_score, place, unread_of
from rendering.writers.musicxml.layout import Layer, layers_of
from rendering.writers.musicxml.measures import MeasureWriter
from rendering.writers.musicxml.notes import NoteWriter
from rendering.writers.musicxml.partlist import add_head, clean, ids_of
from rendering.writers.musicxml.planning import plan_marks
from rendering.writers.musicxml.reach import Reach
from rendering.writers.musicxml.repeats import Signs

DOCTYPE = '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">'


def document(score: Score, signs: Signs) -> bytes:
    """Return the score as a document; `signs` say in which order its measures are played."""
    root = etree.Element("score-partwise", version="4.0")
    ids = ids_of(score)
    add_head(root, score, ids)
    for number, part in enumerate(score.parts):
        writer = _PartWriter(score, part, ids.instruments[number], directions_of_score(score) if number == 0 else [])
        writer.write(etree.SubElement(root, "part", id=ids.parts[number]), Navigation(signs), jumps=number == 0)
    return etree.tostring(root, encoding="UTF-8", xml_declaration=True, doctype=DOCTYPE, pretty_print=True)


class _PartWriter:
    """Writes one part, measure by measure."""

    def __init__(self, score: Score, part: Part, instruments: list[str], shared: list[Direction]) -> None:
        reach = Reach(part, score.measures)
        plan = plan_marks(part, reach)
        staves = max([1, *(line.staff for line in part.lines)])
        self.score = score
        self.attributes = Attributes(part, score.unit, staves)
        self.measures = MeasureWriter(NoteWriter(part, plan, instruments, self.attributes), score.unit, staves)
        self.layers: list[Layer] = []
        for i, line in enumerate(part.lines):
            self.layers += layers_of(i, line, plan.own[i], score.measures, score.unit)
        self.directions: dict[int, list[Direction]] = {}
        for direction in sorted([*shared, *unread_of(score, part, plan.family), *directions_of(part, plan.said, reach)], key=place):
            self.directions.setdefault(reach.measure_at(direction.unit), []).append(direction)

    def write(self, element: _Element, navigation: Navigation, *, jumps: bool) -> None:
        """Append the measures to the part's element; what one part says of jumps holds for all."""
        before: Measure | None = None
        for index, measure in enumerate(self.score.measures):
            made = etree.SubElement(element, "measure", number=clean(measure.number) or str(measure.ordinal))
            navigation.add_bars(made, index, right=False)
            self.attributes.at_start(made, measure, before)
            if jumps:
                navigation.add_jumps(made, index, end=False)
            walks = self.measures.walks(index, measure, self.layers)
            self.measures.write(made, measure, walks, self.directions.get(index, []))
            if jumps:
                navigation.add_jumps(made, index, end=True)
            self.attributes.inside(made, measure)
            navigation.add_bars(made, index, right=True)
            before = measure
