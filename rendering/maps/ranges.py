"""What public sources agree on about instruments: transposition, lowest note; a highest one that at least one gives.

For remarks only: libraries may reach further, and players do.
"""

from __future__ import annotations

from typing import NamedTuple

from rendering.maps.tables import rows


class Usual(NamedTuple):
    """One instrument; keys are sounding keys.

    transposition  semitones from written to sounding, on which three or more sources agree; None = unsaid
    lowest         lowest key, on which two or more sources agree; -1 = unsaid
    highest        the highest key that any source gives; -1 = unsaid
    """

    transposition: int | None
    transposition_sources: str
    lowest: int
    lowest_sources: str
    highest: int
    highest_sources: str


def _usual(row: dict[str, str]) -> Usual:
    return Usual(
        transposition=int(row["transposition"]) if row["transposition"] else None,
        transposition_sources=row["transposition_sources"],
        lowest=int(row["lowest"] or -1),
        lowest_sources=row["lowest_sources"],
        highest=int(row["highest"] or -1),
        highest_sources=row["highest_sources"],
    )


USUAL: dict[str, Usual] = {row["sound"]: _usual(row) for row in rows("ranges.tsv")}


def usual_range(sound: str) -> Usual | None:
    """Return what is known of a MusicXML standard sound; None if it is not in the table."""
    return USUAL.get(sound)
