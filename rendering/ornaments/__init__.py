"""Written out: marks that no sample plays, as the notes that they stand for."""

from __future__ import annotations

from rendering.ornaments.context import Context
from rendering.ornaments.numbers import OURS, Numbers
from rendering.ornaments.writing import WRITABLE, write_out

__all__ = ["OURS", "WRITABLE", "Context", "Numbers", "write_out"]
