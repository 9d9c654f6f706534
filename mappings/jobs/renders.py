"""Renders: frozen inputs into files and a report."""

from __future__ import annotations

import json
from typing import Any

from mappings import blobs, exchange
from mappings.jobs import leases
from mappings.jobs.children import Child, Ended, Job
from mappings.jobs.readings import problems_document
from mappings.models import Render, RenderFile
from rendering.documents import canonical, digest, read
from rendering.templates import Assignment

TYPES = {".mid": "audio/midi", ".json": "application/json", ".txt": "text/plain; charset=utf-8"}


def job(render: Render) -> Job:
    """Return what the child needs, all of it from the render's frozen inputs."""
    inputs = json.loads(render.inputs.body)
    files: dict[str, bytes] = {}
    maps: dict[str, str] = {}
    for frozen in render.frozen.select_related("document", "blob"):
        if frozen.role == "score":
            files["score"] = blobs.read(frozen.blob)
        elif frozen.role == "template":
            files["template.json"] = frozen.document.body.encode()
        elif frozen.role == "map":
            maps[frozen.ref] = name = f"{frozen.document.digest}.json"
            files[f"maps/{name}"] = frozen.document.body.encode()
    said = {
        "do": "render", "template": "template.json" in files, "maps": maps, "assignment": inputs["assignment"],
        "options": inputs["options"], "digests": digests(inputs),
    }  # fmt: skip
    return Job(said=said, files=files)


def digests(inputs: dict[str, Any]) -> dict[str, str]:
    """Return the digests by which the report names the inputs; those of the score and the maps the engine takes itself."""
    found = {"template": inputs["template"]["digest"]} if inputs["template"] else {}
    if inputs["assignment"]:
        found["assignment"] = digest(canonical(read(Assignment, json.dumps(inputs["assignment"]).encode())))
    return found


def settle(render: Render, child: Child, ended: Ended) -> None:
    """Store the files and the report, or why there are none; inside the caller's transaction."""
    if "report" in ended.result:
        _done(render, child, ended.result["report"], ended.result["files"])
    elif "refused" in ended.result:
        found = ended.result["refused"]
        report = blobs.keep_document(render.team_id, problems_document(found))
        leases.settle(render, "failed", found[0]["message"], report=report)
    else:
        leases.settle(render, "failed", ended.reason)


def _done(render: Render, child: Child, report: dict[str, Any], names: list[str]) -> None:
    files = [_file(render, name, child.file(i)) for i, name in enumerate(names)]
    RenderFile.objects.bulk_create(files)
    document = blobs.keep_document(render.team_id, exchange.freeze_json("report", report))
    proof = report["proof"]
    engine = str(report.get("engine", render.engine_version))
    same = _same_files(render, files, engine)
    leases.settle(
        render, "done", report=document, notes=proof["notes"], agree=proof["agree"], engine_version=engine, same_files=same, progress=1000
    )


def _file(render: Render, name: str, data: bytes) -> RenderFile:
    media_type = TYPES.get(name[name.rfind(".") :], "application/octet-stream")
    return RenderFile(team_id=render.team_id, render=render, name=name, blob=blobs.keep_bytes(render.team_id, data, media_type))


def _same_files(render: Render, files: list[RenderFile], engine: str) -> bool | None:
    """Return whether a re-run made the files of the render that it repeats; None where there is nothing to compare."""
    before = render.rerun_of
    if before is None or before.engine_version != engine or before.pruned_at or before.state != "done":
        return None
    kept = dict(before.files.values_list("name", "blob__digest"))
    return kept == {file.name: file.blob.digest for file in files}
