"""The tables that ship beside this package, read from tab-separated files."""

from __future__ import annotations

from importlib.resources import files


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of the file `name` in order, as column -> text; "" is an empty cell."""
    lines = files("rendering.maps").joinpath(name).read_text(encoding="utf-8").splitlines()
    heads = lines[0].split("\t")
    return [dict(zip(heads, line.split("\t"), strict=True)) for line in lines[1:]]
