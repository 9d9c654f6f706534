"""Problem codes of perform, assign, resolve, schedule and the playback proof."""

from __future__ import annotations

from rendering.problems import Code

CHOOSING: dict[str, Code] = {}
