"""Passage states as words: what to write where a state begins, and where it ends.

The words come from the lexicon that our reader reads with, so that what is written means there what it
should. A few states are signs instead: pedals.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache, lru_cache
from itertools import permutations
from typing import NamedTuple

from rendering.marks import BIT, CANCELS, kin, names
from rendering.marks.lexicon import Action, apply, read_words
from rendering.marks.tables import listed, rows

PEDAL, SOSTENUTO = 1 << BIT["pedal"], 1 << BIT["sostenuto pedal"]
PREFERRED = ("it", "en", "sym", "fr", "de")  # languages, in the order in which words are looked for
MOST_ORDERS = 4  # so many states may begin together and still be put into the order that works
NEGATION = "senza"


class Step(NamedTuple):
    """One thing to write: words, or a pedal's `sign` ("start", "stop", "sostenuto"); `action` is how it is read."""

    text: str
    action: Action
    sign: str = ""


# The sustain pedal, lifted and pressed.
PEDALS = (Step("", Action("stop", 0, PEDAL | SOSTENUTO), "stop"), Step("", Action("start", PEDAL, CANCELS[BIT["pedal"]]), "start"))


class Words(NamedTuple):
    """What a family's lexicon offers: bit -> words that begin its passage, bit -> words for notes alone, words that end."""

    begin: dict[int, Step]
    here: dict[int, Step]
    end: list[Step]


@cache
def words_of(family: str) -> Words:
    """Return the words by which a family is told; the surer and the more Italian of several."""
    found = Words({}, {}, [])
    sostenuto = BIT["sostenuto pedal"]
    found.end.append(PEDALS[0])
    found.begin[BIT["pedal"]] = PEDALS[1]
    found.begin[sostenuto] = Step("", Action("sostenuto", SOSTENUTO, CANCELS[sostenuto]), "sostenuto")
    for text, action in _single(family):
        if action.adds and action.adds & (action.adds - 1) == 0:
            found.begin.setdefault(action.adds.bit_length() - 1, Step(text, action))
        elif action.here and action.here & (action.here - 1) == 0:
            found.here.setdefault(action.here.bit_length() - 1, Step(text, action))
        elif action.removes and not action.adds:
            found.end.append(Step(text, action))
    return found


def _single(family: str) -> Iterator[tuple[str, Action]]:
    """Yield the wordings of a family that do one thing, best first."""
    families = {*kin(family), "any"}
    known = [row for row in rows("words.tsv") if row["kind"] in {"mark", "end"} and families & set(listed(row["families"]))]
    known.sort(key=_surest)
    for row in known:
        for text in listed(row["wordings"], "|"):
            actions, unread = read_words(text, family)
            if len(actions) == 1 and not unread and actions[0].kind == "marks" and not actions[0].gradual:
                yield text, actions[0]


def _surest(row: dict[str, str]) -> tuple[bool, bool, int]:
    return row["status"] == "memory", row["alone"] != "", PREFERRED.index(row["language"])


def negated(bit: int, family: str) -> Step | None:
    """Return "senza …" for the words of a mark, where that ends it alone; None where it does not."""
    begin = words_of(family).begin.get(bit)
    text = f"{NEGATION} {begin.text}" if begin is not None and begin.text else ""
    actions, unread = read_words(text, family) if text else ([], [])
    fits = len(actions) == 1 and not unread and (actions[0].adds, actions[0].removes) == (0, 1 << bit)
    return Step(text, actions[0]) if fits else None


@lru_cache(maxsize=16384)
def steps(state: int, wanted: int, family: str) -> tuple[tuple[Step, ...], int]:
    """Return what to write so that `state` becomes `wanted`, and the state that it leads to: `wanted`, if it can be said.

    What ends is written before what begins, unless the new state ends the old one by itself.
    """
    tries = [_try(state, wanted, family, first) for first in (False, True)]
    return min(tries, key=lambda found: ((found[1] ^ wanted).bit_count(), len(found[0])))


def _try(state: int, wanted: int, family: str, end_first: bool) -> tuple[tuple[Step, ...], int]:
    written: list[Step] = []
    if end_first:
        state = _end(state, state & ~wanted, state & wanted, family, written)
    best = min((_begin(state, order, family) for order in _orders(state, wanted, family)), key=lambda f: (f[1] ^ wanted).bit_count())
    written += best[0]
    state = _end(best[1], best[1] & ~wanted, best[1] & wanted, family, written)
    return tuple(written), state


def _orders(state: int, wanted: int, family: str) -> Iterator[tuple[int, ...]]:
    """Yield orders in which the marks that are wanted may begin; those in force may have to begin again."""
    known = words_of(family).begin
    fresh = [BIT[name] for name in names(wanted & ~state) if BIT[name] in known]
    again = [BIT[name] for name in names(wanted & state) if BIT[name] in known]
    for bits in (fresh, [*fresh, *again]):
        yield from permutations(bits) if len(bits) <= MOST_ORDERS else [tuple(bits)]


def _begin(state: int, order: tuple[int, ...], family: str) -> tuple[list[Step], int]:
    known = words_of(family).begin
    written = [known[bit] for bit in order]
    for step in written:
        state = apply(state, step.action)
    return written, state


def _end(state: int, dropped: int, kept: int, family: str, written: list[Step]) -> int:
    """Write what ends the marks dropped and none of those kept; return the state that is left."""
    while dropped:
        step = _ender(state, dropped, kept, family)
        if step is None:
            return state
        written.append(step)
        state = apply(state, step.action)
        dropped &= state
    return state


def _ender(state: int, dropped: int, kept: int, family: str) -> Step | None:
    """Return the words that end most of the marks dropped and leave those kept alone; None where there are none."""
    alone = (negated(BIT[name], family) for name in names(dropped))
    best, most = None, 0
    for step in [*words_of(family).end, *(step for step in alone if step is not None)]:
        after = apply(state, step.action)
        ended = (dropped & ~after).bit_count()
        if ended > most and after & ~state == 0 and after & kept == kept:
            best, most = step, ended
    return best


def mask_of_words(family: str) -> int:
    """Return the marks whose passage words or signs can begin."""
    return sum(1 << bit for bit in words_of(family).begin)
