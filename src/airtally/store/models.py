"""The tables of the store, for SQLite and for PostgreSQL alike."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import JSON, CheckConstraint, DateTime, Dialect, ForeignKey, Index, LargeBinary, MetaData, String, Text
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column
from sqlalchemy.types import TypeDecorator

NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}
"""Constraints carry names, or a later migration could not change them."""


class Moment(TypeDecorator[datetime]):
    """An instant in UTC; SQLite keeps no zone, so it is taken off on the way in and put back on the way out."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return the instant as the database keeps it."""
        if value is None:
            return None
        return value.astimezone(UTC).replace(tzinfo=None) if dialect.name == "sqlite" else value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return the instant with its zone."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if dialect.name == "sqlite" else value.astimezone(UTC)


class Base(DeclarativeBase):
    """What every table shares."""

    metadata = MetaData(naming_convention=NAMES)
    type_annotation_map = {  # noqa: RUF012 - read once by the base class, as its makers ask
        datetime: Moment,
        dict[str, Any]: JSON,
        list[dict[str, Any]]: JSON,
        bytes: LargeBinary,
    }


def _job_key(**options: Any) -> Mapped[uuid.UUID]:
    return mapped_column(ForeignKey("jobs.id", ondelete="CASCADE"), **options)


class Job(Base):
    """A job; its texts, logs, photos and records point to it."""

    __tablename__ = "jobs"

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True, default=uuid.uuid4)
    name: Mapped[str] = mapped_column(Text)
    """Home's name of the survey, or what the job was called before it had one."""
    revision: Mapped[int] = mapped_column(default=0)
    """Number of the newest revision of either text."""
    added_at: Mapped[datetime]
    added_by: Mapped[str] = mapped_column(Text)
    set_aside_at: Mapped[datetime | None]
    set_aside_by: Mapped[str | None] = mapped_column(Text)
    folder_digest: Mapped[str] = mapped_column(String(64), default="")
    """Of the folder it was imported from; empty for a job that began here."""

    __mapper_args__ = {"version_id_col": revision, "version_id_generator": False}  # noqa: RUF012 - as its makers ask


class JobText(Base):
    """The survey or the visits of a job as they stand: the bytes of a folder's file."""

    __tablename__ = "job_texts"

    job_id: Mapped[uuid.UUID] = _job_key(primary_key=True)
    part: Mapped[str] = mapped_column(String(20), primary_key=True)
    content: Mapped[bytes]
    fault: Mapped[str] = mapped_column(Text)
    """Why the text cannot be read as TOML; empty if it can."""


class Revision(Base):
    """One edit of one text: what it changed, and the cut by which the text before it can be had again."""

    __tablename__ = "revisions"

    job_id: Mapped[uuid.UUID] = _job_key(primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True)
    part: Mapped[str] = mapped_column(String(20))
    changes: Mapped[list[dict[str, Any]]]
    """``{path, before, after}`` of each key, in the order made."""
    cut_at: Mapped[int]
    cut_out: Mapped[bytes | None]
    """Bytes that stood from ``cut_at`` on; NULL where there was no text at all."""
    put_in: Mapped[bytes | None]
    """Bytes that stand there now; NULL where no text is left."""
    who: Mapped[str] = mapped_column(Text)
    made_at: Mapped[datetime]
    undoes: Mapped[int | None]


class Post(Base):
    """A request that was answered, by the key its device gave it."""

    __tablename__ = "posts"

    key: Mapped[str] = mapped_column(String(200), primary_key=True)
    job_id: Mapped[uuid.UUID] = _job_key()
    request: Mapped[str] = mapped_column(String(64))
    """SHA-256 of what was asked: a key that comes again with another wish is refused, not swallowed."""
    answer: Mapped[dict[str, Any]]
    made_at: Mapped[datetime]

    __table_args__ = (Index(None, "job_id"),)


class Content(Base):
    """Bytes as received, once however often they are named."""

    __tablename__ = "contents"

    digest: Mapped[str] = mapped_column(String(64), primary_key=True)
    """SHA-256."""
    size: Mapped[int]
    packed: Mapped[bytes]
    """The bytes, deflated."""


class LogFile(Base):
    """A file of a job as it was received: a log, or what else lay in its folder."""

    __tablename__ = "log_files"

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True, default=uuid.uuid4)
    job_id: Mapped[uuid.UUID] = _job_key()
    name: Mapped[str] = mapped_column(Text)
    """Path below the job's folder, with ``/``, as the survey writes it."""
    digest: Mapped[str] = mapped_column(ForeignKey("contents.digest"))
    added_at: Mapped[datetime]
    added_by: Mapped[str] = mapped_column(Text)
    set_aside_at: Mapped[datetime | None]
    set_aside_by: Mapped[str | None] = mapped_column(Text)

    __table_args__ = (Index(None, "job_id"), Index(None, "digest"))


class RecordKept(Base):
    """A record of a job, as the file it would be in the job's folder."""

    __tablename__ = "records"

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True, default=uuid.uuid4)
    job_id: Mapped[uuid.UUID] = _job_key()
    number: Mapped[int]
    """Counts the records of a job; the highest is the newest."""
    digest: Mapped[str] = mapped_column(ForeignKey("contents.digest"))
    kept_at: Mapped[datetime]

    __table_args__ = (Index(None, "job_id", "number", unique=True), Index(None, "digest"))


class Work(Base):
    """Long work that was asked for; whoever has its lease is at it."""

    __tablename__ = "works"

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True, default=uuid.uuid4)
    job_id: Mapped[uuid.UUID] = _job_key()
    kind: Mapped[str] = mapped_column(String(40))
    seed: Mapped[int]
    revision: Mapped[int]
    """Revision of the job when it was asked for."""
    state: Mapped[str] = mapped_column(String(20))
    words: Mapped[str] = mapped_column(Text, default="")
    """What it is doing, or why it ended so."""
    asked_at: Mapped[datetime]
    worker: Mapped[str | None] = mapped_column(String(80))
    lease_until: Mapped[datetime | None]
    """Without a word from its worker by then, another may take it up."""
    tries: Mapped[int] = mapped_column(default=0)
    is_cancel_asked: Mapped[bool] = mapped_column(default=False)
    ended_at: Mapped[datetime | None]

    __table_args__ = (
        CheckConstraint("state IN ('waiting', 'running', 'done', 'failed', 'cancelled')", name="state"),
        Index(None, "job_id"),
        Index(None, "state"),
    )


class Photo(Base):
    """A photo of a job; its bytes lie in the folder beside the database, under their digest."""

    __tablename__ = "photos"

    id: Mapped[uuid.UUID] = mapped_column(primary_key=True, default=uuid.uuid4)
    job_id: Mapped[uuid.UUID] = _job_key()
    name: Mapped[str] = mapped_column(Text)
    """Path below the job's folder."""
    digest: Mapped[str] = mapped_column(String(64))
    place: Mapped[str] = mapped_column(Text)
    """What it shows, by section and id of the survey: ``appliance/water-heater``; empty if it was not said."""
    note: Mapped[str] = mapped_column(Text)
    added_at: Mapped[datetime]
    added_by: Mapped[str] = mapped_column(Text)
    set_aside_at: Mapped[datetime | None]
    set_aside_by: Mapped[str | None] = mapped_column(Text)

    __table_args__ = (Index(None, "job_id"),)


class ReadLog(Base):
    """A file's readings as they were read once: what its blocks belong to."""

    __tablename__ = "read_logs"

    key: Mapped[str] = mapped_column(String(64), primary_key=True)
    """Of the file's bytes, what was stated about them, and the version that read them."""
    rows: Mapped[int]
    nouns: Mapped[dict[str, Any]]
    """Streams, files and problems."""


class ReadingBlock(Base):
    """Some thousand rows of one column of readings, deflated."""

    __tablename__ = "reading_blocks"

    key: Mapped[str] = mapped_column(ForeignKey("read_logs.key", ondelete="CASCADE"), primary_key=True)
    column: Mapped[str] = mapped_column(String(20), primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True)
    packed: Mapped[bytes]
