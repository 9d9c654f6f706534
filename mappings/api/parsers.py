"""Bodies, each kind under its own limit: JSON as raw bytes, files into a temporary file."""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Mapping
from typing import IO, Any, ClassVar

from django.conf import settings
from rest_framework.parsers import BaseParser

from mappings.blobs import CHUNK, Upload
from mappings.errors import LengthRequired, TooLarge

IN_MEMORY = 1 << 20  # bytes of an upload that are kept in memory; more goes to a file in the data folder
HEAD = 512


class DocumentParser(BaseParser):
    """Hands the view the raw bytes: documents are read by their own strict parser, which needs the text as it was sent."""

    media_type = "application/json"

    def parse(self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None) -> Any:
        """Return the body as bytes; TooLarge beyond the view's `body_limit`."""
        limit = _limit(parser_context)
        body = stream.read(limit + 1)
        if len(body) > limit:
            raise too_large(limit)
        return body


class FileParser(BaseParser):
    """Streams a raw body to a temporary file, taking its digest on the way."""

    media_type = "application/octet-stream"

    def parse(self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None) -> Any:
        """Return the body as an Upload; TooLarge beyond the view's `body_limit`, and nothing of it is kept."""
        limit = _limit(parser_context)
        file = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY, dir=str(settings.DATA))  # noqa: SIM115 - the view closes it
        taken, size = hashlib.sha256(), 0
        while piece := stream.read(min(CHUNK, limit + 1 - size)):
            size += len(piece)
            if size > limit:
                file.close()
                raise too_large(limit)
            taken.update(piece)
            file.write(piece)
        file.seek(0)
        upload = Upload(file=file, digest=taken.hexdigest(), size=size, head=file.read(HEAD))
        (parser_context or {})["view"].received = upload
        return upload


def _accepting(media_type: str) -> type[FileParser]:
    return type(f"FileParser_{media_type}", (FileParser,), {"media_type": media_type})


FILE_TYPES: tuple[str, ...] = (
    "application/octet-stream",
    "application/vnd.recordare.musicxml",
    "application/vnd.recordare.musicxml+xml",
    "application/xml",
    "text/xml",
    "application/zip",
    "audio/midi",
)


class Files:
    """Mixin for views that take a file; its content decides what it is."""

    parser_classes: Any = [  # noqa: RUF012 - the framework declares it so
        _accepting(media_type) for media_type in FILE_TYPES
    ]
    body_limit: ClassVar[int] = 32 << 20


def _limit(context: Mapping[str, Any] | None) -> int:
    view, request = (context or {})["view"], (context or {})["request"]
    limit: int = view.body_limit
    headers = request.META
    if int(headers.get("CONTENT_LENGTH") or 0) > 4 * limit:  # so far over that reading it would only cost time
        raise too_large(limit)
    return limit


def demand_length(headers: Mapping[str, Any]) -> None:
    """Raise LengthRequired for a body in pieces: Django takes it for an empty one."""
    if headers.get("HTTP_TRANSFER_ENCODING") and not headers.get("CONTENT_LENGTH"):
        raise LengthRequired("body: its length is not said – send Content-Length")


def too_large(limit: int) -> TooLarge:
    """Return the refusal of a body over its limit."""
    return TooLarge(f"body: it has more than {limit} bytes – nothing was stored")
