"""The package's tables, read from tab-separated files.

The first line of a file names its columns; a cell that lists several things separates them as its
column says (", " for marks, " | " for wordings and elements, " " for glyphs).
"""

from __future__ import annotations

from importlib.resources import files


class TableError(Exception):
    """A shipped table contradicts itself; the text says which row and why."""


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of the package's file `name`, in order, as column -> text ("" = empty cell)."""
    lines = files("rendering.marks").joinpath(name).read_text(encoding="utf-8").splitlines()
    heads = lines[0].split("\t")
    found: list[dict[str, str]] = []
    for number, line in enumerate(lines[1:], start=2):
        cells = line.split("\t")
        if len(cells) != len(heads):
            raise TableError(f"{name}, line {number}: {len(cells)} cells, {len(heads)} expected")
        found.append(dict(zip(heads, cells, strict=True)))
    return found


def listed(cell: str, separator: str = ", ") -> list[str]:
    """Return the items of a cell without surrounding spaces; [] when it is empty."""
    return [item for part in cell.split(separator) if (item := part.strip())]
