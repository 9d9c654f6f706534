"""Templates and assignments: what is read, what is said of them."""

from __future__ import annotations

import json
from typing import Any

import pytest

from rendering.codes import message
from rendering.documents import canonical, read
from rendering.maps.document import ArticulationMap
from rendering.templates import Assignment, Template, check_template
from tests.rendering.made_maps import Json, as_map, refused, violins

TRACK: Json = {"id": "v1", "name": "Violins I", "map": {"id": "m1"}, "channel": 1}
CLASH = " – each would hear the other's notes and switches"
SILENT = " – such a note would switch, so it stays silent"
SECOND: Json = {"id": "v2", "name": "Violins II", "map": {"file": "second.json", "revision": 3}, "channel": 2}


def template(*tracks: Json, **fields: Any) -> Json:
    return {"kind": "template", "edition": 1, "name": "Small strings", "tracks": list(tracks)} | fields


def said(document: Json, **maps: ArticulationMap) -> list[str]:
    return [message(found) for found in check_template(read(Template, json.dumps(document).encode()), maps)]


def with_trigger(trigger: Json) -> ArticulationMap:
    return as_map(violins({"id": "x", "plays": [["flautando"]], "triggers": [trigger]}))


def test_canonical_bytes() -> None:
    full = template(
        TRACK | {"port": 1, "for": [{"sound": "strings.violin", "number": 1}], "local": {"level": 0, "earlier_ms": 5},
                 "layer": {"interval": 12, "level": -100}},
        links={"b": "v1", "a": "v1"}, choices={"preroll": "auto", "ppq": None},
    )  # fmt: skip
    kept = canonical(read(Template, json.dumps(full).encode()))
    assert kept == (
        b'{"kind":"template","edition":1,"name":"Small strings","tracks":[{"id":"v1","name":"Violins I","map":{"id":"m1"},"channel":1,'
        b'"for":[{"sound":"strings.violin","number":1}],"local":{"earlier_ms":5},"layer":{"interval":12,"level":-100}}],'
        b'"links":{"a":"v1","b":"v1"},"choices":{"preroll":"auto"}}'
    )
    assert canonical(read(Template, kept)) == kept


@pytest.mark.parametrize(("changes", "sentences"), [
    ({"map": {}}, ["/tracks/0/map: a map is named by exactly one of id, digest and file"]),
    ({"map": {"id": "a", "file": "b"}}, ["/tracks/0/map: a map is named by exactly one of id, digest and file"]),
    ({"map": {"digest": "abc"}}, ["/tracks/0/map/digest: the text must have 64 characters or more"]),
    ({"map": {"id": "a", "revision": 0}}, ["/tracks/0/map/revision: the number must be 1 or more"]),
    ({"channel": 0}, ["/tracks/0/channel: the number must be 1 or more"]),
    ({"channel": 17, "port": 17}, ["/tracks/0/channel: the number must be 16 or less", "/tracks/0/port: the number must be 16 or less"]),
    ({"for": [{"number": 1}]}, ["/tracks/0/for/0: “sound” is missing"]),
    ({"for": [{"sound": "strings", "players": "many"}]}, ["/tracks/0/for/0/players: the value must be 'solo' or 'ensemble'"]),
    ({"local": {"level": 1001}}, ["/tracks/0/local/level: the number must be 1000 or less"]),
    ({"colour": 1}, ["/tracks/0/colour: the field “colour” is not known here"]),
])  # fmt: skip
def test_faults_of_a_track(changes: Json, sentences: list[str]) -> None:
    assert refused(Template, template(TRACK | changes)) == [f"{sentence} – the document is not accepted" for sentence in sentences]


@pytest.mark.parametrize(("fields", "sentences"), [
    ({"links": {"mutes": 3, "": "v1", "x/y": "a b"}},
     ["/links/mutes: a text is expected", "/links/: the text is empty or begins or ends with a space",
      "/links/x~1y: an id is 1 to 64 letters, digits, “-”, “_” and “.”"]),
    ({"links": []}, ["/links: an object is expected"]),
    ({"choices": {"preroll": -1, "lead": "late"}},
     ["/choices/lead: the value must be 'notes', 'track' or 'none'", "/choices/preroll: the number must be 0 or more"]),
    ({"choices": {"preroll": "two"}}, ["/choices/preroll: the value must be 'auto' or 'none'"]),
    ({"tracks": []}, ["/tracks: the list must have 1 or more items"]),
])  # fmt: skip
def test_faults_of_a_template(fields: Json, sentences: list[str]) -> None:
    assert refused(Template, template(TRACK, **fields)) == [f"{sentence} – the document is not accepted" for sentence in sentences]


def test_a_sound_template() -> None:
    linked = with_trigger({"track": "far"})
    assert said(template(TRACK, SECOND, links={"far": "v2"}), v1=linked, v2=as_map(violins())) == []
    assert said(template(TRACK, SECOND | {"channel": 1, "port": 2})) == []


@pytest.mark.parametrize(("document", "sentences"), [
    (template(TRACK, SECOND | {"id": "v1"}), ["/tracks/1/id: another track already has the id “v1” – the document is not accepted"]),
    (template(TRACK, SECOND | {"name": "Violins I"}),
     ["/tracks/1/name: another track is already called “Violins I” – the two cannot be told apart in the sequencer"]),
    (template(TRACK, SECOND | {"channel": 1}),
     ["/tracks/1/channel: the track “Violins II” claims channel 1 of port 1, which the track “Violins I” has" + CLASH]),
    (template(TRACK, links={"far": "v9"}),
     ["/links/far: the link “far” names the track “v9”, which is not here – its notes have nowhere to go"]),
])  # fmt: skip
def test_what_is_said_without_maps(document: Json, sentences: list[str]) -> None:
    assert said(document) == sentences


def test_a_channel_that_a_map_claims_is_taken_too() -> None:
    assert said(template(TRACK, SECOND), v1=with_trigger({"channel": 2})) == [
        "/tracks/0/map: the track “Violins I” claims channel 2 of port 1, which the track “Violins II” has" + CLASH
    ]
    assert said(template(TRACK, SECOND), v1=with_trigger({"channel": 9}), v2=with_trigger({"channel": 9})) == [
        "/tracks/1/map: the track “Violins II” claims channel 9 of port 1, which the track “Violins I” has" + CLASH
    ]
    assert said(template(TRACK, SECOND | {"port": 2}), v1=with_trigger({"channel": 2})) == []


def test_labels_must_lead_to_another_track() -> None:
    linked = with_trigger({"track": "far"})
    assert said(template(TRACK, SECOND), v1=linked) == [
        "/tracks/0/map: the map of “Violins I” sends notes to “far”, which no link binds to a track – those notes have nowhere to go"
    ]
    assert said(template(TRACK, SECOND, links={"far": "v1"}), v1=linked) == [
        "/links/far: the link “far” leads back to “Violins I” – the articulation could not be told from the others"
    ]
    assert said(template(TRACK, SECOND, links={"far": "v2", "near": "v2"}), v1=linked, v2=as_map(violins())) == [
        "/links/near: no map here has the label “near” – the link does nothing"
    ]
    assert said(template(TRACK, SECOND, links={"near": "v2"}), v2=as_map(violins())) == [], "a map that is not known may have the label"


def test_a_key_offset_may_move_notes_onto_switches() -> None:
    document = template(TRACK | {"local": {"key_offset": -29}})
    assert said(document, v1=as_map(violins())) == [
        "/tracks/0/local/key_offset: the key offset -29 of the track “Violins I” moves notes onto the switch key 26 of its map" + SILENT
    ]
    assert said(template(TRACK | {"local": {"key_offset": -28}}), v1=as_map(violins())) == []
    assert said(document) == [], "without the map nothing is known of its switches"


def test_an_assignment_is_a_list_of_rules() -> None:
    rules = read(Assignment, b'[{"part":"P1","tracks":["v1"]},{"part":"P1","staff":1,"voice":"2","mark":"pizzicato","tracks":[]}]').rules
    assert [rule.weight for rule in rules] == [0, 3]
    assert canonical(read(Assignment, b'[ {"tracks": ["v1"], "part": "P1", "staff": null} ]')) == b'[{"part":"P1","tracks":["v1"]}]'
    assert refused(Assignment, [{"part": "P1", "player": 0, "mark": "staccatoo", "tracks": ["a", 3]}]) == [
        "/0/player: the number must be 1 or more – the document is not accepted",
        "/0/mark: there is no mark “staccatoo”; the nearest are staccato, staccatissimo, spiccato – the document is not accepted",
        "/0/tracks/1: a text is expected – the document is not accepted",
    ]
    assert refused(Assignment, {}) == ["document: a list is expected – the document is not accepted"]
