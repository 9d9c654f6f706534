"""Pencil marks as a document: what a team writes into a score without touching its file."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Annotated, ClassVar, Literal

from pydantic import AfterValidator, Field, model_validator
from pydantic_core import PydanticCustomError

from rendering.documents import DocumentModel, Name, escaped, shown
from rendering.maps.document import Id, MarkName
from rendering.marks import EITHER
from rendering.problems import Place, Problem, problem

KINDS = ("add", "remove", "level", "hairpin", "tempo", "slur", "syllable")
SPANNING = frozenset({"hairpin", "slur"})  # kinds that need an end
AT_ONE_PLACE = frozenset({"level", "tempo", "syllable"})  # kinds that have none
MOST_DIGITS = 6


def _beat(text: str) -> str:
    number, slash, part = text.partition("/")
    digits = [number, part] if slash else [number]
    if not all(d.isascii() and d.isdecimal() and len(d) <= MOST_DIGITS and int(d) for d in digits) or Fraction(text) < 1:
        raise PydanticCustomError("beat_spelling", "beat")
    return str(Fraction(text))


Beat = Annotated[str, Field(max_length=2 * MOST_DIGITS + 1), AfterValidator(_beat)]
Marks = Annotated[tuple[MarkName, ...], Field(min_length=1, max_length=20)]
Ordinal = Annotated[int, Field(ge=1, le=1_000_000)]
Staff = Annotated[int, Field(ge=1, le=100)]
Number = Annotated[int, Field(ge=1, le=1000)]


class Until(DocumentModel):
    """The last place that a passage holds: measure by ordinal, beat from 1 in the meter's unit."""

    ordinal: Ordinal
    beat: Beat


class Anchor(DocumentModel):
    """Where an item is: part by id, measure by ordinal, beat as "n" or "n/d" from 1 in the meter's unit.

    staff, voice  absent = all
    chord         which note of the notes that begin there, from 1, lowest first; absent = all
    grace         which of the grace notes before that place, from 1; absent = no grace note
    """

    part: Name
    ordinal: Ordinal
    beat: Beat
    staff: Staff | None = None
    voice: Name | None = None
    chord: Number | None = None
    grace: Number | None = None


class Hairpin(DocumentModel):
    """A hairpin; `niente` = from or to silence."""

    direction: Literal["crescendo", "diminuendo"]
    niente: bool = False


class Item(DocumentModel):
    """One pencil mark: exactly one of add, remove, level, hairpin, tempo, slur and syllable.

    add, remove  marks of the notes at a place, or of all from there up to and with `until`
    level        thousandths from there on, or of the one note that `chord` or `grace` names
    hairpin, slur  from `at` to `until`; a slur of false takes the slurs between them away
    tempo        thousandths of a quarter a minute from there on, for all parts
    syllable     what the notes there sing; "" takes it away
    """

    id: Id
    at: Anchor
    until: Until | None = None
    add: Marks | None = None
    remove: Marks | None = None
    level: Annotated[int, Field(ge=0, le=1000)] | None = None
    hairpin: Hairpin | None = None
    tempo: Annotated[int, Field(ge=3_577, le=60_000_000)] | None = None
    slur: bool | None = None
    syllable: Annotated[str, Field(max_length=100)] | None = None

    @property
    def kind(self) -> str:
        """Which of the kinds it is."""
        return next(kind for kind in KINDS if getattr(self, kind) is not None)

    @model_validator(mode="after")
    def _one(self) -> Item:
        kinds = [kind for kind in KINDS if getattr(self, kind) is not None]
        if len(kinds) != 1:
            raise PydanticCustomError("pencil_kind", "kind")
        if (kinds[0] in SPANNING and self.until is None) or (kinds[0] in AT_ONE_PLACE and self.until is not None):
            raise PydanticCustomError("pencil_until", "until")
        return self


class PencilMarks(DocumentModel):
    """Pencil marks on a version of a score (0 = unsaid), in the order in which they are applied."""

    most_values: ClassVar[int] = 1_000_000

    kind: Literal["pencil-marks"]
    edition: Literal[1]
    score_version: Annotated[int, Field(ge=0, le=1_000_000_000)] = 0
    items: Annotated[tuple[Item, ...], Field(max_length=100_000)] = ()


def check_pencil(pencil: PencilMarks) -> list[Problem]:
    """Return every problem of a document that can be seen without its score."""
    return [*_doubled(pencil), *_collective(pencil)]


def _doubled(pencil: PencilMarks) -> Iterator[Problem]:
    seen: set[str] = set()
    for i, item in enumerate(pencil.items):
        if item.id in seen:
            yield problem("pencil-doubled", Place(pointer=escaped(("items", i, "id"))), id=shown(item.id))
        seen.add(item.id)


def _collective(pencil: PencilMarks) -> Iterator[Problem]:
    """A score always says which trill it means."""
    for i, item in enumerate(pencil.items):
        for n, name in enumerate(item.add or ()):
            if name in EITHER:
                where = Place(pointer=escaped(("items", i, "add", n)))
                yield problem("score-mark", where, mark=name, marks=", ".join(EITHER[name]))
