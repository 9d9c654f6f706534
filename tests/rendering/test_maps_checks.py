"""Each check of a map: what is planted, and every sentence that is said of it, literally."""

from __future__ import annotations

import json
from typing import Any, NamedTuple

import pytest

from rendering.codes import CODES, message, severity
from rendering.codes.documents import DOCUMENTS
from rendering.codes.maps import MAPS
from rendering.maps.checks import check
from rendering.problems import Place, problem
from tests.rendering.made_maps import DATA, EVERY_TRIGGER, VIOLINS, Json, as_map, resolves, said, violins


def key(number: int, **more: Any) -> list[Json]:
    return [{"keyswitch": number} | more]


def flautando(triggers: list[Json], **more: Any) -> Json:
    """Return one more articulation, asked for by a mark that no other plays."""
    return {"id": "flautando", "plays": [["flautando"]], "triggers": triggers} | more


class Fault(NamedTuple):
    """One planted fault: the code it is about, the document, and every sentence that is said of it."""

    code: str
    document: Json
    said: list[str]


def _planted() -> list[Fault]:
    """Return the faults of `faults.json`: changes to the violin map, and what is said of it then."""
    found = []
    for row in json.loads((DATA / "faults.json").read_text(encoding="utf-8")):
        document = violins(*row.get("more", []), change=row.get("change"), **row.get("fields", {}))
        found.append(Fault(row["code"], {k: v for k, v in document.items() if k not in row.get("without", [])}, row["said"]))
    return found


PLANTED = _planted()


@pytest.mark.parametrize("fault", PLANTED, ids=[f"{i}-{fault.code}" for i, fault in enumerate(PLANTED)])
def test_what_is_said_of_a_planted_fault(fault: Fault) -> None:
    found = check(as_map(fault.document))
    assert [message(one) for one in found] == fault.said
    assert fault.code in {one.code for one in found}
    assert all(resolves(fault.document, one.place.pointer or "") for one in found)


def test_every_check_has_a_planted_fault() -> None:
    shape = {code for code in DOCUMENTS if code.startswith("shape.") or code not in MAPS}
    assert {fault.code for fault in PLANTED} >= MAPS.keys()
    assert MAPS.keys() | shape == DOCUMENTS.keys()


@pytest.mark.parametrize("document", [VIOLINS, json.loads(EVERY_TRIGGER)], ids=["violins", "every trigger"])
def test_nothing_is_said_of_a_sound_map(document: Json) -> None:
    assert said(document) == []


@pytest.mark.parametrize(("document", "silent_about"), [
    (violins(range={"lowest": 50, "highest": 110}), "a range a little wider than the sources'"),
    (violins(sound="strings.contrabass", range={"lowest": 28, "highest": 67}, key_offset=12, change={
        "bowed": {"triggers": key(0)}, "slurred": {"triggers": key(1)}, "short": {"triggers": key(2)}}), "written pitch"),
    (violins({"id": "two-hands", "plays": [["tremolo"]], "triggers": key(27), "alternates": ["other-hand"]},
             {"id": "other-hand", "plays": [["tremolo"]], "triggers": key(28)}), "alternates that play the same"),
    (violins({"id": "one-desk", "plays": [["tremolo"]], "triggers": key(27), "voices": 1},
             {"id": "many", "plays": [["tremolo"]], "triggers": key(28)}), "an articulation for chords after one for single notes"),
    (violins({"id": "quick", "plays": [["tremolo"]], "triggers": key(27), "when": {"ms": [0, 200]}},
             {"id": "slow", "plays": [["tremolo"]], "triggers": key(28), "when": {"ms": [200, None]}}), "conditions that keep apart"),
    (violins(flautando([*key(30), *key(31)], together=True), {"id": "tasto", "plays": [["sul tasto"]], "triggers": [*key(30), *key(32)],
                                                              "together": True}), "two of one page"),
    (violins(flautando([*key(24), *key(31, hold="note")])), "a held key over the same latched one"),
    (violins(flautando([{"track": "solo"}]), {"id": "tasto", "plays": [["sul tasto"]], "triggers": [{"track": "other"}]}), "other tracks"),
    (violins(stand_ins=[{"for": "flautando", "use": ["legato"]}, {"for": "sul tasto", "use": ["legato"]}]), "rules"),
], ids=lambda value: value if isinstance(value, str) else "")  # fmt: skip
def test_what_is_no_fault(document: Json, silent_about: str) -> None:
    assert said(document) == [], silent_about


def test_a_problem_points_at_what_was_sent_even_if_the_fault_is_a_default() -> None:
    """The map's own range is not written here: its lowest key of 0 is."""
    document = violins(change={"short": {"range": {"highest": 54}}})
    places = [found.place.pointer for found in check(as_map(document))]
    assert places == ["/articulations/2/range", "/articulations/0/triggers/0/keyswitch", "/articulations/1/triggers/0/keyswitch",
                      "/articulations/2/triggers/0/keyswitch"]  # fmt: skip


def test_of_hundreds_of_problems_the_errors_come_first_and_the_rest_is_counted() -> None:
    spare = [{"id": f"spare-{i}", "triggers": key(27)} for i in range(150)]  # each unreachable; all but the first selected with another
    sentences = said(violins(*spare))
    assert len(sentences) == 201
    assert (
        sentences[0] == "/articulations/6: what selects “spare-1” can leave “spare-0” selected too – which of the two sounds cannot be told"
    )
    assert sentences[149].startswith("/articulations/5: “spare-0” plays no marks")
    assert sentences[200] == "document: 99 further problems are not listed – repair these first, then read it again"


@pytest.mark.parametrize("code", sorted(DOCUMENTS))
def test_every_code_has_a_severity_and_an_example_sentence(code: str) -> None:
    found = problem(code, Place(pointer="/articulations/2"), **CODES[code].example)
    assert severity(found) in {"error", "warning", "remark"}
    sentence = message(found)
    assert sentence.startswith("/articulations/2: ")
    assert sentence.count(" – ") == 1
    assert "{" not in sentence
