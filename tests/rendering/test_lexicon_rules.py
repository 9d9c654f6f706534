"""The rules of reading words, each by itself."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rendering.marks import BIT, belongs, family_of, kin, mask, names
from rendering.marks.families import PARENT
from rendering.marks.lexicon import Action, apply, read_words
from rendering.marks.tables import listed, rows
from rendering.marks.tokens import tokens
from rendering.marks.wordings import dictionary, listed_for

FAMILIES = st.sampled_from(["", *PARENT])


def adds(text: str, family: str) -> list[list[str]]:
    return [names(action.adds | action.here) for action in read_words(text, family)[0]]


def unread(text: str, family: str = "strings") -> list[str]:
    return read_words(text, family)[1]


@pytest.mark.parametrize("text", ["pizz.", "pizz", "PIZZ.", "Pizz", " pizz. ", "(pizz.)", "[pizz.]", "pizz.:", "«pizz.»"])
def test_stops_capitals_and_brackets_make_no_difference(text: str) -> None:
    assert adds(text, "strings") == [["pizzicato"]]


@pytest.mark.parametrize("text", ["détaché", "detache", "DÉTACHÉ", "de\u0301tache\u0301"])
def test_accents_make_no_difference(text: str) -> None:
    assert adds(text, "strings") == [["détaché"]]


@pytest.mark.parametrize("text", ["s.p.", "S.P.", "s. p.", "sp"])
def test_initials_are_one_word_with_stops_or_without(text: str) -> None:
    assert adds(text, "strings") == [["sul ponticello"]]


def test_initials_end_before_a_little_word() -> None:
    assert [token.form for token in tokens("s.p. e dolce")] == ["sp", "e", "dolce"]
    assert adds("s.p. e con sord.", "strings") == [["sul ponticello"], ["con sordino"]]


def test_the_longest_wording_wins() -> None:
    assert adds("col legno", "strings") == [["col legno battuto"]]
    assert adds("col legno tratto", "strings") == [["col legno tratto"]]
    assert adds("pizz. alla Bartók", "strings") == [["snap pizzicato"]]
    assert adds("tr", "timpani") == [["roll"]]


def test_no_wording_reaches_over_a_comma() -> None:
    assert adds("col legno, tratto", "strings") == [["col legno battuto"], ["col legno tratto"]]
    assert adds("con, sord.", "strings") == [["con sordino"]]
    assert unread("con, sord.") == ["con"]


def test_an_everyday_word_counts_only_where_its_instruction_is_understood() -> None:
    assert adds("open", "brass") == [[]]  # ends the mute
    assert unread("open the window", "brass") == ["open the window"]
    assert adds("half", "strings") == [["half"]]
    assert unread("half a bar later") == ["half a bar later"]
    assert adds("1.", "woodwind") == [["1."]]
    assert unread("Violin 1.") == ["Violin 1."]


def test_words_that_are_left_keep_their_place_and_spelling() -> None:
    assert unread("Solo Vc. von fern, pizz. (Käse!)") == ["Vc. von fern", "Käse"]
    assert unread("") == unread("  ") == unread("…") == []
    assert read_words("…", "strings") == ([], [])


def test_a_text_may_say_several_things_in_order() -> None:
    actions, left = read_words("arco, con sord. e sul pont. (espr.)", "strings")
    assert [action.text for action in actions] == ["arco", "con sord.", "sul pont.", "espr."]
    assert [action.kind for action in actions] == ["marks", "marks", "marks", "expression"]
    assert left == []
    state = mask("pizzicato", "sul tasto")
    for action in actions:
        state = apply(state, action)
    assert names(state) == ["sul ponticello", "con sordino"]


def test_a_passage_word_ends_the_other_answers_to_its_question() -> None:
    (action,), _ = read_words("sul tasto", "strings")
    assert action.adds == mask("sul tasto")
    assert "sul ponticello" in names(action.removes)
    assert action.removes & action.adds == 0


def test_a_word_for_one_note_changes_no_passage() -> None:
    (action,), _ = read_words("+", "brass")
    assert (action.adds, action.removes, names(action.here)) == (0, 0, ["stopped"])
    assert apply(mask("con sordino"), action) == mask("con sordino")


def test_always_makes_a_passage_of_a_note_word() -> None:
    (note,), _ = read_words("l.v.", "harp")
    (passage,), _ = read_words("sempre l.v.", "harp")
    assert (note.adds, names(note.here)) == (0, ["laissez vibrer"])
    assert (names(passage.adds), passage.here) == (["laissez vibrer"], 0)


@pytest.mark.parametrize("text", ["non spicc.", "senza spiccato", "ohne Spiccato", "no spiccato"])
def test_a_denied_mark_ends(text: str) -> None:
    (action,), left = read_words(text, "strings")
    assert (action.adds, action.here, left) == (0, 0, [])
    assert apply(mask("spiccato", "con sordino"), action) == mask("con sordino")
    assert action.from_memory


def test_a_denied_unknown_word_is_not_read_as_its_rest() -> None:
    assert read_words("senza orologio", "strings") == ([], ["senza orologio"])
    assert read_words("non arco", "strings")[1] == ["non"]


@pytest.mark.parametrize(
    "text", ["poco a poco sul pont.", "ord. → sul pont.", "ord. -> sul pont.", "allmählich am Steg", "peu à peu au chevalet"]
)
def test_what_comes_little_by_little_says_so(text: str) -> None:
    actions, left = read_words(text, "strings")
    assert (names(actions[-1].adds), actions[-1].gradual, left) == (["sul ponticello"], True, [])


def test_ordinary_turns_a_snap_into_plain_pizzicato_and_keeps_the_mute() -> None:
    (action,), _ = read_words("ord.", "strings")
    assert apply(mask("snap pizzicato", "con sordino", "flautando"), action) == mask("pizzicato", "con sordino")
    assert apply(0, action) == 0


def test_wordings_from_memory_are_marked() -> None:
    assert not read_words("pizz.", "strings")[0][0].from_memory
    assert read_words("dietro il ponticello", "strings")[0][0].from_memory
    assert not read_words("+", "brass")[0][0].from_memory  # a sign of a standard
    assert not read_words("Allegro", "strings")[0][0].from_memory  # acts on no mark


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("Allegro ma non troppo", "tempo"), ("poco rit.", "tempo"), ("Sehr langsam", "tempo"), ("Très vif", "tempo"),
        ("♩ = 96", "tempo"), ("cresc. molto", "dynamics"), ("sub. p", "dynamics"), ("D.S. al Coda", "navigation"),
        ("2nd time only", "navigation"), ("Var. 12", "navigation"), ("8va", "notation"), ("dolce", "expression"),
        ("molto", "expression"), ("poco a poco", "expression"), ("simile", "simile"), ("Seite 3", ""), ("il", ""),
    ],
)  # fmt: skip
def test_words_about_other_things_are_told_apart(text: str, kind: str) -> None:
    actions, left = read_words(text, "strings")
    if kind:
        assert [(a.adds, a.removes, a.here, a.kind) for a in actions] == [(0, 0, 0, kind)]
        assert left == []
    else:
        assert (actions, left) == ([], [text])


def test_a_figure_is_a_player_only_with_its_stop() -> None:
    assert adds("1.", "brass") == [["1."]]
    assert [action.kind for action in read_words("1", "brass")[0]] == ["notation"]
    assert adds("a 2", "brass") == adds("a2", "brass") == adds("a 2.", "brass") == [["a 2"]]


def test_a_capital_i_is_a_player_and_a_small_one_an_article() -> None:
    assert adds("I.", "woodwind") == [["1."]]
    assert unread("i", "woodwind") == ["i"]
    assert adds("o", "strings") == [["natural harmonic"]]
    assert unread("O", "strings") == ["O"]  # a rehearsal letter


def test_an_unknown_instrument_reads_what_all_families_agree_on() -> None:
    assert adds("pizz.", "") == [["pizzicato"]]
    assert adds("con sord.", "") == [["con sordino"]]
    assert unread("+", "") == ["+"]


def test_readings_do_not_share_their_lists() -> None:
    first = read_words("pizz. Käse", "strings")
    first[0].clear()
    first[1].clear()
    assert len(read_words("pizz. Käse", "strings")[0]) == 1
    assert read_words("pizz. Käse", "strings")[1] == ["Käse"]


def forms_of(text: str) -> set[str]:
    """Return a wording as written, in capitals, and without the stops of its longer words."""
    shown = text.replace("#", "12")
    words = shown.replace("'", " ").replace("’", " ").split()
    bare = shown.replace(".", "") if all(len(word.strip(".")) > 1 and not word[0].isdigit() for word in words) else shown
    return {shown, bare, shown.upper() if len(shown) > 2 else shown}


def test_every_wording_is_read_whole_by_each_of_its_families() -> None:
    failed = [
        (form, family)
        for row in rows("words.tsv")
        for text in listed(row["wordings"], "|")
        for family in listed(row["families"])
        for form in forms_of(text)
        if read_words(form, "" if family == "any" else family)[1]
    ]
    assert failed == []


def test_a_nearer_family_wins() -> None:
    assert kin("timpani") == ("timpani", "percussion")
    assert belongs("harp", "plucked")
    assert not belongs("plucked", "harp")
    assert kin("") == kin("kazoo") == ()
    timpani, percussion = dictionary(kin("timpani")), dictionary(kin("percussion"))
    assert timpani.words["+",].here == mask("muffled")
    assert ("+",) not in percussion.words


@given(st.text(max_size=60), FAMILIES)
def test_any_text_is_read_without_error_and_what_is_left_stands_in_it(text: str, family: str) -> None:
    actions, left = read_words(text, family)
    for action in actions:
        assert action.text in text
        assert action.adds & action.removes == 0
        assert action.kind == "marks" or not (action.adds | action.removes | action.here)
    assert all(part in text and part for part in left)


WORDINGS = sorted({text for row in rows("words.tsv") for text in listed(row["wordings"], "|") if "#" not in text})


@given(st.lists(st.sampled_from(WORDINGS), min_size=1, max_size=3), st.sampled_from([", ", "; ", " / "]), FAMILIES)
def test_instructions_parted_by_a_comma_read_as_they_do_alone(texts: list[str], between: str, family: str) -> None:
    joined = read_words(between.join(texts), family)
    alone = [read_words(text, family) for text in texts]
    assert [a._replace(text="") for a in joined[0]] == [a._replace(text="") for one in alone for a in one[0]]
    assert joined[1] == [part for one in alone for part in one[1]]


@given(st.integers(0, (1 << len(BIT)) - 1), st.sampled_from(WORDINGS), FAMILIES)
def test_saying_it_twice_changes_nothing_more(state: int, text: str, family: str) -> None:
    for action in read_words(text, family)[0]:
        once = apply(state, action)
        assert apply(once, action) == once
        assert once & action.adds == action.adds


def test_player_words_are_marks_of_the_axis_players() -> None:
    for text in ("a 2", "div.", "unis.", "solo", "tutti", "1.", "2.", "die Hälfte", "gli altri"):
        (action,), _ = read_words(text, "strings")
        assert names(action.adds)
        assert set(names(action.adds)) <= PLAYERS


PLAYERS = {"solo", "soli", "1.", "2.", "3.", "4.", "a 2", "a 3", "a 4", "half", "first desk", "gli altri", "divisi", "unisono", "tutti"}


@pytest.mark.parametrize(
    ("sound", "name", "family"),
    [
        ("strings.violin", "anything", "strings"), ("brass.french-horn", "", "brass"), ("wind.reed.english-horn", "", "woodwind"),
        ("drum.timpani", "", "timpani"), ("metal.cymbal.crash", "", "cymbals"), ("pluck.harp", "", "harp"),
        ("keyboard.organ.pipe", "", "organ"), ("keyboard.celesta", "", "keyboard"), ("pitched-percussion.vibraphone", "", "mallets"),
        ("voice.soprano", "", "voice"), ("", "Violin I", "strings"), ("", "Vl. 2", "strings"), ("", "Bratschen", "strings"),
        ("", "Contrebasses", "strings"), ("", "Kontrabass", "strings"), ("", "Horn in F 3.4", "brass"),
        ("", "English Horn", "woodwind"), ("", "Corno inglese", "woodwind"), ("", "Corni in Fa", "brass"),
        ("", "Bassklarinette in B", "woodwind"), ("", "Kontrafagott", "woodwind"), ("", "Petite flûte", "woodwind"),
        ("", "Bass Clarinet", "woodwind"), ("", "Basset Horn", "woodwind"), ("", "Bass Drum", "percussion"),
        ("", "Große Trommel", "percussion"), ("", "Becken", "cymbals"), ("", "Pauken", "timpani"), ("", "Timpani in D, A", "timpani"),
        ("", "Glockenspiel", "mallets"), ("", "Harfe", "harp"), ("", "Orgel", "organ"), ("", "Bass", "voice"),
        ("", "Double Bass", "strings"), ("", "Bass Guitar", "plucked"), ("", "Bass Trombone", "brass"), ("", "Chor Alt", "voice"),
        ("", "Männerchor", "voice"), ("", "Wagnertuba", "brass"), ("", "", ""), ("", "Elektronik", ""), ("synth.pad", "", ""),
        ("no.such.sound", "Oboe", "woodwind"),
    ],
)  # fmt: skip
def test_the_family_of_an_instrument(sound: str, name: str, family: str) -> None:
    """Common practice, no source: the names as they stand on title pages."""
    assert family_of(sound, name) == family


def test_an_action_is_built_by_name_with_few_words() -> None:
    assert Action("x", 1, 2) == Action(text="x", adds=1, removes=2, kind="marks", here=0, from_memory=False, gradual=False, becomes=())


def test_the_dictionary_of_a_family_is_made_once() -> None:
    assert dictionary(kin("strings")) is dictionary(kin("strings"))
    assert ("+",) in listed_for("brass")
    assert ("+",) not in listed_for("any")
