"""Da capo, dal segno, coda and fine: from sound elements, else from words and signs."""

from __future__ import annotations

import re
from typing import NamedTuple

from rendering.places import place_at
from rendering.problems import Problem, problem
from rendering.readers.asread import ScoreAsRead
from rendering.score import Measure, Score
from rendering.unfold.route import Route

TARGETS = {"dalsegno": "segno", "tocoda": "coda"}
# Words that jump (common practice, no source); the first that fits counts.
WORDS = (
    ("dalsegno", re.compile(r"(?i)\bd\.\s?s\b|^\W*ds\b|\bdal? segno\b")),
    ("dacapo", re.compile(r"(?i)\bd\.\s?c\b|^\W*dc\b|\bda capo\b")),
    ("tocoda", re.compile(r"(?i)\b(?:to|alla|al) coda\b")),
    ("fine", re.compile(r"(?i)^\W*fine\W*$")),
    ("coda", re.compile(r"(?i)^\W*coda\W*$")),
    ("trio", re.compile(r"(?i)^\W*trio\b")),
    ("menuet", re.compile(r"(?i)\b(?:menue?tt?o?|min[uo]etto?|minuet)\b")),
)
MENUET_AGAIN = re.compile(r"(?i)\bm(?:en|in)?[a-z]*\.?\s?d\b|\bm(?:en|in)[a-z]*\W+da\b")


class Jump(NamedTuple):
    """One instruction: its measure (index from 0), Units from its start, kind, number; the words, if it is in words."""

    measure: int
    kind: str
    number: str
    offset: int
    text: str = ""


def read_leaps(as_read: ScoreAsRead, score: Score, route: Route) -> list[Problem]:
    """Fill the route's leaps; return a problem for each that leads nowhere."""
    jumps = jumps_of(as_read, len(score.measures))
    targets: dict[tuple[str, str], int] = {}
    alone: dict[str, list[int]] = {"segno": [], "coda": []}
    for jump in jumps:
        if jump.kind in alone and (jump.kind, jump.number) not in targets:
            late = 2 * jump.offset > score.measures[jump.measure].length
            targets[jump.kind, jump.number] = min(jump.measure + late, len(score.measures) - 1)
            alone[jump.kind].append(targets[jump.kind, jump.number])
    problems: list[Problem] = []
    for jump in {(j.kind, j.measure): j for j in reversed(jumps)}.values():
        if jump.kind not in {"dacapo", "dalsegno", "tocoda", "fine"}:
            continue
        places = alone.get(TARGETS.get(jump.kind, ""), [])
        if jump.kind == "dacapo":
            target = home(jump, jumps, route, score.measures)
        elif jump.kind == "fine":
            target = 0
        else:
            target = targets.get((TARGETS[jump.kind], jump.number), places[0] if len(places) == 1 else -1)
        if target < 0:
            place = place_at(score, "", score.measures[jump.measure].start)
            problems.append(problem("jump-without-target", place, kind=TARGETS.get(jump.kind, "beginning of the movement")))
        else:
            route.leaps.setdefault(after(jump, route, len(score.measures)), []).append((jump.kind, target))
    end_before_trio(jumps, route)
    return problems


def jumps_of(as_read: ScoreAsRead, count: int) -> list[Jump]:
    """Return all instructions in the order of measures; of each kind sounds count before words and signs."""
    sounds: set[Jump] = set()
    words: set[Jump] = set()
    for part in as_read.parts:
        for sign in part.signs:
            if sign.measure >= count:
                continue
            if sign.kind == "jump" and sign.text != "forward-repeat":
                sounds.add(Jump(sign.measure, sign.text, sign.number, sign.offset))
            elif sign.kind in {"segno", "coda"}:
                words.add(Jump(sign.measure, sign.kind, "", sign.offset, sign.kind))
            elif sign.kind == "words" and (kind := kind_of(sign.text)):
                words.add(Jump(sign.measure, kind, "", sign.offset, sign.text))
    said = {jump.kind for jump in sounds}
    return sorted(sounds | two_codas({jump for jump in words if jump.kind not in said}))


def kind_of(text: str) -> str:
    """Return what words ask for; "" for other words."""
    return next((kind for kind, pattern in WORDS if pattern.search(text)), "")


def two_codas(words: set[Jump]) -> set[Jump]:
    """Of several coda signs the last is where the jump goes, the first, without the words "to coda", where it is."""
    codas = sorted(jump for jump in words if jump.kind == "coda")
    earlier = [jump for jump in codas if jump.measure < codas[-1].measure]
    words = words - set(earlier)
    if earlier and not any(jump.kind == "tocoda" for jump in words):
        words = words | {earlier[0]._replace(kind="tocoda")}
    return words


def after(jump: Jump, route: Route, count: int) -> int:
    """Return the measure after which a jump is made: words may stand before the last measure of a movement."""
    following = jump.measure + 1
    last = following == count - 1 or following + 1 in route.fresh
    return following if jump.text and jump.kind in {"dacapo", "dalsegno"} and last and following not in route.fresh else jump.measure


def home(jump: Jump, jumps: list[Jump], route: Route, measures: list[Measure]) -> int:
    """Return where a da capo leads; -1 where the file holds several movements and does not say where this one starts.

    "Menuetto da capo" leads to the menuet, another one to the start of the movement that holds the fine
    before it, or of the file. The heavy bar line of a fine is no movement's end.
    """
    before = [j for j in jumps if j.measure < jump.measure]
    fines = [j.measure for j in before if j.kind == "fine"]
    movements = [m for m in sorted(route.fresh) if m < len(measures) and m - 1 not in fines]
    marked = [m for m in movements if m <= (fines[-1] if fines else jump.measure)]
    if MENUET_AGAIN.search(jump.text):
        menuets = [j.measure for j in before if j.kind == "menuet"]
        start = (menuets or marked or [0])[-1]
        one_meter = all(row.meter == measures[start].meter for row in measures[start : jump.measure])
        return start if menuets or one_meter else -1
    return marked[-1] if marked else -1 if movements else 0


def end_before_trio(jumps: list[Jump], route: Route) -> None:
    """A da capo without a fine ends before the trio that stands between (common practice, no source)."""
    for measure, leaps in list(route.leaps.items()):
        for kind, target in leaps:
            between = [j for j in jumps if target < j.measure <= measure]
            trios = [j.measure for j in between if j.kind == "trio"]
            if kind == "dacapo" and trios and not any(j.kind == "fine" for j in between):
                route.leaps.setdefault(trios[0] - 1, []).append(("fine", 0))
