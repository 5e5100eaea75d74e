"""The pages that show a record: columns in which nothing stands are left out, and no rule of safety is cut off."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient
from tests.report.invented_record import build_record

from airtally.house.template import new_survey_text
from airtally.record import JobRecord, plain
from airtally.report import words
from airtally.store.engine import open_store
from airtally.store.listing import add_job
from airtally.store.records import keep_record
from airtally.web.app import make_app
from airtally.web.safety_line import LONGEST, first_sentences

RULE = "Stop using what burned at that time and have a qualified person test it, with the exhausts running."


def shown(folder: Path, document: dict[str, Any], page: str) -> str:
    """Return a page of a job that has a record."""
    store = open_store(folder / "jobs.db")
    job = add_job(store, new_survey_text(name="A home", time_zone="America/Denver"), "office")
    keep_record(store, job, JobRecord(document=plain(document)))
    return TestClient(make_app(store), base_url="http://127.0.0.1").get(f"/job/{job}/{page}").text


def test_the_safety_line_ends_in_a_whole_sentence() -> None:
    assert first_sentences(f"{RULE} If CO rises again or anyone feels unwell: everyone out, call for help.") == RULE
    assert first_sentences("Seal it. Then test it.") == "Seal it. Then test it."
    long = "Keep everyone out " + "of every room " * 20 + "until it is tested."
    assert len(long) > LONGEST
    assert first_sentences(f"{long} More.") == long
    assert first_sentences("Wait for spillage_time below 2 min.") == "Wait for spillage time below 2 min."


def test_a_fan_rule_without_one_before_it_shows_what_it_does(tmp_path: Path) -> None:
    document = build_record()
    del document["fan_rule"]["as_set"]
    page = shown(tmp_path, document, "fan")
    assert words.amount(document["fan_rule"]["energy"]) in page
    assert "proposed</th>" in page
    assert "as set</th>" not in page


def test_few_safety_findings_stand_on_their_page_with_their_evidence(tmp_path: Path) -> None:
    document = build_record()
    page = shown(tmp_path, document, "safety")
    for finding in document["safety"]["findings"]:
        assert f"<h2>{finding['title']}</h2>" in page
    assert words.amount(document["safety"]["findings"][0]["evidence"][0]["quantity"]) in page


def test_pressures_without_a_limit_say_where_limits_stand(tmp_path: Path) -> None:
    document = build_record()
    (case,) = document["pressures"]["worst_cases"]
    del case["limit"]
    case["outcome"] = "cannot tell"
    page = shown(tmp_path, document, "pressures")
    assert re.search(rf"{re.escape(case['name'])}</th><td>[^<]*measured</td><td>limits: see safety</td>", page)
    assert page.count('scope="rowgroup"') == 2  # a head for each state of the budget
