"""Names of instruments as scores print them, in Italian, German, French and English."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from rendering.maps.tables import rows

# "in F", "in B flat", "in Es", "en fa", "en si bémol", "(A)"; accents are gone by then, sharps and flats are words.
_KEY = re.compile(
    r"\b(?:in|en|em) (?:do|ut|re|mi|fa|sol|la|si|[a-h])(?:s|es|is|b)?\b(?: ?(?:bemolle|bemol|bem|diesis|diese|flat|sharp)\b)?"
)
_NUMBERS = {
    "i": 1, "ii": 2, "iii": 3, "iv": 4, "v": 5, "vi": 6, "vii": 7, "viii": 8,
    "1st": 1, "2nd": 2, "3rd": 3, "4th": 4, "1o": 1, "2o": 2, "3o": 3, "4o": 4, "1er": 1, "1re": 1, "2e": 2, "3e": 3, "4e": 4, "2d": 2,
    "first": 1, "second": 2, "third": 3, "fourth": 4, "primo": 1, "prima": 1, "primi": 1, "secondo": 2, "seconda": 2, "secondi": 2,
    "terzo": 3, "terza": 3, "quarto": 4, "quarta": 4, "erste": 1, "ersten": 1, "erster": 1, "zweite": 2, "zweiten": 2, "zweiter": 2,
    "dritte": 3, "vierte": 4, "premier": 1, "premiere": 1, "premiers": 1, "deuxieme": 2, "seconds": 2, "seconde": 2,
    "troisieme": 3, "quatrieme": 4,
}  # fmt: skip
_LIST = re.compile(r"(?<!\d)\d{1,2}(?:[-.,/&+ ]+\d{1,2})*(?!\d)")
# Only where nothing else is in the name: parts of a choir.
_ALONE = {"s": "voice.soprano", "a": "voice.alto", "t": "voice.tenor", "b": "voice.bass"}
_COUNT = re.compile(r"\s*(\d{1,2}) [^\d]+")
_TOKEN = re.compile(r"[^\W_]+")
MOST_PLAYERS = 32
LONGEST_NAME = 200  # of longer texts only the beginning is a name, and only that is kept


def plain(text: str) -> str:
    """Return a name in small letters without accents; flats, sharps and degree signs as words or letters."""
    text = text.replace("♭", " flat ").replace("♯", " sharp ").replace("°", "o ").replace("º", "o ").replace("ß", "ss")
    text = re.sub(r"[‐‑‒–—]", "-", text)
    parts = unicodedata.normalize("NFKD", text.casefold())
    return " ".join("".join(sign for sign in parts if not unicodedata.combining(sign)).split())


def _phrases() -> dict[tuple[str, ...], str]:
    found: dict[tuple[str, ...], str] = {}
    for row in rows("instrument_names.tsv"):
        for column in ("it", "de", "fr", "en", "short"):
            for item in filter(None, row[column].split(" | ")):
                found.setdefault(tuple(_TOKEN.findall(plain(item))), row["sound"])
    return found


PHRASES: dict[tuple[str, ...], str] = _phrases()
_LONGEST = max(map(len, PHRASES))


def sound_of_name(name: str) -> str:
    """Return the MusicXML standard sound that an instrument's name means; "" if it is not known.

    The longest known name inside it counts: "Bass Clarinet in B flat" is a bass clarinet. Keys and
    numbers are passed over, and so is what comes after 200 characters.
    """
    return _sound(name[:LONGEST_NAME])


@lru_cache(maxsize=4096)
def _sound(name: str) -> str:
    tokens = _TOKEN.findall(_KEY.sub(" ", plain(name)))
    for length in range(min(_LONGEST, len(tokens)), 0, -1):
        for start in range(len(tokens) - length + 1):
            sound = PHRASES.get(tuple(tokens[start : start + length]))
            if sound:
                return sound
    words = [token for token in tokens if token not in _NUMBERS and not token.isdigit()]
    return _ALONE.get(words[0], "") if len(words) == 1 else ""


def numbers_of_name(name: str) -> tuple[int, ...]:
    """Return the player or desk numbers in a part's name, ascending; () if it has none.

    "Horn in F 1.2" is (1, 2), "Flutes 1-3" is (1, 2, 3), "Violin II" and "Violino secondo" are (2,); a
    number before the name counts players, "2 Fagotti" is (1, 2), unless it is an ordinal, "2. Violine".
    """
    return _numbers(name[:LONGEST_NAME])


@lru_cache(maxsize=4096)
def _numbers(name: str) -> tuple[int, ...]:
    text = re.sub(r"\ba ?\d\b", " ", _KEY.sub(" ", plain(name)))  # "a 2" says how they play, not who
    count = _COUNT.fullmatch(text)
    if count:
        return tuple(range(1, min(int(count.group(1)), MOST_PLAYERS) + 1))
    found: set[int] = set()
    for match in _LIST.finditer(re.sub(r"\b(\d{1,2})(?:\.? ?(?:and|und|et|e|ed)) (?=\d)", r"\1 & ", text)):
        found |= _listed(match.group())
    tokens = _TOKEN.findall(text)
    found |= {_NUMBERS[token] for token in tokens if token in _NUMBERS and len(tokens) > 1}
    return tuple(sorted(number for number in found if 0 < number <= MOST_PLAYERS))


def _listed(text: str) -> set[int]:
    """Return the numbers of "1.2", "1, 3" or "1-4", in which a hyphen means all between."""
    found: set[int] = set()
    last, sign = 0, ""
    for part in re.findall(r"\d+|[^\d]+", text):
        if not part.isdigit():
            sign = part
            continue
        number = int(part)
        found |= set(range(last, number + 1)) if "-" in sign and 0 < last < number else {number}
        last = number
    return found
