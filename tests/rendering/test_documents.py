"""Documents at the door: what is read, what is refused and where, and the bytes that are kept."""

from __future__ import annotations

import hashlib
import json
from typing import Annotated, Any
from uuid import UUID

import pytest
from jsonschema import Draft202012Validator
from pydantic import AwareDatetime, Field, ValidationError

from rendering.documents import MOST_PROBLEMS, DocumentModel, canonical, digest, read, schemas
from rendering.maps.document import ArticulationMap
from rendering.templates import Assignment, Template
from tests.rendering.made_maps import EVERY_TRIGGER, VIOLINS, as_map, refused, said, violins

ONE = b'{"kind":"articulation-map","edition":1,"name":"A","memories":[{"id":"m","default":"a"}],"articulations":[{"id":"a","memory":"m"}]}'


def test_canonical_bytes_are_utf8_in_model_order_without_defaults_or_spaces() -> None:
    sent = {"articulations": [{"memory": "m", "id": "a", "plays": [], "voices": None}], "name": "A", "players": None, "edition": 1,
            "memories": [{"default": "a", "id": "m"}], "kind": "articulation-map", "key_offset": 0}  # fmt: skip
    assert canonical(as_map(sent)) == ONE
    assert canonical(as_map(sent | {"name": "Brätsche ♯"})).decode() == ONE.decode().replace('"A"', '"Brätsche ♯"')


def test_the_digest_is_sha256_in_hex() -> None:
    assert digest(canonical(read(ArticulationMap, ONE))) == hashlib.sha256(ONE).hexdigest()
    # FIPS 180-4's example: SHA-256 of "abc"
    assert digest(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_reading_canonical_bytes_and_writing_again_is_the_identity() -> None:
    kept = canonical(read(ArticulationMap, EVERY_TRIGGER))
    assert canonical(read(ArticulationMap, kept)) == kept
    assert b'"keyswitch":24' in kept, "names have become numbers"


def test_order_of_fields_and_a_byte_order_mark_mean_nothing() -> None:
    turned = dict(reversed(list(VIOLINS.items())))
    assert canonical(as_map(turned)) == canonical(as_map(VIOLINS))
    assert canonical(read(ArticulationMap, b"\xef\xbb\xbf" + ONE)) == ONE
    links = [{"a": "t", "b": "t"}, {"b": "t", "a": "t"}]
    track = {"id": "t", "name": "T", "map": {"id": "m"}, "channel": 1}
    made = [{"kind": "template", "edition": 1, "name": "T", "tracks": [track], "links": link} for link in links]
    assert len({canonical(read(Template, json.dumps(one).encode())) for one in made}) == 1


@pytest.mark.parametrize(("body", "sentence"), [
    (b"", "document: this is not JSON: line 1, column 1 cannot be read – the document is not accepted"),
    (b'{"kind":\n  oops}', "document: this is not JSON: line 2, column 3 cannot be read – the document is not accepted"),
    (b'{"name": "\xff"}', "document: this is not JSON: byte 10 is not UTF-8 – the document is not accepted"),
    (b'{"edition": NaN}', "document: this is not JSON: it holds a number that JSON does not have – the document is not accepted"),
    (b"9" * 5000, "document: this is not JSON: it holds a number that JSON does not have – the document is not accepted"),
    (b'{"name": "\\ud800"}', "document: this is not JSON: it holds half of a surrogate pair – the document is not accepted"),
    (b"[" * 65 + b"]" * 65, "document: it is nested more than 64 levels deep – the document is not accepted"),
    (b"[" * 200_000, "document: it is nested more than 64 levels deep – the document is not accepted"),
    (b'{"a": {"b\\u0000": 1}}', "/a: the field name “b�” holds a control character – the document is not accepted"),
    (b"\x89PNG\r\n\x1a\n", "document: this is not JSON: byte 0 is not UTF-8 – the document is not accepted"),
    (b"[]", "document: an object is expected – the document is not accepted"),
])  # fmt: skip
def test_what_is_no_document_says_only_that(body: bytes, sentence: str) -> None:
    assert refused(ArticulationMap, body) == [sentence]


def test_a_field_that_stands_twice_is_refused_beside_all_else() -> None:
    body = b'{"name":"a","name":"b","x~/y":{"i":1,"i":2}}'
    assert refused(ArticulationMap, body) == [
        "/name: the field “name” stands here more than once – the document is not accepted",
        "/x~0~1y/i: the field “i” stands here more than once – the document is not accepted",
        "document: “kind” is missing – the document is not accepted",
        "document: “edition” is missing – the document is not accepted",
        "document: “memories” is missing – the document is not accepted",
        "document: “articulations” is missing – the document is not accepted",
        "/x~0~1y: the field “x~/y” is not known here – the document is not accepted",
    ]


def test_a_sound_document_with_a_doubled_field_is_refused_too() -> None:
    body = ONE.replace(b'"name":"A"', b'"name":"B","name":"A"')
    assert refused(ArticulationMap, body) == ["/name: the field “name” stands here more than once – the document is not accepted"]


ENDS = " – the document is not accepted"


@pytest.mark.parametrize(("changes", "sentences"), [
    ({"edition": 2}, ["/edition: the value must be 1"]),
    ({"kind": "template"}, ["/kind: the value must be 'articulation-map'"]),
    ({"name": 7}, ["/name: a text is expected"]),
    ({"name": "a\nb"}, ["/name: the text holds a control character or a line break"]),
    ({"name": " a"}, ["/name: the text is empty or begins or ends with a space"]),
    ({"name": "a" * 201}, ["/name: the text must have 200 characters at most"]),
    ({"sound": "Violin 1"}, ["/sound: a sound is words of small letters, digits and “-”, joined by “.”, such as strings.violin"]),
    ({"range": {"lowest": 200, "highest": -1}},
     ["/range/lowest: the number must be 127 or less", "/range/highest: the number must be 0 or more"]),
    ({"range": {"lowest": 10**30}}, ["/range/lowest: the number must be 127 or less"]),
    ({"key_offset": 1.0}, ["/key_offset: a whole number is expected"]),
    ({"key_offset": True}, ["/key_offset: a whole number is expected"]),
    ({"middle_c": "C2"}, ["/middle_c: the value must be 'C3', 'C4' or 'C5'"]),
    ({"memories": []}, ["/memories: the list must have 1 or more items"]),
    ({"memories": {}}, ["/memories: a list is expected"]),
    ({"memories": ["bow"]}, ["/memories/0: an object is expected"]),
    ({"memories": [{"id": "a b", "default": "bowed"}]}, ["/memories/0/id: an id is 1 to 64 letters, digits, “-”, “_” and “.”"]),
    ({"loudness": {"by": "ear", "points": []}}, ["/loudness: “by” must be velocity, controller or both"]),
    ({"loudness": {"by": "velocity", "points": [[0, 1, 2]], "velocity": 3}},
     ["/loudness/points/0: the list must have 2 items at most", "/loudness/velocity: the field “velocity” is not known here"]),
    ({"loudness": {"by": "velocity", "points": [[0]]}}, ["/loudness/points/0: item 2 is missing"]),
    ({"loudness": {"by": "velocity", "points": [[5, 1], [5, 2]]}},
     ["/loudness/points: the levels of the points must rise from each to the next"]),
    ({"loudness": {"by": "both", "controller": 1, "points": [[0, 1]], "velocity": 9, "velocity_points": [[0, 1]]}},
     ["/loudness: velocity and velocity_points exclude each other"]),
])  # fmt: skip
def test_each_fault_of_shape_has_its_place_and_sentence(changes: dict[str, Any], sentences: list[str]) -> None:
    assert refused(ArticulationMap, VIOLINS | changes) == [sentence + ENDS for sentence in sentences]


ONE_KIND = "a trigger has exactly one of keyswitch, controller, program, channel, velocities, shift and track"
TRIGGER = "/articulations/5/triggers/0"


@pytest.mark.parametrize(("trigger", "place", "sentence"), [
    ({}, "", ONE_KIND),
    (7, "", ONE_KIND),
    ({"keyswitch": 1, "program": 2}, "", ONE_KIND),
    ({"keyswitch": 1, "(keyswitch)": 2}, "/(keyswitch)", "the field “(keyswitch)” is not known here"),
    ({"keyswitch": 1, "toggle": 1}, "/toggle", "true or false is expected"),
    ({"keyswitch": 1, "hold": "always"}, "/hold", "the value must be 'no', 'note-on' or 'note'"),
    ({"keyswitch": "H1"}, "/keyswitch", "“H1” is no key: a number 0–127 or a name such as C1, F#3 or Bb-1 is expected"),
    ({"keyswitch": "C10"}, "/keyswitch",
     "the key “C10” is 144 if C3 is key 60, 132 if C4 is and 120 if C5 is; read with C4 it is outside 0–127"),
    ({"controller": 20, "value": "x"}, "/value", "a controller's value is a number 0–127 or a band of two"),
    ({"controller": 20, "value": [1]}, "/value", "item 2 is missing"),
    ({"controller": 20, "value": True}, "/value", "a controller's value is a number 0–127 or a band of two"),
    ({"controller": 128}, "/controller", "the number must be 127 or less"),
    ({"program": 5, "bank_lsb": 128}, "/bank_lsb", "the number must be 127 or less"),
    ({"channel": 0}, "/channel", "the number must be 1 or more"),
    ({"velocities": [0, 5]}, "/velocities/0", "the number must be 1 or more"),
    ({"shift": 1.5}, "/shift", "a whole number is expected"),
    ({"track": ""}, "/track", "the text is empty or begins or ends with a space"),
])  # fmt: skip
def test_pointers_hold_no_tag_of_a_union(trigger: Any, place: str, sentence: str) -> None:
    made = violins({"id": "x", "plays": [["tremolo"]], "triggers": [trigger]})
    assert refused(ArticulationMap, made) == [f"{TRIGGER}{place}: {sentence}{ENDS}"]


def test_an_unknown_mark_is_answered_with_the_three_nearest() -> None:
    made = violins({"id": "x", "plays": [["stacato", "con sordino"], ["harmonic"]]})
    sentence = "there is no mark “stacato”; the nearest are staccato, marcato, staccatissimo"
    assert refused(ArticulationMap, made) == [f"/articulations/5/plays/0/0: {sentence}{ENDS}"]


def test_an_item_refused_is_not_counted_as_missing_too() -> None:
    made = violins({"id": "x", "plays": [["nonsense"]]})
    assert [line.split(":")[0] for line in refused(ArticulationMap, made)] == ["/articulations/5/plays/0/0"]


def test_thousands_of_faults_are_told_in_a_bounded_list() -> None:
    made = violins(*({"id": f"x{i}", "voices": 0} for i in range(900)))
    sentences = refused(ArticulationMap, made)
    assert len(sentences) == MOST_PROBLEMS + 1
    assert sentences[-1] == "document: 700 further problems are not listed – repair these first, then read it again"


def test_hostile_documents_cost_no_more_than_their_size() -> None:
    """Each of these once took minutes: a list of what is wrong grew with the square of the document, or worse."""
    keys = b"{" + b",".join(b'"k%d":1,"k%d":1' % (i, i) for i in range(50_000)) + b"}"
    assert len(refused(Template, keys)) == MOST_PROBLEMS + 1
    marks = [{"id": f"x{i}", "plays": [[f"stacato {i} {j} {k}" for k in range(20)] for j in range(5)]} for i in range(900)]
    assert (
        refused(ArticulationMap, violins(*marks))[-1]
        == "document: 89800 further problems are not listed – repair these first, then read it again"
    )
    empty = [{"id": f"x{i}", "plays": [[]] * 90} for i in range(900)]
    assert (
        refused(ArticulationMap, violins(*empty))[-1]
        == "document: 80800 further problems are not listed – repair these first, then read it again"
    )
    assert len(said(violins({"id": "x", "triggers": [{"keyswitch": 27}], "plays": [["trill", "harmonic"] * 10]}))) == 1


def test_a_map_holds_a_hundred_thousand_values_at_most() -> None:
    assert refused(ArticulationMap, VIOLINS | {"x": [0] * 100_000}) == [
        "document: it holds 100071 values, and 100000 are allowed – the document is not accepted"
    ]


def test_documents_are_frozen() -> None:
    with pytest.raises(ValueError, match="frozen"):
        as_map(VIOLINS).name = "other"  # type: ignore[misc]


def test_key_names_are_not_guessed_without_a_reader() -> None:
    sent = json.dumps(violins({"id": "x", "key": "C3"}))
    with pytest.raises(ValidationError, match="read by a document's reader"):
        ArticulationMap.model_validate_json(sent)
    assert read(ArticulationMap, sent.encode()).articulations[5].key == 48


class Pair(DocumentModel):
    """Two maps in one body, as a bundle has them."""

    first: ArticulationMap
    second: ArticulationMap


def test_each_map_of_a_body_is_read_in_its_own_octaves() -> None:
    key = {"id": "x", "key": "C3"}
    made = read(Pair, json.dumps({"first": violins(key, middle_c="C3"), "second": violins(key)}).encode())
    assert (made.first.articulations[5].key, made.second.articulations[5].key) == (60, 48)


class Form(DocumentModel):
    """Types that only other bodies use."""

    who: UUID
    until: AwareDatetime
    share: float
    word: Annotated[str, Field(min_length=2)]


def test_other_bodies_are_answered_in_the_same_words() -> None:
    assert refused(Form, {"who": "me", "until": "2026-03-01", "share": "half", "word": ""}) == [
        "/who: an id is expected, such as f81d4fae-7dec-11d0-a765-00a0c91e6bf6 – the document is not accepted",
        "/until: a date and time with its offset is expected, such as 2026-03-01T12:00:00Z – the document is not accepted",
        "/share: this value is not allowed here – the document is not accepted",
        "/word: the text must have 2 characters or more – the document is not accepted",
    ]


def test_the_schemas_accept_what_is_read_and_refuse_what_is_not() -> None:
    made = schemas([ArticulationMap, Template, Assignment])
    assert list(made) == ["articulation-map", "template", "assignment"]
    for schema in made.values():
        Draft202012Validator.check_schema(schema)
    validator = Draft202012Validator(made["articulation-map"])
    assert [error.message for error in validator.iter_errors(json.loads(EVERY_TRIGGER))] == []
    for wrong in ({"edition": 2}, {"sound": "A B"}, {"name": 3}, {"memories": []}, {"stand_ins": [{"for": "x", "use": ["oo"]}]}, {"x": 1}):
        assert not validator.is_valid(VIOLINS | wrong), wrong
    assert not validator.is_valid(violins({"id": "x", "triggers": [{"keyswitch": 1, "program": 2}]}))
    assert not validator.is_valid(violins({"id": "x", "triggers": [{"keyswitch": "H4"}]}))
