"""The printed papers, read back by poppler as a reader would."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import xml.etree.ElementTree as ElementTree
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from invented_record import build_record, survey_only

from airtally.errors import InputError
from airtally.record import JobRecord, plain
from airtally.report import words
from airtally.report.appendix import quantities
from airtally.report.commissioning import sheet_checks, sheet_lines
from airtally.report.pages import head_part, report_pages
from airtally.report.papers import PAPERS, REPORT, paper_of, paper_pdf, write_papers
from airtally.report.pdf import Size

TOOLS = ("pdftotext", "pdfinfo", "pdffonts", "pdftohtml")
pytestmark = pytest.mark.skipif(any(shutil.which(tool) is None for tool in TOOLS), reason="poppler-utils not installed")
NAMES = tuple(one.name for one in PAPERS)
SIZES: tuple[Size, ...] = ("a4", "us-letter")
RECORDS = {"whole": build_record, "survey only": survey_only}


@cache
def record_of(which: str) -> JobRecord:
    """Return one of the invented records."""
    return JobRecord(document=plain(RECORDS[which]()))


@cache
def texts_of(which: str) -> dict[str, Any]:
    """Return its texts."""
    return report_pages(record_of(which))


@pytest.fixture(scope="module")
def paper(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Return what prints a paper once and gives its file."""
    folder = tmp_path_factory.mktemp("papers")

    def printed(name: str, which: str = "whole", size: Size = "us-letter") -> Path:
        path = folder / f"{name}-{which}-{size}.pdf"
        if not path.exists():
            path.write_bytes(paper_pdf(record_of(which), name, paper=size, texts=texts_of(which)))
        return path

    return printed


def read(path: Path, *arguments: str, tool: str = "pdftotext") -> str:
    """Return what a poppler tool reads from a PDF."""
    tail = ["-"] if tool == "pdftotext" else []
    command = [shutil.which(tool) or tool, *arguments, str(path), *tail]
    return subprocess.run(command, capture_output=True, check=True, text=True).stdout  # noqa: S603


def pages_of(path: Path) -> list[str]:
    """Return the text page by page."""
    return read(path).split("\f")[:-1]


def closed_up(text: str) -> str:
    """Return the text without spaces and line breaks, for comparing across wrapped lines."""
    return "".join(text.split())


def cells_of(path: Path) -> str:
    """Return the text by the tagged structure, closed up: a table cell's lines stand together, as they are read aloud."""
    lines = read(path, "-struct-text", tool="pdfinfo").splitlines()
    return closed_up("".join(line.strip()[1:-1] for line in lines if line.strip().startswith('"')))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("which", RECORDS)
def test_the_customer_report_ends_within_four_pages(which: str, size: Size, paper: Any) -> None:
    assert len(pages_of(paper("customer", which, size))) <= 4


@pytest.mark.parametrize("name", NAMES)
def test_every_paper_is_tagged_titled_accessible_and_carries_its_fonts(name: str, paper: Any) -> None:
    path = paper(name)
    info = read(path, tool="pdfinfo")
    assert "Tagged:          yes" in info
    assert f"Title:           {paper_of(name).title}: Invented split-level" in info
    assert "612 x 792" in info
    assert "595.276 x 841.89" in read(paper(name, size="a4"), tool="pdfinfo")
    # ISO 14289-1 (PDF/UA-1) asks for the identifier pdfuaid:part = 1 in the metadata.
    assert "pdfuaid:part>1<" in read(path, "-meta", tool="pdfinfo")
    structure = read(path, "-struct", tool="pdfinfo")
    for kind in ("H1", "H2", "Table", "TH"):
        assert kind in structure
    fonts = [line.split() for line in read(path, tool="pdffonts").splitlines()[2:]]
    assert {font[0].partition("+")[2].partition("-")[0] for font in fonts} == {"STIXTwoText", "BarlowSemiCondensed"}
    assert {font[-5] for font in fonts} == {"yes"}


def test_figures_carry_their_words_and_keep_their_text_in_the_label_face(paper: Any) -> None:
    assert "Figure" in read(paper("customer"), "-struct", tool="pdfinfo")
    found = read(paper("customer"), "-xml", "-i", "-stdout", "-fontfullname", tool="pdftohtml")
    pages = ElementTree.fromstring(found)  # noqa: S314
    faces = {font.get("id"): font.get("family") for font in pages.iter("fontspec")}
    marks = {"".join(text.itertext()).strip(): faces[text.get("font")] for text in pages.iter("text")}
    assert "BarlowSemiCondensed" in str(marks["Removal, fan on"])
    assert "STIXTwoText" in str(marks["What you asked"])


@pytest.mark.parametrize("which", RECORDS)
@pytest.mark.parametrize("name", NAMES)
def test_safety_stands_first_whole_on_page_one_and_every_foot_names_page_and_invention(
    name: str, which: str, paper: Any
) -> None:
    pages = pages_of(paper(name, which))
    first = " ".join(pages[0].split())
    alarm = "This system is no alarm and no safety device."
    texts = texts_of(which)
    begin, end = first.index("SAFETY FIRST"), first.index(alarm)
    assert begin < end
    before = first[:begin].split(" for ")[0]
    assert paper_of(name).title in before or len(first[:begin]) < 200  # nothing but the head stands above
    assert " ".join(texts["safety"]["verdict"].split()) in first[begin:end]
    for number, page in enumerate(pages, start=1):
        foot = " ".join(page.split())
        assert f"page {number} of {len(pages)}" in foot
        assert "Invented numbers, no real house." in foot
        assert " ".join(texts["caution"].split()) in foot


@pytest.mark.parametrize("name", ["work-order", "commissioning", "filter-plan", "appendix"])
def test_cautions_on_combustion_and_alarms_stand_before_anything_else(name: str, paper: Any) -> None:
    text = " ".join(read(paper(name)).split())
    cautions = record_of("whole").document["safety"]["cautions"][:2]
    places = [text.index(" ".join(one.split())[:60]) for one in cautions]
    assert text.index("SAFETY FIRST") < min(places)
    assert max(places) < text.index("This system is no alarm")


def test_the_customers_cautions_stand_before_its_tests_and_pressures(paper: Any) -> None:
    text = " ".join(read(paper("customer")).split())
    caution = " ".join(record_of("whole").document["safety"]["cautions"][0].split())[:60]
    assert text.index("Tests and air pressures") < text.index(caution) < text.index("tested twice")


@pytest.mark.parametrize("which", RECORDS)
@pytest.mark.parametrize("name", NAMES)
def test_no_paper_makes_a_claim_it_must_not_make(name: str, which: str, paper: Any) -> None:
    text = read(paper(name, which))
    assert words.forbidden_claims(text) == []
    assert re.search(r"\bsafe(?:ly|r|st)?\b|\bunsafe\b", text, re.IGNORECASE) is None


def test_each_number_of_the_record_stands_in_the_appendix(paper: Any) -> None:
    text = closed_up(read(paper("appendix")))
    document = record_of("whole").document
    missing = []
    for path, quantity in quantities({key: value for key, value in document.items() if key != "events"}):
        unit = "mg/day" if quantity["unit"] == "g/day" else None
        for shown in (words.value_text(quantity, unit=unit), words.interval_text(quantity, unit=unit)):
            if closed_up(shown) not in text:
                missing.append((path, shown))
    assert missing == []


NUMBER = re.compile(r"(?<![\w.,])\d+(?:,\d{3})*(?:\.\d+)?(?![\w])")
DIGEST = re.compile(r"\b[0-9a-f]{12,}\b")
OWN = {"2.5", "256"}
"""Numbers of the templates' own words: PM2.5 and SHA-256."""


@pytest.mark.parametrize("name", NAMES)
def test_each_number_on_a_paper_is_one_of_the_records_texts(name: str, paper: Any) -> None:
    record = record_of("whole")
    data = json.dumps(head_part(record) | paper_of(name).part(record, texts_of("whole")), ensure_ascii=False)
    known = set(NUMBER.findall(data.replace("\\n", " "))) | OWN
    text = DIGEST.sub("", re.sub(r"page \d+ of \d+", "", read(paper(name))))
    printed = NUMBER.findall(text)
    assert len(printed) > 5
    assert sorted(set(printed) - known) == []


def test_prices_forecasts_and_the_account_are_printed_as_the_record_words_them(paper: Any) -> None:
    text = closed_up(read(paper("customer")))
    document = record_of("whole").document
    for forecast in document["forecasts"].values():
        assert closed_up(words.money(forecast["cost"])) in text
        assert closed_up(words.change_text(forecast["percent"])) in text
    account = texts_of("whole")["account"]
    for row in (*account["entering"], *account["leaving"]):
        for cell in row["cells"]:
            assert closed_up(cell) in text


def test_the_work_order_follows_the_stages_and_says_what_waits_for_what(paper: Any) -> None:
    text = " ".join(read(paper("work-order")).split())
    entries = sorted(record_of("whole").document["forecasts"].values(), key=lambda one: one["stage"])
    places = [text.index(f"Stage {one['stage']}: {one['name']}") for one in entries]
    assert places == sorted(places)
    for one, begin, end in zip(entries, places, [*places[1:], len(text)], strict=True):
        for part in one.get("parts", []):
            assert part in text[begin:end]
    waiting = [one for one in entries if one.get("waits_for")]
    assert waiting
    for one in waiting:
        for wait in one["waits_for"]:
            assert closed_up(wait["lifted_by"].replace("_", " ")) in closed_up(text)
    assert "worst_case" not in text
    for one in entries:
        for retest in one["must_retest"]:
            assert closed_up(retest) in closed_up(text)


def test_the_sheet_numbers_a_blank_for_every_reading_still_to_take(paper: Any) -> None:
    document = record_of("whole").document
    lines = sheet_lines(document)
    assert [line.number for line in lines] == ["1", "2", "3"]
    assert [line.is_blank for line in lines] == [False, True, True]
    assert [line.key for line in lines] == ["exhaust_flow", "worst_case_pressure_change", "spillage_time"]
    assert lines[2].state_parts["vent"] == "cold"
    assert [(one.number, one.answer) for one in sheet_checks(document)] == [("4", "yes"), ("5", "")]
    text = cells_of(paper("commissioning"))
    for line in lines:
        assert closed_up(line.test_in) in text
        assert closed_up(line.state) in text
        for limit in line.limits:
            assert closed_up(limit) in text
    assert "2099edition" in text
    assert closed_up(lines[0].test_out) in text
    assert record_of("whole").digest[:8] in text


def test_without_readings_or_lists_each_paper_says_what_is_missing(paper: Any) -> None:
    assert "There are no readings yet." in " ".join(read(paper("customer", "survey only")).split())
    assert "lists no reading to take" in " ".join(read(paper("commissioning", "survey only")).split())
    assert "No filter is on record" in read(paper("filter-plan", "survey only"))
    empty = {"filter_plan": {"filters": [], "sentences": ["Change it."]}}
    assert paper_of("filter-plan").part(JobRecord(document=empty), None)["filters"] is None
    bare = JobRecord(
        document={key: value for key, value in record_of("survey only").document.items() if key != "forecasts"}
    )
    assert paper_pdf(bare, "work-order").startswith(b"%PDF")
    assert paper_of("work-order").part(bare, None)["works"] == []


@pytest.mark.parametrize("key", sorted(set(build_record()) - {"schema", "job", "safety", "provenance"}))
def test_a_record_without_one_part_still_prints_every_paper(key: str) -> None:
    record = JobRecord(document={name: part for name, part in record_of("whole").document.items() if name != key})
    texts = report_pages(record)
    for name in NAMES:
        assert paper_pdf(record, name, texts=texts).startswith(b"%PDF")


def test_text_of_a_user_is_printed_and_never_read_as_markup(tmp_path: Path) -> None:
    document = build_record()
    trick = '#panic("x") *b* $1/0$ <a> @b \\ [ ] // /* "'
    document["job"]["complaint"] = trick
    document["job"]["home"] = "House #1 *two* <svg>&"
    document["phases"]["after"]["name"] = "Now </text> & <b>"
    document["proof"]["rows"][0]["name"] = "Rate < 5 & $x$ ^_ 'Barlow Semi Condensed'"
    document["commissioning"]["readings"][1]["where"] = trick
    for forecast in document["forecasts"].values():
        forecast["name"] = trick
    document["filter_plan"]["filters"][0]["place"] = trick
    written = write_papers(JobRecord(document=plain(document)), tmp_path, names=NAMES)
    assert [path.name for path in written] == [one.file for one in PAPERS]
    for path in written:
        text = cells_of(path)
        assert closed_up("House #1 *two* <svg>&") in text
        if path.name != "appendix.pdf":
            assert closed_up('#panic("x") *b* $1/0$ <a> @b') in text


def test_one_record_gives_one_file_and_other_paper_another(tmp_path: Path) -> None:
    record = record_of("whole")
    letter = paper_pdf(record, "customer")
    assert paper_pdf(record, "customer", texts=texts_of("whole")) == letter
    assert paper_pdf(record, "customer", paper="a4") != letter
    with pytest.raises(InputError, match="paper must be"):
        paper_pdf(record, "customer", paper="a3")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="no paper 'poster'"):
        paper_pdf(record, "poster")
    assert [path.name for path in write_papers(record, tmp_path, names=REPORT)] == ["report.pdf", "appendix.pdf"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["appendix.pdf", "report.pdf"]
