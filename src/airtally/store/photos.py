"""Photos of a job, each tied to a place of the survey; their bytes lie beside the database, once by digest."""

from __future__ import annotations

import os
import uuid
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from airtally.errors import InputError
from airtally.store.contents import MOST_BYTES
from airtally.store.engine import Store
from airtally.store.listing import file_keys, find_job
from airtally.store.models import Photo
from airtally.store.names import free_names, name_key, received_name
from airtally.store.posts import once

FOLDER = "photos"
"""Where a photo lies in its job's folder."""
HEIC_BRANDS = (b"heic", b"heix", b"hevc", b"mif1", b"msf1")


def add_photo(
    store: Store, job: uuid.UUID, name: str, content: bytes, place: str, note: str, who: str, post: str
) -> Photo:
    """Keep a photo of a job and return its row.

    Parameters
    ----------
    name : str
        As the device gave it; kept as ``photos/`` and its last part, with a number where that is taken.
    place : str
        Section and id of what it shows, ``appliance/water-heater``; empty if it was not said.
    post : str
        Key of this post; the same post again gets the first answer.

    Raises
    ------
    InputError
        If there is no such job, the bytes are no photo, or the post's key was used otherwise.
    """
    digest = put_photo(store, content)

    def act(session: Session) -> dict[str, Any]:
        find_job(session, job)
        taken = file_keys(session, job)
        free = next(n for n in free_names(f"{FOLDER}/{received_name(name)}") if name_key(n) not in taken)
        return {"photo": str(new_photo(session, store, job, free, digest, place, note, who).id)}

    with store.write() as session:
        request = ["add_photo", name, digest, place, note]
        return _find(session, uuid.UUID(once(session, job, post, request, store.now(), lambda: act(session))["photo"]))


def new_photo(
    session: Session, store: Store, job: uuid.UUID, name: str, digest: str, place: str, note: str, who: str
) -> Photo:
    """Return a new row for a photo whose bytes are kept."""
    photo = Photo(
        id=uuid.uuid4(),
        job_id=job,
        name=name,
        digest=digest,
        place=place,
        note=note,
        added_at=store.now(),
        added_by=who,
    )
    session.add(photo)
    session.flush()
    return photo


def photos_of(store: Store, job: uuid.UUID, *, are_set_aside: bool = False) -> tuple[Photo, ...]:
    """Return a job's photos by name; or those that were set aside."""
    with store.read() as session:
        return _photos(session, job, are_set_aside=are_set_aside)


def set_aside_photo(store: Store, photo: uuid.UUID, who: str) -> None:
    """Take a photo out of its job; it is kept, and can be taken back."""
    with store.write() as session:
        found = _find(session, photo)
        if found.set_aside_at is None:
            found.set_aside_at, found.set_aside_by = store.now(), who


def take_back_photo(store: Store, photo: uuid.UUID) -> Photo:
    """Put a photo that was set aside back into its job, with a number where its name is taken by now."""
    with store.write() as session:
        found = _find(session, photo)
        if found.set_aside_at is not None:
            taken = file_keys(session, found.job_id)
            found.name = next(name for name in free_names(found.name) if name_key(name) not in taken)
            found.set_aside_at = found.set_aside_by = None
        return found


def photo_type(content: bytes) -> str:
    """Return a photo's media type by its first bytes; empty for anything else, drawings that can hold programs too."""
    if content.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "image/webp"
    return "image/heic" if content[4:8] == b"ftyp" and content[8:12] in HEIC_BRANDS else ""


def put_photo(store: Store, content: bytes) -> str:
    """Write a photo's bytes under their digest and return it; whole or not at all, whenever the power goes.

    Raises InputError for what is no photo or too large.
    """
    if not photo_type(content):
        raise InputError("this file is no photo; a JPEG, PNG, WebP or HEIC file is wanted")
    if len(content) > MOST_BYTES:
        raise InputError(f"a photo of {len(content)} bytes is too large; at most {MOST_BYTES}")
    digest = sha256(content).hexdigest()
    path = photo_path(store.photos, digest)
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        draft = path.with_name(f"{digest}.{uuid.uuid4().hex}.draft")
        with draft.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        draft.replace(path)
        _settle(path.parent)
    return digest


def photo_bytes(store: Store, digest: str) -> bytes:
    """Return a photo's bytes; raises InputError where they are not there or are no longer those."""
    try:
        content = photo_path(store.photos, digest).read_bytes()
    except OSError as error:
        raise InputError(f"the photo {digest[:64]} is not in {store.photos.name}; restore a backup") from error
    if sha256(content).hexdigest() != digest:
        raise InputError(f"the photo {digest} is damaged; restore a backup")
    return content


def photo_path(folder: Path, digest: str) -> Path:
    """Return where a photo's bytes lie; raises InputError for what is no digest."""
    if len(digest) != 64 or not set(digest) <= set("0123456789abcdef"):
        raise InputError(f"{digest[:80]!r} is no digest of a photo")
    return folder / digest[:2] / digest


def _settle(folder: Path) -> None:
    """Have the disk keep the folder's list of names as well."""
    with suppress(OSError):  # Windows opens no folder, and needs none opened
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _photos(session: Session, job: uuid.UUID, *, are_set_aside: bool = False) -> tuple[Photo, ...]:
    aside = Photo.set_aside_at.is_not(None) if are_set_aside else Photo.set_aside_at.is_(None)
    return tuple(session.scalars(select(Photo).where(Photo.job_id == job, aside).order_by(Photo.name)))


def _find(session: Session, photo: uuid.UUID) -> Photo:
    found = session.get(Photo, photo)
    if found is None:
        raise InputError(f"no photo has the id {photo}; look in the job's photos")
    return found
