"""The pitches of ornaments in every key, held against music21's realisation of them (BSD; installed for the tests)."""

from __future__ import annotations

from itertools import groupby

import pytest
from music21 import expressions, key, note

from rendering.pipeline import render
from tests.rendering.golden_files import made_map
from tests.rendering.made_scores import attributes, document, measures
from tests.rendering.made_scores import note as written

SIGNS = {
    "mordent": expressions.Mordent,
    "inverted-mordent": expressions.InvertedMordent,
    "turn": expressions.Turn,
    "inverted-turn": expressions.InvertedTurn,
    "trill-mark": expressions.Trill,
    "shake": expressions.Shake,
}
LOOPING = {"trill-mark", "shake"}  # as many notes as there is time for, where music21 plays so many of one length


def realized(sign: str, pitch: str, fifths: int) -> list[int]:
    """Return the keys that music21 plays for a quarter with a sign."""
    main = note.Note(pitch)
    before, rest, after = SIGNS[sign]().realize(main, keySig=key.KeySignature(fifths))
    return [n.pitch.midi for n in [*before, *([rest] if rest is not None else []), *after]]


def pitches_of(fifths: int) -> list[str]:
    """Return the seven notes of a key signature from C4 to B4, as music21 writes them."""
    signature = key.KeySignature(fifths)
    names = []
    for step in "CDEFGAB":
        accidental = signature.accidentalByStep(step)
        names.append(f"{step}{accidental.modifier if accidental is not None else ''}4")
    return names


@pytest.mark.parametrize("sign", SIGNS)
@pytest.mark.parametrize("fifths", range(-7, 8))
def test_an_ornament_plays_the_pitches_that_music21_plays(sign: str, fifths: int) -> None:
    pitches = pitches_of(fifths)
    body = "".join(written(p.replace("-", "b"), 4, notations=f"<ornaments><{sign}/></ornaments>") for p in pitches)
    data = document(measures(body, first=attributes(time="7/4", fifths=fifths)))
    made = render(data, maps=[("P1", made_map({"articulations": [{"id": "plain"}]}))])
    line = made.run.tracks[0].voices[0].line
    rows = list(zip(line.source, line.key, strict=True))
    played = [[k for _, k in group] for _, group in groupby(rows, key=lambda row: row[0])]
    expected = [realized(sign, p, fifths) for p in pitches]
    if sign in LOOPING:
        assert [{*keys} for keys in played] == [{*keys} for keys in expected]
        assert [keys[:2] for keys in played] == [keys[:2] for keys in expected]
        assert all(keys[-1] == keys[0] for keys in played)  # ours: it ends on the main note
    else:
        assert played == expected
