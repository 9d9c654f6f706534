"""Stand-ins: which mark may be played for another that a map does not have.

A map's own rules come first, then the team's, then the shared table of this package.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from importlib.resources import files

from rendering.marks import BIT

Rules = Sequence[tuple[int, tuple[int, ...]]]  # (bit of the mark asked, bits of the marks that may stand in, in order)


def bits(marks: int) -> Iterator[int]:
    """Yield the bit indexes of a mask, ascending."""
    while marks:
        low = marks & -marks
        yield low.bit_length() - 1
        marks ^= low


class StandIns:
    """The rules that hold for one sampler.

    A rule of the map or the team is the keeper's word and outranks shaping; one of the shared table does not.
    """

    def __init__(self, own: Rules, team: Rules = ()) -> None:
        """Take the map's own rules and the team's; the shared ones are added."""
        self.explicit: dict[int, tuple[int, ...]] = {}
        self.all: dict[int, tuple[int, ...]] = {}
        for rules, named in ((own, True), (team, True), (shared_rules(), False)):
            for mark, uses in rules:
                known = self.all.get(mark, ())
                self.all[mark] = known + tuple(u for u in uses if u not in known)
                if named:
                    self.explicit[mark] = self.all[mark]

    def uses(self, marks: int) -> int:
        """Return the marks that may be played for any of `marks`."""
        return _mask(use for bit in bits(marks) for use in self.all.get(bit, ()))

    def ruled(self, marks: int, playable: int) -> int:
        """Return those of `marks` for which an explicit rule names a mark of `playable`."""
        return _mask(bit for bit in bits(marks) if any(playable >> use & 1 for use in self.explicit.get(bit, ())))

    def played(self, marks: int, played: int) -> tuple[int, int]:
        """Return those of `marks` for which something in `played` stands in, and how late in the rules."""
        stood, rank = 0, 0
        for bit in bits(marks):
            found = next((n for n, use in enumerate(self.all.get(bit, ())) if played >> use & 1), -1)
            if found >= 0:
                stood |= 1 << bit
                rank += found
        return stood, rank


def _mask(indexes: Iterable[int]) -> int:
    out = 0
    for i in indexes:
        out |= 1 << i
    return out


@cache
def shared_rules() -> tuple[tuple[int, tuple[int, ...]], ...]:
    """Return the shared rules of stand_ins.tsv: mark, marks that may stand in for it in order, source."""
    lines = files("rendering.resolve").joinpath("stand_ins.tsv").read_text(encoding="utf-8").splitlines()[1:]
    rows = [line.split("\t") for line in lines]
    return tuple((BIT[mark], tuple(BIT[use] for use in uses.split("|"))) for mark, uses, _ in rows)
