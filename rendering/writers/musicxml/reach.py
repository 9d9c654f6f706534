"""Which lines of a part a direction reaches, by the staff and voice that it names."""

from __future__ import annotations

from bisect import bisect_left, bisect_right

from rendering.score import Measure, Part

Scope = tuple[int, str]  # staff and voice as they are written; 0, "" = none named
EVERYWHERE: Scope = (0, "")


class Reach:
    """Answers for one part as its reader would: a voice that is alone on its staff in a measure speaks for the staff."""

    def __init__(self, part: Part, measures: list[Measure]) -> None:
        self.part: Part = part
        self.starts: list[int] = [m.start for m in measures]
        self.end: int = measures[-1].start + measures[-1].length if measures else 0
        self.staves: int = len({line.staff for line in part.lines})
        self.company: dict[tuple[int, int], set[str]] = {}
        for line in part.lines:
            for measure in self._measures_of(line.offset, line.duration):
                self.company.setdefault((measure, line.staff), set()).add(line.voice)

    def _measures_of(self, offsets: list[int], durations: list[int]) -> set[int]:
        """Return the measures (index) in which notes of a line are written; those held over a bar line count in both."""
        found: set[int] = set()
        for offset, duration in zip(offsets, durations, strict=True):
            first = self.measure_at(offset)
            last = max(bisect_left(self.starts, offset + duration) - 1, first)
            found.update(range(first, last + 1))
        return found

    def measure_at(self, unit: int) -> int:
        """Return the index of the measure that holds a Unit."""
        return max(bisect_right(self.starts, unit) - 1, 0)

    def lines(self, scope: Scope, unit: int) -> list[int]:
        """Return the lines that a direction at `unit` reaches, as indexes."""
        staff, voice = scope
        if voice and len(self.company.get((self.measure_at(unit), staff or 1), ())) < 2:
            voice = ""
        if self.staves < 2:
            staff = 0
        return [i for i, line in enumerate(self.part.lines) if staff in {0, line.staff} and voice in {"", line.voice}]

    def scopes(self, lines: list[int], unit: int) -> list[Scope]:
        """Return the scopes that reach all of `lines`, the widest first; lines of several staves have one."""
        first = self.part.lines[lines[0]]
        narrower = [(first.staff, "")] if self.staves > 1 else []
        found = [EVERYWHERE, *narrower, (first.staff, first.voice)]
        return [scope for scope in found if set(lines) <= set(self.lines(scope, unit))]
