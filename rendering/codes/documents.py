"""Problem codes of the document checks (maps, templates)."""

from __future__ import annotations

from rendering.problems import Code

DOCUMENTS: dict[str, Code] = {}
