"""The three traps of SQLite, the schema brought up to date, and files that are no store."""

from __future__ import annotations

import multiprocessing
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import select, text
from sqlalchemy.dialects import postgresql
from sqlalchemy.exc import OperationalError
from sqlalchemy.schema import CreateTable
from tests.store.conftest import SURVEY
from tests.store.first_schema import write_old_store
from tests.store.kills import kill_often

from airtally.errors import InputError
from airtally.store import schema
from airtally.store.backup import back_up, restore, store_digest
from airtally.store.edits import Conflict, edit, history, text_of, undo
from airtally.store.engine import Store, open_store
from airtally.store.listing import add_job, jobs
from airtally.store.logs import log_bytes, logs_of
from airtally.store.models import Base, Job
from airtally.store.texts import Change, read

PROCESSES = 4
TIMES = 100


def run_together(target: Callable[..., None], *arguments: Any) -> None:
    """Run a function in several processes at once; raises AssertionError if one fails."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([__name__])
    started = [context.Process(target=target, args=(*arguments, number)) for number in range(PROCESSES)]
    for process in started:
        process.start()
    for process in started:
        process.join()
    assert [process.exitcode for process in started] == [0] * PROCESSES


def count_up(path: Path, _number: int) -> None:
    store = open_store(path)
    for _ in range(TIMES):
        with store.write() as session:
            session.scalars(select(Job)).one().revision += 1
    store.close()


def test_processes_that_read_and_then_write_lose_nothing(store: Store) -> None:
    add_job(store, SURVEY, "technician")
    run_together(count_up, store.path)
    assert jobs(store)[0].revision == 1 + PROCESSES * TIMES


def edit_up(path: Path, number: int) -> None:
    store = open_store(path)
    (job,) = (line.id for line in jobs(store))
    for time in range(TIMES):
        for attempt in range(10_000):
            words, based_on = text_of(store, job, "survey")
            count = int(read(words)["home"]["count"].split()[0])
            change = Change(path=("home", "count"), value=f"{count + 1} {number}")  # two alike would be no clash
            answer = edit(store, job, "survey", [change], based_on, f"{number}", f"{number} {time} {attempt}")
            if not isinstance(answer, Conflict):
                break
    store.close()


@pytest.mark.slow
def test_edits_of_several_processes_lose_nothing(store: Store) -> None:
    job = add_job(store, 'schema = 1\n[home]\ncount = "0"\n', "technician")
    run_together(edit_up, store.path)
    counted = [str(row.after).split()[0] for row in history(store, job)[:-1]]
    assert counted == [str(number) for number in range(PROCESSES * TIMES, 0, -1)]


def open_and_add(path: Path, _number: int) -> None:
    store = open_store(path)
    add_job(store, SURVEY, "technician")
    store.close()


def test_processes_may_make_the_store_together(tmp_path: Path) -> None:
    run_together(open_and_add, tmp_path / "company.sqlite")
    store = open_store(tmp_path / "company.sqlite")
    assert len(jobs(store)) == PROCESSES
    store.close()


def test_a_reading_session_cannot_write(store: Store) -> None:
    job = add_job(store, SURVEY, "technician")
    with store.read() as session:
        found = session.get(Job, job)
        assert found is not None
        found.name = "another"
        with pytest.raises(OperationalError, match="readonly"):
            session.flush()


def test_a_write_that_fails_undoes_all_of_it(store: Store) -> None:
    job = add_job(store, SURVEY, "technician")

    def half() -> None:
        with store.write() as session:
            found = session.get(Job, job)
            assert found is not None
            found.name = "another"
            session.flush()
            raise InputError("stopped")

    with pytest.raises(InputError, match="stopped"):
        half()
    assert jobs(store)[0].name == "Invented Lane"


def test_the_journal_keeps_what_was_acknowledged_when_power_goes(store: Store) -> None:
    with store.read() as session:
        assert session.scalar(text("PRAGMA journal_mode")) == "wal"
        assert (
            session.scalar(text("PRAGMA synchronous")) == 2
        )  # FULL; https://sqlite.org/pragma.html#pragma_synchronous
        assert session.scalar(text("PRAGMA foreign_keys")) == 1


def test_an_older_store_is_copied_and_migrated_with_its_children(tmp_path: Path) -> None:
    path = tmp_path / "company.sqlite"
    write_old_store(path)
    store = open_store(path)
    with closing(sqlite3.connect(tmp_path / "company.sqlite.schema-1")) as copy:
        assert copy.execute("SELECT version_num FROM alembic_version").fetchall() == [("1",)]
        assert copy.execute("SELECT count(*) FROM revisions").fetchall() == [(4,)]
    (line,) = jobs(store)
    (aside,) = jobs(store, are_set_aside=True)
    assert (line.name, line.revision, dict(aside.faults).keys()) == ("Invented Lane", 3, {"survey"})
    assert text_of(store, line.id, "survey")[0] == SURVEY.replace("300 m3", "312 m3")
    assert [row.number for row in history(store, line.id)] == [3, 2, 1]
    (log,) = logs_of(store, line.id)
    assert log_bytes(store, log.digest).startswith(b"time,pm25")
    undo(store, line.id, 2, "technician", "back")
    assert text_of(store, line.id, "survey")[0] == SURVEY
    store.close()


def test_a_migration_that_would_leave_rows_without_their_job_changes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "company.sqlite"
    write_old_store(path)
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("INSERT INTO posts VALUES ('k', 'f' || hex(randomblob(15)), 'r', '{}', '2025-01-01')")
    with pytest.raises(InputError, match="1 rows would point to nothing, the first in posts"):
        open_store(path)
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("SELECT version_num FROM alembic_version").fetchall() == [("1",)]
        assert connection.execute("SELECT count(*) FROM revisions").fetchall() == [(4,)]


def test_the_migrations_make_the_tables_of_the_models(store: Store) -> None:
    settings = Config()
    settings.set_main_option("script_location", str(Path(schema.__file__).with_name("migrations")))
    assert ScriptDirectory.from_config(settings).get_current_head() == schema.HEAD
    with store.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []


def test_the_tables_can_be_written_for_postgresql() -> None:
    made = [str(CreateTable(t).compile(dialect=postgresql.dialect())) for t in Base.metadata.sorted_tables]
    assert len(made) == 11
    assert any("id UUID NOT NULL" in words and "TIMESTAMP WITH TIME ZONE" in words for words in made)


def test_what_is_no_store_or_a_later_one_is_refused_and_left_alone(tmp_path: Path) -> None:
    (tmp_path / "words").write_text("these are words, not a database, and long enough to be looked at as one\n" * 20)
    with pytest.raises(InputError, match="cannot be opened as a store"):
        open_store(tmp_path / "words")
    with closing(sqlite3.connect(tmp_path / "other")) as connection:
        connection.execute("CREATE TABLE songs (name)")
    with pytest.raises(InputError, match="another program"):
        open_store(tmp_path / "other")
    open_store(tmp_path / "later").close()
    with closing(sqlite3.connect(tmp_path / "later")) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '99'")
    with pytest.raises(InputError, match="a newer airtally wrote it"):
        open_store(tmp_path / "later")


def test_a_backup_of_a_store_in_use_is_the_store(store: Store, tmp_path: Path) -> None:
    job = add_job(store, SURVEY, "technician")
    edit(store, job, "survey", [Change(path=("home", "name"), value="Second Lane")], 1, "technician", "a")
    # The database file alone lacks what its journal holds: copying it would lose the edit.
    assert (store.path.with_name("company.sqlite-wal")).stat().st_size > 0
    digest = back_up(store, tmp_path / "backups" / "monday.airtally")
    assert digest == store_digest(store)
    assert restore(tmp_path / "backups" / "monday.airtally", tmp_path / "again" / "company.sqlite") == digest
    again = open_store(tmp_path / "again" / "company.sqlite")
    assert store_digest(again) == digest
    assert history(again, job) == history(store, job)
    again.close()


@pytest.mark.slow
def test_twenty_kills_lose_nothing(tmp_path: Path) -> None:
    counts = kill_often(20, seed=3, home=tmp_path)
    assert counts["kills"] == 20
    assert counts["edit"] + counts["log"] + counts["photo"] + counts["import"] > 10
