"""A job's files as they were received: added, read back by digest, set aside; none is ever deleted."""

from __future__ import annotations

import uuid
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from airtally.errors import InputError
from airtally.store.contents import content_by, keep, pack
from airtally.store.engine import Store
from airtally.store.listing import file_keys, find_job
from airtally.store.models import LogFile
from airtally.store.names import checked_name, free_names, name_key, received_name
from airtally.store.posts import once

FOLDER = "logs"
"""Where an added log lies in its job's folder."""


def add_log(store: Store, job: uuid.UUID, name: str, content: bytes, who: str, post: str) -> LogFile:
    """Keep a logger's file with a job and return its row.

    Parameters
    ----------
    name : str
        As the device gave it. The file is kept as ``logs/`` and its last part; where another file of the job has that
        name already, with a number. The same bytes under the same name are the same file.
    content : bytes
        As received.
    post : str
        Key of this post; the same post again gets the first answer.

    Raises
    ------
    InputError
        If there is no such job, the file is too large, or the post's key was used otherwise.
    """

    def act(session: Session) -> dict[str, Any]:
        find_job(session, job)
        digest = keep(session, packed)
        wanted = f"{FOLDER}/{received_name(name)}"
        present = {name_key(log.name): log for log in _logs(session, job)}
        for free in free_names(wanted):
            other = present.get(name_key(free))
            if other is None:
                break
            if other.digest == digest:
                return {"log": str(other.id)}
        return {"log": str(new_log(session, store, job, free, digest, who).id)}

    packed = pack(content)
    with store.write() as session:
        answer = once(session, job, post, ["add_log", name, packed.digest], store.now(), lambda: act(session))
        return _find(session, uuid.UUID(answer["log"]))


def new_log(session: Session, store: Store, job: uuid.UUID, name: str, digest: str, who: str) -> LogFile:
    """Return a new row for kept bytes, under a path below the job's folder; raises InputError for any other path."""
    log = LogFile(
        id=uuid.uuid4(), job_id=job, name=checked_name(name), digest=digest, added_at=store.now(), added_by=who
    )
    session.add(log)
    session.flush()
    return log


def logs_of(store: Store, job: uuid.UUID, *, are_set_aside: bool = False) -> tuple[LogFile, ...]:
    """Return a job's files by name; or those that were set aside."""
    with store.read() as session:
        return _logs(session, job, are_set_aside=are_set_aside)


def log_bytes(store: Store, digest: str) -> bytes:
    """Return a file's bytes as received; raises InputError if the store has none with that digest."""
    with store.read() as session:
        return content_by(session, digest)


def set_aside_log(store: Store, log: uuid.UUID, who: str) -> None:
    """Take a file out of its job; it is kept, and can be taken back."""
    with store.write() as session:
        found = _find(session, log)
        if found.set_aside_at is None:
            found.set_aside_at, found.set_aside_by = store.now(), who


def take_back_log(store: Store, log: uuid.UUID) -> LogFile:
    """Put a file that was set aside back into its job, with a number where its name is taken by now."""
    with store.write() as session:
        found = _find(session, log)
        if found.set_aside_at is not None:
            taken = file_keys(session, found.job_id)
            found.name = next(name for name in free_names(found.name) if name_key(name) not in taken)
            found.set_aside_at = found.set_aside_by = None
        return found


def _logs(session: Session, job: uuid.UUID, *, are_set_aside: bool = False) -> tuple[LogFile, ...]:
    aside = LogFile.set_aside_at.is_not(None) if are_set_aside else LogFile.set_aside_at.is_(None)
    return tuple(session.scalars(select(LogFile).where(LogFile.job_id == job, aside).order_by(LogFile.name)))


def _find(session: Session, log: uuid.UUID) -> LogFile:
    found = session.get(LogFile, log)
    if found is None:
        raise InputError(f"no file has the id {log}; look in the job's readings")
    return found
