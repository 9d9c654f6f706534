"""A real server process on a database of its own, and a plain HTTP client for it."""

from __future__ import annotations

import http.cookiejar
import json
import os
import secrets
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlencode

ROOT = Path(__file__).resolve().parent.parent.parent


@contextmanager
def fresh_database() -> Iterator[dict[str, str]]:
    """Yield the environment for a database of its own: on the PostgreSQL server of DATABASE_URL, else SQLite in the data folder."""
    url = os.environ.get("DATABASE_URL")
    if not url:
        yield {}
        return
    import psycopg

    name = f"served_{secrets.token_hex(4)}"
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute(f"create database {name}")
        try:
            yield {"DATABASE_URL": url[: url.rindex("/")] + f"/{name}"}
        finally:
            connection.execute(f"drop database {name} with (force)")


class Server:
    """A gunicorn with threads, as the README starts it, on a free port."""

    def __init__(self, data: Path, database: dict[str, str], settings: str = "tests.mappings.quick") -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.environment = {
            **os.environ, **database, "RIPIENO_DATA": str(data), "RIPIENO_SECRET_KEY": "of no use outside of this test, but long enough",
            "DJANGO_SETTINGS_MODULE": settings,
        }  # fmt: skip
        self.log = data / "server.log"
        self.manage("migrate", "-v0")

    def manage(self, *arguments: str, **environment: str) -> str:
        """Run a management command and return what it printed."""
        ran = subprocess.run(
            [sys.executable, "manage.py", *arguments], cwd=ROOT, env={**self.environment, **environment}, check=True, capture_output=True
        )
        return ran.stdout.decode()

    @property
    def url(self) -> str:
        """Where it listens."""
        return f"http://127.0.0.1:{self.port}"

    def __enter__(self) -> Server:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.kill(signal.SIGTERM)

    def start(self) -> None:
        """Start the process and wait until it answers."""
        command = ["-m", "gunicorn", "--threads", "8", "--bind", f"127.0.0.1:{self.port}", "mappings.project.wsgi"]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, *command], cwd=ROOT, env=self.environment, stdout=log, stderr=log, start_new_session=True
            )
        until(lambda: HTTP(self.url).ask("GET", "/livez").status == 200, 30)

    def workers(self) -> list[int]:
        """Return the ids of the processes that answer requests."""
        return [int(pid) for pid in Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text().split()]

    def kill(self, sign: int = signal.SIGKILL) -> None:
        """Send a signal to the process and its workers, and wait for the end."""
        if self.process.poll() is None:
            os.killpg(self.process.pid, sign)
        self.process.wait(30)


class Answer(NamedTuple):
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes

    def json(self) -> Any:
        """Return the body, parsed."""
        return json.loads(self.body)


class HTTP:
    """A client with cookies and an optional token; knows nothing of the service."""

    def __init__(self, url: str, token: str = "") -> None:
        self.url, self.token = url, token
        self.cookies = http.cookiejar.CookieJar()
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(self.cookies))

    def ask(self, method: str, path: str, body: Any = None, *, kind: str = "application/json", **headers: str) -> Answer:
        """Send one request; bytes go as they are, all else as JSON."""
        data = body if isinstance(body, bytes) or body is None else json.dumps(body).encode()
        request = urllib.request.Request(self.url + path, data, method=method)  # noqa: S310 - our own server
        said = {"Content-Type": kind, "Accept": "*/*", **{name.replace("_", "-"): value for name, value in headers.items()}}
        if self.token:
            said["Authorization"] = f"Bearer {self.token}"
        for name, value in said.items():
            request.add_header(name, value)
        try:
            with self.opener.open(request, timeout=60) as answer:
                return Answer(answer.status, dict(answer.headers), answer.read())
        except urllib.error.HTTPError as refused:
            with refused:
                return Answer(refused.code, dict(refused.headers), refused.read())
        except OSError:  # nobody listens (yet)
            return Answer(0, {}, b"")

    def sign_in(self, email: str, password: str) -> None:
        """Sign in as a browser does: the form's cookie and token go back with it."""
        self.ask("GET", "/sign-in")
        form = urlencode({"username": email, "password": password, "csrfmiddlewaretoken": self.csrf}).encode()
        answer = self.ask("POST", "/sign-in", form, kind="application/x-www-form-urlencoded", Referer=self.url)
        assert "sessionid" in {cookie.name for cookie in self.cookies}, answer

    @property
    def csrf(self) -> str:
        """The token of the CSRF cookie."""
        return next((cookie.value or "" for cookie in self.cookies if cookie.name == "csrftoken"), "")


def until(true: Any, seconds: float) -> Any:
    """Wait until a function's answer is true, and return it; AssertionError when the time is over."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found = true()
        if found:
            return found
        time.sleep(0.1)
    raise AssertionError(f"not within {seconds} s")
