"""Verbs that work on a job's folder."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Iterable

    from airtally.errors import Problem
    from airtally.record.documents import JobRecord

CONTEXT = {"help_option_names": ["-h", "--help"], "max_content_width": 100}
SEED = click.option("--seed", default=1, show_default=True, help="Seed of every draw; same inputs, same numbers.")
JSON = click.option("--json", "as_json", is_flag=True, help="Print this part of the record as JSON.")
FOLDER = click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))


@click.group(context_settings=CONTEXT)
@click.version_option(package_name="airtally", message="airtally %(version)s")
def main() -> None:
    """Tally a house's air: where particles come from, which way they travel, what removes them.

    A job is a folder with survey.toml, visits.toml (optional) and the loggers' files.

    airtally is no safety device and gives no permission to burn or to run anything; combustion, gas,
    electricity and ducts belong to licensed people and local codes.
    """


@main.command()
@click.argument("folder", type=click.Path(path_type=Path), default=Path("demo-job"))
@SEED
def demo(folder: Path, seed: int) -> None:
    """Write the invented demo job to FOLDER and run the whole job on it."""
    from airtally.demo import write_demo

    _say("writing the invented demo job")
    write_demo(folder, seed=seed)
    record = _run(folder, seed, force=True)
    _answer(record, folder)


@main.command()
@click.argument("folder", type=click.Path(path_type=Path))
def new(folder: Path) -> None:
    """Write a commented survey to FOLDER, ready to be filled in."""
    from airtally.house.template import new_survey_text

    path = folder / "survey.toml"
    if path.exists():
        raise click.ClickException(f"{path} is already there; nothing was written")
    (folder / "logs").mkdir(parents=True, exist_ok=True)
    path.write_text(new_survey_text(), encoding="utf-8")
    click.echo(f"Wrote {path}. Fill it in, put the loggers' files in {folder / 'logs'}, then: airtally check {folder}")


@main.command()
@FOLDER
@JSON
def check(folder: Path, as_json: bool) -> None:
    """List every problem of a job's survey, visits and logs."""
    from airtally.jobs.inputs import check_job

    problems = check_job(folder)
    if as_json:
        click.echo(json.dumps([_plain(p) for p in problems], indent=1, ensure_ascii=False))
    else:
        _print_problems(problems)
        if not problems:
            click.echo("No problems found.")
    sys.exit(1 if any(p.severity.value == "fatal" for p in problems) else 0)


@main.command()
@FOLDER
@click.option("--json", "json_file", type=click.Path(dir_okay=False, path_type=Path), help="Write the record here too.")
@click.option("--letter", is_flag=True, help="US Letter paper instead of A4.")
@SEED
def run(folder: Path, json_file: Path | None, letter: bool, seed: int) -> None:
    """Run the whole job on FOLDER: record, answer and report."""
    record = _run(folder, seed, force=True)
    if json_file is not None:
        from airtally.record.documents import write_record

        write_record(record, json_file)
    _answer(record, folder, letter=letter)


def _view(name: str, key: str, help_text: str) -> None:
    """Add a command that prints one part of the record; every such command is a view of the same document."""

    @main.command(name=name, help=help_text)
    @FOLDER
    @JSON
    @SEED
    def command(folder: Path, as_json: bool, seed: int) -> None:
        record = _run(folder, seed)
        part = record.document.get(key)
        if part is None:
            missing = "; ".join(p["found"] for p in record.document["problems"] if p["severity"] == "fatal")
            raise click.ClickException(f"this job has no {name}: {missing or 'it needs readings that are not there'}")
        if as_json:
            click.echo(json.dumps(part, indent=1, ensure_ascii=False))
            return
        from airtally.report.views import view

        click.echo(view(record, key))


_view("pressures", "pressures", "House pressures, worst case and static budget; needs no log.")
_view("findings", "findings", "What fouls the air, by which path, and the test that could refute it.")
_view("proposals", "forecasts", "What each measure would do, replayed on the latest weeks.")
_view("fan", "fan_rule", "The fan rule: threshold at its own sensor, sampling, replay.")
_view("proof", "proof", "Did it work: one row per question, and what is refused as evidence.")


def _papers(name: str, which: str, help_text: str) -> None:
    """Add a command that writes papers: those of the report, or all."""

    @main.command(name=name, help=help_text)
    @FOLDER
    @click.option(
        "--out",
        type=click.Path(exists=True, file_okay=False, path_type=Path),
        help="Folder to write to; FOLDER if not given.",
    )
    @click.option("--letter", is_flag=True, help="US Letter paper instead of A4.")
    @SEED
    def command(folder: Path, out: Path | None, letter: bool, seed: int) -> None:
        from airtally.report.papers import PAPERS, REPORT

        record = _run(folder, seed)
        names = REPORT if which == "report" else tuple(one.name for one in PAPERS)
        for path in _write_papers(record, out or folder, letter=letter, names=names):
            click.echo(f"Wrote {path}")


_papers("report", "report", "Write the customer's report and its technical appendix as PDF.")
_papers("papers", "all", "Write every paper as PDF: report, appendix, work order, commissioning sheet, filter plan.")


def _run(folder: Path, seed: int, *, force: bool = False) -> JobRecord:
    """Return the folder's record: the one on file if its inputs, version and seed are the same, else a new one."""
    from airtally.jobs.on_file import record_on_file
    from airtally.jobs.run import run_job
    from airtally.record.documents import write_record

    if not force:
        found = record_on_file(folder, seed)
        if found is not None:
            return found
    result = run_job(folder, seed=seed, progress=_say)
    if isinstance(result, tuple):
        _print_problems(result)
        sys.exit(1)
    write_record(result, folder / "record.json")
    return result


def _answer(record: JobRecord, folder: Path, *, letter: bool = False) -> None:
    from airtally.report.papers import REPORT
    from airtally.report.screen import answer_screen

    _say("writing the report")
    written = _write_papers(record, folder, letter=letter, names=REPORT)
    click.echo(answer_screen(record, report=" and ".join(map(str, written))))


def _write_papers(record: JobRecord, folder: Path, *, letter: bool, names: tuple[str, ...]) -> list[Path]:
    from airtally.report.papers import write_papers

    return write_papers(record, folder, paper="us-letter" if letter else "a4", names=names)


def _say(text: str) -> None:
    click.echo(f"... {text}", err=True)


def _print_problems(problems: Iterable[Problem]) -> None:
    for problem in problems:
        click.echo(f"{problem.severity.value}: {problem.sentence()} [{problem.code}]")


def _plain(problem: Problem) -> dict[str, Any]:
    return {
        "code": problem.code,
        "severity": problem.severity.value,
        "where": problem.where,
        "found": problem.found,
        "wanted": problem.wanted,
        "remedy": problem.remedy,
    }
