"""The words of real scores: Beethoven's string quartets as they stand in music21's corpus.

Source: the MusicXML files of the installed music21 package. Counts are taken from the XML by a plain search of
its `<words>`; what stays unread is pinned, so that a wording lost from the table shows.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import music21
from lxml import etree

from rendering.marks import BIT, names
from rendering.marks.lexicon import Action, read_words

QUARTETS = ("opus18no1", "opus18no3", "opus18no4", "opus18no5", "opus59no1", "opus59no2", "opus59no3", "opus74", "opus132", "opus133")
# Titles and remarks to the players, a word broken over several signs (smor-zan-do), letters, slips of the copy.
UNREAD = {
    "Heiliger Dankgesang eines Genesenen an die Gottheit", "in der lydischen Tonart.", "Neue Kraft fuhlend", "russe.", "Men.",
    "Si tratta questo pezzo eon molto di sentimento", "si prende", "allora ancora una volta", "dopo di nuovo", "ilo", "il", "dei",
    "sul una corda.", "smor", "zan", "do", "zan do", "H", "P", "dd", "oiu", "ps",
}  # fmt: skip


def scores() -> Iterator[bytes]:
    folder = Path(music21.__file__).parent / "corpus" / "beethoven"
    for path in sorted(folder.rglob("*.mxl")):
        if path.relative_to(folder).parts[0].removesuffix(".mxl").startswith(QUARTETS):
            with zipfile.ZipFile(io.BytesIO(path.read_bytes())) as archive:
                yield archive.read(next(name for name in archive.namelist() if name.endswith("xml") and "META-INF" not in name))


@cache
def words() -> tuple[str, ...]:
    parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False)
    texts = [element.text or "" for score in scores() for element in etree.fromstring(score, parser).iter("words")]
    return tuple(text.strip() for text in texts if text.strip())


def actions() -> list[Action]:
    return [action for text in words() for action in read_words(text, "strings")[0]]


def found(pattern: str) -> int:
    """Return how many of the texts hold a word, by a plain search."""
    return sum(bool(re.search(pattern, text, re.IGNORECASE)) for text in words())


def test_what_is_not_read_is_no_mark() -> None:
    left = {" ".join(part.replace("-", " ").split()) for text in words() for part in read_words(text, "strings")[1]}
    assert len(words()) > 3000
    assert left == UNREAD


def test_every_pizzicato_and_arco_is_read() -> None:
    pizzicato = 1 << BIT["pizzicato"]
    begun = sum(bool(action.adds & pizzicato) for action in actions())
    ended = sum(bool(action.removes & pizzicato and not action.adds) for action in actions())
    assert (begun, ended) == (found(r"\bpizz"), found(r"\barco\b(?<!d.arco)"))
    assert begun > 50


def test_every_staccato_and_tenuto_is_read() -> None:
    read = Counter(name for action in actions() for name in names(action.adds | action.here))
    assert read["staccato"] == found(r"\bstacc")
    assert read["tenuto"] == found(r"\bten(uto)?\b")
    assert read["non legato"] == found(r"\bnon legato")
    assert read["legato"] == found(r"\blegat") - found(r"\bnon legato")
    assert read["sul G"] == found(r"\bsul G\b")


def test_nothing_else_is_read_as_a_mark() -> None:
    read = {name for action in actions() for name in names(action.adds | action.here)}
    assert read == {"pizzicato", "staccato", "tenuto", "non legato", "legato", "at the point", "sul G"}
