"""A newcomer's walk from the empty list of jobs to the papers, from raw files, on three houses that no page was built on.

Two are from open data (Gould et al. 2024, MIT; Farrell 2023, CC BY-SA 4.0: its files do not travel with the tests), one
is an invented house of another seed than the demo's, of which only the loggers' files are taken.
"""

from __future__ import annotations

import csv
import gzip
import io
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from tests.open_data.open_sets import EXTRACTS, need_whole_set

from airtally.demo import write_demo
from airtally.report.papers import PAPERS
from airtally.web.render import LEAVES
from airtally.web.serve import served

from .conftest import SIZES, violations
from .newcomer import Newcomer

PATIENCE = 90.0
"""Longest wait for the answers. [s]"""
SEED = 7
BROKEN = "[...document.images].filter(one => !one.complete || !one.naturalWidth).map(one => one.src)"


@pytest.fixture
def office(tmp_path: Path) -> Iterator[str]:
    """Serve an empty list of jobs, with its worker."""
    with served(tmp_path / "company.db") as address:
        yield address


def begin(newcomer: Newcomer, name: str, zone: str) -> None:
    """Add a job from the empty list."""
    assert "No job yet" in newcomer.page.locator("main").inner_text()
    newcomer.fill("Home", name)
    newcomer.pick("Time zone of the home", zone)
    newcomer.button("Add the job")


def say_volume(newcomer: Newcomer, number: str, unit: str) -> None:
    """Say how large the rooms are, which is all that a survey must say."""
    newcomer.leaf("Survey")
    newcomer.follow(newcomer.page.locator("main").get_by_role("link", name="Spaces", exact=True))
    newcomer.pick("Volume, unit", unit)
    newcomer.fill("Volume", number)
    waiting = "JSON.parse(localStorage['airtally:waiting'] || '[]').length"
    newcomer.wait_until(lambda: newcomer.page.evaluate(waiting) == 0, 10.0)
    assert "Saved" in newcomer.page.locator("#said").inner_text()
    newcomer.look()


def place(newcomer: Newcomer, *, instrument: str = "", known: str = "", side: str = "", zone: str = "") -> None:
    """Say on a file's page where its instrument hung, and keep it."""
    if known:
        newcomer.pick("Placement", known)
    else:
        newcomer.fill("Name of a new instrument", instrument)
        newcomer.choose("Which air it saw", side)
        if zone:
            newcomer.pick("Space it hung in", zone)
    newcomer.button("Keep")
    assert "its place is kept" in newcomer.page.locator("#said").inner_text()


def open_file(newcomer: Newcomer, name: str) -> str:
    """Open the page of a file and return what is said of it."""
    newcomer.follow(newcomer.page.get_by_role("link", name=name))
    return str(newcomer.page.locator("main").inner_text())


def filled(files: Sequence[Path], *columns: str) -> int:
    """Return how many cells of some columns hold something, counted without the product's reader."""
    count = 0
    for file in files:
        content = gzip.decompress(file.read_bytes()) if file.suffix == ".gz" else file.read_bytes()
        rows = csv.DictReader(io.StringIO(content.decode("utf-8-sig")))
        count += sum(bool(row.get(column)) for row in rows for column in columns)
    return count


def work_out(newcomer: Newcomer) -> None:
    """Ask for the answers and wait for them."""
    newcomer.button("Work it out")
    text = newcomer.page.locator("main")
    newcomer.wait_until(lambda: "It is done" in text.inner_text() or "could not" in text.inner_text(), PATIENCE)
    assert "It is done" in text.inner_text(), text.inner_text()
    newcomer.look()


def look_at_every_page(newcomer: Newcomer) -> dict[str, str]:
    """Go through the job's pages one after the other and return what they say."""
    said = {}
    for leaf in LEAVES:
        newcomer.leaf(leaf.name)
        said[leaf.path] = newcomer.page.locator("main").inner_text()
        newcomer.wait_until(lambda: newcomer.page.evaluate(BROKEN) == [], 20.0)
        assert "Work it out" not in said[leaf.path], leaf.path
        if leaf.path == "readings":
            newcomer.follow(newcomer.page.get_by_role("link", name="All streams on one axis"))
            newcomer.wait_until(lambda: newcomer.page.locator("figure.streams").is_visible(), PATIENCE)
            newcomer.wait_until(lambda: newcomer.page.evaluate(BROKEN) == [], 20.0)
            newcomer.look()
    newcomer.follow(newcomer.page.get_by_role("link", name="All of it, with limits"))
    said["safety"] = newcomer.page.locator("main").inner_text()
    return said


def take_papers(newcomer: Newcomer, count: int) -> None:
    """Take the first papers as files."""
    newcomer.leaf("Papers")
    for paper in PAPERS[:count]:
        content = newcomer.fetch(newcomer.page.get_by_role("link", name=f"{paper.title}, A4"))
        assert content.startswith(b"%PDF-")
        assert content.rstrip().endswith(b"%%EOF")


def test_a_kitchen_by_touch_on_a_phone(office: str, chromium: Any) -> None:
    newcomer = Newcomer(chromium, office, SIZES[0], is_touch=True)
    begin(newcomer, "Kitchen 17", "America/Guayaquil")
    say_volume(newcomer, "150", "m3")
    newcomer.leaf("Readings")
    kitchen = EXTRACTS / "kitchens-cooking" / "home_17.csv.gz"
    newcomer.offer("Loggers' files", [kitchen])
    newcomer.button("Keep the files")
    assert "PM2.5" not in newcomer.page.locator("main table").inner_text()
    newcomer.unfold("Its columns: 3 read, 4 not")
    newcomer.pick("pm_mean", "PM2.5, ug/m3")
    newcomer.pick("cook_induction", "leave it out")
    newcomer.button("See how it is read so")
    assert "PM2.5" in newcomer.page.locator("main table").inner_text()
    place(newcomer, instrument="worn monitor", side="in a room", zone="rooms that mix")
    work_out(newcomer)
    said = look_at_every_page(newcomer)
    assert f"{filled([kitchen], 'cook_lpg', 'no2_ppb', 'pm_mean'):,} read" in said["readings"]
    assert "comes in" in said["account"]
    assert "cooking" in said["findings"]
    take_papers(newcomer, 2)
    newcomer.look()


def test_a_bedroom_in_smoke_by_keyboard_alone(office: str, chromium: Any) -> None:
    folder = need_whole_set("smoke-bedroom")
    newcomer = Newcomer(chromium, office, SIZES[2], is_touch=False)
    begin(newcomer, "Bedroom in smoke", "America/Edmonton")
    say_volume(newcomer, "29", "m3")
    newcomer.leaf("Readings")
    newcomer.offer("Loggers' files", sorted(folder.glob("*.csv")))
    newcomer.button("Keep the files")
    assert newcomer.page.get_by_text("place not said").count() == 4
    open_file(newcomer, "indoor_filter_test.csv")
    place(newcomer, instrument="monitor", side="in a room")
    open_file(newcomer, "indoor_infiltration_test.csv")
    place(newcomer, known="monitor, rooms that mix, since 2023-05-20")
    assert "No reading was recognised" in open_file(newcomer, "outdoor_filter_test.csv")
    newcomer.pick("channel_a", "PM2.5, ug/m3")
    newcomer.button("See how it is read so")
    assert "PM2.5" in newcomer.page.locator("main table").inner_text()
    place(newcomer, instrument="neighbour", side="outdoors")
    open_file(newcomer, "outdoor_infiltration_test.csv")
    newcomer.pick("channel_a", "PM2.5, ug/m3")
    place(newcomer, known="neighbour, outdoors, since 2023-05-20")
    work_out(newcomer)
    said = look_at_every_page(newcomer)
    indoors = (
        "VOC, ppm",
        "Temperature, °C",
        "Humidity, %",
        "Pressure, mbar",
        "PM1, ug/m3",
        "PM2.5, ug/m3",
        "PM10, ug/m3",
    )
    read = filled(sorted(folder.glob("*.csv")), *indoors, "channel_a")
    assert f"{read:,} read" in said["readings"]
    assert "comes in" in said["account"]
    take_papers(newcomer, 1)
    newcomer.look()


def test_an_invented_house_of_another_seed_by_touch_on_a_tablet(office: str, chromium: Any, tmp_path: Path) -> None:
    write_demo(tmp_path / "demo", seed=SEED, weeks=1)
    newcomer = Newcomer(chromium, office, SIZES[1], is_touch=True)
    begin(newcomer, "Split level", "America/Denver")
    say_volume(newcomer, "12000", "ft3")
    newcomer.leaf("Readings")
    newcomer.offer("Loggers' files", sorted((tmp_path / "demo" / "logs").glob("*.csv")))
    newcomer.button("Keep the files")
    for file, side in (
        ("living.csv", "in a room"),
        ("north-eave.csv", "outdoors"),
        ("in-duct.csv", "in the return duct, before the filter"),
        ("blower.csv", "on a machine: fan current, filter drop, spill temperature, stove switch"),
    ):
        open_file(newcomer, file)
        place(newcomer, instrument=file.removesuffix(".csv"), side=side)
    work_out(newcomer)
    said = look_at_every_page(newcomer)
    assert "comes in" in said["account"]
    take_papers(newcomer, 1)
    newcomer.look()
    checker = chromium.new_context(viewport={"width": SIZES[1][0], "height": SIZES[1][1]}, bypass_csp=True).new_page()
    for leaf in LEAVES:
        checker.goto(f"{office}/job/{newcomer.page.url.split('/')[4]}/{leaf.path}")
        assert violations(checker) == [], leaf.path
