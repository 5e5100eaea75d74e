"""A job's records: each kept as its file, the newest given back with whether it is of the present inputs."""

from __future__ import annotations

import json
import uuid
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256

from sqlalchemy import func, select
from sqlalchemy.orm import Session

import airtally
from airtally.record.documents import JobRecord, record_bytes
from airtally.store.contents import content_by, keep, pack
from airtally.store.engine import Store
from airtally.store.listing import find_job
from airtally.store.models import Content, JobText, LogFile, RecordKept
from airtally.store.revisions import PARTS

NOTHING = sha256(b"").hexdigest()
"""What a record has for a log that was named and not there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordFound:
    """The newest record of a job; ``is_current`` says whether this version made it of the very inputs of now."""

    record: JobRecord
    is_current: bool
    kept_at: datetime


def keep_record(store: Store, job: uuid.UUID, record: JobRecord) -> None:
    """Keep a record as its job's newest."""
    packed = pack(record_bytes(record))
    with store.write() as session:
        find_job(session, job)
        new_record(session, store, job, packed)


def new_record(session: Session, store: Store, job: uuid.UUID, content: Content) -> None:
    """Keep the bytes of a record's file as a job's newest record."""
    newest = session.scalar(select(func.max(RecordKept.number)).where(RecordKept.job_id == job)) or 0
    digest = keep(session, content)
    session.add(RecordKept(job_id=job, number=newest + 1, digest=digest, kept_at=store.now()))
    session.flush()


def record_of(store: Store, job: uuid.UUID) -> RecordFound | None:
    """Return a job's newest record; None where it has none."""
    with store.read() as session:
        find_job(session, job)
        kept = newest_record(session, job)
        if kept is None:
            return None
        digest = kept.digest
        # Half a megabyte of JSON that a page asks for twice: those last read are held.
        record = store.records.of(digest, lambda: JobRecord(document=json.loads(content_by(session, digest))))
        is_current = record.version == airtally.__version__ and record.digests == _digests(session, job, record)
        return RecordFound(record=record, is_current=is_current, kept_at=kept.kept_at)


def newest_record(session: Session, job: uuid.UUID) -> RecordKept | None:
    """Return the row of a job's newest record."""
    return session.scalars(
        select(RecordKept).where(RecordKept.job_id == job).order_by(RecordKept.number.desc()).limit(1)
    ).first()


def _digests(session: Session, job: uuid.UUID, record: JobRecord) -> dict[str, str]:
    """Return the digests that a record made now would name: of the texts, and of the logs the record was made of."""
    texts = {
        f"{text.part}.toml": sha256(text.content).hexdigest()
        for text in session.scalars(select(JobText).where(JobText.job_id == job))
    }
    live = select(LogFile).where(LogFile.job_id == job, LogFile.set_aside_at.is_(None))
    logs = {log.name: log.digest for log in session.scalars(live)}
    named = set(record.digests) - {f"{part}.toml" for part in PARTS}
    return texts | {name: logs.get(name, NOTHING) for name in named}
