"""The page of papers: what it offers, what it says is missing, and the files themselves."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tests.web.visit_jobs import SURVEY, Site, site

from airtally.jobs.run import run_job
from airtally.record import JobRecord
from airtally.report.commissioning import sheet_lines
from airtally.report.papers import PAPERS, paper_pdf
from airtally.store.edits import edit
from airtally.store.folder import export_folder
from airtally.store.records import keep_record
from airtally.store.texts import Change
from airtally.visits.kinds import READING_KINDS
from airtally.web.pages.papers import plain_name


def worked_out(here: Site, folder: Path) -> JobRecord:
    """Run the job of a site, without logs, and keep its record."""
    export_folder(here.store, here.job, folder / "out")
    record = run_job(folder / "out", seed=1, progress=lambda _: None)
    assert isinstance(record, JobRecord), record
    keep_record(here.store, here.job, record)
    return record


def test_without_a_record_the_page_says_what_is_missing_and_offers_no_file(tmp_path: Path) -> None:
    here = site(tmp_path)
    page = here.client.get(f"/job/{here.job}/papers")
    assert page.status_code == 200
    assert "No papers yet" in page.text
    assert "Work it out" in page.text
    assert ".pdf" not in page.text
    assert here.client.get(f"/job/{here.job}/papers/customer-a4.pdf").status_code == 404


def test_each_paper_is_offered_in_two_sizes_and_is_the_records(tmp_path: Path) -> None:
    here = site(tmp_path)
    record = worked_out(here, tmp_path)
    page = here.client.get(f"/job/{here.job}/papers").text
    assert page.index("safety-line") < page.index("Customer report")
    links = re.findall(r'href="(/job/[^"]+\.pdf)"', page)
    assert len(links) == 2 * len(PAPERS)
    for link, (kind, size) in zip(
        links, [(kind, size) for kind in PAPERS for size in ("a4", "us-letter")], strict=True
    ):
        answer = here.client.get(link)
        assert answer.headers["content-type"] == "application/pdf"
        assert answer.content == paper_pdf(record, kind.name, paper=size)  # type: ignore[arg-type]
        plain = kind.title.lower().replace(" ", "-")
        words = f'attachment; filename="pear-lane-invented-{plain}-{"a4" if size == "a4" else "letter"}.pdf"'
        assert answer.headers["content-disposition"] == words
    for wrong in ("poster-a4", "customer-a3", "customer", "..%2Fcustomer-a4"):
        assert here.client.get(f"/job/{here.job}/papers/{wrong}.pdf").status_code == 404


def test_an_edit_after_it_was_worked_out_is_said_on_the_page(tmp_path: Path) -> None:
    here = site(tmp_path)
    worked_out(here, tmp_path)
    assert "Work it out again" not in here.client.get(f"/job/{here.job}/papers").text
    change = Change(path=("home", "complaint"), value="dust")
    edit(here.store, here.job, "survey", [change], here.revision(), "technician", "x")
    assert "Work it out again" in here.client.get(f"/job/{here.job}/papers").text


def test_the_sheet_asks_for_test_in_again_and_for_what_safety_wants_by_keys_that_a_visit_takes(tmp_path: Path) -> None:
    record = worked_out(site(tmp_path), tmp_path)
    lines = sheet_lines(record.document)
    assert all(line.is_blank for line in lines)
    by_place = {(line.key, line.place): line for line in lines}
    assert by_place["tesp", "air handler"].test_in.startswith("0.860 in. w.c. (")
    assert by_place["spillage_time", "water-heater"].test_in != "not read"
    assert by_place["spillage_time", "water-heater"].state_parts["doors"] == "worst case"
    for appliance in ("water-heater", "furnace"):
        assert any("edition" in one or "(" in one for one in by_place["co_flue", appliance].limits)
    assert by_place["spillage_time", "furnace"].test_in == "not read"
    assert by_place["worst_case_pressure_change", "utility"].reference == "outdoors"
    assert {line.key for line in lines} <= set(READING_KINDS)
    assert [line.number for line in lines] == [str(number) for number in range(1, len(lines) + 1)]


@pytest.mark.parametrize(
    ("name", "plain"),
    [
        ("Pear Lane (invented)", "pear-lane-invented"),
        ('../"A"\r\nX: y', "a-x-y"),
        ("Émile", "emile"),
        ("家", "job"),
        ("a" * 99, "a" * 60),
    ],
)
def test_a_jobs_name_in_a_file_is_plain(name: str, plain: str) -> None:
    assert plain_name(name) == plain


def test_a_house_with_nothing_vented_still_has_papers(tmp_path: Path) -> None:
    bare = SURVEY.partition("[[appliance]]")[0]
    here = site(tmp_path, visits="schema = 1\n", survey=bare)
    worked_out(here, tmp_path)
    for kind in PAPERS:
        assert here.client.get(f"/job/{here.job}/papers/{kind.name}-letter.pdf").content.startswith(b"%PDF")


def test_the_safety_line_stays_until_every_gate_is_answered(tmp_path: Path) -> None:
    home = re.sub(r"(?s)\[\[appliance\]\].*", "", SURVEY)  # nothing burns here: the gates are all there is to answer
    here = site(tmp_path, visits="", survey=home)
    worked_out(here, tmp_path)
    page = here.client.get(f"/job/{here.job}/papers").text
    assert "gates not answered" in page
    assert f"/job/{here.job}/visit" in page[page.index("safety-line") : page.index("<main")]
    other = site(tmp_path / "other", survey=home)
    worked_out(other, tmp_path / "other")
    assert "gates not answered" not in other.client.get(f"/job/{other.job}/papers").text
