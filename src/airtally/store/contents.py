"""Bytes as received, kept once by their digest."""

from __future__ import annotations

import zlib
from hashlib import sha256

from sqlalchemy.orm import Session

from airtally.errors import InputError
from airtally.store.models import Content

MOST_BYTES = 500_000_000
"""Of one file; the database takes no row above a thousand million."""
EFFORT = 6
"""Of the deflation; more costs time and saves little."""


def pack(content: bytes) -> Content:
    """Return bytes as a row that is not yet kept: deflating them is done before the store is locked.

    Raises InputError above :data:`MOST_BYTES`.
    """
    if len(content) > MOST_BYTES:
        raise InputError(f"a file of {len(content)} bytes is too large; at most {MOST_BYTES}. Divide it")
    return Content(digest=sha256(content).hexdigest(), size=len(content), packed=zlib.compress(content, EFFORT))


def keep(session: Session, content: Content) -> str:
    """Keep a packed row, unless its bytes are kept already, and return its digest."""
    if session.get(Content, content.digest) is None:
        session.add(content)
        session.flush()
    return content.digest


def content_by(session: Session, digest: str) -> bytes:
    """Return the bytes of a digest; raises InputError if there are none, or if the disk gave back others."""
    found = session.get(Content, digest)
    if found is None:
        raise InputError(f"the store has no file with the digest {digest[:80]}")
    content = zlib.decompress(found.packed)
    if sha256(content).hexdigest() != digest:
        raise InputError(f"the file with the digest {digest} is damaged; restore a backup")
    return content
