"""From bytes to a score as its file says it. Bytes only: no path, no address, nothing fetched."""

from __future__ import annotations

from rendering.problems import Problem, Refused, problem
from rendering.readers.asread import LineAsRead, PartAsRead, ScoreAsRead, Sign
from rendering.readers.container import kind_of, unpack
from rendering.readers.limits import Limits
from rendering.readers.musicxml import read_musicxml
from rendering.readers.xml import parse, partwise

__all__ = ["Limits", "LineAsRead", "PartAsRead", "ScoreAsRead", "Sign", "read"]


def read(data: bytes, limits: Limits | None = None) -> tuple[ScoreAsRead, list[Problem]]:
    """Return a score as read, and what was found wrong on the way; the content decides what the file is.

    Raises Refused, with the reasons, for what is no score or is over a limit (a service's without `limits`).
    """
    limits = limits or Limits()
    if len(data) > limits.raw_bytes:
        raise Refused([problem("file-too-large", count=len(data), most=limits.raw_bytes)])
    kind = kind_of(data)
    if kind == "midi":
        raise Refused([problem("midi-not-read")])
    if kind == "zip":
        data = unpack(data, limits)
        if not data.strip():
            raise Refused([problem("empty-file")])
    return read_musicxml(partwise(parse(data, limits)), limits)
