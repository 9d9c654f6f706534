"""The table of marks: its masks, ranks and cancelling, and that it would notice its own faults."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rendering import marks as marks_package
from rendering.marks import (
    AXES,
    AXIS_MASK,
    BIT,
    CANCELS,
    EITHER,
    ELEMENT_MARKS,
    MARKS,
    PASSAGE,
    WEIGHT,
    checks,
    element_ends,
    element_mark,
    expand,
    glyph_mask,
    mask,
    names,
    nearest,
    tables,
    wordings,
)
from rendering.marks.cancelling import RULES
from rendering.marks.published import marks_table

FIRST_STANDARD = "standards.tsv, MusicXML 4.0 articulations other-articulation"
SOME_MARKS = st.integers(0, (1 << len(MARKS)) - 1)


def test_the_shipped_tables_hold() -> None:
    assert checks.faults() == []


def test_a_bit_is_the_place_of_its_mark() -> None:
    assert [BIT[mark.name] for mark in MARKS] == list(range(len(MARKS)))
    assert len(WEIGHT) == len(AXIS_MASK) == len(CANCELS) == len(MARKS)


def test_marks_stand_in_the_order_of_their_axes() -> None:
    # the first twenty axes in the order of rank that the project fixes for what a player is asked
    assert AXES[:6] == ("technique", "connection", "length", "attack", "repetition", "place")
    assert AXES[6:12] == ("colour", "mute", "vibrato", "pitch source", "string", "bow")
    assert AXES[12:20] == ("beater", "ring", "voice", "syllable", "players", "distance", "device", "registration")
    ranks = [AXES.index(mark.axis) for mark in MARKS]
    assert ranks == sorted(ranks)
    assert set(ranks) == set(range(len(AXES)))


@given(SOME_MARKS)
def test_names_and_mask_are_inverse(marks: int) -> None:
    assert mask(*names(marks)) == marks


def test_an_unknown_name_is_a_key_error_and_has_three_nearest() -> None:
    with pytest.raises(KeyError):
        mask("pizicato")
    assert nearest("pizicato")[0] == "pizzicato"
    assert nearest("Con Sordini")[0] == "con sordino"
    assert [len(nearest(name)) for name in ("", "tril", "%%", "x" * 500)] == [3, 3, 3, 3]


@given(SOME_MARKS, SOME_MARKS)
def test_sums_of_weights_compare_losses_by_rank(one: int, other: int) -> None:
    """The first axis in which the two sets hold a different number of marks decides."""

    def counts(marks: int) -> list[int]:
        found = [0] * len(AXES)
        for name in names(marks):
            found[AXES.index(MARKS[BIT[name]].axis)] += 1
        return found

    def loss(marks: int) -> int:
        return sum(WEIGHT[BIT[name]] for name in names(marks))

    assert (loss(one) < loss(other)) == (counts(one) < counts(other))


def test_any_mark_outweighs_all_lower_axes_together() -> None:
    for mark, weight in zip(MARKS, WEIGHT, strict=True):
        lower = sum(w for m, w in zip(MARKS, WEIGHT, strict=True) if AXES.index(m.axis) > AXES.index(mark.axis))
        assert weight > lower


def test_no_mark_cancels_itself_and_one_question_has_one_answer() -> None:
    for bit, mark in enumerate(MARKS):
        assert not CANCELS[bit] >> bit & 1
        rivals = {m.name for m in MARKS if (m.axis, m.question) == (mark.axis, mark.question)} - {mark.name}
        assert rivals <= set(names(CANCELS[bit]))


def test_axis_masks_part_the_table() -> None:
    assert sum({m.axis: AXIS_MASK[BIT[m.name]] for m in MARKS}.values()) == (1 << len(MARKS)) - 1
    assert set(names(AXIS_MASK[BIT["sul tasto"]])) == {m.name for m in MARKS if m.axis == "place"}


@pytest.mark.parametrize(
    ("begins", "ended", "kept"),
    [  # common practice, no source, where no other is named
        ("pizzicato", "col legno battuto", "sul tasto"),
        ("pizzicato", "spiccato", "con sordino"),
        ("pizzicato", "tremolo", "sul ponticello"),
        ("sul tasto", "sul ponticello", "flautando"),
        ("cup mute", "con sordino", "bells up"),
        ("staccato", "legato", "spiccato"),
        ("up bow", "down bow", "at the frog"),
        ("tutti", "solo", "unisono"),
        ("1.", "a 2", "solo"),
        ("motor on", "motor off", "una corda"),
        ("divisi", "unisono", "tutti"),
    ],
)
def test_what_a_mark_ends_when_it_begins(begins: str, ended: str, kept: str) -> None:
    assert ended in names(CANCELS[BIT[begins]])
    assert kept not in names(CANCELS[BIT[begins]])


def test_stops_of_an_organ_add_up() -> None:
    for name in names(AXIS_MASK[BIT["8'"]]):
        assert CANCELS[BIT[name]] == 0


def test_passage_marks_are_those_that_hold_until_cancelled() -> None:
    assert {"pizzicato", "con sordino", "sul tasto", "legato", "solo", "una corda"} <= set(names(PASSAGE))
    assert not {"staccato", "accent", "trill half", "snap pizzicato", "up bow", "turn"} & set(names(PASSAGE))


def test_collective_names_stand_for_several_marks() -> None:
    assert expand("trill") == ("trill half", "trill whole")
    assert expand("harmonic") == ("natural harmonic", "artificial harmonic")
    assert expand("staccato") == ("staccato",)
    assert not set(EITHER) & set(BIT)
    with pytest.raises(KeyError):
        expand("trills")


@pytest.mark.parametrize(
    ("group", "value", "family", "mark"),
    [
        ("articulations", "spiccato", "strings", "stroke"),  # MusicXML 4.0: the stroke sign, not the bowing
        ("articulations", "detached-legato", "", "portato"),  # MusicXML 4.0: tenuto line and dot
        ("articulations", "staccatissimo", "", "staccatissimo"),  # MusicXML 4.0: the wedge
        ("technical", "stopped", "brass", "stopped"),  # MusicXML 4.0: default glyph brassMuteClosed
        ("technical", "stopped", "strings", "left-hand pizzicato"),  # MEI 5: lhpizz is written "+"
        ("technical", "stopped", "timpani", "muffled"),  # common practice, no source
        ("technical", "stopped", "cymbals", "closed"),  # common practice, no source
        ("technical", "open", "brass", ""),  # the ordinary state
        ("technical", "open", "strings", "natural harmonic"),  # common practice, no source
        ("technical", "open", "cymbals", "open"),  # common practice, no source
        ("ornaments", "trill-mark", "strings", "trill whole"),  # MusicXML 4.0: trill-step is whole unless said
        ("ornaments", "trill-mark", "timpani", "roll"),  # common practice, no source
        ("tremolo", "unmeasured", "percussion", "roll"),  # MusicXML 4.0: its default glyph is a buzz roll
        ("tremolo", "single", "strings", "tremolo"),
        ("tremolo", "start", "strings", "fingered tremolo"),
        ("mute", "harmon-no-stem", "brass", "harmon mute no stem"),
        ("mute", "on", "keyboard", "una corda"),  # common practice, no source: old piano music
        ("technical", "fingering", "strings", ""),
        ("technical", "nothing", "", ""),
    ],
)
def test_an_element_means_what_its_family_means(group: str, value: str, family: str, mark: str) -> None:
    assert element_mark(group, value, family) == mark


def test_elements_that_end_marks() -> None:
    assert "con sordino" in names(element_ends("string-mute", "off", "strings"))
    assert {"stopped", "con sordino"} <= set(names(element_ends("technical", "open", "brass")))
    assert element_ends("technical", "open", "strings") == 0
    assert element_ends("mute", "off", "timpani") == mask("muffled")
    assert element_ends("articulations", "staccato") == 0


def test_glyphs_may_ask_for_two_marks() -> None:
    assert names(glyph_mask("articAccentStaccatoAbove")) == ["staccato", "accent"]
    assert names(glyph_mask("articTenutoStaccatoBelow")) == ["portato"]
    assert glyph_mask("noteheadBlack") == glyph_mask("no such glyph") == 0


@pytest.mark.parametrize(
    ("rule", "ends", "keeps"),
    [  # common practice, no source
        ("arco", ["pizzicato", "col legno battuto", "snap pizzicato"], ["sul ponticello", "con sordino", "flautando"]),
        ("ordinary", ["sul ponticello", "sul tasto", "flautando", "col legno tratto"], ["con sordino", "pizzicato", "divisi", "legato"]),
        ("senza sordino", ["con sordino", "cup mute"], ["stopped", "sul tasto", "pizzicato"]),
        ("open", ["stopped", "half-stopped", "straight mute"], ["cuivré", "flutter-tongue", "a 2"]),
        ("tre corde", ["una corda"], ["pedal"]),
    ],
)
def test_the_cancel_table(rule: str, ends: list[str], keeps: list[str]) -> None:
    ended = names(RULES[rule].removes)
    assert set(ends) <= set(ended)
    assert not set(keeps) & set(ended)


def test_the_published_table_is_json_and_complete() -> None:
    table = json.loads(json.dumps(marks_table()))
    assert [row["name"] for row in table] == [mark.name for mark in MARKS]
    row = next(row for row in table if row["name"] == "con sordino")
    assert (row["axis"], row["reach"], row["rank"]) == ("mute", "passage", 8)
    assert row["m2_123_mute"] == "0x0C000000"
    assert {"it", "de", "fr", "en"} <= {words["language"] for words in row["wordings"]}
    assert {words["status"] for words in row["wordings"]} == {"checked", "memory"}
    trill = next(row for row in table if row["name"] == "trill half")
    assert trill["either"] == "trill"
    assert trill["m2_123"] == [{"attribute_type": "0x13", "subclass": "0x0", "known": "second hand"}]
    assert all(row["source"] for row in table)


def changed(monkeypatch: pytest.MonkeyPatch, table: str, change: Callable[[list[dict[str, str]]], None]) -> list[str]:
    """Return the faults that the checks find when one shipped table is changed."""

    def altered(name: str) -> list[dict[str, str]]:
        found = tables.rows(name)
        if name == table:
            change(found)
        return found

    monkeypatch.setattr("rendering.marks.checks.rows", altered)
    monkeypatch.setattr("rendering.marks.wordings.rows", altered)
    for kept in (wordings._rows, wordings.listed_for):
        kept.cache_clear()
    try:
        return checks.faults()
    finally:
        for kept in (wordings._rows, wordings.listed_for):
            kept.cache_clear()


@pytest.mark.parametrize(
    ("table", "column", "value", "fault"),
    [
        ("words.tsv", "means", "no such mark", "words.tsv, line 2: no rule 'no such mark'"),
        ("words.tsv", "status", "guessed", "words.tsv, line 2: no status 'guessed'"),
        ("words.tsv", "language", "la", "words.tsv, line 2: no language 'la'"),
        ("words.tsv", "families", "lutes", "words.tsv, line 2: no family 'lutes'"),
        ("words.tsv", "source", "", "words.tsv, line 2: no source or no wording"),
        ("words.tsv", "kind", "joke", "words.tsv, line 2: no kind 'joke'"),
        ("words.tsv", "wordings", "pizz.", "words.tsv: 'pizz' means two things to strings"),
        (
            "standards.tsv",
            "why_none",
            "",
            "standards.tsv, MusicXML 4.0 articulations other-articulation: marks or a reason, not both and not neither",
        ),
        ("standards.tsv", "source", "", "standards.tsv, MusicXML 4.0 articulations other-articulation: no source"),
        ("m2_123.tsv", "marks", "legatoo", "m2_123.tsv, 0x10 0x0: no mark or axis 'legatoo'"),
        ("families.tsv", "family", "lutes", "families.tsv, lutes by sound: no such family or way, or no source"),
    ],
)
def test_a_fault_in_a_table_is_seen(monkeypatch: pytest.MonkeyPatch, table: str, column: str, value: str, fault: str) -> None:
    found = changed(monkeypatch, table, lambda rows: rows[0].update({column: value}))
    assert fault in found


def test_a_mark_that_nothing_asks_for_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    def forget(found: list[dict[str, str]]) -> None:
        found[:] = [row for row in found if row["means"] != "flautando"]

    assert changed(monkeypatch, "words.tsv", forget) == ["marks.tsv, flautando: no sign and no wording leads to it"]


def test_every_element_mark_is_in_the_table() -> None:
    assert set(ELEMENT_MARKS.values()) <= set(BIT)


def test_what_the_package_offers() -> None:
    assert set(marks_package.__all__) == {
        "AXES", "AXIS_MASK", "BIT", "CANCELS", "EITHER", "ELEMENT_MARKS", "GLYPH_MARKS", "MARKS", "PASSAGE", "WEIGHT", "Mark",
        "belongs", "element_ends", "element_mark", "expand", "family_of", "glyph_mask", "kin", "mask", "names", "nearest",
    }  # fmt: skip
    assert all(getattr(marks_package, name) is not None for name in marks_package.__all__)
