"""Pencil marks: a team's marks laid over a score without touching its file."""

from __future__ import annotations

from rendering.pencil.applying import apply
from rendering.pencil.document import PencilMarks, check_pencil
from rendering.pencil.reanchoring import reanchor

__all__ = ["PencilMarks", "apply", "check_pencil", "reanchor"]
