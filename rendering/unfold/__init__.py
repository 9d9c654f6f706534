"""The order in which measures are played: repeats, endings, da capo, dal segno, coda, fine.

What one part says holds for all. Odd navigation never fails a file: what makes no sense is played
straight, with a problem.
"""

from __future__ import annotations

from dataclasses import replace

from rendering.problems import Problem, problem
from rendering.readers.asread import ScoreAsRead
from rendering.readers.limits import Limits
from rendering.score import Score
from rendering.unfold.leaps import read_leaps
from rendering.unfold.route import Route, read_route
from rendering.unfold.walk import Walk

__all__ = ["unfold"]


def unfold(score: Score, as_read: ScoreAsRead, limits: Limits | None = None) -> list[Problem]:
    """Fill the itinerary of `score` and return problems; Refused when more measures would be played than allowed."""
    most = (limits or Limits()).played
    count = len(score.measures)
    route = read_route(as_read.bars, count)
    problems = read_leaps(as_read, score, route)
    walk = Walk(route, count, most)
    if not walk.run():
        problems.append(problem("endings-make-no-sense"))
        walk = Walk(replace(route, endings={}), count, most)
        if not walk.run():
            problems.append(problem("repeats-make-no-sense"))
            walk = Walk(Route(), count, most)
            walk.run()
    score.itinerary = walk.slices
    return problems
