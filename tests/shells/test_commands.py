"""The command line: exit codes, what a verb prints, and that a record on file is used only while it is true."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from airtally.cli import main
from airtally.jobs.on_file import record_on_file
from airtally.jobs.run import run_job
from airtally.record.checks import validate
from airtally.record.documents import JobRecord, write_record

KITCHEN = Path(__file__).parents[1] / "open_data" / "jobs" / "kitchen-home"


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a small real job (open data, MIT) with its record on file."""
    folder = tmp_path_factory.mktemp("job") / "kitchen"
    shutil.copytree(KITCHEN, folder)
    record = run_job(folder, seed=1, progress=lambda _: None)
    assert isinstance(record, JobRecord)
    write_record(record, folder / "record.json")
    return folder


def test_a_new_survey_is_written_once_and_never_over_another(tmp_path: Path) -> None:
    runner = CliRunner()
    assert runner.invoke(main, ["new", str(tmp_path / "house")]).exit_code == 0
    text = (tmp_path / "house" / "survey.toml").read_text(encoding="utf-8")
    assert "schema = 1" in text
    again = runner.invoke(main, ["new", str(tmp_path / "house")])
    assert again.exit_code == 1
    assert (tmp_path / "house" / "survey.toml").read_text(encoding="utf-8") == text


def test_a_broken_survey_is_told_with_its_problems_and_exit_code_one(tmp_path: Path) -> None:
    (tmp_path / "survey.toml").write_text("schema = 1\n[home\n", encoding="utf-8")
    for verb in ("check", "run"):
        result = CliRunner().invoke(main, [verb, str(tmp_path)])
        assert result.exit_code == 1, result.output
        assert "survey.toml" in result.output
        assert "Traceback" not in result.output


def test_the_same_files_and_seed_give_the_same_record(job: Path) -> None:
    again = run_job(job, seed=1, progress=lambda _: None)
    assert isinstance(again, JobRecord)
    on_file = record_on_file(job, 1)
    assert on_file is not None
    assert again.digest == on_file.digest
    assert validate(again.document) == []


def test_a_record_on_file_is_not_used_with_another_seed_or_after_an_edit(job: Path, tmp_path: Path) -> None:
    folder = tmp_path / "edited"
    shutil.copytree(job, folder)
    assert record_on_file(folder, 1) is not None
    assert record_on_file(folder, 2) is None
    with (folder / "survey.toml").open("a", encoding="utf-8") as survey:
        survey.write("\n# a word\n")
    assert record_on_file(folder, 1) is None


def test_each_view_prints_its_part_of_the_record(job: Path) -> None:
    proposals = CliRunner().invoke(main, ["proposals", str(job), "--json"])
    assert proposals.exit_code == 0, proposals.output
    start = proposals.output.index("{")
    part = json.loads(proposals.output[start:])
    stored = record_on_file(job, 1)
    assert stored is not None
    assert part == stored.document["forecasts"]
    for verb in ("findings", "pressures", "proposals"):
        shown = CliRunner().invoke(main, [verb, str(job)])
        assert shown.exit_code == 0, shown.output
        assert "kitchens study" in shown.output


def test_a_view_without_its_readings_says_what_is_missing(job: Path) -> None:
    result = CliRunner().invoke(main, ["fan", str(job)])
    assert result.exit_code == 1
    assert "no fan" in result.output
