"""Families of instruments: the same word or sign can mean different things in different ones."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from rendering.marks.tables import listed, rows

# family -> the family it belongs to ("" = none): what a family does not say, its parent says.
PARENT: dict[str, str] = {
    "strings": "",
    "woodwind": "",
    "brass": "",
    "keyboard": "",
    "organ": "keyboard",
    "accordion": "keyboard",
    "plucked": "",
    "harp": "plucked",
    "percussion": "",
    "timpani": "percussion",
    "cymbals": "percussion",
    "mallets": "percussion",
    "handbells": "percussion",
    "voice": "",
}


def kin(family: str) -> tuple[str, ...]:
    """Return the family and those it belongs to, nearest first; () for "" and for unknown families."""
    found: list[str] = []
    while family in PARENT:
        found.append(family)
        family = PARENT[family]
    return tuple(found)


def belongs(family: str, to: str) -> bool:
    """Say whether `family` is `to` or a branch of it: timpani belong to percussion, the harp to plucked."""
    return to in kin(family)


def plain(text: str) -> str:
    """Return text in lower case without accents: "Flöte" -> "flote"."""
    if text.isascii():
        return text.lower()
    parts = unicodedata.normalize("NFKD", text.casefold())
    return "".join(sign for sign in parts if not unicodedata.combining(sign))


def _read() -> tuple[dict[str, str], dict[tuple[str, ...], tuple[int, str]], dict[str, str]]:
    sounds: dict[str, str] = {}
    phrases: dict[tuple[str, ...], tuple[int, str]] = {}
    endings: dict[str, str] = {}
    for row in rows("families.tsv"):
        for item in listed(row["is"], "|"):
            if row["by"] == "sound":
                sounds[item] = row["family"]
            elif row["by"] == "ending":
                endings[plain(item)] = row["family"]
            else:
                phrases[_tokens(item)] = (1 if row["by"] == "name" else 0, row["family"])
    return sounds, phrases, endings


def _tokens(text: str) -> tuple[str, ...]:
    return tuple(re.findall(r"[^\W\d_]+", plain(text)))


_SOUNDS, _PHRASES, _ENDINGS = _read()
_LONGEST = max(len(phrase) for phrase in _PHRASES)


def _by_sound(sound: str) -> str:
    while sound:
        if found := _SOUNDS.get(sound):
            return found
        sound = sound.rpartition(".")[0]
    return ""


def _by_name(name: str) -> str:
    """Return the family of the longest known phrase; among equals a surer one, then the first."""
    tokens = _tokens(name)
    best: tuple[int, int, int] = (0, 0, 0)
    family = ""
    for start in range(len(tokens)):
        for length in range(min(_LONGEST, len(tokens) - start), 0, -1):
            sure, found = _PHRASES.get(tokens[start : start + length], (0, ""))
            if (found and (rank := (length, sure, -start)) > best) or (found and not family):
                best, family = rank, found
    if best[1]:
        return family
    ended = [_ENDINGS[end] for token in tokens for end in _ENDINGS if token.endswith(end)]
    return ended[0] if ended else family


@lru_cache(maxsize=4096)
def family_of(sound: str, name: str) -> str:
    """Return the family of an instrument by its MusicXML standard sound, else by its name; "" = unknown.

    Families: strings, woodwind, brass, keyboard (organ, accordion), plucked (harp), percussion (timpani,
    cymbals, mallets, handbells), voice. Those in brackets are told apart: compare with `belongs`.
    """
    return _by_sound(sound) or _by_name(name)
