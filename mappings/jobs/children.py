"""The child process of a job: its folder, its limits, its end."""

from __future__ import annotations

import json
import logging
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from django.conf import settings

from mappings.child import OUT_OF_MEMORY

log = logging.getLogger(__name__)
POLL = 0.5  # seconds between two beats: a cancel is seen within this time
SECRET = ("DATABASE_URL", "RIPIENO_SECRET_KEY", "RIPIENO_EMAIL_URL")
OLD = 3600.0  # seconds after which a folder belongs to nobody: longer than any child may run


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What a child is given: `said` goes into job.json, `files` beside it by name."""

    said: dict[str, Any]
    files: Mapping[str, bytes] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """How a child ended: its result, or why there is none."""

    result: dict[str, Any] = field(default_factory=dict)
    reason: str = ""


def work_folder() -> Path:
    """Return the folder that holds the folders of running children."""
    folder: Path = settings.DATA / "work"
    folder.mkdir(mode=0o700, exist_ok=True)
    return folder


def tidy() -> None:
    """Remove the folders that a killed process left behind."""
    for path in work_folder().iterdir():
        if time.time() - path.stat().st_mtime > OLD:
            shutil.rmtree(path, ignore_errors=True)


class Child:
    """A running child and its folder; leaving the context kills the one and removes the other."""

    def __init__(self, job: Job) -> None:
        self.job = job

    def __enter__(self) -> Self:
        self.folder = Path(tempfile.mkdtemp(dir=work_folder()))
        for name in ("out", "maps"):
            (self.folder / name).mkdir()
        for name, data in self.job.files.items():
            (self.folder / name).write_bytes(data)
        limits = {"memory": settings.CHILD_MEMORY, "seconds": _seconds(), "file_bytes": settings.CHILD_RESULT, "parent": os.getpid()}
        (self.folder / "job.json").write_text(json.dumps({**self.job.said, **limits}), encoding="utf-8")
        self.process = self._start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        shutil.rmtree(self.folder, ignore_errors=True)

    def _start(self) -> subprocess.Popen[bytes]:
        environment = {name: value for name, value in os.environ.items() if name not in SECRET}
        with (self.folder / "errors").open("wb") as errors:
            return subprocess.Popen(
                [sys.executable, "-m", settings.CHILD, str(self.folder)],
                stdin=subprocess.DEVNULL, stdout=errors, stderr=errors,
                cwd=settings.BASE, env=environment, start_new_session=True,
            )  # fmt: skip

    def wait(self, beat: Callable[[], None]) -> Ended:
        """Return how the child ended, or was ended at its time limit; `beat` is called meanwhile and may raise."""
        end = time.monotonic() + _seconds()
        while self.process.poll() is None:
            try:
                self.process.wait(POLL)
            except subprocess.TimeoutExpired:
                beat()
            if time.monotonic() > end:
                return Ended(reason=f"it took longer than {_seconds()} s – stopped")
        return self._ended(self.process.returncode)

    def _ended(self, code: int) -> Ended:
        if code == 0:
            size = sum(path.stat().st_size for path in self.folder.rglob("*"))
            if size > settings.CHILD_RESULT:
                return Ended(reason=f"its result has {size} bytes, more than {settings.CHILD_RESULT} – not stored")
            return Ended(result=json.loads((self.folder / "result.json").read_bytes()))
        log.error("child %s ended with %s: %s", self.job.said["do"], code, self._last_words())
        if code == OUT_OF_MEMORY:
            return Ended(reason=f"it needs more than {settings.CHILD_MEMORY // 1024**2} MiB of memory – stopped")
        if code in (-signal.SIGXCPU, -signal.SIGKILL):
            return Ended(reason="it was stopped from outside, or ran out of time – nothing was stored")
        return Ended(reason=f"its process ended {_by(code)} – nothing was stored")

    def _last_words(self) -> str:
        lines = (self.folder / "errors").read_text("utf-8", "replace")[-2000:].strip().splitlines()
        return lines[-1] if lines else ""

    def progress(self) -> int:
        """Return thousandths of the work that are done, as far as the child said."""
        try:
            return min(1000, int((self.folder / "progress").read_text() or 0))
        except (FileNotFoundError, ValueError):
            return 0

    def file(self, index: int) -> bytes:
        """Return the bytes of the child's n-th file."""
        return (self.folder / "out" / str(index)).read_bytes()


def _seconds() -> int:
    return int(settings.WALL.total_seconds())


def _by(code: int) -> str:
    return f"by the signal {signal.Signals(-code).name}" if code < 0 else f"with {code}"
