"""Texts and wordings in parts that can be compared."""

from __future__ import annotations

import re
from typing import NamedTuple

from rendering.marks.families import plain


class Token(NamedTuple):
    """One word of a text: its form for comparing, and where it stands."""

    form: str
    start: int
    end: int


_TOKEN = re.compile(r"#|(?<!\S)[-–−—](?!\S)|(\d+)([.°ºª'’′]?)|(?:[^\W\d_][\u0300-\u036f]*)+|-+>|[→⟶+*=°º○,;:/|&]")
# A player's number and rehearsal letters, where the small letters are an article, a sign, dynamics.
_CAPITALS = frozenset(("I", "O", "F", "P", "N"))
_SIGNS = {"º": "°", "○": "°", "–": "-", "−": "-", "—": "-"}


def tokens(text: str) -> list[Token]:
    """Return a text's words, figures and signs in order; initials with stops are one word ("s.p." = "sp")."""
    found: list[Token] = []
    for match in _TOKEN.finditer(text):
        form = _form(match)
        if found and len(form) == 1 and form.isalpha() and _is_initial(text, found[-1], match.start(), form):
            found[-1] = Token(plain(found[-1].form + form), found[-1].start, match.end())
        else:
            found.append(Token(form, match.start(), match.end()))
    return found


def _form(match: re.Match[str]) -> str:
    """Return a token's form for comparing: a figure keeps its stop (or foot mark), a word its bare letters."""
    text, figure, mark = match.group(), match.group(1), match.group(2)
    if figure:
        return figure + ("'" if mark in {"'", "’", "′"} else "." if mark else "")
    return _SIGNS.get(text, "") or (text if text in _CAPITALS else plain(text))


def _is_initial(text: str, last: Token, start: int, form: str) -> bool:
    """Say whether a single letter goes on a row of initials: "s." + "p", but not "s.p. e"."""
    between = text[last.end : start]
    letters = (len(last.form) == 1 and last.form.isalpha()) or ("." in text[last.start : last.end] and last.form.isalpha())
    return letters and (between == "." or (between.strip() == "." and form not in "aeouy"))
