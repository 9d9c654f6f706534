"""Writes a made-up orchestral score as MusicXML: any size, the same bytes for the same seed.

    python -m tests.benchmarks.generate [--parts 40] [--measures 400] [--seed 1] -o FILE

Forty parts of 400 measures hold about 100,000 notes. The notes wander by step inside each
instrument's range; slurs, dots, accents, tenuto, dynamics, hairpins, pizz./arco, mutes, tremolo,
trills, ties, triplets, grace notes and transposing instruments come as often as in a busy score.
No repeats, so that the notes written are the notes played. One element a line, indented, with stems:
that is how notation programs write.
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

DIVISIONS = 24  # per quarter: eighths, sixteenths and triplets are whole numbers
QUARTER = DIVISIONS
TYPES = {96: "whole", 72: "half", 48: "half", 36: "quarter", 24: "quarter", 18: "eighth", 12: "eighth", 8: "eighth", 6: "16th"}
DOTTED = {72, 36, 18}
STEPS = "CDEFGAB"


class Player(NamedTuple):
    """One kind of part: `low` and `high` are written diatonic places, 28 = C4; `transpose` is (diatonic, chromatic, octaves)."""

    name: str
    sound: str
    program: int
    clef: tuple[str, int]
    low: int
    high: int
    transpose: tuple[int, int, int] = (0, 0, 0)
    strings: bool = False


TREBLE, ALTO, BASS = ("G", 2), ("C", 3), ("F", 4)
ORCHESTRA = [
    Player("Piccolo", "wind.flutes.flute.piccolo", 73, TREBLE, 30, 40, (0, 0, 1)),
    *[Player(f"Flute {n}", "wind.flutes.flute", 74, TREBLE, 30, 42) for n in (1, 2)],
    *[Player(f"Oboe {n}", "wind.reed.oboe", 69, TREBLE, 29, 39) for n in (1, 2)],
    Player("English Horn", "wind.reed.english-horn", 70, TREBLE, 28, 38, (-4, -7, 0)),
    *[Player(f"Clarinet in Bb {n}", "wind.reed.clarinet.bflat", 72, TREBLE, 26, 40, (-1, -2, 0)) for n in (1, 2)],
    Player("Bass Clarinet", "wind.reed.clarinet.bass", 72, TREBLE, 24, 36, (-1, -2, -1)),
    *[Player(f"Bassoon {n}", "wind.reed.bassoon", 71, BASS, 14, 27) for n in (1, 2)],
    Player("Contrabassoon", "wind.reed.contrabassoon", 71, BASS, 14, 24, (0, 0, -1)),
    *[Player(f"Horn in F {n}", "brass.french-horn", 61, TREBLE, 24, 37, (-4, -7, 0)) for n in (1, 2, 3, 4)],
    *[Player(f"Trumpet in Bb {n}", "brass.trumpet.bflat", 57, TREBLE, 27, 38, (-1, -2, 0)) for n in (1, 2, 3)],
    *[Player(f"Trombone {n}", "brass.trombone.tenor", 58, BASS, 18, 30) for n in (1, 2)],
    Player("Bass Trombone", "brass.trombone.bass", 58, BASS, 14, 26),
    Player("Tuba", "brass.tuba", 59, BASS, 10, 23),
    Player("Timpani", "drum.timpani", 48, BASS, 17, 22),
    Player("Glockenspiel", "pitched-percussion.glockenspiel", 10, TREBLE, 26, 38, (0, 0, 2)),
    Player("Marimba", "pitched-percussion.marimba", 13, TREBLE, 26, 42),
    Player("Harp", "pluck.harp", 47, TREBLE, 24, 42),
    Player("Soprano", "voice.soprano", 53, TREBLE, 29, 37),
    Player("Alto", "voice.alto", 53, TREBLE, 26, 33),
    Player("Tenor", "voice.tenor", 53, BASS, 22, 30),
    Player("Bass", "voice.bass", 53, BASS, 18, 26),
    *[Player(f"Violin 1 {n}", "strings.violin", 41, TREBLE, 26, 44, (0, 0, 0), True) for n in "ab"],
    *[Player(f"Violin 2 {n}", "strings.violin", 41, TREBLE, 25, 40, (0, 0, 0), True) for n in "ab"],
    *[Player(f"Viola {n}", "strings.viola", 42, ALTO, 21, 36, (0, 0, 0), True) for n in "ab"],
    *[Player(f"Violoncello {n}", "strings.cello", 43, BASS, 14, 31, (0, 0, 0), True) for n in "ab"],
    Player("Contrabass", "strings.contrabass", 44, BASS, 16, 28, (0, 0, -1), True),
]  # fmt: skip

# Measures of 4/4 as durations, negative = a rest, and how often each is drawn: 6.25 notes a measure on the average.
RHYTHMS: list[tuple[tuple[int, ...], int]] = [
    ((24, 24, 24, 24), 16),
    ((36, 12, 24, 24), 12),
    ((12,) * 8, 15),
    ((24, 12, 12, 24, 12, 12), 14),
    ((12, 6, 6) * 4, 9),
    ((8, 8, 8, 24) * 2, 9),
    ((18, 6, 24, 12, 12, 12, 12), 9),
    ((6,) * 8 + (24, 24), 5),
    ((48, 24, -24), 5),
    ((72, -24), 3),
    ((96,), 3),
]
OPENING = '<direction><direction-type><words>Allegro</words></direction-type><sound tempo="108"/></direction>'
DYNAMICS = ["pp", "p", "mp", "mf", "f", "ff"]


def pick(low: int, high: int, place: int, rng: random.Random) -> int:
    """Return the next diatonic place of a line that moves by step and small leap and turns at its limits."""
    step = place + rng.choice((-2, -1, -1, 0, 1, 1, 2, 3, -3))
    return min(max(step, low), high)


def tag(name: str, text: str | int = "") -> str:
    return f"<{name}>{text}</{name}>" if text != "" else f"<{name}/>"


class Voice:
    """Writes the measures of one part; it knows the line's place, state and open signs."""

    def __init__(self, player: Player, rng: random.Random) -> None:
        self.player, self.rng = player, rng
        self.place = (player.low + player.high) // 2
        self.pizzicato = self.muted = False
        self.tied = -1  # the place of a note that is held over the barline
        self.notes = 0

    def measure(self, number: int, last: bool) -> str:
        rhythm = self.rng.choices([r for r, _ in RHYTHMS], [w for _, w in RHYTHMS])[0]
        slur = self.slur(rhythm)
        hairpin = self.rng.random() < 0.12
        out = [self.directions(number, hairpin)]
        for i, duration in enumerate(rhythm):
            out.append(self.note(rhythm, i, slur, last))
            if duration > 0:
                self.notes += 1
        if hairpin:
            out.append('<direction><direction-type><wedge type="stop"/></direction-type></direction>')
        return "".join(out)

    def slur(self, rhythm: tuple[int, ...]) -> tuple[int, int]:
        """Return the first and last index of the measure's slur; (-1, -1) where there is none."""
        if self.pizzicato or len(rhythm) < 3 or self.rng.random() > 0.45 or min(rhythm) < 0:
            return -1, -1
        first = self.rng.randrange(len(rhythm) - 2)
        return first, self.rng.randrange(first + 1, len(rhythm))

    def directions(self, number: int, hairpin: bool) -> str:
        out = []
        if number == 1 or self.rng.random() < 0.10:
            out.append(f"<dynamics><{self.rng.choice(DYNAMICS)}/></dynamics>")
        if hairpin:
            out.append(f'<wedge type="{self.rng.choice(("crescendo", "diminuendo"))}"/>')
        if self.player.strings and self.rng.random() < 0.05:
            self.pizzicato = not self.pizzicato
            out.append(tag("words", "pizz." if self.pizzicato else "arco"))
        if self.player.strings and self.rng.random() < 0.02:
            self.muted = not self.muted
            out.append(tag("words", "con sord." if self.muted else "senza sord."))
        return "".join(f"<direction>{tag('direction-type', x)}</direction>" for x in out)

    def note(self, rhythm: tuple[int, ...], i: int, slur: tuple[int, int], last: bool) -> str:
        duration = abs(rhythm[i])
        if rhythm[i] < 0:
            return f"<note><rest/>{tag('duration', duration)}<voice>1</voice>{self.kind(duration)}</note>"
        grace = self.grace(i, slur)
        held, self.tied = self.tied, -1
        self.place = held if held >= 0 else pick(self.player.low, self.player.high, self.place, self.rng)
        if i == len(rhythm) - 1 and not last and duration >= QUARTER and slur[1] != i and self.rng.random() < 0.08:
            self.tied = self.place
        ties = ('<tie type="stop"/>' if held >= 0 else "") + ('<tie type="start"/>' if self.tied >= 0 else "")
        return (
            f"{grace}<note>{self.pitch(self.place)}{tag('duration', duration)}{ties}<voice>1</voice>{self.kind(duration)}"
            f"{self.stem(duration)}{self.notations(rhythm, i, slur, held >= 0)}</note>"
        )

    def grace(self, i: int, slur: tuple[int, int]) -> str:
        if slur[0] == i or self.tied >= 0 or self.rng.random() > 0.006:
            return ""
        self.notes += 1
        return f'<note><grace slash="yes"/>{self.pitch(min(self.place + 1, self.player.high))}<voice>1</voice><type>eighth</type></note>'

    def pitch(self, place: int) -> str:
        """Return the pitch of a diatonic place of B flat major, now and then with a sharp on F."""
        step, octave = STEPS[place % 7], place // 7
        alter = -1 if step in "BE" else 1 if step == "F" and self.tied < 0 and self.rng.random() < 0.1 else 0
        return f"<pitch>{tag('step', step)}{tag('alter', alter) if alter else ''}{tag('octave', octave)}</pitch>"

    def kind(self, duration: int) -> str:
        tuplet = "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"
        return tag("type", TYPES[duration]) + ("<dot/>" if duration in DOTTED else "") + (tuplet if duration == 8 else "")

    def stem(self, duration: int) -> str:
        middle = {TREBLE: 34, ALTO: 28, BASS: 22}[self.player.clef]
        return tag("stem", "up" if self.place < middle else "down") if duration < 4 * QUARTER else ""

    def notations(self, rhythm: tuple[int, ...], i: int, slur: tuple[int, int], held: bool) -> str:
        out = ['<tied type="stop"/>'] if held else []
        if self.tied >= 0:
            out.append('<tied type="start"/>')
        out += [f'<slur type="{kind}" number="1"/>' for kind, at in (("start", slur[0]), ("stop", slur[1])) if at == i]
        if not held and self.tied < 0:
            out += self.marks(rhythm[i], slur[0] <= i <= slur[1])
        return tag("notations", "".join(out)) if out else ""

    def marks(self, duration: int, slurred: bool) -> list[str]:
        chance = self.rng.random()
        if duration >= 2 * QUARTER and chance < 0.15:
            return ["<ornaments><trill-mark/></ornaments>"]
        if duration >= QUARTER and chance < 0.25 and self.player.strings and not self.pizzicato and not slurred:
            return ['<ornaments><tremolo type="single">3</tremolo></ornaments>']
        if slurred:
            return ["<articulations><accent/></articulations>"] if chance > 0.97 else []
        if duration <= QUARTER // 2:
            return ["<articulations><staccato/></articulations>"] if chance < 0.4 else []
        return [f"<articulations><{'accent' if chance > 0.95 else 'tenuto'}/></articulations>"] if chance > 0.9 else []


def attributes(player: Player) -> str:
    diatonic, chromatic, octaves = player.transpose
    moved = f"{tag('diatonic', diatonic)}{tag('chromatic', chromatic)}" + (tag("octave-change", octaves) if octaves else "")
    clef = f"<clef><sign>{player.clef[0]}</sign><line>{player.clef[1]}</line></clef>"
    return (
        f"<attributes>{tag('divisions', DIVISIONS)}<key><fifths>-2</fifths></key><time><beats>4</beats><beat-type>4</beat-type></time>"
        f"{clef}{f'<transpose>{moved}</transpose>' if any(player.transpose) else ''}</attributes>"
    )


def part_list(players: list[Player]) -> Iterator[str]:
    for n, player in enumerate(players, 1):
        yield (
            f'<score-part id="P{n}">{tag("part-name", player.name)}<score-instrument id="P{n}-I1">{tag("instrument-name", player.name)}'
            f'{tag("instrument-sound", player.sound)}</score-instrument><midi-instrument id="P{n}-I1">'
            f"{tag('midi-program', player.program)}</midi-instrument></score-part>"
        )


def chunks(parts: int = 40, measures: int = 400, seed: int = 1) -> Iterator[str]:
    """Yield the score as text, a measure at a time."""
    players = [ORCHESTRA[i % len(ORCHESTRA)] for i in range(parts)]
    yield '<?xml version="1.0" encoding="UTF-8"?>\n<score-partwise version="4.0"><part-list>'
    yield from part_list(players)
    yield "</part-list>"
    for n, player in enumerate(players, 1):
        voice = Voice(player, random.Random(seed * 1_000_003 + n))
        yield f'\n<part id="P{n}">'
        for number in range(1, measures + 1):
            first = attributes(player) + (OPENING if n == 1 else "")
            text = f'<measure number="{number}">{first if number == 1 else ""}{voice.measure(number, number == measures)}</measure>'
            yield "\n    " + text.replace("><", ">\n        <")
        yield "</part>"
    yield "\n</score-partwise>\n"


def orchestra(parts: int = 40, measures: int = 400, seed: int = 1) -> bytes:
    """Return the score as the bytes of a MusicXML file."""
    return "".join(chunks(parts, measures, seed)).encode()


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--parts", type=int, default=40)
    arguments.add_argument("--measures", type=int, default=400)
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("-o", "--output", type=Path, required=True)
    given = arguments.parse_args()
    data = orchestra(given.parts, given.measures, given.seed)
    given.output.write_bytes(data)
    print(f"{given.output}: {data.count(b'<note>') - data.count(b'<rest/>')} notes, {len(data) / 1e6:.1f} MB")


if __name__ == "__main__":
    main()
