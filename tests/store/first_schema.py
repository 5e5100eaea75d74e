"""An old store, as the first schema wrote it: made anew from its text wherever a test wants one."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

DUMP = Path(__file__).with_name("first_schema.sql")


def write_old_store(path: Path) -> None:
    """Write the old store to a file."""
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(DUMP.read_text(encoding="utf-8"))
        connection.execute("PRAGMA journal_mode=WAL")
