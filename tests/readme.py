"""Reads README.md: its commands in order, each with the answer printed under it."""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parent.parent
BLOCK = re.compile(r"^```(sh|text)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


class Example(NamedTuple):
    """A shell block, the heading over it, and the text block that follows it ("" = none)."""

    heading: str
    command: str
    answer: str


def examples() -> list[Example]:
    """Return every shell block of README.md in order."""
    text = (ROOT / "README.md").read_text("utf-8")
    blocks = list(BLOCK.finditer(text))
    found = []
    for block, after in zip(blocks, [*blocks[1:], None], strict=True):
        if block[1] == "sh":
            heading = re.findall(r"^## (.*)$", text[: block.start()], re.MULTILINE)[-1]
            found.append(Example(heading, block[2], after[2] if after and after[1] == "text" else ""))
    return found


def under(heading: str) -> list[Example]:
    """Return the examples under one heading."""
    return [example for example in examples() if example.heading == heading]


def fits(answer: str, said: str) -> bool:
    """Tell whether output is as printed: "…" stands for anything in a line, a line of "…" for any lines."""
    pattern = ""
    for line in answer.splitlines():
        pattern += r"(?:.*\n)*?" if line.strip() == "…" else re.escape(line).replace("…", ".*") + r"\n"
    return re.fullmatch(pattern, said if said.endswith("\n") else said + "\n") is not None
