"""Every page of a whole job in a real browser: the rules of access at three widths, and the work without scripts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from tests.report.invented_record import build_record

from airtally.demo import write_demo
from airtally.record.documents import JobRecord
from airtally.report.papers import PAPERS
from airtally.store.engine import Store, open_store
from airtally.store.folder import import_folder
from airtally.store.logs import logs_of
from airtally.store.photos import add_photo
from airtally.store.records import keep_record
from airtally.store.works import ask, claim, finish
from airtally.web.plain_photo import plain_photo
from airtally.web.render import LEAVES
from airtally.web.serve import served
from airtally.web.survey.places import GROUPS
from airtally.web.visit.steps import STEPS

from .conftest import SIZES, violations
from .test_survey_photos import camera_photo
from .visit_jobs import TEST_IN, TEST_OUT

SEED = 11
TABLE = "time,PM2.5 ug/m3\n" + "".join(f"2026-01-05 {h:02d}:{m:02d},{5 + h}\n" for h in range(24) for m in range(60))
OVER = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
UNFOLD = "for (const one of document.querySelectorAll('details')) one.open = true"


@dataclass(frozen=True)
class FullJob:
    """A served job that has everything: survey, visits, logs, a photo, a record, works that were done and failed."""

    address: str
    """Of the job."""
    paths: tuple[str, ...]
    """Ends of the addresses of its pages; one that begins with a slash stands outside the job."""


@pytest.fixture(scope="module")
def full_job(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FullJob]:
    folder = tmp_path_factory.mktemp("full")
    write_demo(folder / "job", seed=SEED, weeks=1)
    (folder / "job" / "visits.toml").write_text(TEST_IN + TEST_OUT)  # a week of the demo ends before its first visit
    store = open_store(folder / "company.db")
    job = import_folder(store, folder / "job", "office")
    add_photo(store, job, "a.jpg", plain_photo(camera_photo()), "zone/garage", "hole", "office", "photo")
    works = [done(store, job, failure) for failure in ("", "the survey names no space")]
    keep_record(store, job, JobRecord(document=build_record()))
    files = {log.name: log.id for log in logs_of(store, job)}
    store.close()
    paths = (
        "/",
        "/pair",
        "",
        *(leaf.path for leaf in LEAVES),
        "safety",
        "numbers",
        "readings/streams",
        *(f"readings/file/{files[name]}" for name in ("logs/bedroom.csv", "logs/blower.csv")),
        *(f"works/{work}" for work in works),
        *(f"survey/{group.path}" for group in GROUPS),
        "survey/text",
        "survey/history",
        *(f"visit/test-in/{step.path}" for step in STEPS),
        "visit/test-out/zone",
        "nowhere",
    )
    with served(folder / "company.db") as address:
        yield FullJob(address=f"{address}/job/{job}", paths=paths)


def done(store: Store, job: UUID, failure: str) -> UUID:
    """Return a work that has ended."""
    work = ask(store, job, "whole", 1)
    taken = claim(store, "test")
    assert taken is not None
    assert taken.id == work.id
    finish(store, work.id, "test", failure)
    return work.id


@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES)
def test_no_page_of_a_full_job_breaks_a_rule_of_access(full_job: FullJob, chromium: Any, size: tuple[int, int]) -> None:
    context = chromium.new_context(viewport={"width": size[0], "height": size[1]}, bypass_csp=True)
    page = context.new_page()
    page.set_default_timeout(60_000.0)
    broken = {}
    root = full_job.address.partition("/job/")[0]
    for path in full_job.paths:
        answer = page.goto(f"{root}{path}" if path.startswith("/") else f"{full_job.address}/{path}".rstrip("/"))
        assert (answer.status == 404) is (path == "nowhere"), path
        if path == "readings/streams":  # drawn when the worker has read the logs; until then the page asks again
            page.locator("figure.streams").wait_for(timeout=60_000)
        page.evaluate(UNFOLD)
        found = violations(page) + ([f"{page.evaluate(OVER)} px too wide"] if page.evaluate(OVER) > 0 else [])
        if found:
            broken[path] = found
    context.close()
    assert broken == {}


def test_survey_upload_answers_and_papers_work_without_scripts(tmp_path: Path, chromium: Any) -> None:
    log = tmp_path / "shelf.csv"
    log.write_text(TABLE)
    context = chromium.new_context(java_script_enabled=False, viewport={"width": SIZES[0][0], "height": SIZES[0][1]})
    with served(tmp_path / "company.db") as address:
        page = context.new_page()
        refused: list[str] = []
        page.on("response", lambda one: refused.append(f"{one.status} {one.url}") if one.status >= 400 else None)
        page.goto(address)
        page.fill("#name", "No scripts")
        page.select_option("#time_zone", "Europe/Oslo")
        page.get_by_role("button", name="Add the job").click()
        job = page.url

        page.goto(f"{job}/survey/spaces")
        page.fill("#zone-0-volume", "300")
        page.select_option("[name='zone.0.volume:unit']", "m3")
        page.select_option("[name='zone.0.volume:is']", "value")
        page.get_by_role("button", name="Save this page").click()
        assert "Saved 1 change" in page.locator("#said").inner_text()
        assert page.input_value("#zone-0-volume") == "300"

        page.goto(f"{job}/readings")
        page.set_input_files("#files", log)
        page.get_by_role("button", name="Keep the files").click()
        page.fill("#new_instrument", "shelf")
        page.get_by_label("in a room").check()
        page.get_by_role("button", name="Keep", exact=True).click()
        assert "its place is kept" in page.locator("#said").inner_text()

        page.get_by_role("button", name="Work it out").click()
        # The page asks again by itself, by its header: no script is needed for that.
        page.get_by_text("It is done").wait_for(timeout=90_000)
        page.get_by_role("link", name="Papers").first.click()
        with page.expect_download() as begun:
            page.get_by_role("link", name=f"{PAPERS[0].title}, A4").click()
        assert Path(begun.value.path()).read_bytes().startswith(b"%PDF-")
        assert refused == []
    context.close()
