"""The store's verbs: a folder in and out with its record, a backup and what it gives back, errors in plain words."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from tests.store.kills import files_of

from airtally.cli import main
from airtally.jobs.inputs import digest_of
from airtally.jobs.on_file import record_on_file
from airtally.jobs.run import run_job
from airtally.record.documents import JobRecord, write_record
from airtally.store.engine import default_path, open_store
from airtally.store.listing import jobs
from airtally.store.records import record_of

SURVEY = """schema = 1
[home]
id = "lane"
name = "Invented Lane"
is_invented = true
time_zone = "America/Denver"
elevation = "1000 m"

[[zone]]
id = "rooms"
name = "rooms"
kind = "room"
is_occupied = true
volume = "300 m3"
floor_area = "120 m2"
"""


def say(*words: str | Path, store: Path) -> str:
    """Return what a verb prints; raises AssertionError where it fails."""
    result = CliRunner().invoke(main, [*map(str, words), "--store", str(store)])
    assert result.exit_code == 0, result.output
    return result.output


def test_a_job_goes_through_store_and_backup_with_its_record(tmp_path: Path) -> None:
    folder = tmp_path / "house"
    folder.mkdir()
    (folder / "survey.toml").write_text(SURVEY, encoding="utf-8")
    record = run_job(folder, seed=1, progress=lambda _: None)
    assert isinstance(record, JobRecord)
    write_record(record, folder / "record.json")
    store = tmp_path / "company.sqlite"
    assert "Invented Lane: job " in say("import", folder, store=store)
    said = say("backup", tmp_path / "monday", store=store)
    again = tmp_path / "elsewhere" / "again.sqlite"
    assert said.rpartition(" ")[2] == say("restore", tmp_path / "monday", store=again).rpartition(" ")[2]
    say("export", "Invented Lane", tmp_path / "out", store=again)
    assert files_of(tmp_path / "out") == files_of(folder)
    on_file = record_on_file(tmp_path / "out", 1)
    assert on_file is not None
    assert on_file.digest == record.digest
    opened = open_store(again)
    (line,) = jobs(opened)
    found = record_of(opened, line.id)
    opened.close()
    assert found is not None
    assert (found.record.digest, found.is_current) == (record.digest, True)
    assert digest_of(tmp_path / "out" / "survey.toml") == record.digests["survey.toml"]


def test_what_goes_wrong_is_said_in_words_and_exit_code_one(tmp_path: Path) -> None:
    store = tmp_path / "company.sqlite"
    (tmp_path / "empty").mkdir()
    (tmp_path / "words").write_text("no backup")
    for words, said in (
        (("import", tmp_path / "empty"), "holds no survey.toml"),
        (("export", "Nobody's", tmp_path / "out"), "0 jobs are called"),
        (("restore", tmp_path / "words"), "is there already"),
        (("backup", tmp_path / "words"), "is there already"),
    ):
        result = CliRunner().invoke(main, [*map(str, words), "--store", str(store)])
        assert (result.exit_code, said in result.output) == (1, True), result.output
    result = CliRunner().invoke(main, ["restore", str(tmp_path / "words"), "--store", str(tmp_path / "new.sqlite")])
    assert (result.exit_code, "nothing was restored" in result.output) == (1, True), result.output


def test_a_broken_survey_comes_in_with_a_warning(tmp_path: Path) -> None:
    (tmp_path / "house").mkdir()
    (tmp_path / "house" / "survey.toml").write_text("schema = 1\n[home\n")
    said = say("import", tmp_path / "house", store=tmp_path / "company.sqlite")
    assert "warning: survey.toml is kept, but this is not TOML" in said


def test_the_store_lies_in_the_users_data_folder_not_in_the_package(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", "/somewhere")
    import airtally

    assert not default_path().is_relative_to(Path(airtally.__file__).parent)
    assert default_path().name == "jobs.sqlite"
