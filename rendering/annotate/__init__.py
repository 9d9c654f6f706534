"""Marks, passage states, dynamics and transposition, resolved in the order of the page."""

from __future__ import annotations

from rendering.annotate.annotate import annotate

__all__ = ["annotate"]
