"""What the words of a score say, as changes to a set of marks.

Words mean different things to different families (`rendering.marks.families`). The longest wording that
fits is taken, from left to right; commas, semicolons, colons, slashes and bars part instructions. Stops,
capitals and accents make no difference. A wording that is also an everyday word ("open", "half", "IV")
counts only where all of its instruction is understood.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from rendering.marks.families import family_of, kin
from rendering.marks.tokens import Token, tokens
from rendering.marks.wordings import Dictionary, Wording, dictionary, ended_by

__all__ = ["Action", "apply", "family_of", "read_words"]


class Action(NamedTuple):
    """One thing that words say; `apply` says what it does to a passage's state.

    text         the words, as written
    adds         marks whose passage begins
    removes      marks whose passage ends
    kind         "marks"; or, with all masks 0, what else the words are about: "simile" (go on with the
                 pattern of note marks), "tempo", "dynamics", "navigation", "notation", "expression"
    here         marks of the notes at this place alone (a trill, an open string)
    from_memory  the wording was not checked against a source
    gradual      the words ask to get there little by little
    becomes      (marks, marks): a passage of the first becomes one of the second
    """

    text: str
    adds: int
    removes: int
    kind: str = "marks"
    here: int = 0
    from_memory: bool = False
    gradual: bool = False
    becomes: tuple[tuple[int, int], ...] = ()


_BREAKS = frozenset(",;:/|")
_ARROWS = frozenset(("→", "⟶", "->", "-->", "--->"))
# Words of degree, and little words, that may stand before or between instructions without changing them.
_DEGREES = frozenset({
    "molto", "poco", "piu", "meno", "assai", "sempre", "ancora", "subito", "sub", "quasi", "stets", "immer", "toujours",
    "always", "wieder", "again", "jetzt", "now", "still", "noch", "encore", "sehr", "tres", "very", "peu", "ganz", "etwas",
    "bien", "ben", "tout", "estremo", "estremamente", "slightly",
})  # fmt: skip
_FILLERS = _DEGREES | {
    "e", "ed", "et", "and", "und", "u", "y", "&", "ma", "poi", "then", "dann", "puis", "anche", "un", "une", "il", "lo",
    "la", "le", "les", "al", "i", "gli", "a", "so", "the", "-",
}  # fmt: skip
_ALWAYS = frozenset(("sempre", "toujours", "immer", "stets", "always"))
_GRADUAL: tuple[tuple[str, ...], ...] = (
    ("a", "poco", "a", "poco"), ("poco", "a", "poco"), ("peu", "a", "peu"), ("nach", "und", "nach"),
    ("little", "by", "little"), ("allmahlich",), ("gradually",), ("gradualmente",), ("gradatamente",),
    ("progressivement",),
)  # fmt: skip
# Said before what is used: beaters, mutes, the bow.
_WITH = frozenset(("con", "mit", "avec", "with"))
_NEGATIONS = frozenset(["non", "senza", "sans", "ohne", "nicht", "no", "not", "without", "kein", "keine", "pas", "never", "nie"])


def apply(state: int, action: Action) -> int:
    """Return the passage's state after the action."""
    turned = 0
    for old, new in action.becomes:
        if state & old:
            turned |= new
            state &= ~old
    return state & ~action.removes | turned | action.adds


def _segments(found: list[Token]) -> list[list[Token]]:
    """Return the instructions of a text: its tokens, parted at commas and their like; none is empty."""
    parts: list[list[Token]] = [[]]
    for token in found:
        if token.form in _BREAKS:
            parts.append([])
        else:
            parts[-1].append(token)
    return [part for part in parts if part]


class _Reading:
    """Reads one instruction from left to right."""

    __slots__ = ("actions", "always", "forms", "gradual", "known", "segment", "strict", "text", "unread")

    def __init__(self, text: str, segment: list[Token], known: Dictionary, strict: bool) -> None:
        self.text = text
        self.segment = segment
        self.forms = tuple(token.form for token in segment)
        self.known = known
        self.strict = strict  # leave out everyday words
        self.gradual = False
        self.always = False
        self.actions: list[Action] = []
        self.unread: list[tuple[int, int]] = []  # [from, to) of tokens

    def run(self) -> None:
        """Fill `actions` and `unread`."""
        at = 0
        while at < len(self.forms):
            at = self._step(at)
        if self.gradual and self.actions:  # "mutes off gradually"
            self.actions[-1] = self.actions[-1]._replace(gradual=True)

    def _step(self, at: int) -> int:
        """Read what stands at token `at`; return the place of the next one."""
        length, wording = self._longest(at)
        if wording is not None:
            self._take(at, at + length, wording)
            return at + length
        for phrase in _GRADUAL:
            if self.forms[at : at + len(phrase)] == phrase:
                self.gradual = True
                return at + len(phrase)
        form = self.forms[at]
        if form in _NEGATIONS and (after := self._negated(at)):
            return after
        if form in _WITH and self._longest(at + 1)[1] is not None:
            return at + 1
        if form in _ARROWS:
            self.gradual = True
        elif form in _ALWAYS:
            self.always = True
        elif form not in _FILLERS or form in _NEGATIONS:
            self._leave(at)
        return at + 1

    def _longest(self, at: int) -> tuple[int, Wording | None]:
        for length in range(min(self.known.longest, len(self.forms) - at), 0, -1):
            forms = self.forms[at : at + length]
            wording = self.known.find(forms)
            if wording is not None and self._counts(wording, length):
                return length, wording
        return 0, None

    def _counts(self, wording: Wording, length: int) -> bool:
        if wording.alone == "only":
            return length == len(self.forms)
        return not (wording.alone and self.strict)

    def _take(self, start: int, end: int, wording: Wording) -> None:
        adds, removes, here = wording.adds, wording.removes, wording.here
        if here and self.always:  # "sempre l.v." makes a passage of what is else one note's
            adds, removes, here = here, ended_by(here), 0
        text = self._written(start, end)
        self.actions.append(Action(text, adds, removes, wording.kind, here, wording.from_memory, self.gradual, wording.becomes))
        self.gradual = self.always = False

    def _negated(self, at: int) -> int:
        """Read "non", "ohne" … before a mark as the end of that mark; return the next place, 0 = no mark there."""
        length, wording = self._longest(at + 1)
        if wording is None or (wording.removes and not wording.adds):
            return 0
        end = at + 1 + length
        self.actions.append(Action(self._written(at, end), 0, wording.adds | wording.here, wording.kind, 0, True))
        return end

    def _leave(self, at: int) -> None:
        if self.unread and all(form in _FILLERS for form in self.forms[self.unread[-1][1] : at]):
            self.unread[-1] = (self.unread[-1][0], at + 1)
        else:
            self.unread.append((at, at + 1))

    def _written(self, start: int, end: int) -> str:
        """Return the text of tokens [start, end) with the stop that closes it."""
        stop = self.segment[end - 1].end
        return self.text[self.segment[start].start : stop + (self.text[stop : stop + 1] == ".")]

    def keep_whole(self) -> None:
        """Leave all of an instruction of which nothing was read; words of degree are said of what stands elsewhere."""
        whole = (0, len(self.forms))
        if not self.unread and (self.gradual or any(form in _DEGREES for form in self.forms)):
            self.actions.append(Action(self._written(*whole), 0, 0, "expression"))
        else:
            self.unread = [whole]

    def left(self) -> list[str]:
        """Return what was not understood, as written; words that stood together stay together."""
        return [self._written(start, end) for start, end in self.unread]


def _read_segment(text: str, segment: list[Token], known: Dictionary) -> _Reading:
    reading = _Reading(text, segment, known, strict=False)
    reading.run()
    if reading.unread:
        reading = _Reading(text, segment, known, strict=True)
        reading.run()
    if not reading.actions:
        reading.keep_whole()
    return reading


@lru_cache(maxsize=8192)
def _read(text: str, family: str) -> tuple[tuple[Action, ...], tuple[str, ...]]:
    known = dictionary(kin(family))
    actions: list[Action] = []
    unread: list[str] = []
    for segment in _segments(tokens(text)):
        reading = _read_segment(text, segment, known)
        actions += reading.actions
        unread += reading.left()
    return tuple(actions), tuple(unread)


def read_words(text: str, family: str) -> tuple[list[Action], list[str]]:
    """Return what a direction's words say, in order, and those that were not understood, as written.

    `family` as `family_of` gives it; with "" only wordings that mean the same to every family are read.
    Both lists are empty for a text without a word or sign.
    """
    actions, unread = _read(text, family)
    return list(actions), list(unread)
