"""A reading or a render in a process of its own: documents in, bytes out, no database.

``python -m mappings.child FOLDER``. The folder holds ``job.json`` (what to do, under which limits), ``score``
and, for a render, ``template.json`` and ``maps/N.json``. Left behind are ``out/N`` and ``result.json``:
``{"summary": …}``, ``{"report": …, "files": [name, …]}`` or ``{"refused": [problem, …]}``. Exit 0 with a result;
3 where memory ran out. Whatever else happens to this process, its parent says so.
"""

from __future__ import annotations

import ctypes
import json
import os
import resource
import signal
import sys
import time
from pathlib import Path
from typing import Any

OUT_OF_MEMORY = 3
DIE_WITH_PARENT = 1  # PR_SET_PDEATHSIG of prctl(2)


def confine(job: dict[str, Any]) -> None:
    """Set this process's limits: it dies with its parent, and sooner if it takes too much."""
    for what, most in (
        (resource.RLIMIT_AS, job["memory"]),
        (resource.RLIMIT_CPU, job["seconds"]),
        (resource.RLIMIT_FSIZE, job["file_bytes"]),
        (resource.RLIMIT_CORE, 0),
    ):
        resource.setrlimit(what, (most, most))
    if sys.platform == "linux":
        ctypes.CDLL(None, use_errno=True).prctl(DIE_WITH_PARENT, signal.SIGKILL)
    if os.getppid() != job["parent"]:  # it died before the line above
        raise SystemExit(1)


def work(folder: Path, job: dict[str, Any]) -> dict[str, Any]:
    """Return the result of a job; its files are in `out` by then."""
    from rendering.problems import Refused
    from rendering.report import grouped

    score = (folder / "score").read_bytes()
    try:
        return _render(folder, job, score) if job["do"] == "render" else _read(score)
    except Refused as refused:
        return {"refused": grouped(refused.problems)}


def _read(score: bytes) -> dict[str, Any]:
    from rendering.inspecting import inspect

    return {"summary": inspect(score)}


def _render(folder: Path, job: dict[str, Any], score: bytes) -> dict[str, Any]:
    from rendering import pipeline
    from rendering.documents import read
    from rendering.maps.document import ArticulationMap
    from rendering.templates import Assignment, Template

    template = read(Template, (folder / "template.json").read_bytes()) if job["template"] else None
    rendering = pipeline.render(
        score,
        template=template,
        template_maps={track: read(ArticulationMap, (folder / "maps" / name).read_bytes()) for track, name in job["maps"].items()},
        assignment=read(Assignment, json.dumps(job["assignment"]).encode()) if job["assignment"] else None,
        options=pipeline.Options(**job["options"]),
        digests=job["digests"],
        progress=Progress(folder / "progress"),
    )
    for i, data in enumerate(rendering.files.values()):
        (folder / "out" / str(i)).write_bytes(data)
    return {"report": rendering.report, "files": list(rendering.files)}


class Progress:
    """Tells the parent how far the work is, four times a second at most."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.next = 0.0

    def __call__(self, done: int, total: int) -> None:
        """Note that `done` of `total` steps are done."""
        now = time.monotonic()
        if now >= self.next:
            self.next = now + 0.25
            self.path.write_text(str(1000 * done // max(total, 1)))


def main(folder: Path) -> int:
    """Return the exit code."""
    job = json.loads((folder / "job.json").read_bytes())
    confine(job)
    try:
        result = work(folder, job)
        (folder / "result.json").write_text(json.dumps(result, ensure_ascii=False), encoding="utf-8")
    except MemoryError:
        return OUT_OF_MEMORY
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
