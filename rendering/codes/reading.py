"""Problem codes of the readers, annotate and unfold."""

from __future__ import annotations

from rendering.problems import Code

READING: dict[str, Code] = {}
