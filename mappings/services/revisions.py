"""What maps and templates share: a saved document is a new numbered revision, or nothing where it says the same."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

from mappings import blobs
from mappings.access import Actor, unknown
from mappings.blobs import Frozen
from mappings.errors import Invalid, Item, Stale
from mappings.models import Document
from mappings.models.base import TeamRow
from mappings.services import diff, heads

HeadT = TypeVar("HeadT", bound=TeamRow)


@dataclass(frozen=True, slots=True, kw_only=True)
class Saved(Generic[HeadT]):
    """What saving a document came to. `problems` are warnings and remarks; `new`: whether there is a new revision."""

    head: HeadT
    revision: Any
    problems: list[Item] = field(default_factory=list)
    new: bool = True


def current(head: Any) -> Any:
    """Return the revision in force of a map or template, with its document joined."""
    return head.revisions.select_related("document").get(number=head.current)


def numbered(head: Any, number: int, pointer: str) -> Any:
    """Return a revision by number, with its document joined; Invalid at the pointer where there is none."""
    found = head.revisions.select_related("document").filter(number=number).first()
    if found is None:
        raise unknown(pointer)
    return found


def parsed(document: Document) -> Any:
    """Return what a kept document holds."""
    return json.loads(document.body)


@contextmanager
def pointing(pointer: str) -> Iterator[None]:
    """Let each fault that is found in a stored document point to what names that document in the body."""
    try:
        yield
    except Invalid as refused:
        refused.errors = [{**item, "pointer": pointer, "within": item.get("pointer", "")} for item in refused.errors]
        raise


def hold(head: HeadT, expected: int | None, sent: Frozen) -> HeadT:
    """Return the head locked, as `heads.hold`; a Stale also says what is there now and how it differs from what was sent."""
    try:
        return heads.hold(head, expected)
    except Stale as stale:
        now: Any = type(head).objects.get(pk=head.pk)
        revision = current(now)
        body = revision.document.body
        stale.members = {
            "current": {"version": now.version, "revision": now.current, "document": parsed(revision.document)},
            "changes": diff.changes(sent.body, body),
        }
        raise


def first(actor: Actor, head: Any, frozen: Frozen, note: str) -> Any:
    """Return revision 1 of a head row that was just inserted."""
    document = blobs.keep_document(head.team_id, frozen)
    revision = head.revisions.model(**_owner(head), number=1, document=document, note=note, made_by=actor.user)
    revision.save(force_insert=True)
    return revision


def follow(actor: Actor, held: Any, frozen: Frozen, note: str, *, restored_from: int | None = None) -> Any | None:
    """Return the next revision of a held head row, whose `current` is set but not saved; None where nothing changed."""
    before = current(held)
    if before.document.digest == frozen.digest:
        return None
    document = blobs.keep_document(held.team_id, frozen)
    last = held.revisions.order_by("-number").values_list("number", flat=True).first()
    held.current = last + 1
    revision = held.revisions.model(
        **_owner(held), number=held.current, document=document, note=note, restored_from=restored_from, made_by=actor.user
    )
    revision.save(force_insert=True)
    return revision


def _owner(head: Any) -> dict[str, Any]:
    return {"team_id": head.team_id, type(head).__name__.lower(): head}
