"""Files dropped, recognised, placed, drawn: what the pages keep and what they refuse."""

from __future__ import annotations

import re
from pathlib import Path
from uuid import UUID

import pytest
from starlette.testclient import TestClient

from airtally.house.template import new_survey_text
from airtally.store.edits import text_of
from airtally.store.engine import Store, open_store
from airtally.store.listing import add_job
from airtally.store.logs import log_bytes, logs_of
from airtally.web.app import make_app

TABLE = "time;PM2.5 ug/m3;dust\n" + "".join(
    f"2026-01-05 {h:02d}:{m:02d};{5 + h},{m * 7 % 10};{m}\n" for h in range(12) for m in range(60)
)


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return open_store(tmp_path / "jobs.db")


@pytest.fixture
def job(store: Store) -> UUID:
    text = new_survey_text(name="A home", time_zone="Europe/Oslo")
    return add_job(store, text.replace('volume = "not measured"', 'volume = "300 m3"'), "technician")


@pytest.fixture
def pages(store: Store) -> TestClient:
    return TestClient(make_app(store), base_url="http://127.0.0.1", headers={"origin": "http://127.0.0.1"})


def drop(pages: TestClient, job: UUID, name: str, content: bytes, post: str = "p") -> str:
    """Drop one file and return the address of its page."""
    answer = pages.post(f"/job/{job}/readings", data={"posts": post}, files=[("files", (name, content))])
    assert answer.status_code == 200
    return answer.url.path


def test_a_file_is_kept_as_it_came_and_what_was_recognised_is_shown(pages: TestClient, store: Store, job: UUID) -> None:
    address = drop(pages, job, "shelf.csv", TABLE.encode())
    (log,) = logs_of(store, job)
    assert log_bytes(store, log.digest) == TABLE.encode()
    text = pages.get(address).text
    assert "semicolon" in text
    # a stamp marks the end of its minute, so the first minute began before midnight
    assert re.search(r"pm25</th>.*?<td class=\"figure\">720</td><td>2026-01-04 23:59", text, re.DOTALL)
    assert "2026-01-05 00:00;5,0;0" in text  # the first lines, as they came


def test_a_double_tap_keeps_a_file_once(pages: TestClient, store: Store, job: UUID) -> None:
    assert drop(pages, job, "shelf.csv", TABLE.encode(), "same") == drop(
        pages, job, "shelf.csv", TABLE.encode(), "same"
    )
    assert len(logs_of(store, job)) == 1


def test_a_column_is_named_seen_and_kept(pages: TestClient, store: Store, job: UUID) -> None:
    address = drop(pages, job, "shelf.csv", TABLE.encode())
    typed = {
        "post": "a",
        "new_instrument": "Monitor 3",
        "air_side": "room",
        "zone": "main",
        "since": "2026-01-01",
        "columns": "dust = pm10 ug/m3",
    }
    seen = pages.post(address, data=typed | {"do": "preview"})
    assert re.search(r"pm10</th>.*?720", seen.text, re.DOTALL)
    assert "placement" not in re.sub(r"(?m)^#.*$", "", text_of(store, job, "survey")[0])  # a look writes nothing
    kept = pages.post(address, data=typed | {"do": "keep"})
    assert "its place is kept" in kept.text
    text = text_of(store, job, "survey")[0]
    assert 'id = "monitor-3"' in text
    assert 'placement = "monitor-3-main"' in text
    assert "pm10 ug/m3" in text
    again = pages.post(address, data=typed | {"do": "keep"})
    assert again.status_code in (200, 422)
    assert text_of(store, job, "survey")[0].count("[[log]]") == text.count("[[log]]")


@pytest.mark.parametrize(
    ("left_out", "said"),
    [
        ("new_instrument", "which instrument"),
        ("air_side", "which air"),
        ("zone", "in which space"),
        ("since", "since when"),
    ],
)
def test_what_is_lacking_is_said_and_what_was_typed_stays(
    pages: TestClient, store: Store, job: UUID, left_out: str, said: str
) -> None:
    address = drop(pages, job, "shelf.csv", TABLE.encode())
    typed = {"new_instrument": "Monitor 3", "air_side": "room", "zone": "main", "since": "2026-01-01", "post": "x"}
    before = text_of(store, job, "survey")
    answer = pages.post(address, data={k: v for k, v in typed.items() if k != left_out} | {"do": "keep"})
    assert answer.status_code == 422
    assert said in answer.text
    if left_out != "since":
        assert 'value="2026-01-01"' in answer.text
    assert text_of(store, job, "survey") == before


def test_the_streams_page_counts_what_the_drawing_shows(pages: TestClient, job: UUID) -> None:
    address = drop(pages, job, "shelf.csv", TABLE.encode())
    typed = {
        "new_instrument": "m",
        "air_side": "room",
        "zone": "main",
        "since": "2026-01-01",
        "post": "y",
        "do": "keep",
    }
    pages.post(address, data=typed)
    text = pages.get(f"/job/{job}/readings/streams").text
    assert "m-main/pm25" in text
    assert "720 readings = 720 kept + 0 set aside" in text
    assert "5 to 16.9 µg/m³" in text
    part = pages.get(f"/job/{job}/readings/streams?begin=2026-01-05T03:00&end=2026-01-05T05:00").text
    assert "120 readings = 120 kept" in part
    drawing = pages.get(f"/job/{job}/readings/streams-narrow.svg")
    assert drawing.headers["content-type"] == "image/svg+xml"
    assert "m-main, pm25" in drawing.text


def test_a_file_set_aside_is_kept_and_can_be_taken_back(pages: TestClient, store: Store, job: UUID) -> None:
    address = drop(pages, job, "shelf.csv", TABLE.encode())
    pages.post(f"{address}/move")
    assert logs_of(store, job) == ()
    assert "Take back" in pages.get(f"/job/{job}/readings").text
    pages.post(f"{address}/move")
    assert len(logs_of(store, job)) == 1


def test_bytes_that_are_no_table_are_kept_and_said(pages: TestClient, store: Store, job: UUID) -> None:
    address = drop(pages, job, "photo.csv", bytes(range(256)) * 20)
    assert len(logs_of(store, job)) == 1
    assert "No stream was recognised" in pages.get(address).text


def test_a_name_that_leads_elsewhere_stays_in_the_job(pages: TestClient, store: Store, job: UUID) -> None:
    drop(pages, job, "../../etc/passwd", TABLE.encode())
    (log,) = logs_of(store, job)
    assert log.name == "logs/passwd"


def test_no_file_at_all_is_said(pages: TestClient, job: UUID) -> None:
    answer = pages.post(f"/job/{job}/readings", data={"posts": "z"})
    assert answer.status_code == 422
    assert "Choose at least one" in answer.text
