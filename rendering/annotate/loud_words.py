"""What words say about loudness (common practice, no source; the numbers are this project's choice).

Levels are whole thousandths; a step between neighbouring dynamics is 125.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import NamedTuple

STEP = 125
STEADY = {"n": 0, "ppp": 125, "pp": 250, "p": 375, "mp": 500, "mf": 625, "f": 750, "ff": 875, "fff": 1000}
SOFTER, LOUDEST = 63, 1000
MIDDLE = STEADY["mf"]


class Loud(NamedTuple):
    """What a wording asks for.

    kind   "steady" (from here on at `value`), "relative" (`value` more than before), "swell" (`value` 1 or -1, up to
           the next dynamic), "to-nothing" (fading until silent), "from-nothing", "accent" (this note),
           "attack" (`name`: struck, then softer), "balance" (no level: bring out) or "" = not understood
    """

    kind: str
    value: int = 0
    name: str = ""


_PLAIN = {
    "pianissimo": 250, "piano": 375, "mezzo piano": 500, "mezzopiano": 500, "mezzo forte": 625, "mezzoforte": 625, "forte": 750,
    "fortissimo": 875, "tutta forza": 1000, "tutta la forza": 1000, "con tutta forza": 1000, "con forza": 750, "mezza voce": 500,
    "m.v.": 500, "sotto voce": 375, "s.v.": 375, "stark": 750, "leise": 375, "sehr leise": 250, "fort": 750, "doux": 375,
    "tres doux": 250, "loud": 750, "loudly": 750, "soft": 375, "softly": 375, "very soft": 250, "very softly": 250,
    "as soft as possible": 125, "as loud as possible": 1000, "presque rien": SOFTER, "quasi niente": SOFTER,
}  # fmt: skip
_MORE = frozenset({"lauter", "louder", "plus fort"})
_LESS = frozenset({"leiser", "softer", "moins fort"})
_BALANCE = frozenset({"hervortretend", "hauptstimme", "en dehors", "bring out"})
_FROM = re.compile(r"\b(dal niente|dal nulla|aus dem nichts|partant de rien|(?:from|out of) nothing)\b")
_TO = re.compile(r"\b(al? niente|niente|a rien|ins nichts|to nothing)\b|^n\.$")
_SWELL = re.compile(r"\b(cresc\w*|en augmentant|augmente[rz]|anschwellend|zunehmend|swell)\b")
_FADE = re.compile(
    r"\b(dim\w*|decresc\w*|calando|smorz\w*|morendo|en diminuant|abnehmend|verklingend|verloschend|ersterbend|en mourant"
    r"|fade|en s'eteignant)\b"
)
_ACCENT = re.compile(r"^(?:s?forz(?:ando|ato)|rinf(?:orzando)?)\.?$")
_NAME = re.compile(r"(?<!\w)(n|mp|mf|p{1,6}|f{1,6}|piano|forte|pianissimo|fortissimo|s?f{1,3}z|sff?z?p{0,2}|fp|rfz?)(?!\w)")
_DEGREE = re.compile(r"\b(piu|meno|poco|quasi|almost|less|more|plus|moins)\b")


def steady(name: str) -> int | None:
    """Return the level of a plain dynamic; None for other names."""
    if name in STEADY:
        return STEADY[name]
    if re.fullmatch("p{4,6}", name):
        return SOFTER
    return LOUDEST if re.fullmatch("f{4,6}", name) else None


@lru_cache(maxsize=1024)
def read_loud(text: str) -> Loud:
    """Return what one wording says: its first meaning in the order of nothing, swelling, plain words, names."""
    plain = unicodedata.normalize("NFD", text.lower().replace("’", "'"))
    plain = " ".join("".join(c for c in plain if not unicodedata.combining(c)).split())
    if _FROM.search(plain):
        return Loud("from-nothing")
    if plain in _PLAIN:
        return Loud("steady", _PLAIN[plain])
    if _TO.search(plain):
        return Loud("to-nothing")
    if _SWELL.search(plain) or _FADE.search(plain):
        return Loud("swell", 1 if _SWELL.search(plain) else -1)
    if plain in _MORE or plain in _LESS:
        return Loud("relative", STEP if plain in _MORE else -STEP)
    if plain in _BALANCE:
        return Loud("balance")
    return Loud("accent") if _ACCENT.match(plain) else _named(plain)


def _named(plain: str) -> Loud:
    """Read a dynamic's name with a word of degree: "più f", "meno piano", "poco f"."""
    found, degree = _NAME.search(plain), _DEGREE.search(plain)
    name = found.group(1) if found is not None else ""
    level = _PLAIN.get(name, steady(name))
    if level is None:
        return Loud("attack", name=name) if name else Loud("")
    if degree is None:
        return Loud("steady", level)
    if degree.group(1) in {"poco", "quasi", "almost"}:
        return Loud("steady", (level + MIDDLE) // 2)  # half the way to the middle
    louder = (level > MIDDLE) == (degree.group(1) in {"piu", "more", "plus"})
    return Loud("relative", STEP if louder else -STEP)
