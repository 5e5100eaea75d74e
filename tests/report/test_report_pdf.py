"""The printed report, read back by poppler as a reader would."""

from __future__ import annotations

import shutil
import subprocess
import xml.etree.ElementTree as ElementTree
from pathlib import Path
from typing import Any

import pytest
from invented_record import build_record, survey_only

from airtally.errors import InputError
from airtally.record import JobRecord, plain
from airtally.report import words
from airtally.report.appendix import number_rows, quantities
from airtally.report.carpet import carpet_drawing
from airtally.report.cut.house_cut import house_cut
from airtally.report.figures import before_after_drawing, proof_drawing, room_drawing
from airtally.report.pages import account_table, report_pages
from airtally.report.pdf import report_pdf, write_report
from airtally.report.screen import answer_screen

needs_poppler = pytest.mark.skipif(
    any(shutil.which(tool) is None for tool in ("pdftotext", "pdfinfo", "pdffonts", "pdftohtml")),
    reason="poppler-utils not installed",
)


def read(path: Path, *arguments: str, tool: str = "pdftotext") -> str:
    """Return what a poppler tool reads from a PDF."""
    program = shutil.which(tool)
    assert program is not None
    tail = ["-"] if tool == "pdftotext" else []
    done = subprocess.run([program, *arguments, str(path), *tail], capture_output=True, check=True, text=True)  # noqa: S603
    return done.stdout


def closed_up(text: str) -> str:
    """Return the text without spaces and line breaks, for comparing across wrapped lines."""
    return "".join(text.split())


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("report") / "report.pdf"
    write_report(JobRecord(document=plain(build_record())), path)
    return path


@needs_poppler
def test_the_report_is_tagged_titled_and_carries_its_fonts(whole: Path) -> None:
    info = read(whole, tool="pdfinfo")
    assert "Tagged:          yes" in info
    assert "Title:           Air report: Invented split-level" in info
    assert "612 x 792" in info
    fonts = [line.split() for line in read(whole, tool="pdffonts").splitlines()[2:]]
    assert {font[0].partition("+")[2].partition("-")[0] for font in fonts} == {"STIXTwoText", "BarlowSemiCondensed"}
    assert {font[-5] for font in fonts} == {"yes"}


@needs_poppler
def test_the_report_says_it_is_a_universally_accessible_pdf(whole: Path) -> None:
    # ISO 14289-1 (PDF/UA-1) asks for the identifier pdfuaid:part = 1 in the metadata.
    assert "pdfuaid:part>1<" in read(whole, "-meta", tool="pdfinfo")
    structure = read(whole, "-struct", tool="pdfinfo")
    for kind in ("H1", "H2", "Table", "TH", "Figure"):
        assert kind in structure


@needs_poppler
def test_the_text_in_drawings_stays_text_in_the_label_face(whole: Path) -> None:
    pages = ElementTree.fromstring(read(whole, "-xml", "-i", "-stdout", "-fontfullname", tool="pdftohtml"))  # noqa: S314
    faces = {font.get("id"): font.get("family") for font in pages.iter("fontspec")}
    marks = {"".join(text.itertext()).strip(): faces[text.get("font")] for text in pages.iter("text")}
    assert "BarlowSemiCondensed" in str(marks["Removal, fan on"])
    assert "STIXTwoText" in str(marks["What you asked"])


@needs_poppler
def test_safety_comes_first_and_the_customer_part_ends_within_four_pages(whole: Path) -> None:
    pages = read(whole).split("\f")
    first = pages[0]
    order = ["SAFETY FIRST", "Fireplace", "Water heater", "What you asked", "What changed in the air"]
    assert [first.index(word) for word in order] == sorted(first.index(word) for word in order)
    appendix = next(index for index, page in enumerate(pages) if "Appendix: numbers" in page)
    assert appendix <= 4
    assert "SHA-256" in pages[-2]
    assert "20250901" in pages[-2]


@needs_poppler
@pytest.mark.parametrize("build", [build_record, survey_only])
def test_the_report_makes_no_claim_it_must_not_make(build: Any, tmp_path: Path) -> None:
    path = tmp_path / "report.pdf"
    write_report(JobRecord(document=plain(build())), path, paper="a4")
    text = read(path)
    assert "Invented numbers" in text
    assert words.forbidden_claims(text) == []


@needs_poppler
def test_each_number_of_the_record_stands_in_the_report(whole: Path) -> None:
    text = closed_up(read(whole))
    document = plain(build_record())
    missing = []
    for path, quantity in quantities({key: value for key, value in document.items() if key != "events"}):
        unit = "mg/day" if quantity["unit"] == "g/day" else None
        for shown in (words.value_text(quantity, unit=unit), words.interval_text(quantity, unit=unit)):
            if closed_up(shown) not in text:
                missing.append((path, shown))
    assert missing == []


def test_the_appendix_gives_back_the_records_numbers() -> None:
    document = plain(build_record())
    rows = number_rows(document)
    exact = [entry for path, entry in quantities(document) if path[0] != "events"]
    assert len(rows) == len(exact) > 100
    for row, quantity in zip(rows, exact, strict=True):
        factor = {"g/day": 1000.0, "1": 100.0}.get(quantity["unit"], 1.0)
        shown = float(row[1].replace(",", "").replace(words.MINUS, "-"))
        half = 0.5 * 10.0 ** -words.decimals_of(quantity, factor)
        assert abs(shown - factor * quantity["value"]) <= half * (1 + 1e-6)
        assert row[5:] == [quantity["basis"], quantity["source"]]


@needs_poppler
def test_text_of_a_user_is_printed_and_never_read_as_markup(tmp_path: Path) -> None:
    document = build_record()
    trick = '#panic("x") *b* $1/0$ <a> @b \\ [ ] // /* "'
    document["job"]["complaint"] = trick
    document["job"]["home"] = "House #1 *two* <svg>&"
    document["phases"]["after"]["name"] = "Now </text> & <b>"
    document["proof"]["rows"][0]["name"] = "Rate < 5 & $x$ ^_ 'Barlow Semi Condensed'"
    path = tmp_path / "report.pdf"
    write_report(JobRecord(document=plain(document)), path)
    text = closed_up(read(path))
    assert closed_up('#panic("x") *b* $1/0$ <a> @b') in text
    assert closed_up("House #1 *two* <svg>&") in text


def test_one_record_gives_one_file_and_other_paper_another() -> None:
    record = JobRecord(document=plain(build_record()))
    letter = report_pdf(record)
    assert report_pdf(record) == letter
    assert report_pdf(record, paper="a4") != letter
    with pytest.raises(InputError, match="paper"):
        report_pdf(record, paper="a3")  # type: ignore[arg-type]


def test_every_drawing_has_a_title_a_sentence_and_a_table_and_keeps_its_text() -> None:
    document = plain(build_record())
    drawings = [
        before_after_drawing(document["proof"]["rows"]),
        proof_drawing(document["proof"]["rows"] + document["proof"]["not_evidence"]),
        room_drawing(document),
        carpet_drawing(document),
        house_cut(document),
    ]
    for drawing in drawings:
        root = ElementTree.fromstring(drawing.svg)  # noqa: S314
        space = "{http://www.w3.org/2000/svg}"
        assert root.findtext(f"{space}title") == drawing.title
        assert root.findtext(f"{space}desc") == drawing.sentence
        assert len(list(root.iter(f"{space}text"))) > 5
        assert len(drawing.rows) >= 3
        assert all(len(row) == len(drawing.head) for row in drawing.rows)
        assert "base64" not in drawing.svg
    assert house_cut(document) == drawings[-1]


def test_unknown_hours_are_left_open_and_counted() -> None:
    drawing = room_drawing(plain(build_record()))
    assert "43 of 1681 hours not known" in drawing.sentence
    assert sum(row[1] == "not known" for row in drawing.rows) == 43


def test_the_account_table_balances_and_says_where_rounding_does_not() -> None:
    document = plain(build_record())
    table = account_table(document)
    assert table is not None
    for side in ("entering", "leaving"):
        assert sum(int(row["cells"][1].replace(words.MINUS, "-")) for row in table[side]) == int(table["total"][1])
    assert "rounded" not in table["note"]
    account = document["phases"]["after"]["account"]
    account["in"][1]["grams_per_day"]["value"] += 0.0004
    account["in"][2]["grams_per_day"]["value"] += 0.0004
    account["total"]["value"] += 0.0008
    changed = account_table(document)
    assert changed is not None
    assert "rounded" in changed["note"]


def test_a_record_without_answers_says_so_rather_than_nothing() -> None:
    pages = report_pages(JobRecord(document=plain(survey_only())))
    assert pages["account"] is None
    assert pages["found"] == ["There are no readings yet. A survey alone cannot tell where particles come from."]
    assert pages["did"] == ["No work was done yet."]
    assert pages["next"][0].startswith("Fireplace: ")


def _every_quantity(document: dict[str, Any], change: dict[str, None]) -> dict[str, Any]:
    """Return the document with each quantity changed alike."""
    for _, quantity in quantities(document):
        quantity |= change  # type: ignore[operator]
    return document


@pytest.mark.parametrize(
    "change", [{"low": None, "high": None}, {"value": None, "low": None, "high": None}], ids=["no interval", "no value"]
)
def test_numbers_without_interval_or_value_are_printed_as_such(change: dict[str, None]) -> None:
    document = _every_quantity(plain(build_record()), change)
    pages = report_pages(JobRecord(document=document))
    text = str(pages["appendix"]["numbers"]) + str(pages["account"]["entering"])
    assert ("not known" in text) == ("value" in change)
    assert " to " not in str([row["cells"][2] for row in pages["account"]["entering"]])
    assert report_pdf(JobRecord(document=document)).startswith(b"%PDF")


@pytest.mark.parametrize("key", sorted(set(build_record()) - {"schema", "job", "safety", "provenance"}))
def test_a_record_without_one_part_still_prints(key: str) -> None:
    document = plain(build_record())
    del document[key]
    record = JobRecord(document=document)
    assert "SAFETY" in answer_screen(record)
    assert report_pdf(record).startswith(b"%PDF")


def test_many_phases_keep_their_names_apart() -> None:
    document = plain(build_record())
    after = document["phases"]["after"]
    for week in range(5):
        document["phases"][f"p{week}"] = after | {
            "name": f"Phase number {week}",
            "start": f"2025-10-{10 + week:02d}T06:00:00Z",
        }
    drawing = room_drawing(document)
    assert "Phase number 4 from 14 Oct" in drawing.sentence
    assert drawing.svg.count("Phase number 4") == 1
