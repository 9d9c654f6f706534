"""Hostile files: no stage up to the itinerary does more than linear work, and no mutation gets through unhandled."""

from __future__ import annotations

import random
import re
import time

import pytest

from rendering.problems import Refused
from tests.rendering.made_scores import attributes, direction, document, dynamic, measures, note, notes, score_of, wedge, words

COUNT = 20_000
BACK = "<backup><duration>16</duration></backup>"
WHOLE = note("C4", 16)


def many(xml: str) -> str:
    """Return XML so many times over, each time with another number for N."""
    return "".join(xml.replace("N", str(n)) for n in range(COUNT))


def slur(kind: str, number: str = "1") -> str:
    return f'<slur type="{kind}" number="{number}"/>'


def articulations(name: str) -> str:
    return f"<articulations><{name}/></articulations>"


TOUCHED = "<technical><harmonic><artificial/><touching-pitch/></harmonic></technical>"
FORWARD = '<barline location="left"><repeat direction="forward"/></barline>'
BACKWARD = '<barline location="right"><repeat direction="backward"/></barline>'
HOSTILE = {
    "slurs that overlap": many(note("C4", 1, notations=slur("start"))),
    "slurs of many numbers": note("C4", 1, notations=many(slur("start", "N"))) + note("C4", 1, notations=many(slur("stop", "N"))),
    "slurs over and over": many(note("C4", 8, notations=slur("start")) + note("C4", 8, notations=slur("stop")) + BACK),
    "one chord": WHOLE + "".join(note("C4", 16, chord=True, notations=articulations(m)) for m in ("accent", "tenuto") * (COUNT // 2)),
    "trills in one measure": many(note("C4", 1, notations="<ornaments><trill-mark/></ornaments>")),
    "harmonics at one place": WHOLE + many(note("F4", 16, chord=True, notations=TOUCHED)),
    "sforzati at one place": many(dynamic("sfz")) + WHOLE + many(note("E4", 16, chord=True)),
    "swelling words": many(words("cresc. N")) + WHOLE,
    "words in one direction": direction("<words>pizz.</words>" * COUNT) + WHOLE,
    "nudged words": WHOLE + BACK + many(words("w N", offset="1")) + WHOLE,
    "hairpins": many(wedge("crescendo")) + WHOLE,
    "verses": note("C4", 16, extra=many('<lyric number="N"><text>N</text></lyric>')),
    "repeats": (FORWARD + BACKWARD) * (COUNT // 2) + WHOLE,
    "backups": many(WHOLE + BACK),
    "jumps": many(direction("<segno/>", sound='segno="N" dalsegno="N" coda="N" tocoda="N"')) + WHOLE,
    "instruments": many('<note><unpitched/><duration>1</duration><instrument id="N"/><voice>1</voice></note>'),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_twenty_thousand_of_a_thing_are_no_trouble(name: str) -> None:
    """Linear work is done in a second or two, quadratic work would take minutes."""
    start = time.process_time()
    score, _ = score_of(document(measures(HOSTILE[name], WHOLE)))
    assert time.process_time() - start < 20
    assert len(score.measures) == 2


def test_many_endings_are_no_trouble() -> None:
    opens, closes = '<barline location="left"><ending number="{n}" type="start"/></barline>', '<ending number="{n}" type="stop"/>'
    ending = opens + WHOLE + BACKWARD.replace("<repeat", closes + "<repeat")
    start = time.process_time()
    score, _ = score_of(document(measures(*(ending.format(n=1 + i % 2) for i in range(9_000)))))
    assert time.process_time() - start < 20
    assert len(score.measures) == 9_000


def test_many_instruments_of_a_part_are_no_trouble() -> None:
    listed = many('<score-instrument id="N"><instrument-name>N</instrument-name></score-instrument>')
    listed += many('<midi-instrument id="N"><midi-program>1</midi-program></midi-instrument>')
    start = time.process_time()
    score, _ = score_of(document(measures(WHOLE), listed=(listed,)))
    assert time.process_time() - start < 20
    assert len(score.parts[0].instruments) == COUNT


RICH = document(
    measures(
        words("pizz.") + dynamic("sfp") + wedge("crescendo") + note("C4", grace="slashed")
        + note("C4", ties="start", notations=slur("start") + TOUCHED + "<dynamics><p/></dynamics>")
        + note("F4", chord=True, extra="<notehead>diamond</notehead>") + note("C4", ties="stop", notations=slur("stop"))
        + notes("D4 -") + wedge("stop", offset="-2") + BACK + note("C3", 16, voice="2", attributes='dynamics="80"'),
        FORWARD + note("C4", 16, extra="<lyric><text>la</text></lyric>") + BACKWARD,
        direction("<coda/>", sound='tempo="90" dacapo="yes" dynamics="50" pizzicato="no"')
        + note("B4", 16, notations="<ornaments><trill-mark/></ornaments>"),
        first=attributes("<transpose><chromatic>-2</chromatic></transpose><staves>2</staves>", fifths=-3),
    ),
    listed=('<score-instrument id="I"/><midi-instrument id="I"><midi-program>1</midi-program></midi-instrument>',),
).decode()  # fmt: skip
VALUES = ["", "0", "-1", "1", "4", "999999999999", "1e999", "NaN", "x", "yes", "no", "start", "stop", "—", "1/3", "0.1", " 7 "]


def balanced(tokens: list[str]) -> bool:
    """Say whether as many elements open as close."""
    opened = sum(t.startswith("<") and not t.startswith("</") and not t.endswith("/>") for t in tokens)
    return opened == sum(t.startswith("</") for t in tokens)


def mutated(text: str, chance: random.Random) -> str:
    """Return the text with some of its elements and values taken out, doubled, swapped or put elsewhere."""
    tokens = re.split(r"(?<=>)|(?=<)", text)
    for _ in range(chance.randint(1, 6)):
        i, j = chance.randrange(2, len(tokens)), chance.randrange(2, len(tokens))
        what = chance.randrange(6)
        if what == 0:
            tokens[i] = ""
        elif what == 1:
            tokens[i], tokens[j] = tokens[j], tokens[i]
        elif what == 2 and not tokens[i].startswith("<"):
            tokens[i] = chance.choice(VALUES)
        elif what == 3 and '"' in tokens[i]:
            start, _, rest = tokens[i].partition('"')
            tokens[i] = start + '"' + chance.choice(VALUES) + '"' + rest.partition('"')[2]
        elif what == 4 and tokens[i].endswith("/>"):
            tokens[i] = tokens[j] if tokens[j].endswith("/>") else ""
        elif what == 5 and balanced(tokens[min(i, j) : max(i, j)]):
            tokens[min(i, j) : max(i, j)] = tokens[min(i, j) : max(i, j)] * chance.choice([0, 2])
        if len(tokens) < 5:
            break
    return "".join(tokens)


def run_mutations(seed: int, count: int) -> tuple[int, int]:
    """Read mutated scores; return how many were read and how many refused. Any other exception comes through."""
    chance = random.Random(seed)
    read = refused = 0
    for _ in range(count):
        try:
            score_of(mutated(RICH, chance).encode())
            read += 1
        except Refused:
            refused += 1
    return read, refused


def test_mutated_scores_are_read_or_refused() -> None:
    read, refused = run_mutations(seed=1, count=1_500)
    assert read > 300
    assert refused > 300


@pytest.mark.deep
def test_a_hundred_thousand_mutated_scores_are_read_or_refused() -> None:
    read, refused = run_mutations(seed=2, count=100_000)
    assert read > 20_000
    assert refused > 20_000
