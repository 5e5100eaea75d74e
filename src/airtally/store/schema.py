"""The schema brought up to date: after a copy, in one transaction, with nothing lost on the way."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing
from pathlib import Path

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import OperationalError

from airtally.errors import InputError

HEAD = "2"
"""Newest migration; known here so that a store that has it opens without loading the migrations."""
TRIES = 50
PAUSE = 0.1
"""Between tries to set the journal's mode while another process does the same. [s]"""


def migrate(engine: Engine, path: Path) -> None:
    """Bring a store to the newest schema; one that has it is left alone.

    Raises
    ------
    InputError
        If the store was written by a later program, is another program's database, or its rows would not fit.
    """
    with engine.connect() as connection:
        journal = connection.exec_driver_sql("PRAGMA journal_mode").scalar_one()  # a restored copy has another
        if schema_of(connection, path) == HEAD and journal == "wal":
            return
    _set_journal(engine)
    with engine.execution_options(writes=True).connect() as connection:
        # A table that is rebuilt is dropped on the way: with foreign keys on, its children would go with it.
        connection.connection.driver_connection.execute("PRAGMA foreign_keys=OFF")  # type: ignore[union-attr]
        with connection.begin():
            found = schema_of(connection, path)  # read again, now that nobody else can be at it
            if found != HEAD:
                if found is not None:
                    copy_database(path, path.with_name(f"{path.name}.schema-{found}"))
                _upgrade(connection)
                _check(connection, path)
    engine.dispose()  # no connection without foreign keys goes back to the pool


def schema_of(connection: Connection, path: Path) -> str | None:
    """Return the migration that a database stands at, None for an empty one."""
    tables = connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type = 'table'").scalars().all()
    if not tables:
        return None
    if "alembic_version" not in tables or "jobs" not in tables:
        raise InputError(f"{path.name} is the database of another program; name another file")
    found = str(connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one())
    if not found.isdecimal() or int(found) > int(HEAD):
        raise InputError(
            f"{path.name} has schema {found}, this program knows up to {HEAD}: a newer airtally wrote it. Install that one"
        )
    return found


def copy_database(path: Path, to: Path) -> None:
    """Copy a database that may be in use; a plain copy of the file would miss what its journal holds."""
    draft = to.with_name(to.name + ".draft")
    draft.unlink(missing_ok=True)
    with closing(sqlite3.connect(path)) as source, closing(sqlite3.connect(draft)) as target:
        source.backup(target)
        target.execute("PRAGMA journal_mode=DELETE")
    draft.replace(to)


def _set_journal(engine: Engine) -> None:
    """Turn the write-ahead journal on; the file keeps it."""
    for attempt in range(TRIES):
        try:
            with engine.connect() as connection:
                connection.connection.driver_connection.execute("PRAGMA journal_mode=WAL")  # type: ignore[union-attr]
        except (OperationalError, sqlite3.OperationalError):  # this one statement does not wait for a lock
            if attempt == TRIES - 1:
                raise
            time.sleep(PAUSE)
        else:
            return


def _upgrade(connection: Connection) -> None:
    from alembic import command  # late: a store at the newest schema needs none of it
    from alembic.config import Config

    settings = Config()
    settings.set_main_option("script_location", str(Path(__file__).with_name("migrations")).replace("%", "%%"))
    settings.attributes["connection"] = connection
    command.upgrade(settings, "head")


def _check(connection: Connection, path: Path) -> None:
    broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    if broken:
        raise InputError(
            f"{path.name} was left as it is: {len(broken)} rows would point to nothing, the first in {broken[0][0]}. "
            f"Its copy stands beside it"
        )
