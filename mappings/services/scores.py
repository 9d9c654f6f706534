"""Scores: files in, versions out; reading them is a job."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from mappings import blobs, inline
from mappings.access import Actor
from mappings.blobs import Upload
from mappings.errors import Invalid
from mappings.models import Score, ScoreVersion, Team
from mappings.services import audit, heads

# What the first bytes of each kind of file look like; XML may begin with a byte order mark, and with spaces.
ZIP, MIDI = b"PK\x03\x04", b"MThd"
MEDIA_TYPES = ("application/vnd.recordare.musicxml", "audio/midi", "application/vnd.recordare.musicxml+xml")
MARKS_OF_ORDER = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))


def media_type(head: bytes) -> str:
    """Return the media type of a score's file by its first bytes; Invalid for what cannot be one."""
    if head.startswith(ZIP):
        return MEDIA_TYPES[0]
    if head.startswith(MIDI):
        return MEDIA_TYPES[1]
    if _text(head).lstrip("\ufeff \t\r\n").startswith("<"):
        return MEDIA_TYPES[2]
    what = "the body is empty" if not head else "this is neither MusicXML, nor a zip of it, nor MIDI"
    code = "empty-body" if not head else "not-a-score"
    raise Invalid(f"body: {what} – nothing was stored", code=code)


def _text(head: bytes) -> str:
    """Return the beginning of a file as text, by its byte order mark or by where its zero bytes are."""
    for mark, encoding in MARKS_OF_ORDER:
        if head.startswith(mark):
            return head.decode(encoding, "ignore")
    wide = {b"<\x00": "utf-16-le", b"\x00<": "utf-16-be"}.get(head[:2], "utf-8")
    return head.decode(wide, "ignore")


@transaction.atomic
def create(actor: Actor, *, team: Team, title: str, upload: Upload) -> ScoreVersion:
    """Return version 1 of a new score, waiting to be read. Without a title the score takes that of the file."""
    kind = media_type(upload.head)
    score = Score(team=team, title=title)
    score.insert()
    version = _version(actor, score, upload, kind)
    audit.record(actor, "score.create", score, to_version=1, digest=upload.digest)
    return version


@transaction.atomic
def add_version(actor: Actor, *, score: Score, expected: int | None, upload: Upload) -> ScoreVersion:
    """Return the next version of a score, waiting to be read."""
    kind = media_type(upload.head)
    held = heads.hold(score, expected)
    held.current += 1
    bumped = heads.bump(held, "current")
    version = _version(actor, held, upload, kind)
    audit.record(actor, "score.version", held, from_version=bumped - 1, to_version=bumped, digest=upload.digest, number=held.current)
    return version


def _version(actor: Actor, score: Score, upload: Upload, kind: str) -> ScoreVersion:
    blob = blobs.keep_upload(score.team_id, upload, kind)
    version = ScoreVersion(
        team_id=score.team_id, score=score, number=score.current, blob=blob, state=ScoreVersion.WAITING, made_by=actor.user
    )
    version.save(force_insert=True)
    inline.wake_on_commit()
    return version


@transaction.atomic
def rename(actor: Actor, *, score: Score, expected: int | None, title: str) -> Score:
    """Return the score under another title."""
    held = heads.hold(score, expected)
    held.title = title
    version = heads.bump(held, "title")
    audit.record(actor, "score.rename", held, from_version=version - 1, to_version=version)
    return held


@transaction.atomic
def archive(actor: Actor, *, score: Score, expected: int | None) -> None:
    """Hide a score and stop reading it; renders keep what they were made from."""
    held = heads.hold(score, expected)
    version = heads.archive(held)
    ScoreVersion.objects.filter(score=held, state=ScoreVersion.WAITING).update(cancel_requested_at=timezone.now())
    audit.record(actor, "score.archive", held, from_version=version - 1, to_version=version)
