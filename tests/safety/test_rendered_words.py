"""Rendered outputs, not only strings of the source: no promise anywhere, a caution wherever CO, draft or suction shows."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner
from safety_houses import FIREPLACE, house
from test_assess import busy, worked
from tests.structure.source import modules, strings

from airtally.cli import main
from airtally.errors import Problem
from airtally.jobs.inputs import check_job
from airtally.jobs.run import run_job
from airtally.record.documents import JobRecord
from airtally.record.of_safety import safety_document
from airtally.report.pages import report_pages
from airtally.report.papers import PAPERS, write_papers
from airtally.report.screen import answer_screen
from airtally.report.views import _VIEWS, COMBUSTION, view
from airtally.report.words import forbidden_claims
from airtally.safety import CAUTIONS, Topic
from airtally.visits import READING_KINDS

DOCS = Path(__file__).parents[2] / "docs"
PROMISE = re.compile(r"\bsafe(ly)?\b", re.IGNORECASE)
KEYS_OF_READINGS = {kind.meaning for kind in READING_KINDS.values()}
"""Meanings of reading keys: words of the trade for whoever holds the gauge ("air-free")."""
OUT = "everyone out"
"""Words of every caution on CO: what to do at an alarm."""


def fenced(page: str) -> str:
    """Return the first TOML example of a page."""
    found = re.search(r"```toml\n(.*?)```", (DOCS / page).read_text(encoding="utf-8"), re.DOTALL)
    assert found is not None
    return found.group(1)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a job of the documented survey and visits, without any log."""
    made = tmp_path_factory.mktemp("driveway")
    (made / "survey.toml").write_text(fenced("survey.md"), encoding="utf-8")
    (made / "visits.toml").write_text(fenced("visits.md"), encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def record(folder: Path) -> JobRecord:
    found = run_job(folder, seed=1, progress=lambda _: None)
    assert isinstance(found, JobRecord)
    return found


def texts(value: Any) -> Iterator[str]:
    """Yield every text of nested data."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for one in value.values():
            yield from texts(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from texts(one)


def commands(group: click.Group, *above: str) -> Iterator[tuple[str, ...]]:
    """Yield the path of every command."""
    yield above
    for name, command in group.commands.items():
        if isinstance(command, click.Group):
            yield from commands(command, *above, name)
        else:
            yield (*above, name)


def test_the_search_sees_the_word_and_leaves_its_neighbours() -> None:
    assert PROMISE.search("burn Safely")
    assert PROMISE.search("it is safe.")
    assert not PROMISE.search("SAFETY: no safety device, a safeguard")


def test_the_record_screen_views_and_report_of_a_job_promise_nothing(record: JobRecord, tmp_path: Path) -> None:
    shown = {
        "record": "\n".join(texts(json.loads(json.dumps(record.document)))),
        "screen": answer_screen(record),
        "pages": "\n".join(texts(report_pages(record))),
        "pressures": view(record, "pressures"),
    }
    assert len(shown["record"]) > 5000
    assert [name for name, text in shown.items() if PROMISE.search(text)] == []
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed; the pages' data were searched")
    for path in write_papers(record, tmp_path, names=tuple(one.name for one in PAPERS)):
        pdf = subprocess.run(  # noqa: S603 - our own words
            [shutil.which("pdftotext") or "", "-layout", str(path), "-"], capture_output=True, text=True, check=True
        ).stdout
        pages = [page for page in pdf.split("\f") if page.strip()]
        assert pages
        assert [number for number, page in enumerate(pages) if PROMISE.search(page)] == []
        bare = [number for number, page in enumerate(pages) if OUT not in " ".join(page.split())]
        assert bare == []  # a caution stands at the foot of every page


def test_every_help_text_promises_nothing() -> None:
    assert isinstance(main, click.Group)
    paths = list(commands(main))
    assert len(paths) > 8
    for path in paths:
        result = CliRunner().invoke(main, [*path, "--help"])
        assert result.exit_code == 0, path
        assert not PROMISE.search(result.output), path


def test_problems_of_a_job_and_their_page_promise_nothing(folder: Path) -> None:
    problems = check_job(folder)
    assert problems
    said = [part for one in problems for part in (one.found, one.wanted, one.remedy) if isinstance(one, Problem)]
    assert [text for text in said if PROMISE.search(text)] == []
    for page in DOCS.glob("*.md"):
        assert not PROMISE.search(page.read_text(encoding="utf-8")), page.name


def test_the_screen_and_each_view_that_shows_co_draft_or_suction_carry_a_caution(record: JobRecord) -> None:
    screen = " ".join(answer_screen(record).split())
    assert COMBUSTION.search(screen)
    assert OUT in screen
    shown = 0
    for key in _VIEWS:
        if key not in record.document:
            continue
        text = view(record, key)
        body = text.replace(record.document["job"]["home"], "")
        if COMBUSTION.search(body):
            shown += 1
            assert CAUTIONS[Topic.COMBUSTION][:40] in " ".join(text.split()), key
    assert shown >= 1


def test_a_job_full_of_findings_makes_no_claim_that_must_not_be_made() -> None:
    document = safety_document(busy(), worked(house(FIREPLACE)))
    said = list(texts(document))
    assert len(document["findings"]) >= 12
    assert document["cautions"]
    assert [text for text in said if PROMISE.search(text)] == []
    assert [text for text in said if forbidden_claims(text)] == []


def test_no_sentence_of_the_safety_floor_makes_a_claim() -> None:
    floor = [m for m in modules() if re.match(r"airtally\.(safety|visits|limits)\b", m.name)]
    said = [text for m in floor for _, text in strings(m)]
    assert len(said) > 500
    assert [text for text in said if forbidden_claims(text) and text not in KEYS_OF_READINGS] == []
