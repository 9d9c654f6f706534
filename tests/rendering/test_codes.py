"""Every problem that choosing, scheduling and the proof can tell a user: provoked once, its sentence literally."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from rendering.codes import CODES, RENDER, message, where_text
from rendering.codes.choosing import CHOOSING
from rendering.documents import read
from rendering.pipeline import render_score
from rendering.problems import Place, Problem, Refused, problem
from rendering.proof import YIELDING
from rendering.rendered import Options
from rendering.score import Instrument, Score
from rendering.templates import Assignment
from tests.rendering.golden_files import made_map, made_template
from tests.rendering.notation import read_notation

Json = dict[str, Any]
BOWED: Json = {"id": "bowed", "name": "Bowed", "triggers": [{"keyswitch": 24}]}
PLUCKED: Json = {"id": "plucked", "name": "Plucked", "plays": [["pizzicato"]], "triggers": [{"keyswitch": 25}]}
SLURRED: Json = {
    "id": "slurred", "plays": [["legato"]], "triggers": [{"keyswitch": 26}], "joins": True, "overlap_ms": 60,
}  # fmt: skip
ZONE: Json = {"id": "high", "plays": [["pizzicato"]], "triggers": [{"shift": 40}]}
BY_CONTROLLER: Json = {"by": "controller", "controller": 11, "points": [[0, 0], [1000, 127]]}
CHANNEL_3: Json = {"id": "muted", "plays": [["con sordino"]], "triggers": [{"channel": 3}]}
TO_LABEL: Json = {"id": "muted", "plays": [["con sordino"]], "triggers": [{"track": "mutes"}]}


def score_of(notation: str) -> Score:
    return read_notation(notation)


def rendered(notation: str | Score, *entries: Json, map_fields: Json | None = None, **options: Any) -> list[str]:
    """Return the sentences of a render in the report's order; every part on one map of these articulations."""
    score = read_notation(notation) if isinstance(notation, str) else notation
    maps = []
    if entries:
        made = made_map({"articulations": [dict(e) for e in entries]} | (map_fields or {}))
        maps = [(part.id, made) for part in score.parts]
    return [p["message"] for p in render_score(score, maps=maps, options=Options(**options)).report["problems"]]


def by_template(notation: str, template: Json, *entries: Json, assignment: list[Json] | None = None) -> list[str]:
    made = made_map({"articulations": [dict(e) for e in entries or [BOWED]]})
    tracks = made_template(template)
    return [
        p["message"]
        for p in render_score(
            read_notation(notation),
            template=tracks,
            template_maps={t.id: made for t in tracks.tracks},
            assignment=read(Assignment, json.dumps(assignment or []).encode()),
        ).report["problems"]
    ]


def refused(call: Callable[[], object]) -> list[str]:
    with pytest.raises(Refused) as refusal:
        call()
    return [message(found) for found in refusal.value.problems]


def no_tempo() -> list[str]:
    score = score_of("voice 1: C5:w |")
    score.tempo = []
    return rendered(score, BOWED)


def unknown_sound() -> list[str]:
    return rendered("part P1 Theorem\nvoice 1: C5:w |")


def unknown_strike() -> list[str]:
    """A slit drum, which a map that knows a cowbell only cannot play."""
    score = score_of("part P1 Slit_drum\nvoice 1: C5:w |")
    score.parts[0].instruments = [Instrument(sound="drum.slit-drum", unpitched=True, drum_key=76)]
    strike = {"id": "cowbell", "strike": "metal.cowbell", "key": 56}
    return rendered(score, strike, map_fields={"sound": "metal.cowbell", "range": {"lowest": 0, "highest": 127}})


def two_maps() -> list[str]:
    maps = [("", made_map({"name": name, "articulations": [dict(BOWED)]})) for name in ("Bowed A", "Bowed B")]
    return refused(lambda: render_score(score_of("voice 1: C5:w |"), maps=maps))


def missing_part() -> list[str]:
    return refused(lambda: render_score(score_of("voice 1: C5:w |"), maps=[("Violin 3", made_map({"articulations": [dict(BOWED)]}))]))


def sixteen_channels() -> list[str]:
    entries = [{"id": f"a{n}", "triggers": [{"channel": n}], "plays": [[mark]]} for n, mark in enumerate(SIXTEEN, 1)]
    return refused(lambda: rendered("voice 1: C5:w |", {"id": "plain"}, *entries))


def too_long() -> list[str]:
    score = score_of("voice 1: C5:w |")
    score.itinerary = [(1, 1, 1)] * 35_000
    return refused(lambda: render_score(score))


SIXTEEN = (
    "pizzicato", "tremolo", "staccato", "accent", "tenuto", "marcato", "sul tasto", "sul ponticello", "con sordino", "portato", "spiccato",
    "flautando", "stroke", "staccatissimo", "down bow", "up bow",
)  # fmt: skip


def channels_clash() -> list[str]:
    tracks: Json = {"tracks": [{"id": "a", "name": "Violins 1"}, {"id": "b", "name": "Violins 2", "channel": 3}]}
    given = [{"part": "P1", "tracks": ["a", "b"]}]
    return refused(lambda: by_template("voice 1: C5:w |", tracks, {"id": "bowed"}, CHANNEL_3, assignment=given))


def link_to_a_track_in_use() -> list[str]:
    tracks: Json = {"tracks": [{"id": "a", "name": "Violins"}, {"id": "b", "name": "Mutes"}], "links": {"mutes": "b"}}
    given = [{"part": "P1", "tracks": ["a", "b"]}]
    return refused(lambda: by_template("voice 1: C5:w[con_sordino] |", tracks, {"id": "bowed"}, TO_LABEL, assignment=given))


TWO_TRACKS: Json = {"tracks": [{"id": "a", "name": "Violins"}, {"id": "b", "name": "Violins B"}]}
SILENT = "the note is silent"
ROWS: list[tuple[str, Callable[[], list[str]], str]] = [
    ("no-tempo", no_tempo, "score: no tempo is written – played at 120 quarter notes a minute"),
    (
        "hairpin-without-goal",
        lambda: rendered("voice 1: =p < C5:h / D5:h |", BOWED),
        "Violin, measure 1, beat 1: no dynamic follows this hairpin within a beat – it goes one step, from p to mp say",
    ),
    (
        "tie-without-stop",
        lambda: rendered(_tie_that_only_starts(), BOWED),
        "Violin, measure 1, beat 1: a tie starts here and none stops at the next note – the two are played as one note",
    ),
    (
        "tempo-not-played",
        lambda: rendered("tempo 120 2:1=60 2:2=90\nvoice 1: C5:w | C5:w |", BOWED, tempo=100_000),
        "score: the score changes its tempo 2 times, and another tempo was chosen – those changes are not played",
    ),
    (
        "state-inside-tie",
        lambda: rendered("voice 1: C5:h~ {pizzicato} C5:h |", BOWED, PLUCKED),
        "Violin, measure 1, beat 3: the technique changes inside a tie – no sample can change so: it waits",
    ),
    (
        "state-inside-tie",
        lambda: rendered("voice 1: C5:h~ {pizzicato} C5:h |", BOWED, PLUCKED, in_tie="restrike"),
        "Violin, measure 1, beat 3: the technique changes inside a tie – no sample can change so: struck again",
    ),
    ("no-such-part", missing_part, "score: no part is called “Violin 3” – nothing is rendered; the parts are P1 “Violin”"),
    (
        "ambiguous-map",
        two_maps,
        (
            "Violin: several maps fit its sound strings.violin equally well: Bowed A, Bowed B"
            " – nothing is rendered; name the part with its map"
        ),
    ),
    (
        "sound-guessed",
        unknown_sound,
        "Theorem: neither a sound, a program nor a known name says what instrument this is – played by General MIDI: Acoustic Grand Piano",
    ),
    (
        "part-without-track",
        lambda: by_template("voice 1: C5:w |", {"tracks": [{"id": "a", "for": [{"sound": "brass.trombone"}]}]}),
        "Violin: no track of the template plays its sound (strings.violin) – the part is silent",
    ),
    (
        "ambiguous-track",
        lambda: by_template("voice 1: C5:w |", TWO_TRACKS),
        "Violin: several tracks fit it equally well: Violins, Violins B – played by Violins alone; an assignment can say which is meant",
    ),
    (
        "no-channel-left",
        sixteen_channels,
        "score: the map Strings names all sixteen channels of a port – nothing is rendered; its track needs one of its own",
    ),
    (
        "channels-clash",
        channels_clash,
        (
            "score: the tracks “Violins 1” and “Violins 2” both use channel 3 of port 1"
            " – nothing is rendered; each would hear the other's notes and switches"
        ),
    ),
    (
        "link-not-free",
        link_to_a_track_in_use,
        (
            "score: the map of “Violins” sends notes by “mutes” to the track “b”, which is not there or plays a part of its own"
            " – nothing is rendered; link it to an empty track"
        ),
    ),
    (
        "no-such-track",
        lambda: by_template("voice 1: C5:w |", TWO_TRACKS, assignment=[{"part": "P1", "tracks": ["a", "violins-b"]}]),
        "Violin: the assignment names a track “violins-b” that the template does not have – nothing is played there",
    ),
    (
        "mark-plain",
        lambda: rendered("voice 1: C5:w[col_legno_battuto] |", BOWED),
        "Violin, measure 1, beat 1: Strings cannot play col legno battuto – played as Bowed",
    ),
    (
        "mark-stand-in",
        lambda: rendered("voice 1: C5:w[snap_pizzicato] |", BOWED, PLUCKED),
        "Violin, measure 1, beat 1: Strings has no snap pizzicato – Plucked stands in for it",
    ),
    (
        "key-outside-range",
        lambda: rendered("voice 1: B1:w |", BOWED),
        "Violin, measure 1, beat 1: key 35 is outside the range of Strings, 36 to 100 – sent all the same; it may not sound",
    ),
    (
        "key-outside-midi",
        lambda: rendered("voice 1: C9:w |", {"id": "bowed"}, map_fields={"key_offset": 12}),
        f"Violin, measure 1, beat 1: key 120 would be sent as a key outside 0–127 by Strings – {SILENT}",
    ),
    (
        "note-on-switch-key",
        lambda: rendered("voice 1: C1:w |", BOWED),
        f"Violin, measure 1, beat 1: key 24 is a switch of Strings – {SILENT}, for it would change the articulation",
    ),
    (
        "key-outside-zone",
        lambda: rendered("voice 1: G7:w |", {"id": "bowed"}, ZONE, map_fields={"range": {"lowest": 48, "highest": 80}}),
        (
            "Violin, measure 1, beat 1: key 103 lies outside the keys on which Strings plays this articulation"
            f" – {SILENT}, for it would play another one, or none"
        ),
    ),
    (
        "not-written-out",
        lambda: rendered("tempo 480\nvoice 1: C5:t[mordent] r:t r:s r:e r:q r:h |", BOWED),
        (
            "Violin, measure 1, beat 1: no sample plays mordent, and it cannot be written out: the note is too short"
            " – the note is played without it"
        ),
    ),
    (
        "too-long",
        too_long,
        "score: as played it lasts 140000 quarter notes, and at 960 ticks each a MIDI file can hold 139810 – nothing is rendered",
    ),
    (
        "strike-unknown",
        unknown_strike,
        f"Slit drum, measure 1, beat 1: Strings has no entry for this percussion instrument – {SILENT}",
    ),
    (
        "lead-cut",
        lambda: rendered("voice 1: C5:w |", BOWED | {"lead_ms": {"first": 90}}, preroll="none"),
        (
            "Violin, measure 1, beat 1: its lead would bring it before the note ahead of it, or before the start"
            " – its lead is cut, it is heard late"
        ),
    ),
    (
        "onset-moved",
        lambda: rendered("voice 1: C5:w |\nvoice 2: E4:w[pizzicato] |", BOWED, PLUCKED),
        "Violin, measure 1, beat 1, voice 2: another note of this channel begins with it on another articulation – sent a tick after it",
    ),
    (
        "overlap-cut",
        lambda: rendered("voice 1: C5:w |\nvoice 2: r:h E4:h[pizzicato] |", BOWED, PLUCKED | {"acts_on": "sounding"}),
        (
            "Violin, measure 1, beat 1, voice 1: the articulation after it would change it while it sounds"
            " – it ends where the next note is sent"
        ),
    ),
    (
        "join-lost",
        lambda: rendered("voice 1: (C5:h D5:h) |\nvoice 2: r:h C5:h |", BOWED, SLURRED),
        (
            "Violin, measure 1, beat 3, voice 1: the note to which a slur joins it is cut short by another voice or another articulation"
            " – struck anew, and heard late by the difference of the leads"
        ),
    ),
    (
        "loudness-shared",
        lambda: rendered("voice 1: =f/1 C5:w |\nvoice 2: =p/2 E4:w |", BOWED, map_fields={"loudness": BY_CONTROLLER}),
        (
            "Violin, measure 1, beat 1, voice 2: another voice of this channel wants another level at the same moment"
            " – both sound at the higher one"
        ),
    ),
    (
        "unison-merged",
        lambda: rendered("voice 1: C5:w |\nvoice 2: C5:h r:h |", BOWED),
        (
            "Violin, measure 1, beat 1, voice 2: two voices strike this key together on one channel"
            " – they sound as one note, to the later end, at the higher level"
        ),
    ),
]
COMMANDS = {
    "usage", "tempo-outside", "file-unreadable", "file-unwritable", "which-channel", "folder-not-empty", "map-unusable", "map-not-a-file",
}  # fmt: skip
IN_TEST_COMMANDS = COMMANDS  # provoked on the command line
IN_TEST_PROOF = {"proof-disagrees"}  # provoked by spoiled bytes


def _tie_that_only_starts() -> Score:
    score = score_of("voice 1: C5:h C5:h |")
    score.parts[0].lines[0].tie[0] = 1
    return score


@pytest.mark.parametrize(("code", "provoke", "sentence"), ROWS, ids=[row[0] for row in ROWS])
def test_sentence(code: str, provoke: Callable[[], list[str]], sentence: str) -> None:
    assert sentence in provoke()
    start, _, consequence = sentence.partition(" – ")
    assert start
    assert consequence


def test_every_code_is_provoked_somewhere() -> None:
    assert {code for code, _, _ in ROWS} | IN_TEST_COMMANDS | IN_TEST_PROOF == CHOOSING.keys()


def test_codes_that_excuse_a_note_are_published_warnings() -> None:
    assert {code: CHOOSING[code].severity for code in YIELDING} == dict.fromkeys(YIELDING, "warning")


@pytest.mark.parametrize("code", CODES)
def test_every_example_makes_a_sentence(code: str) -> None:
    """The published example fills each field of its sentence, and the name is in kebab case."""
    told = message(problem(code, **CODES[code].example))
    assert told.startswith("score: ")
    assert " – " in told
    assert "{" not in told
    assert code == code.lower().replace("_", "-").strip("-")


def test_lists_do_not_meet() -> None:
    """One code is in one list: those of a render, or those of documents."""
    assert len(CODES) == len(RENDER) + len(CODES.keys() - RENDER.keys())


@pytest.mark.parametrize(("place", "words"), [
    (Place(), "score"),
    (Place(part="P1", part_name="Violin 1"), "Violin 1"),
    (Place(part="P1"), "P1"),
    (Place(part_name="Violin 1", measure="12", ordinal=13, beat="3"), "Violin 1, measure 12, beat 3"),
    (Place(part_name="Harp", measure="", ordinal=4, beat="5/2", staff=2, voice="5"), "Harp, measure 4, beat 5/2, staff 2, voice 5"),
    (Place(measure="X1", ordinal=2), "measure X1"),
    (Place(pointer=""), "document"),
    (Place(pointer="/articulations/3/plays"), "/articulations/3/plays"),
])  # fmt: skip
def test_places_in_words(place: Place, words: str) -> None:
    assert where_text(place) == words
    assert message(Problem(code="no-tempo", place=place)).startswith(f"{words}: ")
