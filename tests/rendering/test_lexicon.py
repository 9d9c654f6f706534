"""What directions mean: a table of real-looking ones, written by hand, and the rules of reading."""

from __future__ import annotations

from pathlib import Path

import pytest

from rendering.marks import mask, names
from rendering.marks.lexicon import apply, read_words
from rendering.marks.tables import listed

TABLE = Path(__file__).parent / "data" / "directions.tsv"
HEADS, *LINES = TABLE.read_text(encoding="utf-8").splitlines()
ROWS = [dict(zip(HEADS.split("\t"), line.split("\t"), strict=True)) for line in LINES]


def read(text: str, family: str, state: int = 0) -> tuple[list[str], list[str], list[str], list[str]]:
    """Return the state after the words, the marks of this place, what else they are about, and the unread."""
    actions, unread = read_words(text, family)
    here = 0
    for action in actions:
        state = apply(state, action)
        here |= action.here
    return names(state), names(here), [action.kind for action in actions if action.kind != "marks"], unread


@pytest.mark.parametrize("row", ROWS, ids=[f"{row['text']} - {row['family']}" for row in ROWS])
def test_a_direction_means_what_a_player_would_do(row: dict[str, str]) -> None:
    state, here, about, unread = read(row["text"], row["family"], mask(*listed(row["before"])))
    wanted = (names(mask(*listed(row["after"]))), names(mask(*listed(row["here"]))), listed(row["about"]), listed(row["unread"], "; "))
    assert (state, here, about, unread) == wanted


def test_the_table_is_large_enough_and_says_where_each_row_comes_from() -> None:
    assert len(ROWS) >= 200
    assert all(row["basis"] for row in ROWS)
    assert {"strings", "woodwind", "brass", "timpani", "cymbals", "mallets", "harp", "keyboard", "voice"} <= {row["family"] for row in ROWS}
