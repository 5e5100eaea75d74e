"""A job's records: each kept as its file, the newest given back with whether it is of the present inputs."""

from __future__ import annotations

import json
import threading
import uuid
from collections import OrderedDict
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
MOST_HELD = 16
"""Records held as they were read; by the digest of their file, so that they hold for every store."""
_HELD: OrderedDict[str, JobRecord] = OrderedDict()
_HOLDING = threading.Lock()


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
        record = _record(session, kept.digest)
        is_current = record.version == airtally.__version__ and record.digests == _digests(session, job, record)
        return RecordFound(record=record, is_current=is_current, kept_at=kept.kept_at)


def _record(session: Session, digest: str) -> JobRecord:
    """Return the record of a file; those last read are held, for a page asks twice and a file is half a megabyte."""
    with _HOLDING:
        held = _HELD.get(digest)
        if held is None:
            held = _HELD[digest] = JobRecord(document=json.loads(content_by(session, digest)))
        _HELD.move_to_end(digest)
        while len(_HELD) > MOST_HELD:
            _HELD.popitem(last=False)
        return held


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
