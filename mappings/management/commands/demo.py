"""The demo: a team, two invented libraries, an invented piece; entered through the services, rendered, written as MIDI files."""

from __future__ import annotations

import io
import os
import secrets
import shutil
import sys
import time
import uuid
from collections import Counter
from datetime import timedelta
from hashlib import sha256
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from fixtures import demo
from mappings import blobs, exchange, jobs
from mappings.access import Actor, actor_of
from mappings.blobs import Upload
from mappings.models import Instrument, Library, Map, Render, Score, ScoreVersion, Team, Template, User
from mappings.services import libraries, maps, renders, revisions, scores, teams, templates, tokens

ADDRESS, NAME = "ada@demo.invalid", "Ada"
YEAR = timedelta(days=365)


class Command(BaseCommand):
    """Idempotent: what is there already stays, and is only brought up to date."""

    help = "Load the demo, render it and write its MIDI files to the data folder."

    def handle(self, *_args: Any, **_options: Any) -> None:
        """Do it all, and say how to go on."""
        call_command("migrate", verbosity=0)
        user, password = _user()
        actor, team = _team(user)
        folder: Path = settings.DATA / "demo"
        folder.mkdir(mode=0o700, exist_ok=True)
        token = _token(actor, team, folder / "token")
        ids = _maps(actor, team)
        made = [_template(actor, team, file, ids) for file in demo.TEMPLATES]
        score = _score(actor, team)
        self.say(f"“{demo.TITLE}”, {demo.TEAM}: {len(demo.LIBRARIES)} libraries, {len(ids)} maps, {len(made)} templates.")
        for template in made:
            render = _render(actor, team, score, template)
            self.report(render, template, _write(render, folder / "".join(c if c.isalnum() or c in " -," else "_" for c in template.name)))
        self.go_on(password, token)

    def say(self, line: str) -> None:
        """Print one line."""
        self.stdout.write(line)

    def report(self, render: Render, template: Template, folder: Path) -> None:
        """Say what a render came to."""
        if render.report is None:
            raise CommandError(f"{template.name}: no report – this is a fault of the service")
        report = revisions.parsed(render.report)
        proof, outcomes = report["proof"], Counter[str]()
        for track in report["tracks"]:
            outcomes.update(track["outcomes"])
        heard = f"{proof['agree']} of {proof['notes']} notes heard as chosen, {len(proof['disagree'])} not, {proof['yielded']} yielded"
        self.say(f"\n{template.name}: {len(report['tracks'])} tracks, {report['score']['played']} measures played; proof: {heard}.")
        self.say("  marks: " + ", ".join(f"{count} {outcome}" for outcome, count in outcomes.most_common()) + ".")
        self.say(f"  files: {folder / 'all.mid'}, one file a track in {folder / 'tracks'}, the report in {folder / 'report.txt'}")

    def go_on(self, password: str, token: Path) -> None:
        """Say how to go on."""
        said = f"password {password} (shown this once)" if password else "the password shown on the first run"
        self.say(f"\nSign in as {ADDRESS} with {said}; a token for scripts is in {token}.")
        self.say("Go on: start the service and open http://127.0.0.1:8000/api/v1/docs, or ask by curl:")
        self.say(f"  {_python()} -m gunicorn --threads 8 mappings.project.wsgi")
        self.say(f'  curl -H "Authorization: Bearer $(cat {token})" http://127.0.0.1:8000/api/v1/teams')


def _python() -> Path:
    """Return this interpreter as one would type it from here."""
    path, here = Path(sys.executable), Path.cwd()
    return path.relative_to(here) if path.is_relative_to(here) else path


def _user() -> tuple[User, str]:
    """Return the demo's user, and the password where it was made just now."""
    found = User.objects.filter(email=ADDRESS).first()
    if found is not None:
        return found, ""
    password = secrets.token_urlsafe(12)
    return User.objects.create_user(ADDRESS, NAME, password), password


def _team(user: User) -> tuple[Actor, Team]:
    found = Team.objects.visible_to(actor_of(user)).filter(name=demo.TEAM).first()
    team = found or teams.create(actor_of(user), name=demo.TEAM)
    return actor_of(user), team


def _token(actor: Actor, team: Team, path: Path) -> Path:
    """Return the file that holds a valid token, of mode 600."""
    if path.exists() and tokens.find(path.read_text(encoding="ascii").strip()):
        return path
    _, secret = tokens.create(actor, team=team, name="demo", scopes=("read", "write"), expires_at=timezone.now() + YEAR)
    path.unlink(missing_ok=True)
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="ascii") as file:
        file.write(secret + "\n")
    return path


def _maps(actor: Actor, team: Team) -> dict[str, str]:
    """Return file -> id of every map, all of them saying what their files say."""
    ids = {}
    for library in demo.LIBRARIES:
        home = Library.objects.filter(team=team, name=library.name, archived_at=None).first()
        home = home or libraries.create_library(actor, team=team, name=library.name)
        for instrument in library.instruments:
            ids[instrument.file] = str(_map(actor, team, home, instrument).pk)
    return ids


def _map(actor: Actor, team: Team, library: Library, said: demo.Instrument) -> Map:
    home = Instrument.objects.filter(library=library, name=said.name, archived_at=None).first()
    home = home or libraries.create_instrument(actor, library=library, name=said.name, sound=said.sound, players=said.players)
    document = exchange.parse(exchange.ArticulationMap, said.body)
    found = Map.objects.filter(instrument=home, name=document.name[:100], archived_at=None).first()
    if found is None:
        return maps.create(actor, team=team, instrument=home.pk, name=document.name[:100], document=document).head
    return maps.save(actor, row=found, expected=None, document=document).head


def _template(actor: Actor, team: Team, file: demo.TemplateFile, ids: dict[str, str]) -> Template:
    document = exchange.parse(exchange.Template, file.bound(ids))
    found = Template.objects.filter(team=team, name=file.name, archived_at=None).first()
    if found is None:
        return templates.create(actor, team=team, name=file.name, document=document).head
    return templates.save(actor, row=found, expected=None, document=document).head


def _score(actor: Actor, team: Team) -> Score:
    """Return the demo's score, read; a newer file becomes its next version."""
    digest = sha256(demo.SCORE).hexdigest()
    upload = Upload(file=io.BytesIO(demo.SCORE), digest=digest, size=len(demo.SCORE), head=demo.SCORE[:512])
    score = Score.objects.filter(team=team, title=demo.TITLE, archived_at=None).first()
    if score is None:
        version = scores.create(actor, team=team, title=demo.TITLE, upload=upload)
    else:
        version = score.versions.defer("blob__data").select_related("blob").get(number=score.current)
        if version.blob.digest != digest:
            version = scores.add_version(actor, score=score, expected=None, upload=upload)
    _carry("reading", ScoreVersion, version.pk)
    found: Score = Score.objects.get(pk=version.score_id)
    return found


def _render(actor: Actor, team: Team, score: Score, template: Template) -> Render:
    """Return the render of the score by a template; one that was made of the same inputs before serves again."""
    asked = renders.Asked(score=score.pk, template=template.pk)
    render = renders.made_before(actor, team=team, asked=asked) or renders.create(actor, team=team, asked=asked)
    _carry("render", Render, render.pk)
    found: Render = Render.objects.select_related("report").get(pk=render.pk)
    return found


def _carry(kind: str, model: Any, pk: uuid.UUID) -> None:
    """Carry a row to its end here, or wait while another process carries it."""
    while True:
        row = model.objects.get(pk=pk)
        if row.state in ("done", "ready"):
            return
        if row.settled_at:
            raise CommandError(f"{kind}: it ended {row.state} – {row.reason}")
        if not jobs.run(kind, pk):
            time.sleep(0.2)


def _write(render: Render, folder: Path) -> Path:
    """Write the files of a render to a folder, whole: readers see the old files or the new ones."""
    draft = folder.with_name(f".{folder.name}.{os.getpid()}")
    for file in render.files.select_related("blob"):
        path = draft / file.name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(blobs.read(file.blob))
    shutil.rmtree(folder, ignore_errors=True)
    draft.rename(folder)
    return folder
