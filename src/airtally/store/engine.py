"""A store opened: one SQLite file, brought to the present schema, with its two kinds of session."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from platformdirs import user_data_path
from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import URL
from sqlalchemy.exc import DatabaseError
from sqlalchemy.orm import Session

from airtally.errors import InputError
from airtally.held import Held
from airtally.record.documents import JobRecord
from airtally.store.schema import migrate

MOST_RECORDS = 16
"""Records held as they were read."""
PATIENCE = 30
"""How long a writer waits for another to finish. [s]"""


def _now() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Store:
    """The database of jobs.

    Attributes
    ----------
    path : Path
        The SQLite file; photos lie in the folder :attr:`photos` beside it.
    engine : Engine
        For sessions use :meth:`read` and :meth:`write`.
    now : callable
        The clock: an instant with its zone.
    records : Held
        Records read last, by the digest of their file.
    """

    path: Path
    engine: Engine
    now: Callable[[], datetime]
    records: Held[str, JobRecord] = field(default_factory=lambda: Held(MOST_RECORDS))

    @property
    def photos(self) -> Path:
        """Return the folder of the photos."""
        return self.path.with_name(self.path.name + ".photos")

    @contextmanager
    def write(self) -> Iterator[Session]:
        """Open a session that alone may write, from its first read to its commit; an error undoes all of it."""
        with Session(self.engine.execution_options(writes=True), expire_on_commit=False) as session, session.begin():
            yield session

    @contextmanager
    def read(self) -> Iterator[Session]:
        """Open a session on the store as it stands at its first read; the database refuses to be changed in it."""
        with Session(self.engine, expire_on_commit=False) as session:
            yield session

    def close(self) -> None:
        """Let go of the file."""
        self.engine.dispose()


def open_store(path: Path, now: Callable[[], datetime] = _now) -> Store:
    """Open the store in a file, making it if there is none, and bring it to the present schema.

    An older store is copied beside itself first.

    Raises
    ------
    InputError
        If the file is no store, or was written by a later program.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    engine = sqlite_engine(path)
    try:
        migrate(engine, path)
    except DatabaseError as error:
        raise InputError(
            f"{path.name} cannot be opened as a store: {error.orig}. Name another file, or restore a backup"
        ) from error
    return Store(path=path, engine=engine, now=now)


def default_path() -> Path:
    """Return where the store lies if nobody says otherwise: in the user's data folder, as the system has it."""
    return user_data_path("airtally", appauthor=False) / "jobs.sqlite"


def sqlite_engine(path: Path) -> Engine:
    """Return an engine whose writes are serial and survive a power cut.

    The driver's own transactions are turned off: they begin with the first change, so that two writers can read the
    same row and the later one undoes the earlier in silence. Here a writer takes the lock before it reads.
    """
    engine = create_engine(URL.create("sqlite", database=str(path)), connect_args={"timeout": PATIENCE})

    @event.listens_for(engine, "connect")
    def _connect(connection: Any, _record: Any) -> None:
        connection.isolation_level = None
        for pragma in ("synchronous=FULL", "fullfsync=ON", "foreign_keys=ON"):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql(f"PRAGMA query_only={'OFF' if writes else 'ON'}")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine
