"""Which tracks the parts of a score go to by themselves; nothing is stored."""

from __future__ import annotations

import uuid
from typing import Any

from mappings import exchange
from mappings.access import Actor, reference
from mappings.models import ScoreVersion, Template
from mappings.services import maps, renders, revisions, templates


def propose(actor: Actor, *, version: ScoreVersion, template: uuid.UUID | None) -> list[dict[str, Any]]:
    """Return a row for each part of a version that has been read: its tracks, or why it has none; without a template one of its own.

    Raises Conflict while the version is being read, Invalid for one that was refused and for a template that the
    version's team does not have.
    """
    renders.refuse_unread(version)
    parts = revisions.parsed(version.summary)["parts"] if version.summary else []
    if template is None:
        return [{"part": part["id"], "name": part["name"], "tracks": [part["id"]], "problems": []} for part in parts]
    row = reference(actor, Template, template, action="template.read", team=version.team_id, pointer="/template")
    document = templates.document_of(revisions.numbered(row, row.current, "/template"))
    resolved = templates.resolve(actor, document, version.team_id)
    bodies = {track: maps.document_of(revision) for track, (_, revision) in resolved.items()}
    return exchange.propose(parts, document, bodies)
