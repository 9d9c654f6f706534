"""Passage states – pizz., con sord., sul pont. … – from words and signs, in the order of the page."""

from __future__ import annotations

from bisect import bisect_left
from functools import lru_cache
from typing import NamedTuple

from rendering.annotate.placing import Placed
from rendering.marks import BIT, CANCELS, element_mark
from rendering.marks.lexicon import Action, apply, read_words
from rendering.score import Line

PIZZICATO = 1 << BIT["pizzicato"]
# Kinds of Sign that change a passage's state, beside words.
STATES = frozenset({"pizzicato", "mute", "pedal", "sound-pedal"})


class Change(NamedTuple):
    """What happens to the state of all lines in reach at a Unit; `here` goes to the notes there alone."""

    unit: int
    staff: int
    voice: str
    action: Action


class Passages(NamedTuple):
    """What a part's signs say, in the order of their places.

    changes  of passage states
    unread   (text, Unit, staff) of words not understood; guessed: of those whose meaning has no source
    loud     (text, placed) of words about loudness
    """

    changes: list[Change]
    unread: list[tuple[str, int, int]]
    guessed: list[tuple[str, int, int]]
    loud: list[tuple[str, Placed]]


def read_passages(placed: list[Placed], family: str) -> Passages:
    """Return what the signs of a part do to its passage states."""
    found = Passages([], [], [], [])
    for one in placed:
        unit, staff, voice, sign = one
        if sign.kind == "words":
            read_one(one, family, found)
        elif sign.kind in STATES:
            action = state_of(sign.kind, sign.text, sign.number, family)
            if action is not None:
                found.changes.append(Change(unit, staff, voice, action))
        elif sign.kind in {"damp", "damp-all"}:
            name = element_mark("direction", sign.kind, family)
            found.changes.append(Change(unit, staff, voice, Action(sign.kind, 0, 0, here=1 << BIT[name])))
        elif sign.kind == "note-words":
            found.unread.append((sign.text, unit, staff))
    return found


def read_one(placed: Placed, family: str, found: Passages) -> None:
    """Sort what the words of one sign say into what was found."""
    unit, staff, voice, sign = placed
    actions, unread = read_words(sign.text, family)
    for action in actions:
        if action.kind == "marks":
            found.changes.append(Change(unit, staff, voice, action))
            if action.from_memory:
                found.guessed.append((action.text, unit, staff))
        elif action.kind == "dynamics":
            found.loud.append((action.text, placed))
    found.unread.extend((text, unit, staff) for text in unread)


def state_of(kind: str, text: str, number: str, family: str) -> Action | None:
    """Return what a sign other than words does: a sound's pizzicato, a mute, a pedal; None for nothing."""
    if kind == "pizzicato":
        return beginning(PIZZICATO, text) if text == "yes" else Action(text, 0, PIZZICATO)
    if kind == "mute":
        return mute_state(text, family)
    name = "una corda" if number == "soft" else "sostenuto pedal" if "sostenuto" in {text, number} else "pedal"
    if text in {"start", "sostenuto", "resume"}:
        return beginning(1 << BIT[name], text)
    if text in {"stop", "discontinue"}:
        both = 1 << BIT["pedal"] | 1 << BIT["sostenuto pedal"] if kind == "pedal" else 1 << BIT[name]
        return Action(text, 0, both)
    return None


def mute_state(text: str, family: str) -> Action | None:
    name = element_mark("mute", text, family)
    if text == "off":
        _, removes = 0, muted()
        return Action(text, 0, removes)
    return beginning(1 << BIT[name], text) if name else None


def muted() -> int:
    """Return all marks that say what the mute is."""
    bit = BIT["con sordino"]
    return CANCELS[bit] | 1 << bit


def beginning(mark: int, text: str) -> Action:
    """Return the action that begins one mark's passage and ends what it excludes."""
    return Action(text, mark, CANCELS[mark.bit_length() - 1])


def apply_passages(line: Line, changes: list[Change], reach: int) -> None:
    """Give each note of a line the states it stands in; a note's own mark overrides a state of its question.

    Marks of notes "here" go to the notes at the place, else to the next ones within `reach` Units.
    """
    mine = [c for c in changes if c.staff in {0, line.staff} and c.voice in {"", line.voice}]
    if not mine:
        return
    offset, marks = line.offset, line.marks
    mark_here(line, mine, reach)
    state, since = 0, 0
    for unit, _, _, action in mine:
        row = bisect_left(offset, unit)
        if state and since < row:
            marks[since:row] = [m | state & kept_beside(m) if m else state for m in marks[since:row]]
        since, state = row, apply(state, action)
    if state and since < len(marks):
        marks[since:] = [m | state & kept_beside(m) if m else state for m in marks[since:]]


def mark_here(line: Line, changes: list[Change], reach: int) -> None:
    """Add the marks that words and signs give to the notes at their place alone."""
    offset, marks = line.offset, line.marks
    here: dict[int, int] = {}  # first row at a Unit -> marks
    for unit, _, _, action in changes:
        if action.here:
            row = bisect_left(offset, unit)
            if row < len(offset) and offset[row] <= unit + reach:
                here[row] = here.get(row, 0) | action.here
    for row, extra in here.items():
        at = row
        while at < len(offset) and offset[at] == offset[row]:
            marks[at] |= extra
            at += 1


@lru_cache(maxsize=4096)
def kept_beside(marks: int) -> int:
    """Return the states that may stand beside a note's own marks."""
    ended, left = 0, marks
    while left:
        low = left & -left
        ended |= CANCELS[low.bit_length() - 1]
        left ^= low
    return ~ended | marks
