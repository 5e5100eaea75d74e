"""Every number on every page and paper is the record's, and every main number of the record stands on its page.

The record is kept in a store as a worker keeps it; the pages are read as a browser gets them, the papers by poppler.
"""

from __future__ import annotations

import csv
import io
import re
import shutil
import subprocess
from collections.abc import Iterator
from datetime import UTC, datetime
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from airtally.house.template import new_survey_text
from airtally.record import validate
from airtally.report.papers import PAPERS
from airtally.store.engine import open_store
from airtally.store.listing import add_job
from airtally.store.records import keep_record
from airtally.web.app import make_app

from .odd_record import Document, odd_quantities, odd_record
from .shown_numbers import FACTORS, NUM, Shown, is_rounded, printed, shown

NOW = datetime(2026, 1, 5, 19, 0, tzinfo=UTC)
PAGES = ("account", "pressures", "findings", "proposals", "fan", "proof", "safety", "papers", "readings", "numbers")
BLOCKS = {
    "p",
    "li",
    "td",
    "th",
    "dd",
    "dt",
    "h1",
    "h2",
    "h3",
    "tr",
    "caption",
    "figcaption",
    "summary",
    "div",
    "button",
}


class Words(HTMLParser):
    """The words of a page: of its safety line and its main part, blocks apart, drawings by their text."""

    def __init__(self) -> None:
        super().__init__()
        self.parts: list[str] = []
        self.rows: list[list[str]] = []
        self.links: list[str] = []
        self.depth = 0
        self.is_in_cell = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Count what is open of the page's own part, and part blocks."""
        said = dict(attrs)
        if tag in ("main", "section"):
            self.depth += 1
        self.parts.append(" | " if tag in BLOCKS else " ")
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th") and self.rows:
            self.rows[-1].append("")
            self.is_in_cell = True
        if tag == "img" and self.depth:
            self.parts.append(f" | {said.get('alt', '')} | ")
        if tag == "a":
            self.links.append(said.get("href") or "")

    def handle_endtag(self, tag: str) -> None:
        """Count what is open."""
        if tag in ("main", "section"):
            self.depth -= 1
        if tag in ("td", "th"):
            self.is_in_cell = False
        self.parts.append(" | " if tag in BLOCKS else " ")

    def handle_data(self, data: str) -> None:
        """Take the words."""
        if self.depth:
            self.parts.append(data)
            if self.is_in_cell:
                self.rows[-1][-1] += data

    @property
    def text(self) -> str:
        """Return all words in one line."""
        return re.sub(r"(?: \| ?)+", " | ", " ".join("".join(self.parts).split()))


@pytest.fixture(scope="session")
def document() -> Document:
    record = odd_record()
    assert validate(record.document) == []
    return record.document


@pytest.fixture(scope="session")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, str]]:
    store = open_store(tmp_path_factory.mktemp("store") / "jobs.db", now=lambda: NOW)
    job = add_job(store, new_survey_text(name="A home", time_zone="America/Denver"), "office")
    keep_record(store, job, odd_record())
    with TestClient(make_app(store), base_url="http://127.0.0.1") as pages:
        yield pages, f"/job/{job}"
    store.close()


def words_of(client: tuple[TestClient, str], name: str) -> Words:
    """Return the words of one page."""
    answer = client[0].get(f"{client[1]}/{name}")
    assert answer.status_code == 200
    found = Words()
    found.feed(answer.text)
    return found


def paper_text(client: tuple[TestClient, str], name: str, folder: Path) -> str:
    """Return the words of a paper as poppler reads its structure aloud, without what stands inside a drawing."""
    path = folder / f"{name}.pdf"
    path.write_bytes(client[0].get(f"{client[1]}/papers/{name}-letter.pdf").content)
    tool = shutil.which("pdfinfo")
    if tool is None:
        pytest.skip("poppler-utils not installed")
    command = [tool, "-struct-text", str(path)]
    lines = subprocess.run(command, capture_output=True, check=True, text=True).stdout.splitlines()  # noqa: S603
    parts: list[str] = []
    inside: int | None = None
    for line in lines:
        indent = len(line) - len(line.lstrip())
        if inside is not None and indent <= inside:
            inside = None
        if line.strip().startswith("Figure"):
            inside = indent
        elif inside is None and line.strip().startswith('"'):
            parts.append(line.strip()[1:-1])
        elif inside is None:
            parts.append(" | ")
    return re.sub(r"(?: ?\| ?)+", " | ", " ".join(" ".join(parts).split()))


def read(document: Document, text: str) -> Shown:
    """Return a text with its numbers explained."""
    return shown(document, text, kept=NOW.date())


MAIN = {
    "pressures": ("pressures.worst_cases", "pressures.static_budget", "pressures.answers"),
    "findings": ("findings",),
    "proposals": ("forecasts.*.percent", "forecasts.*.mean_pm25", "forecasts.*.waits_for"),
    "fan": ("fan_rule",),
    "proof": ("proof",),
    "safety": ("safety",),
    "numbers": ("safety", "phases", "effects", "forecasts", "fan_rule", "pressures", "visit_readings", "proof", "findings"),
    "customer": (
        "forecasts.*.percent", "forecasts.*.mean_pm25", "proof.rows", "effects.whole_job.percent", "effects.whole_job.before",
        "pressures.worst_cases",
    ),
    "appendix": ("safety", "phases", "effects", "forecasts", "fan_rule", "pressures", "visit_readings", "proof", "findings"),
    "work-order": ("forecasts.*.waits_for",),
    "commissioning": ("commissioning",),
    "filter-plan": ("filter_plan",),
}  # fmt: skip
"""What must stand on a page or paper with value, unit and range, by where it stands in the record; the account apart."""


def parts_of(value: Any, path: str) -> Iterator[Any]:
    """Yield what stands at a path of the record; a star is any key."""
    key, _, rest = path.partition(".")
    for one in value.values() if key == "*" else [value[key]] if key in value else []:
        yield from parts_of(one, rest) if rest else [one]


def missing(name: str, found: Shown) -> list[Document]:
    """Return each main number of the record that was not found."""
    wanted = [
        one for path in MAIN.get(name, ()) for part in parts_of(found.document, path) for one in odd_quantities(part)
    ]
    assert wanted or name not in MAIN
    return [one for one in wanted if one not in found.found]


@pytest.mark.parametrize("name", PAGES)
def test_every_number_on_a_page_is_the_records_with_its_basis(
    name: str, client: tuple[TestClient, str], document: Document
) -> None:
    words = words_of(client, name)
    found = read(document, words.text)
    assert found.left() == []
    assert missing(name, found) == []
    for one in found.found:
        assert one["basis"] in words.text
    part = f"{client[1]}/numbers#"
    if name not in ("papers", "readings", "numbers"):
        (link,) = (one for one in words.links if one.startswith(part))
        assert f'id="{link.removeprefix(part)}"' in client[0].get(link).text  # one tap away: basis and source of each


@pytest.mark.parametrize("name", [one.name for one in PAPERS])
def test_every_number_on_a_paper_is_the_records(
    name: str, client: tuple[TestClient, str], document: Document, tmp_path: Path
) -> None:
    text = paper_text(client, name, tmp_path)
    found = read(document, text)
    assert found.left() == []
    assert missing(name, found) == []
    if name != "commissioning":  # test-in and read now: what was read on site is measured
        assert [one for one in found.found if one["basis"] not in text] == []


def test_each_number_of_the_record_stands_on_one_line_with_unit_range_basis_and_source(
    client: tuple[TestClient, str], document: Document
) -> None:
    rows = [row for row in words_of(client, "numbers").rows if row and row[0] != "what"]
    numbers = list(odd_quantities({key: part for key, part in document.items() if key != "events"}))
    for (_, shown_as, told), one in zip(rows, numbers, strict=True):
        parts = re.fullmatch(rf"({NUM}) ?(.*?)(?: \(({NUM}) to ({NUM})\), (\d+)%)?", " ".join(shown_as.split()))
        assert parts is not None, shown_as
        assert parts[2] == printed(one)
        known = [one[key] for key in ("value", "low", "high") if one[key] is not None]
        figures = [parts[at] for at in (1, 3, 4) if parts[at]]
        for text, number in zip(figures, known, strict=True):
            assert is_rounded(text, number, FACTORS.get(one["unit"], 1.0))
        assert parts[5] in (None, f"{100 * one['level']:.0f}")
        assert " ".join(told.split()) == f"{one['basis']}: {one['source']}"


def test_both_sides_of_the_account_are_the_records_line_by_line(
    client: tuple[TestClient, str], document: Document
) -> None:
    rows = [[cell.strip() for cell in row] for row in words_of(client, "account").rows]
    before, after = (document["phases"][key]["account"] for key in ("before", "after"))
    for side in ("in", "out"):
        for then, now in zip(before[side], after[side], strict=True):
            (row,) = (row for row in rows if row[0] == str(now["folio"]))
            assert row[1].startswith(now["name"])
            figures = (then["grams_per_day"]["value"], *(now["grams_per_day"][key] for key in ("value", "low", "high")))
            for text, number in zip((row[2], row[3], *row[4].split(" to ")), figures, strict=True):
                assert is_rounded(text, number, 1000.0)
    totals = [row for row in rows if row[0] == "" and row[1] in ("comes in", "goes out, and stored")]
    assert len(totals) == 2
    for row in totals:
        assert is_rounded(row[3], after["total"]["value"], 1000.0)


def test_a_number_that_is_not_the_records_is_found(client: tuple[TestClient, str], document: Document) -> None:
    text = words_of(client, "proof").text
    assert read(document, text).left() == []
    wrong = re.sub(r"(\d)(?= \u00b5g/m\u00b3 \()", lambda digit: str((int(digit.group(0)) + 1) % 10), text, count=1)
    assert wrong != text
    assert len(read(document, wrong).left()) >= 1
    assert len(read(document, f"{text} 41.3 Pa").left()) == 1


def test_tables_are_given_as_files_where_their_numbers_stand(
    client: tuple[TestClient, str], document: Document
) -> None:
    given = {
        name: [link for link in words_of(client, name).links if link.endswith(".csv")]
        for name in ("account", "readings", "numbers")
    }
    assert given["account"] == [f"{client[1]}/tables/account.csv"]
    assert given["readings"] == [f"{client[1]}/tables/readings.csv"]
    assert len(given["numbers"]) == 3
    for link in given["numbers"]:
        answer = client[0].get(link)
        assert answer.headers["content-type"] == "text/csv; charset=utf-8"
        assert answer.headers["content-disposition"].startswith('attachment; filename="a-home-')
    rows = list(csv.DictReader(io.StringIO(client[0].get(given["account"][0]).text)))
    first = document["phases"]["before"]["account"]["in"][0]
    assert float(rows[0]["value"]) == first["grams_per_day"]["value"]
    assert client[0].get(f"{client[1]}/tables/secrets.csv").status_code == 404
