"""One playing of a route, measure by measure."""

from __future__ import annotations

from rendering.problems import Refused, problem
from rendering.unfold.route import Ending, Route


class Walk:
    """One playing of the route, measure by measure.

    frames   (first measure, playing, whether a forward repeat opens it) of the sections that the walk is
             inside, innermost last; the first one opens by itself
    jumped   a da capo or dal segno has been taken, after this measure: from then on repeats are not taken,
             codas and fine are, until the next movement; -1 = none
    """

    def __init__(self, route: Route, count: int, most: int) -> None:
        self.route: Route = route
        self.ends: dict[int, Ending] = {e.last: e for e in route.endings.values()}
        self.inside: dict[int, Ending] = {m: e for e in route.endings.values() for m in range(e.first, e.last + 1)}
        self.count: int = count
        self.most: int = most
        self.frames: list[list[int]] = [[0, 1, 0]]
        self.jumped: int = -1
        self.taken: set[tuple[int, str]] = set()
        self.played: dict[int, int] = {}
        self.slices: list[tuple[int, int, int]] = []
        self.length: int = 0

    def run(self) -> bool:
        """Fill `slices`: (first ordinal, last ordinal, pass) in played order; say whether every measure is played."""
        at = 0
        while 0 <= at < self.count:
            at = self.step(at)
        return len(self.played) == self.count

    def step(self, at: int) -> int:
        """Play the measure `at`, or skip the ending that begins there; return where to go on; -1 = the end."""
        route = self.route
        if at in route.fresh and at != self.frames[-1][0]:
            self.frames = [[at, 1, 0]]
        if at in route.fresh and at > self.jumped:
            self.jumped = -1
        ending = route.endings.get(at)
        if ending is not None and at != self.frames[-1][0]:
            wanted = self.wanted(ending)
            if ending.final and (not wanted or at in route.forward):
                self.leave(ending.last if not wanted else at - 1)
            if not wanted:
                return ending.last + 1
        if at in route.forward and self.frames[-1][::2] != [at, 1]:
            self.frames.append([at, 1, 1])
        self.play(at)
        inside = self.ends.get(at)
        if at in route.backward and self.again(at):
            self.frames[-1][1] += 1
            return self.frames[-1][0]
        if inside.final and inside.first != self.frames[-1][0] if inside is not None else at in route.backward:
            self.leave(at)
        return self.leap(at)

    def wanted(self, ending: Ending) -> bool:
        if self.jumped >= 0:
            return ending.final
        return not ending.passes or self.frames[-1][1] in ending.passes

    def again(self, at: int) -> bool:
        """Say whether the repeat after measure `at` is taken now."""
        times, after_jump = self.route.backward[at]
        if self.jumped >= 0 and not after_jump:
            return False
        ending = self.inside.get(at)
        total = max(ending.total, times) if ending is not None else times or 2
        return self.frames[-1][1] < total

    def leave(self, at: int) -> None:
        """The section is over; one without a forward repeat begins where the last one ended."""
        if self.frames[-1][2]:
            self.frames.pop()
        if not self.frames[-1][2]:
            self.frames[-1] = [at + 1, 1, 0]

    def leap(self, at: int) -> int:
        """Return where to go after measure `at` has been played for good."""
        for kind, target in self.route.leaps.get(at, ()):
            if (kind in {"fine", "tocoda"} and self.jumped < 0) or (at, kind) in self.taken:
                continue
            if kind == "fine":
                return self.after_fine()
            self.taken.add((at, kind))
            self.frames = [[target, 1, 0]]
            self.jumped = at if kind != "tocoda" else self.jumped
            return target
        return at + 1

    def after_fine(self) -> int:
        """Return where it goes on after the fine: behind the jump, with a coda or the next movement, if anything is there."""
        at = self.jumped + 1
        self.jumped = -1
        self.frames = [[at, 1, 0]]
        return at

    def play(self, at: int) -> None:
        self.length += 1
        if self.length > self.most:
            raise Refused([problem("too-many-measures-played", most=self.most)])
        number = self.played.get(at, 0) + 1
        self.played[at] = number
        if self.jumped < 0:
            number = self.frames[-1][1]
        if self.slices and self.slices[-1][1] == at and self.slices[-1][2] == number:
            self.slices[-1] = (self.slices[-1][0], at + 1, number)
        else:
            self.slices.append((at + 1, at + 1, number))
