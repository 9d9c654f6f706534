"""How much a reader takes in before it refuses; every bound is a count known before the work."""

from __future__ import annotations

import sys
from dataclasses import dataclass

MEBIBYTE = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Upper bounds, each still allowed; the defaults are a service's.

    raw_bytes       size of the file as sent
    unpacked_bytes  size of the score inside a container
    ratio           unpacked to packed size of a container's entry
    entries         files in a container
    parts, notes    of the score as written; `<note>` elements, rests included; signs of a part count like notes
    voices          of one part, on all its staves
    played          measures played, repeats written out
    deep            allow XML nested deeper than 256 elements and texts over 10 MB (the parser's own guard)
    """

    raw_bytes: int = 32 * MEBIBYTE
    unpacked_bytes: int = 128 * MEBIBYTE
    ratio: int = 200
    entries: int = 200
    parts: int = 200
    voices: int = 200
    notes: int = 300_000
    played: int = 20_000
    deep: bool = False

    @classmethod
    def command_line(cls) -> Limits:
        """Return ten times a service's limits."""
        plain = cls()
        return cls(
            raw_bytes=10 * plain.raw_bytes,
            unpacked_bytes=10 * plain.unpacked_bytes,
            ratio=10 * plain.ratio,
            entries=10 * plain.entries,
            parts=10 * plain.parts,
            voices=10 * plain.voices,
            notes=10 * plain.notes,
            played=10 * plain.played,
        )

    @classmethod
    def none(cls) -> Limits:
        """Return limits that nothing reaches."""
        most = sys.maxsize
        return cls(
            raw_bytes=most, unpacked_bytes=most, ratio=most, entries=most, parts=most, voices=most, notes=most, played=most, deep=True
        )
