"""The one place where documents and files are stored and read back.

Both are named by the SHA-256 of their bytes within a team (never across teams: that would tell what others have).
Bytes of files are kept deflated. What a team stores is counted, and limited.
"""

from __future__ import annotations

import hashlib
import threading
import uuid
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import IO

from django.conf import settings
from django.db import transaction
from django.db.models import F

from mappings.errors import TooLarge
from mappings.models import Blob, Document, Team

CHUNK = 1 << 20
# Storing a file takes many times its size in memory (the deflated copy, those of the database driver): one at a time.
_STORING = threading.Lock()


@dataclass(frozen=True, slots=True, kw_only=True)
class Frozen:
    """A document as it is kept: its canonical text, and what that says of itself."""

    kind: str
    edition: int
    body: str
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Upload:
    """A file that came in: `head` are its first bytes, `digest` and `size` were taken on the way."""

    file: IO[bytes]
    digest: str
    size: int
    head: bytes


def keep_document(team_id: uuid.UUID, frozen: Frozen) -> Document:
    """Return the team's row for this document, made if the team does not have it yet."""
    size = len(frozen.body.encode())
    defaults = {"kind": frozen.kind, "edition": frozen.edition, "body": frozen.body, "size": size}
    document, new = Document.objects.get_or_create(team_id=team_id, digest=frozen.digest, defaults=defaults)
    if new:
        use(team_id, size)
    found: Document = document
    return found


def keep_bytes(team_id: uuid.UUID, data: bytes, media_type: str) -> Blob:
    """Return the team's row for these bytes."""
    return _keep(team_id, hashlib.sha256(data).hexdigest(), len(data), media_type, [data])


def keep_upload(team_id: uuid.UUID, upload: Upload, media_type: str) -> Blob:
    """Return the team's row for a file that came in; read in pieces."""
    upload.file.seek(0)
    with _STORING:
        return _keep(team_id, upload.digest, upload.size, media_type, iter(lambda: upload.file.read(CHUNK), b""))


@transaction.atomic
def _keep(team_id: uuid.UUID, digest: str, size: int, media_type: str, pieces: Iterable[bytes]) -> Blob:
    # The lock keeps a blob that nothing refers to yet from being swept out before the caller refers to it.
    found: Blob | None = Blob.objects.select_for_update(no_key=True).defer("data").filter(team_id=team_id, digest=digest).first()
    if found is not None:
        return found
    deflate = zlib.compressobj()
    data = b"".join([*map(deflate.compress, pieces), deflate.flush()])
    defaults = {"media_type": media_type, "size": size, "data": data}
    blob, new = Blob.objects.defer("data").get_or_create(team_id=team_id, digest=digest, defaults=defaults)
    if new:
        use(team_id, len(data))
    made: Blob = blob
    return made


def read(blob: Blob) -> bytes:
    """Return the bytes of a file as they came in."""
    return zlib.decompress(blob.data, bufsize=max(blob.size, 1))


def use(team_id: uuid.UUID, size: int) -> None:
    """Count bytes that a team stores; TooLarge where they are more than it may."""
    fits = Team.objects.filter(pk=team_id, bytes_used__lte=settings.TEAM_BYTES - size)
    if not fits.update(bytes_used=F("bytes_used") + size):
        used = Team.objects.values_list("bytes_used", flat=True).get(pk=team_id)
        raise TooLarge(
            f"team storage: {size} bytes do not fit, {used} of {settings.TEAM_BYTES} are in use – nothing was stored", code="team-full"
        )
