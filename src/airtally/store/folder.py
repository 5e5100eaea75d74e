"""A job as a folder: exported file by file, imported whole or not at all."""

from __future__ import annotations

import json
import os
import shutil
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from airtally.errors import InputError
from airtally.record.documents import SCHEMA_VERSION
from airtally.store.contents import content_by, keep, pack
from airtally.store.engine import Store
from airtally.store.listing import find_job, new_job
from airtally.store.logs import new_log
from airtally.store.models import Content, Job, JobText, LogFile, Photo
from airtally.store.names import checked_name, name_key
from airtally.store.photos import FOLDER as PHOTOS
from airtally.store.photos import new_photo, photo_bytes, photo_type, put_photo
from airtally.store.records import new_record, newest_record
from airtally.store.revisions import PARTS, set_text

RECORD = "record.json"
PLACES = f"{PHOTOS}/places.json"
"""What each photo shows; there where some photo has a place or a note."""
MOST_FILES = 5000


@dataclass(frozen=True, slots=True, kw_only=True)
class _Entry:
    """A file of a job: its digest and, where they are no file as received, its bytes."""

    digest: str
    content: bytes | None = None
    is_photo: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class _Received:
    """A folder as it was read: texts, photos with place and note, the record and all other files, each packed."""

    digest: str
    texts: Mapping[str, bytes]
    photos: Mapping[str, tuple[str, str, str]]
    record: Content | None
    files: Mapping[str, Content]


def export_folder(store: Store, job: uuid.UUID, folder: Path) -> None:
    """Write a job to a folder that is not there yet, or is empty; the folder is whole or is not there.

    Files that were set aside, earlier records and the history stay in the store.

    Raises
    ------
    InputError
        If there is no such job, or the folder holds something.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputError(f"{folder} is there already; name a folder that is not, or an empty one")
    folder.parent.mkdir(parents=True, exist_ok=True)
    draft = folder.parent / f".{folder.name}.{uuid.uuid4().hex}.draft"
    try:
        with store.read() as session:
            for name, entry in _entries(session, find_job(session, job)).items():
                path = draft / checked_name(name)
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_bytes(_bytes(session, store, entry))
        if folder.exists():
            folder.rmdir()
        draft.replace(folder)
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def import_folder(store: Store, folder: Path, who: str) -> uuid.UUID:
    """Import a folder as a job and return its id; a job that is this very folder already is returned as it is.

    Every file is kept byte for byte; hidden ones, whose names begin with a dot, are left out. A text that is no TOML
    is kept and named in the list of jobs.

    Raises
    ------
    InputError
        If the folder has no survey, holds a link or a name that some system cannot keep, or a file is too large;
        nothing is kept then.
    """
    received = _receive(store, folder)
    with store.write() as session:
        same = select(Job).where(Job.folder_digest == received.digest, Job.set_aside_at.is_(None))
        for job in session.scalars(same.order_by(Job.added_at)):
            if _digest_of({name: entry.digest for name, entry in _entries(session, job).items()}) == received.digest:
                return job.id
        job = new_job(session, folder.resolve().name, who, store.now())
        job.folder_digest = received.digest
        for part, content in received.texts.items():
            set_text(session, job, part, content, who, store.now())
        for name, packed in received.files.items():
            new_log(session, store, job.id, name, keep(session, packed), who)
        for name, (digest, place, note) in received.photos.items():
            new_photo(session, store, job.id, name, digest, place, note, who)
        if received.record is not None:
            new_record(session, store, job.id, received.record)
        return job.id


def _receive(store: Store, folder: Path) -> _Received:
    """Read a folder; photos are put beside the store, where they do no harm if the import ends here."""
    paths = _paths(folder)
    if f"{PARTS[0]}.toml" not in paths:
        raise InputError(f"{folder} holds no {PARTS[0]}.toml; is it a job's folder?")
    said = _places(paths[PLACES].read_bytes()) if PLACES in paths else {}
    texts: dict[str, bytes] = {}
    photos: dict[str, tuple[str, str, str]] = {}
    files: dict[str, Content] = {}
    digests: dict[str, str] = {}
    record: Content | None = None
    for name, path in paths.items():
        content = path.read_bytes()
        digests[name] = sha256(content).hexdigest()
        if name in (f"{part}.toml" for part in PARTS):
            texts[name.removesuffix(".toml")] = content
        elif name == PLACES:
            digests[name] = sha256(_places_bytes(said)).hexdigest()
        elif name.startswith(f"{PHOTOS}/") and photo_type(content):
            photos[name] = (put_photo(store, content), *said.get(name, ("", "")))
        elif name == RECORD and _is_record(content):
            record = pack(content)
        else:
            files[name] = pack(content)
    strangers = sorted(set(said) - set(photos))
    if strangers:
        raise InputError(f"{PLACES} names {strangers[0]!r}, which is no photo of the folder; correct or delete it")
    return _Received(digest=_digest_of(digests), texts=texts, photos=photos, record=record, files=files)


def _paths(folder: Path) -> dict[str, Path]:
    """Return the files below a folder by name, hidden ones left out; nothing is followed out of it."""
    if not folder.is_dir():
        raise InputError(f"{folder} is no folder")
    found: dict[str, Path] = {}
    keys: dict[str, str] = {}
    for root, folders, files in os.walk(folder, followlinks=False):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted([*folders, *files]):
            path = Path(root) / name
            shown = path.relative_to(folder).as_posix()
            if path.is_symlink() or not (path.is_file() or path.is_dir()):
                raise InputError(f"{shown} is a link or no file; put the file itself there")
            if path.is_dir() or name.startswith("."):
                continue
            other = keys.setdefault(name_key(checked_name(shown)), shown)
            if other != shown:
                raise InputError(f"{other} and {shown} are one file on some systems; rename one of them")
            found[shown] = path
            if len(found) > MOST_FILES:
                raise InputError(f"{folder} holds more than {MOST_FILES} files; is it a job's folder?")
    return dict(sorted(found.items()))


def _entries(session: Session, job: Job) -> dict[str, _Entry]:
    """Return the files that a job is, by name in order."""
    entries: dict[str, _Entry] = {}
    for text in session.scalars(select(JobText).where(JobText.job_id == job.id)):
        entries[f"{text.part}.toml"] = _made(text.content)
    for log in session.scalars(select(LogFile).where(LogFile.job_id == job.id, LogFile.set_aside_at.is_(None))):
        entries[log.name] = _Entry(digest=log.digest)
    said: dict[str, tuple[str, str]] = {}
    for photo in session.scalars(select(Photo).where(Photo.job_id == job.id, Photo.set_aside_at.is_(None))):
        entries[photo.name] = _Entry(digest=photo.digest, is_photo=True)
        said[photo.name] = (photo.place, photo.note)
    if any(place or note for place, note in said.values()):
        entries[PLACES] = _made(_places_bytes(said))
    record = newest_record(session, job.id)
    if record is not None:
        entries[RECORD] = _Entry(digest=record.digest)
    return dict(sorted(entries.items()))


def _made(content: bytes) -> _Entry:
    return _Entry(digest=sha256(content).hexdigest(), content=content)


def _bytes(session: Session, store: Store, entry: _Entry) -> bytes:
    if entry.content is not None:
        return entry.content
    return photo_bytes(store, entry.digest) if entry.is_photo else content_by(session, entry.digest)


def _digest_of(digests: Mapping[str, str]) -> str:
    """Return the digest of a folder from those of its files by name."""
    return sha256(json.dumps(sorted(digests.items()), ensure_ascii=False).encode()).hexdigest()


def _places_bytes(said: Mapping[str, tuple[str, str]]) -> bytes:
    """Return the file that says what each photo shows."""
    rows = [{"photo": name, "place": place, "note": note} for name, (place, note) in sorted(said.items())]
    return (json.dumps(rows, indent=1, ensure_ascii=False) + "\n").encode()


def _places(content: bytes) -> dict[str, tuple[str, str]]:
    """Return photo -> place and note; raises InputError if the file is none of ours."""
    try:
        rows = json.loads(content)
        return {str(row["photo"]): (str(row["place"]), str(row["note"])) for row in rows}
    except (ValueError, TypeError, KeyError, RecursionError) as error:
        raise InputError(f"{PLACES} is no list of photo, place and note; correct or delete it") from error


def _is_record(content: bytes) -> bool:
    """Return whether bytes are a record that this version reads; what is none is kept as any other file."""
    try:
        document = json.loads(content)
    except (ValueError, RecursionError):
        return False
    if not isinstance(document, dict) or document.get("schema") != SCHEMA_VERSION:
        return False
    made = document.get("provenance")
    return isinstance(made, dict) and "version" in made and isinstance(made.get("digests"), dict)
