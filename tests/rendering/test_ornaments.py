"""What signs stand for, note by note: a table of cases read from the page and played on maps that have no sample of them.

data/ornaments.tsv: the part's name, its key signature, quarters a minute, what is written, what is played, and
where that comes from. Written: notes as "C5:q" (lengths w h q e s t, dots, a trailing 3 for triplets, ~ = tied
on), then the sign of the last one with its accidentals. Played: "even n" = so many notes of equal length, the keys
in turn; "at" = the ticks of each from the note's start (960 a quarter); "on" = the same of a chord's notes, which
end together; "none" = the note as it is, and why.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from rendering.pipeline import Rendering, render
from rendering.timeline import half_up
from tests.rendering.golden_files import made_map
from tests.rendering.made_scores import attributes, direction, document, measures, note
from tests.rendering.notation import key_of, length_of

TABLE = Path(__file__).parent / "data" / "ornaments.tsv"
CASES = [line.split("\t") for line in TABLE.read_text("utf-8").splitlines()[1:]]
DIVISIONS = 960
TYPES = {"w": "whole", "h": "half", "q": "quarter", "e": "eighth", "s": "16th", "t": "32nd"}
LONGER = {"h": "whole", "q": "half", "e": "quarter", "s": "eighth"}
CLARINET = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"


def sign_of(words: list[str]) -> str:
    """Return the notations that a sign's words ask for: "turn flat below sharp", "tremolo 3", "arpeggiate down"."""
    name, *rest = words
    if name in {"arpeggiate", "non-arpeggiate"}:
        down = ' direction="down"' if rest else ""
        return f"<{name}{down}/>" if name == "arpeggiate" else '<non-arpeggiate type="bottom"/>'
    if name in {"tremolo", "fingered"}:
        kind = "single" if name == "tremolo" else "start"
        return f'<ornaments><tremolo type="{kind}">{rest[0]}</tremolo></ornaments>'
    if name == "glissando":
        return '<glissando type="start"/>'
    if name == "trill-chain":
        name = "trill-mark"
    out, place = "", ""
    for word in rest:
        if word in {"above", "below"}:
            place = f' placement="{word}"'
        elif word != "long":
            out, place = f"{out}<accidental-mark{place}>{word}</accidental-mark>", ""
    long = ' long="yes"' if "long" in rest else ""
    return f"<ornaments><{name}{long}/>{out}</ornaments>"


def measure_of(text: str) -> str:
    """Return the notes of a case; the sign stands on the first one that is tied to the last, and on what it needs besides."""
    words = text.split()
    written = [word for word in words if ":" in word]
    sign = words[len(written) :]
    goal = sign.pop() if sign[0] in {"glissando", "fingered"} else ""
    out = ""
    for n, word in enumerate(written):
        pitches, _, length = word.partition(":")
        tied = length.endswith("~")
        before = n > 0 and written[n - 1].endswith("~")
        ties = " ".join(["stop"] * before + ["start"] * tied)
        signed = n == len(written) - 1 or tied
        kinds = LONGER if sign[0] == "fingered" else TYPES
        kind = f"<type>{kinds[length[0]]}</type>" + "<dot/>" * length.count(".")
        for m, pitch in enumerate(pitches.split("+")):
            out += note(pitch, length_of(length.rstrip("~")), chord=m > 0, ties=ties, extra=kind, notations=sign_of(sign) if signed else "")
    if goal:
        length = written[-1].partition(":")[2]
        stop = f'<ornaments><tremolo type="stop">{sign[1]}</tremolo></ornaments>' if sign[0] == "fingered" else '<glissando type="stop"/>'
        out += note(goal, length_of(length), extra=f"<type>{LONGER[length[0]]}</type>", notations=stop)
    return out


def played(part: str, fifths: str, tempo: str, text: str) -> Rendering:
    first = attributes(CLARINET if part.startswith("Clarinet") else "", fifths=int(fifths)).replace(
        "<divisions>4</divisions>", f"<divisions>{DIVISIONS}</divisions>"
    )
    head = direction("<dynamics><mf/></dynamics>", sound=f'tempo="{tempo}"')
    plain = made_map({"articulations": [{"id": "plain"}], "range": {"lowest": 20, "highest": 110}})
    return render(document(measures(head + measure_of(text), first=first), names=(part,)), maps=[("P1", plain)])


def expected_of(text: str, start: int, end: int) -> list[tuple[int, int, int]]:
    """Return (on, off, key) of the notes that a case asks for, between two ticks."""
    how, _, names = text.partition(": ")
    keys = [key_of(name) for name in names.split()]
    kind, *numbers = how.split()
    if kind == "even":
        count = int(numbers[0])
        edges = [start + half_up(i * (end - start), count) for i in range(count + 1)]
        return [(edges[i], edges[i + 1], keys[i % len(keys)]) for i in range(count)]
    ticks = [start + int(number) for number in numbers]
    ends = [end] * len(ticks) if kind == "on" else [*ticks[1:], end]
    return sorted(zip(ticks, ends, keys, strict=True))


@pytest.mark.parametrize(("part", "fifths", "tempo", "text", "expected", "source"), CASES, ids=lambda value: value)
def test_a_sign_is_written_out(part: str, fifths: str, tempo: str, text: str, expected: str, source: str) -> None:
    assert source
    made = played(part, fifths, tempo, text)
    assert made.agree
    line = made.run.tracks[0].voices[0].line
    (written,) = made.run.parts[0].lines
    signed = len([w for w in text.split() if ":" in w and not w.endswith("~")]) - 1
    start = written.on[signed]
    end = written.off[-1] if " fingered " in text else written.off[signed]
    found = [row for row in zip(line.on, line.off, line.key, strict=True) if start <= row[0] < end]
    told = [p["arguments"]["why"] for p in made.report["problems"] if p["code"] == "not-written-out"]
    if expected.startswith("none: "):
        assert told == [expected.removeprefix("none: ")]
        assert len(found) == 1
    else:
        assert sorted(found) == expected_of(expected, start, end)
        assert told == []
    outcomes = {outcome for row in made.report["tracks"][0]["marks"].values() for outcome in row}
    assert outcomes == ({"plain"} if told else {"written-out"} if made.report["tracks"][0]["marks"] else set())


def test_there_are_sixty_cases_of_every_sign() -> None:
    assert len(CASES) >= 60
    assert len({tuple(case[:4]) for case in CASES}) == len(CASES)
