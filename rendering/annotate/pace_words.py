"""What words say about tempo, in one table (common practice, no source; the numbers are this project's choice)."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import NamedTuple

# The middle of each tempo's usual range, in beats a minute.
USUAL: dict[str, int] = {
    "prestissimo": 200, "presto": 176, "vivacissimo": 168, "vivace": 152, "vivo": 152, "allegro": 132, "allegretto": 112,
    "moderato": 108, "andantino": 92, "andante": 84, "maestoso": 88, "adagietto": 70, "adagio": 66, "larghetto": 60, "lento": 56,
    "largo": 50, "grave": 42, "sehr schnell": 168, "schnell": 144, "rasch": 138, "lebhaft": 132, "bewegt": 112, "massig": 100,
    "gehend": 84, "ruhig": 66, "feierlich": 66, "sehr langsam": 48, "langsam": 56, "breit": 50, "tres vif": 168, "vif": 152,
    "rapide": 160, "anime": 126, "allegre": 132, "modere": 100, "tres lent": 48, "lent": 56, "very fast": 168, "fast": 144,
    "quickly": 144, "lively": 132, "moderately": 104, "moderate": 104, "slowly": 60, "very slow": 48, "slow": 60, "broadly": 54,
}  # fmt: skip

# What part of the tempo is reached little by little, and at once: (plain, poco, molto), in thousandths.
SLOWING, QUICKENING = (750, 880, 600), (1250, 1120, 1500)
SLOWER, FASTER = (850, 930, 750), (1150, 1070, 1300)
# A fermata lasts so many times its note, by its shape (thousandths); an unknown shape is the plain one.
FERMATA, FERMATAS = 2000, {"double-angled": 1250, "angled": 1500, "square": 3000, "double-square": 4000}
CAESURA = 1000  # thousandths of a quarter that all parts wait
SWING = (2, 1)

_SLOWING = re.compile(
    r"\b(rit(?:ard(?:ando)?)?|rall(?:entando)?|allarg(?:ando)?|slargando|slentando|calando|morendo|perdendosi|ced(?:ez|er)|en retenant"
    r"|ralentir|en elargissant|zuruckhalten\w*|verlangsamen\w*|nachlassend"
    r"|allmahlich langsamer|slow down|slowing(?: down)?|gradually slower)\b"
)
_QUICKENING = re.compile(
    r"\b(acc(?:el(?:erando)?)?|string(?:endo)?|affrett(?:ando)?|incalzando|animando|beschleunigen\w*|drangend|eilend|pressez|en pressant"
    r"|serrez|en animant|allmahlich schneller|speed up|gradually faster)\b"
)
_SLOWER = re.compile(
    r"\b(riten(?:uto)?|retenu|meno (?:mosso|allegro|presto|vivo|animato)|piu (?:lento|tranquillo|largo)|langsamer|ruhiger|breiter"
    r"|plus lent|slower)\b"
)
_FASTER = re.compile(r"\b(piu (?:mosso|animato|allegro|presto|vivo)|schneller|bewegter|lebhafter|plus (?:vite|anime)|faster)\b")
_PRIMO = re.compile(
    r"\b(tempo (?:i|1|primo|initial)\b|tempo i°|1o tempo|primo tempo|erstes zeitmass|hauptzeitmass|1er mouvement|mouvt?\.? du debut)"
)
_SAME = re.compile(r"\b(?:l ?'?ist?esso|lo stesso|listesso) tempo\b")
_BACK = re.compile(r"\b(a tempo|in tempo|im (?:tempo|zeitmass)|au mouv(?:emen)?t)\b")
_TWICE = re.compile(r"\b(doppio movimento|double time)\b")
_HALF = re.compile(r"\b(doppio piu lento|half time)\b")
_SWING = re.compile(r"^\W*swing\b")
_STRAIGHT = re.compile(r"^\W*straight\b")
_POCO = re.compile(r"\b(poco|pochiss\w*|etwas|un peu|a little)\b(?! a poco)")
_MOLTO = re.compile(r"\b(molto|assai|sehr|tres|beaucoup|much)\b")
_USUAL = re.compile(
    r"^\W*(?:molto |assez |etwas |un poco |poco |alla |tempo di )?(" + "|".join(sorted(USUAL, key=len, reverse=True)) + r")\b"
)
# In the order in which they are looked for; the first that fits counts.
_KINDS = (
    ("primo", _PRIMO), ("same", _SAME), ("back", _BACK), ("twice", _TWICE), ("half", _HALF), ("slower", _SLOWER), ("faster", _FASTER),
    ("slowing", _SLOWING), ("quickening", _QUICKENING), ("swing", _SWING), ("straight", _STRAIGHT),
)  # fmt: skip
_GRADES = {"slowing": SLOWING, "quickening": QUICKENING, "slower": SLOWER, "faster": FASTER}


class Pace(NamedTuple):
    """One thing that words say about tempo.

    kind   "slowing", "quickening" (little by little to `value` thousandths of the tempo), "slower", "faster" (at
           once), "primo", "back" (a tempo), "same", "twice", "half", "swing", "straight", or "usual": `value` beats
           a minute
    """

    kind: str
    value: int = 0


@lru_cache(maxsize=2048)
def read_pace(text: str) -> tuple[Pace, ...]:
    """Return what words say about tempo, in their order; () for words about anything else."""
    plain = unicodedata.normalize("NFD", text.lower().replace("’", "'").replace("ß", "ss"))
    plain = " ".join("".join(c for c in plain if not unicodedata.combining(c)).split())
    found: list[tuple[int, Pace]] = []
    for kind, pattern in _KINDS:
        match = pattern.search(plain)
        if match is not None and not any(match.start() == at for at, _ in found):
            found.append((match.start(), Pace(kind, _degree(kind, plain, match.start()))))
    usual = _USUAL.search(plain)
    if usual is not None and not any(pace.kind in {"slower", "faster", "primo"} for _, pace in found):
        found.append((usual.start(), Pace("usual", USUAL[usual.group(1)])))
    return tuple(pace for _, pace in sorted(found))


def _degree(kind: str, plain: str, at: int) -> int:
    """Return the thousandths of a change, by the words of degree that stand around it."""
    grades = _GRADES.get(kind)
    if grades is None:
        return 0
    near = plain[max(at - 12, 0) :]
    return grades[1] if _POCO.search(near) else grades[2] if _MOLTO.search(near) else grades[0]
