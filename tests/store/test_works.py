"""Long work outlives its worker and its page; the newest record is told from one of earlier inputs."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from tests.store.conftest import SURVEY

import airtally
from airtally.errors import InputError
from airtally.record.documents import JobRecord, write_record
from airtally.store.edits import edit, undo
from airtally.store.engine import Store, open_store
from airtally.store.folder import export_folder, import_folder
from airtally.store.listing import add_job
from airtally.store.logs import add_log, set_aside_log
from airtally.store.records import keep_record, record_of
from airtally.store.texts import Change
from airtally.store.works import LEASE, MOST_TRIES, ask, cancel, claim, finish, tell, work_of, works_of


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.time = datetime(2025, 3, 1, 12, tzinfo=UTC)

    def __call__(self) -> datetime:
        """Return the time."""
        return self.time

    def wait(self, time: timedelta) -> None:
        """Let time pass."""
        self.time += time


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def timed(tmp_path: Path, clock: Clock) -> Iterator[Store]:
    opened = open_store(tmp_path / "timed.sqlite", clock)
    yield opened
    opened.close()


def test_work_asked_twice_is_one_work(timed: Store) -> None:
    job = add_job(timed, SURVEY, "technician")
    first = ask(timed, job, "record", 1)
    assert ask(timed, job, "record", 1).id == first.id
    assert ask(timed, job, "record", 2).id != first.id
    edit(timed, job, "survey", [Change(path=("home", "name"), value="A")], 1, "technician", "a")
    assert ask(timed, job, "record", 1).id != first.id  # the inputs are others now
    assert len(works_of(timed, job)) == 3


def test_a_work_is_one_workers_and_is_told_of_and_ends(timed: Store, clock: Clock) -> None:
    job = add_job(timed, SURVEY, "technician")
    asked = ask(timed, job, "record", 1)
    clock.wait(timedelta(seconds=1))
    later = ask(timed, job, "report", 1)
    taken = claim(timed, "one")
    assert taken is not None
    assert taken.id == asked.id
    second = claim(timed, "two")
    assert second is not None
    assert second.id == later.id
    assert claim(timed, "three") is None
    assert tell(timed, asked.id, "one", "fitting the house")
    assert (work_of(timed, asked.id).words, work_of(timed, asked.id).state) == ("fitting the house", "running")
    assert not tell(timed, asked.id, "two", "mine?")
    assert not finish(timed, asked.id, "two")
    assert finish(timed, asked.id, "one")
    assert finish(timed, later.id, "two", failure="no readings")
    states = {work.kind: (work.state, work.words) for work in works_of(timed, job)}
    assert states == {"record": ("done", ""), "report": ("failed", "no readings")}
    assert ask(timed, job, "record", 1).id != asked.id


def test_a_work_whose_worker_fell_silent_is_taken_up_and_given_up_in_the_end(timed: Store, clock: Clock) -> None:
    job = add_job(timed, SURVEY, "technician")
    asked = ask(timed, job, "record", 1)
    for turn in range(MOST_TRIES):
        assert claim(timed, f"worker {turn}") is not None
        clock.wait(LEASE - timedelta(seconds=1))
        assert tell(timed, asked.id, f"worker {turn}")
        clock.wait(LEASE - timedelta(seconds=1))
        assert claim(timed, "too early") is None
        clock.wait(timedelta(seconds=2))
    assert claim(timed, "one more") is None
    assert work_of(timed, asked.id).state == "failed"
    assert not tell(timed, asked.id, "worker 0")


def test_a_work_is_cancelled_at_once_while_it_waits_and_at_the_next_word_while_it_runs(
    timed: Store, clock: Clock
) -> None:
    job = add_job(timed, SURVEY, "technician")
    assert cancel(timed, ask(timed, job, "record", 1).id).state == "cancelled"
    running = ask(timed, job, "record", 1)
    claim(timed, "one")
    assert cancel(timed, running.id).state == "running"
    assert ask(timed, job, "record", 1).id != running.id
    assert not tell(timed, running.id, "one")
    assert finish(timed, running.id, "one")
    assert work_of(timed, running.id).state == "cancelled"
    silent = claim(timed, "two")
    assert silent is not None
    cancel(timed, silent.id)
    clock.wait(2 * LEASE)
    assert claim(timed, "three") is None
    assert work_of(timed, silent.id).state == "cancelled"
    with pytest.raises(InputError, match="no work"):
        work_of(timed, uuid.uuid4())


def record(digests: dict[str, str], seed: int = 1) -> JobRecord:
    made = {"version": airtally.__version__, "seed": seed, "digests": digests}
    return JobRecord(document={"schema": 1, "provenance": made, "job": {"home": "Lane \u00e9"}})


def digests_of(folder: Path) -> dict[str, str]:
    from airtally.jobs.inputs import digest_of

    return {p.relative_to(folder).as_posix(): digest_of(p) for p in folder.rglob("*") if p.is_file()}


def test_a_record_is_current_until_an_input_changes(store: Store, tmp_path: Path) -> None:
    job = add_job(store, SURVEY, "technician")
    assert record_of(store, job) is None
    log = add_log(store, job, "a.csv", b"time,pm25\n", "technician", "a")
    export_folder(store, job, tmp_path / "one")
    keep_record(store, job, record(digests_of(tmp_path / "one")))

    def is_current() -> bool:
        found = record_of(store, job)
        assert found is not None
        return found.is_current

    assert is_current()
    edit(store, job, "survey", [Change(path=("home", "name"), value="A")], 1, "technician", "b")
    assert not is_current()
    undo(store, job, 2, "technician", "c")
    assert is_current()
    edit(store, job, "visits", [Change(path=("visit", 0, "id"), value="a")], 3, "technician", "d")
    assert not is_current()
    undo(store, job, 4, "technician", "e")
    set_aside_log(store, log.id, "technician")
    assert not is_current()
    keep_record(store, job, record({}, seed=2))
    found = record_of(store, job)
    assert found is not None
    assert (found.record.seed, found.is_current) == (2, False)


def test_a_folders_record_comes_out_as_it_went_in(store: Store, tmp_path: Path) -> None:
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "survey.toml").write_text(SURVEY)
    written = record(digests_of(folder))
    write_record(written, folder / "record.json")
    job = import_folder(store, folder, "technician")
    found = record_of(store, job)
    assert found is not None
    assert (found.record.digest, found.is_current) == (written.digest, True)
    export_folder(store, job, tmp_path / "out")
    assert (tmp_path / "out" / "record.json").read_bytes() == (folder / "record.json").read_bytes()
    keep_record(store, job, found.record)
    export_folder(store, job, tmp_path / "again")
    assert (tmp_path / "again" / "record.json").read_bytes() == (folder / "record.json").read_bytes()
