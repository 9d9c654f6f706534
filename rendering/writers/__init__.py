"""Writers: the neutral score as files that other programs read."""

from __future__ import annotations

from rendering.writers.musicxml import write_musicxml

__all__ = ["write_musicxml"]
