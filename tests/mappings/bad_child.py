"""A child that misbehaves as its score says: what native code in a reader or renderer can do to its process."""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path
from typing import Any

from mappings import child


def misbehave(folder: Path, _job: dict[str, Any]) -> dict[str, Any]:
    """Do what the score says after its first bracket."""
    act = (folder / "score").read_bytes().split(b"<!--")[1].split(b"-->")[0].decode()
    if act == "eat memory":
        return {"summary": {"title": "x" * (50 << 30)}}
    if act in ("SIGSEGV", "SIGFPE", "SIGKILL"):
        os.kill(os.getpid(), signal.Signals[act])
    if act == "spin":
        while True:
            pass
    if act == "sleep":
        (folder / "progress").write_text("420")
        time.sleep(600)
    if act == "write too much":
        (folder / "out" / "0").write_bytes(b"x" * (64 << 20))
    if act == "exit 7":
        sys.exit(7)
    return {"summary": {"title": "", "problems": []}}


if __name__ == "__main__":
    child.work = misbehave  # the limits around it stay those of the service
    sys.exit(child.main(Path(sys.argv[1])))
