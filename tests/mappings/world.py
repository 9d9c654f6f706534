"""A small world: the Ollenmoor team with one of everything, and another team with the same, to which only Dan belongs."""

from __future__ import annotations

import copy
import json
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from django.test import Client
from django.utils import timezone

from mappings import blobs, exchange, models
from mappings.access import Actor, actor_of
from mappings.services import libraries, maps, renders, scores, teams, templates, tokens
from tests.mappings.files import upload

JSON = "application/json"
TINY_SCORE = b"""<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0"><work><work-title>Two Notes</work-title></work>
<part-list><score-part id="P1"><part-name>Violin</part-name>
<score-instrument id="I1"><instrument-name>Violin</instrument-name><instrument-sound>strings.violin</instrument-sound></score-instrument>
</score-part></part-list><part id="P1"><measure number="1"><attributes><divisions>1</divisions>
<time><beats>2</beats><beat-type>4</beat-type></time></attributes>
<note><pitch><step>A</step><octave>4</octave></pitch><duration>1</duration><voice>1</voice><type>quarter</type></note>
<note><pitch><step>B</step><octave>4</octave></pitch><duration>1</duration><voice>1</voice><type>quarter</type>
<notations><articulations><staccato/></articulations></notations></note></measure></part></score-partwise>
"""


REPORT: dict[str, Any] = {
    "kind": "report", "edition": 1, "engine": "0", "tables": "0", "inputs": {}, "unread": [], "problems": [], "tracks": [],
    "choices": {"ppq": 960, "restate": "change", "lead": "notes", "preroll": "auto", "tracks": "used", "in_tie": "wait",
                "tempo": "score", "left_over": "report", "grid": "none"},
    "score": {"title": "Two Notes", "measures": 1, "played": 1, "notes": 2, "parts": []},
    "preroll": {"measures": 0, "ticks": 0}, "proof": {"notes": 2, "agree": 2, "yielded": 0, "disagree": []},
}  # fmt: skip


def map_document(name: str = "Moor Violins", **changes: Any) -> dict[str, Any]:
    """Return a small sound map as a client would send it."""
    return {
        "kind": "articulation-map", "edition": 1, "name": name, "sound": "strings.violin",
        "range": {"lowest": 55, "highest": 100},
        "memories": [{"id": "bow", "default": "bowed"}],
        "articulations": [
            {"id": "bowed", "name": "Bowed", "memory": "bow", "triggers": [{"keyswitch": 24}]},
            {"id": "short", "name": "Short", "memory": "bow", "plays": [["staccato"]], "triggers": [{"keyswitch": 25}]},
        ],
    } | changes  # fmt: skip


def template_document(map_id: str, name: str = "Moor Template", **changes: Any) -> dict[str, Any]:
    """Return a template of one track."""
    track = {"id": "vn", "name": "Violins", "map": {"id": map_id}, "channel": 1, "for": [{"sound": "strings.violin"}]}
    return {"kind": "template", "edition": 1, "name": name, "tracks": [track]} | changes


@dataclass(slots=True)
class House:
    """A team and one of everything in it."""

    owner: models.User
    team: models.Team
    library: models.Library = field(init=False)
    instrument: models.Instrument = field(init=False)
    map: models.Map = field(init=False)
    template: models.Template = field(init=False)
    score: models.Score = field(init=False)
    version: models.ScoreVersion = field(init=False)
    render: models.Render = field(init=False)
    token: models.Token = field(init=False)

    @property
    def actor(self) -> Actor:
        """The owner, acting."""
        return actor_of(self.owner)


def house(owner: models.User, name: str) -> House:
    """Return a new team of this owner, furnished: a read score, a render that is done."""
    made = House(owner, teams.create(actor_of(owner), name=name))
    actor, team = made.actor, made.team
    made.library = libraries.create_library(actor, team=team, name="Moor Library")
    made.instrument = libraries.create_instrument(actor, library=made.library, name="Violins", sound="strings.violin", players="ensemble")
    document = exchange.parse(exchange.ArticulationMap, json.dumps(map_document()).encode())
    made.map = maps.create(actor, team=team, instrument=made.instrument.pk, name=None, document=document).head
    sent = json.dumps(template_document(str(made.map.pk))).encode()
    made.template = templates.create(actor, team=team, name=None, document=exchange.parse(exchange.Template, sent)).head
    made.version = scores.create(actor, team=team, title="Two Notes", upload=upload(TINY_SCORE))
    made.score = made.version.score
    mark_ready(made.version)
    made.render = renders.create(actor, team=team, asked=renders.Asked(score=made.score.pk, template=made.template.pk))
    mark_done(made.render)
    made.token = tokens.create(actor, team=team, name="moor", scopes=("read",), expires_at=soon())[0]
    return made


def mark_ready(version: models.ScoreVersion) -> None:
    """Settle a reading without a child: for tests of what comes after."""
    summary = blobs.keep_document(version.team_id, exchange.freeze_json("score-summary", {"title": "Two Notes", "parts": []}))
    models.ScoreVersion.objects.filter(pk=version.pk).update(state="ready", summary=summary, settled_at=timezone.now())
    version.refresh_from_db()


def mark_done(render: models.Render) -> None:
    """Settle a render without a child: two files and a report."""
    report = blobs.keep_document(render.team_id, exchange.freeze_json("report", REPORT))
    now = timezone.now()
    models.Render.objects.filter(pk=render.pk).update(state="done", report=report, notes=2, agree=2, started_at=now, settled_at=now)
    for name, data in {"all.mid": b"MThd all", "tracks/01 Violins.mid": b"MThd one"}.items():
        blob = blobs.keep_bytes(render.team_id, data, "audio/midi")
        models.RenderFile.objects.create(team_id=render.team_id, render=render, name=name, blob=blob)
    render.refresh_from_db()


def mark_queued(render: models.Render) -> None:
    """Let a render wait again."""
    models.RenderFile.objects.filter(render=render).delete()
    models.Render.objects.filter(pk=render.pk).update(state="queued", report=None, notes=None, agree=None, started_at=None, settled_at=None)
    render.refresh_from_db()


def soon() -> Any:
    """Return a time tomorrow."""
    return timezone.now() + timedelta(days=1)


def person(name: str) -> models.User:
    """Return a new user of the cast."""
    return models.User.objects.create_user(f"{name.lower()}@moor.invalid", name, "moor-and-weir-7")


def join(team: models.Team, user: models.User, role: str) -> None:
    """Make a user a member."""
    models.Membership.objects.create(team=team, user=user, role=role)


class World:
    """The cast and their two houses.

    ada owns the team, ben edits, cleo reads; dan owns another team and is a stranger to this one. `clients` are
    test clients by name: the four by session, "anonymous", and Ada's tokens "reading", "writing", "expired".
    """

    def __init__(self) -> None:
        self.ada, self.ben, self.cleo, self.dan = (person(name) for name in ("Ada", "Ben", "Cleo", "Dan"))
        self.ours, self.theirs = house(self.ada, "Ollenmoor Players"), house(self.dan, "Tarn Quartet")
        join(self.ours.team, self.ben, "editor")
        join(self.ours.team, self.cleo, "reader")
        self.secrets = {name: self._token(scopes) for name, scopes in SCOPES.items()}
        models.Token.objects.filter(name="expired").update(expires_at=timezone.now() - timedelta(seconds=1))
        self.sessions = {name: signed_in(user).cookies["sessionid"].value for name, user in self.people.items()}
        self.clients = self._clients()

    def _clients(self) -> dict[str, Client]:
        found = {name: with_session(key) for name, key in self.sessions.items()} | {"anonymous": Client(raise_request_exception=False)}
        return found | {name: bearer(secret) for name, secret in self.secrets.items()}

    def again(self) -> World:
        """Return the same world for another test: rows as they were made, and clients that remember nothing."""
        made = copy.copy(self)
        for name in ("ada", "ben", "cleo", "dan", "ours", "theirs"):
            setattr(made, name, copy.deepcopy(getattr(self, name)))
        made.clients = made._clients()
        return made

    @property
    def people(self) -> dict[str, models.User]:
        """The cast by name."""
        return {"ada": self.ada, "ben": self.ben, "cleo": self.cleo, "dan": self.dan}

    def _token(self, scopes: tuple[str, ...]) -> str:
        name = next(name for name, found in SCOPES.items() if found is scopes)
        return tokens.create(self.ours.actor, team=self.ours.team, name=name, scopes=scopes, expires_at=soon())[1]


SCOPES: dict[str, tuple[str, ...]] = {"reading": ("read",), "writing": ("read", "write"), "expired": ("write", "read")}


def signed_in(user: models.User) -> Client:
    """Return a client with a session of this user."""
    client = Client(raise_request_exception=False)
    client.force_login(user)
    return client


def with_session(key: str) -> Client:
    """Return a client with this session."""
    client = Client(raise_request_exception=False)
    client.cookies["sessionid"] = key
    return client


def bearer(secret: str) -> Client:
    """Return a client that sends a token."""
    return Client(raise_request_exception=False, headers={"authorization": f"Bearer {secret}"})
