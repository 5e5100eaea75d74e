"""The list of jobs: added, set aside, taken back; none is ever deleted."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session, defer

from airtally.errors import InputError
from airtally.store.engine import Store
from airtally.store.models import Job, JobText, LogFile, Photo
from airtally.store.names import name_key
from airtally.store.revisions import PARTS, set_text
from airtally.store.texts import encode

UNNAMED = "unnamed job"


@dataclass(frozen=True, slots=True, kw_only=True)
class JobLine:
    """A job in the list.

    Attributes
    ----------
    faults : mapping
        By part, why its text cannot be read; the text is kept all the same.
    set_aside_at : datetime or None
        When it was set aside; None for a job of the list.
    """

    id: uuid.UUID
    name: str
    revision: int
    added_at: datetime
    set_aside_at: datetime | None
    faults: Mapping[str, str]


def add_job(store: Store, survey: str, who: str) -> uuid.UUID:
    """Add a job with the text of its survey and return its id; a text that is no TOML is kept and named in the list."""
    with store.write() as session:
        job = new_job(session, UNNAMED, who, store.now())
        set_text(session, job, PARTS[0], encode(survey), who, store.now())
        return job.id


def new_job(session: Session, name: str, who: str, now: datetime) -> Job:
    """Return a job without texts, added in the session."""
    job = Job(id=uuid.uuid4(), name=name, revision=0, added_at=now, added_by=who)
    session.add(job)
    session.flush()
    return job


def jobs(store: Store, *, are_set_aside: bool = False) -> tuple[JobLine, ...]:
    """Return the jobs of the list, the newest first; or those that were set aside."""
    with store.read() as session:
        aside = Job.set_aside_at.is_not(None) if are_set_aside else Job.set_aside_at.is_(None)
        return _lines(session, select(Job).where(aside).order_by(Job.added_at.desc(), Job.id))


def job_line(store: Store, job: uuid.UUID) -> JobLine:
    """Return a job as the list has it; raises InputError if there is none."""
    with store.read() as session:
        find_job(session, job)
        return _lines(session, select(Job).where(Job.id == job))[0]


def find_line(store: Store, words: str) -> JobLine:
    """Return the one job of the list with that name, or whose id begins so; raises InputError if it is not one."""
    lines = jobs(store)
    found = [line for line in lines if line.name == words] or [
        line for line in lines if words and str(line.id).startswith(words.lower())
    ]
    if len(found) == 1:
        return found[0]
    shown = "; ".join(f"{line.id} {line.name}" for line in (found or lines)[:10]) or "none yet"
    raise InputError(f"{len(found)} jobs are called {words!r}; give the id of one of: {shown}")


def _lines(session: Session, wanted: Select[Any]) -> tuple[JobLine, ...]:
    rows: Sequence[Job] = session.scalars(wanted).all()
    faults: dict[uuid.UUID, dict[str, str]] = {}
    for text in session.scalars(select(JobText).where(JobText.fault != "").options(defer(JobText.content))):
        faults.setdefault(text.job_id, {})[text.part] = text.fault
    return tuple(
        JobLine(
            id=job.id,
            name=job.name,
            revision=job.revision,
            added_at=job.added_at,
            set_aside_at=job.set_aside_at,
            faults=faults.get(job.id, {}),
        )
        for job in rows
    )


def set_aside_job(store: Store, job: uuid.UUID, who: str) -> None:
    """Take a job out of the list; everything of it is kept."""
    with store.write() as session:
        found = find_job(session, job)
        if found.set_aside_at is None:
            found.set_aside_at, found.set_aside_by = store.now(), who


def take_back_job(store: Store, job: uuid.UUID) -> None:
    """Put a job that was set aside back into the list."""
    with store.write() as session:
        found = find_job(session, job)
        found.set_aside_at = found.set_aside_by = None


def find_job(session: Session, job: uuid.UUID) -> Job:
    """Return a job, locked where the database locks rows; raises InputError if there is none."""
    found = session.get(Job, job, with_for_update=True)
    if found is None:
        raise InputError(f"no job has the id {job}; look in the list of jobs")
    return found


def file_keys(session: Session, job: uuid.UUID) -> set[str]:
    """Return the keys of the names that a job's logs and photos have, those set aside left out."""
    names = [
        *session.scalars(select(LogFile.name).where(LogFile.job_id == job, LogFile.set_aside_at.is_(None))),
        *session.scalars(select(Photo.name).where(Photo.job_id == job, Photo.set_aside_at.is_(None))),
    ]
    return {name_key(name) for name in names}
