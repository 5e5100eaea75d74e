"""A store backed up to one file, and a store made of that file again."""

from __future__ import annotations

import shutil
import sqlite3
import uuid
import zipfile
import zlib
from collections.abc import Iterable
from contextlib import closing
from hashlib import file_digest, sha256
from pathlib import Path
from typing import Protocol

from airtally.errors import InputError
from airtally.store.engine import Store, open_store
from airtally.store.photos import photo_path
from airtally.store.schema import copy_database

DATABASE = "store.sqlite"
PHOTOS = "photos"
DIGEST = "digest.txt"
PIECE = 1 << 20
"""Bytes moved at a time."""


class _Digest(Protocol):
    """What a digest is made with."""

    def update(self, data: bytes, /) -> None: ...


def back_up(store: Store, path: Path) -> str:
    """Write the whole store, photos too, to one file and return the digest of what it holds.

    The store may be in use: the backup is of one moment. It is whole or is not there.

    Raises
    ------
    InputError
        If the file is there already, or a photo is missing or damaged.
    """
    if path.exists():
        raise InputError(f"{path} is there already; name another file, so that no backup is lost")
    path.parent.mkdir(parents=True, exist_ok=True)
    draft = path.with_name(f".{path.name}.{uuid.uuid4().hex}.draft")
    copy = draft.with_suffix(".sqlite")
    try:
        copy_database(store.path, copy)
        digest = _digest(copy)
        with zipfile.ZipFile(draft, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
            archive.write(copy, DATABASE)
            for photo in _photos(copy):
                source = photo_path(store.photos, photo)
                if not source.is_file() or _file_digest(source) != photo:
                    raise InputError(f"the photo {photo} is missing or damaged; nothing was backed up")
                archive.write(source, f"{PHOTOS}/{photo}", zipfile.ZIP_STORED)
            archive.writestr(DIGEST, digest + "\n")
        draft.replace(path)
    finally:
        copy.unlink(missing_ok=True)
        draft.unlink(missing_ok=True)
    return digest


def restore(path: Path, to: Path) -> str:
    """Make a store of a backup, in a file that is not there yet, and return the digest of what it holds.

    Raises
    ------
    InputError
        If there is a store already, or the backup is damaged or none; nothing is left of it then.
    """
    for ending in ("", "-wal", "-shm", "-journal"):  # a journal left of another store would be played into this one
        if to.with_name(to.name + ending).exists():
            raise InputError(f"{to}{ending} is there already; move it away first, or name another file")
    to.parent.mkdir(parents=True, exist_ok=True)
    draft = to.with_name(f".{to.name}.{uuid.uuid4().hex}.draft")
    draft.mkdir()
    try:
        digest = _unpack(path, draft)
        for photo in _photos(draft / DATABASE):
            target = photo_path(to.with_name(to.name + ".photos"), photo)
            target.parent.mkdir(parents=True, exist_ok=True)
            (draft / photo).replace(target)
        (draft / DATABASE).replace(to)  # last: with it the store is there
    finally:
        shutil.rmtree(draft, ignore_errors=True)
    open_store(to).close()
    return digest


def store_digest(store: Store) -> str:
    """Return the digest of all that a store holds, as its backup would have it."""
    copy = store.path.with_name(f".{store.path.name}.{uuid.uuid4().hex}.copy")
    try:
        copy_database(store.path, copy)
        return _digest(copy)
    finally:
        copy.unlink(missing_ok=True)


def _unpack(path: Path, folder: Path) -> str:
    """Unpack a backup's files, each under its own name in one folder, and return its digest."""
    try:
        with zipfile.ZipFile(path) as archive:
            _take(archive, DATABASE, folder / DATABASE)
            for photo in _photos(folder / DATABASE):
                _take(archive, f"{PHOTOS}/{photo}", folder / photo)
                if _file_digest(folder / photo) != photo:
                    raise InputError(f"{path.name} is damaged: the photo {photo} is another; nothing was restored")
            wanted = archive.read(DIGEST).decode("ascii").strip()
    except (OSError, ValueError, KeyError, zipfile.BadZipFile, zlib.error, sqlite3.DatabaseError) as error:
        raise InputError(f"{path.name} is no backup, or is damaged: {error}; nothing was restored") from error
    if _digest(folder / DATABASE) != wanted:
        raise InputError(f"{path.name} is damaged: it does not hold what was backed up; nothing was restored")
    return wanted


def _take(archive: zipfile.ZipFile, name: str, to: Path) -> None:
    with archive.open(name) as source, to.open("xb") as target:
        shutil.copyfileobj(source, target, PIECE)


def _photos(database: Path) -> list[str]:
    """Return the digests of the photos that a database names, those set aside too."""
    with closing(sqlite3.connect(database)) as connection:
        digests = [row[0] for row in connection.execute("SELECT DISTINCT digest FROM photos ORDER BY digest")]
    for digest in digests:
        photo_path(Path(), digest)  # refuses what could lead elsewhere
    return digests


def _digest(database: Path) -> str:
    """Return the digest of every row of every table, in order of key; how the file lays them out does not matter."""
    whole = sha256()
    with closing(sqlite3.connect(database)) as connection:
        if [row[0] for row in connection.execute("PRAGMA integrity_check")] != ["ok"]:
            raise InputError("the database is damaged; restore an earlier backup")
        tables = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name").fetchall()
        for (table,) in tables:
            columns = connection.execute(f"PRAGMA table_info('{table}')").fetchall()
            keys = [f'"{column[1]}"' for column in sorted(columns, key=lambda c: c[5]) if column[5]]
            order = f" ORDER BY {', '.join(keys)}" if keys else ""
            _add(whole, [table, *(str(column[1]) for column in columns)])
            for row in connection.execute(f'SELECT * FROM "{table}"{order}'):  # noqa: S608 - names of our own tables
                _add(whole, row)
    return whole.hexdigest()


def _add(whole: _Digest, values: Iterable[object]) -> None:
    """Add values to a digest, each with its kind and length, so that no two rows look alike."""
    for value in values:
        content = value if isinstance(value, bytes) else str(value).encode("utf-8", "surrogatepass")
        whole.update(f"{type(value).__name__} {len(content)} ".encode())
        whole.update(content)


def _file_digest(path: Path) -> str:
    with path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()
