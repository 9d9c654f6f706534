"""Uploads for tests that call services."""

from __future__ import annotations

import hashlib
import io

from mappings.blobs import Upload


def upload(data: bytes) -> Upload:
    """Return bytes as the parser hands them on."""
    return Upload(file=io.BytesIO(data), digest=hashlib.sha256(data).hexdigest(), size=len(data), head=data[:512])
