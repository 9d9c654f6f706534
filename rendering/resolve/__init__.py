"""Which articulations play a note: the combination that loses least."""

from __future__ import annotations

from rendering.resolve.choosing import Chooser
from rendering.resolve.decision import OUTCOMES, Decision, Outcome
from rendering.resolve.lines import Voice, resolve_lines

__all__ = ["OUTCOMES", "Chooser", "Decision", "Outcome", "Voice", "resolve_lines"]
