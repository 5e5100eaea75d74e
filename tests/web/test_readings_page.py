"""Files dropped, recognised, placed, drawn: what the pages keep and what they refuse."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from uuid import UUID

import pytest
from starlette.testclient import TestClient

from airtally.house.template import new_survey_text
from airtally.jobs.screened import COLUMNS, screen_stored, screened_key, screened_of
from airtally.jobs.stored import stored_inputs
from airtally.jobs.worker import do
from airtally.store.edits import edit, text_of
from airtally.store.engine import Store, open_store
from airtally.store.listing import add_job
from airtally.store.logs import log_bytes, logs_of
from airtally.store.texts import Change
from airtally.store.works import cancel, claim, work_of, works_of
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


def read_by_the_worker(store: Store) -> None:
    """Do what the page asked for, as the worker beside the server does."""
    work = claim(store, "w")
    assert work is not None
    assert work.kind == "readings"
    do(store, work, "w")
    assert work_of(store, work.id).state == "done"


def test_a_file_is_kept_as_it_came_and_what_was_recognised_is_shown(pages: TestClient, store: Store, job: UUID) -> None:
    address = drop(pages, job, "shelf.csv", TABLE.encode())
    (log,) = logs_of(store, job)
    assert log_bytes(store, log.digest) == TABLE.encode()
    text = pages.get(address).text
    assert "semicolon" in text
    # a stamp marks the end of its minute, so the first minute began before midnight
    assert re.search(r"PM2.5</th>.*?<td class=\"figure\">720</td><td>2026-01-04 23:59", text, re.DOTALL)
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
        "column.2:heading": "dust",
        "column.2": "pm10 ug/m3",
    }
    seen = pages.post(address, data=typed | {"do": "preview"})
    assert re.search(r"PM10</th>.*?720", seen.text, re.DOTALL)
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


def test_a_moved_instrument_has_two_places_in_one_file_and_each_is_changed_by_itself(
    pages: TestClient, store: Store, job: UUID
) -> None:
    address = drop(pages, job, "shelf.csv", TABLE.encode())
    first = {"new_instrument": "m", "air_side": "room", "zone": "main", "since": "2026-01-01", "do": "keep"}
    pages.post(address, data=first | {"until": "2026-01-05 03:00", "post": "a"})
    there = {"place": "another", "instrument": "m", "air_side": "outdoor", "since": "2026-01-05 03:00", "do": "keep"}
    pages.post(address, data=there | {"post": "b"})
    logs = tomllib.loads(text_of(store, job, "survey")[0])["log"]
    assert [one["placement"] for one in logs] == ["m-main", "m-outdoor"]
    pages.get(f"/job/{job}/readings/streams")
    read_by_the_worker(store)
    seen = pages.get(f"/job/{job}/readings/streams").text
    assert re.search(r"m-main, PM2.5</th><td>181</td><td>181</td>", seen)
    assert re.search(r"m-outdoor, PM2.5</th><td>539</td><td>539</td>", seen)
    pages.post(address, data={"place": "1", "placement": "m-outdoor", "stamps": "start", "do": "keep", "post": "c"})
    logs = tomllib.loads(text_of(store, job, "survey")[0])["log"]
    assert [one.get("stamps") for one in logs] == [None, "start"]


def test_a_columns_statement_leaves_the_other_keys_of_the_entry_alone(
    pages: TestClient, store: Store, job: UUID
) -> None:
    address = drop(pages, job, "shelf.csv", TABLE.encode())
    text, based_on = text_of(store, job, "survey")
    entry = '[[instrument]]\nid = "m"\n[[placement]]\nid = "m"\ninstrument = "m"\nair_side = "outdoor"\n'
    entry += '[[log]]\nfile = "logs/shelf.csv"\nplacement = "m"\ninterval = "1 min"\n'
    edit(store, job, "survey", [Change(path=(), value=text + entry)], based_on, "office", "whole")
    stated = {"column.2:heading": "dust", "column.2": "pm10 ug/m3", "placement": "m", "do": "keep", "post": "a"}
    pages.post(address, data=stated)
    (log,) = tomllib.loads(text_of(store, job, "survey")[0])["log"]
    assert (log["interval"], log["columns"]) == ("1 min", {"dust": "pm10 ug/m3"})
    pages.post(address, data={"placement": "m", "do": "keep", "post": "b"})
    (log,) = tomllib.loads(text_of(store, job, "survey")[0])["log"]
    assert (log["interval"], "columns" in log) == ("1 min", False)


def test_a_place_changed_in_another_tab_is_not_written_over_unseen(pages: TestClient, store: Store, job: UUID) -> None:
    address = drop(pages, job, "shelf.csv", TABLE.encode())
    typed = {"new_instrument": "m", "air_side": "outdoor", "since": "2026-01-01", "do": "keep", "post": "a"}
    pages.post(address, data=typed)
    old = {"based_on": str(text_of(store, job, "survey")[1]), "place": "0", "placement": "m-outdoor", "do": "keep"}
    pages.post(address, data=old | {"stamps": "start", "post": "b"})
    answer = pages.post(address, data=old | {"stamps": "middle", "post": "c"})
    assert answer.status_code == 409
    assert "stamps = start" in answer.text
    (log,) = tomllib.loads(text_of(store, job, "survey")[0])["log"]
    assert log["stamps"] == "start"


def test_instruments_that_wrote_in_one_file_are_given_their_placements(pages: TestClient, job: UUID) -> None:
    rows = "".join(f"2026-01-05 {h:02d}:00,{'shelf' if h % 2 else 'desk'},{h}\n" for h in range(24))
    address = drop(pages, job, "two.csv", f"time,device,co2 ppm\n{rows}".encode())
    first = {"new_instrument": "shelf", "air_side": "room", "zone": "main", "since": "2026-01-01", "do": "keep"}
    pages.post(address, data=first | {"post": "a"})
    seen = pages.post(address, data={"placement": "shelf-main", "devices": "desk = garden", "do": "preview"})
    assert re.search(r"CO2</th><td>garden</td><td class=\"figure\">12</td>", seen.text)


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


def test_the_streams_page_counts_what_the_drawing_shows(pages: TestClient, store: Store, job: UUID) -> None:
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
    waits = pages.get(f"/job/{job}/readings/streams")
    assert "It waits for its turn" in waits.text
    assert waits.headers["refresh"]
    assert pages.get(f"/job/{job}/readings/streams-wide.svg").status_code == 404
    pages.get(f"/job/{job}/readings/streams")  # asks for no second work
    read_by_the_worker(store)
    assert claim(store, "w") is None
    shown = pages.get(f"/job/{job}/readings/streams")
    assert "refresh" not in shown.headers
    text = shown.text
    assert "m-main, PM2.5" in text
    assert "720 readings = 720 kept + 0 set aside" in text
    assert "5 to 16.9 µg/m³" in text
    part = pages.get(f"/job/{job}/readings/streams?begin=2026-01-05T03:00&end=2026-01-05T05:00").text
    assert "120 readings = 120 kept" in part
    drawing = pages.get(f"/job/{job}/readings/streams-narrow.svg")
    assert drawing.headers["content-type"] == "image/svg+xml"
    assert "m-main, PM2.5" in drawing.text


def test_a_file_that_comes_later_is_read_anew_and_a_stopped_work_says_so(
    pages: TestClient, store: Store, job: UUID
) -> None:
    address = f"/job/{job}/readings/streams"
    assert "Nothing was read yet" in pages.get(address).text
    drop(pages, job, "shelf.csv", TABLE.encode())
    pages.get(address)
    read_by_the_worker(store)
    assert "It waits" not in pages.get(address).text
    drop(pages, job, "hall.csv", TABLE.encode(), "q")
    assert "It waits for its turn" in pages.get(address).text
    cancel(store, works_of(store, job)[0].id)
    stopped = pages.get(address)
    assert "It was cancelled" in stopped.text
    assert "refresh" not in stopped.headers
    pages.post(f"/job/{job}/works", data={"kind": "readings"})
    read_by_the_worker(store)
    assert "It waits" not in pages.get(address).text


def test_what_is_kept_of_the_readings_is_what_was_read(pages: TestClient, store: Store, job: UUID) -> None:
    address = drop(pages, job, "shelf.csv", TABLE.encode())
    typed = {"new_instrument": "m", "air_side": "room", "zone": "main", "since": "2026-01-01", "post": "y"}
    pages.post(address, data=typed | {"do": "keep"})
    screen_stored(store, job, lambda _: None)
    kept = screened_of(store, job, screened_key(store, job))
    assert kept is not None
    log = stored_inputs(store, job, lambda _: None).log
    assert log.time.size == 720
    assert kept.log.streams == log.streams
    for name in COLUMNS:
        column, read = getattr(kept.log, name), getattr(log, name)
        assert column.dtype == read.dtype
        assert column.tobytes() == read.tobytes()
    assert screened_of(store, job, "of other inputs") is None


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
    assert "No reading was recognised" in pages.get(address).text


def test_a_name_that_leads_elsewhere_stays_in_the_job(pages: TestClient, store: Store, job: UUID) -> None:
    drop(pages, job, "../../etc/passwd", TABLE.encode())
    (log,) = logs_of(store, job)
    assert log.name == "logs/passwd"


def test_no_file_at_all_is_said(pages: TestClient, job: UUID) -> None:
    answer = pages.post(f"/job/{job}/readings", data={"posts": "z"})
    assert answer.status_code == 422
    assert "Choose at least one" in answer.text
