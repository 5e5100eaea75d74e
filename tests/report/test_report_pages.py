"""The report's texts and drawings as data, before they are printed."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from typing import Any

import pytest
from invented_record import build_record, survey_only

from airtally.record import JobRecord, plain
from airtally.report import words
from airtally.report.appendix import number_rows, quantities
from airtally.report.carpet import carpet_drawing
from airtally.report.cut.house_cut import house_cut
from airtally.report.figures import before_after_drawing, proof_drawing, room_drawing, weeks_drawing
from airtally.report.pages import account_table, report_pages
from airtally.report.papers import paper_pdf
from airtally.report.proposals import proposals_part


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


def test_every_drawing_has_a_title_a_sentence_and_a_table_and_keeps_its_text() -> None:
    document = plain(build_record())
    drawings = [
        before_after_drawing(document["proof"]["rows"]),
        proof_drawing(document["proof"]["rows"] + document["proof"]["not_evidence"]),
        room_drawing(document),
        carpet_drawing(document),
        weeks_drawing(document, "fire-doors"),
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
    assert paper_pdf(JobRecord(document=document), "appendix", texts=pages).startswith(b"%PDF")


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


def test_a_measure_that_was_not_replayed_has_no_weeks_to_draw() -> None:
    document = plain(build_record())
    assert weeks_drawing(document, "supply-air") is None
    drawn = weeks_drawing(document, "fire-doors")
    assert drawn is not None
    assert len(drawn.rows) == len(document["forecasts"]["fire-doors"]["weeks"]["time"])
    rows = {row["id"]: row["weeks"] for row in proposals_part(document)}
    assert rows["supply-air"] is None
    assert rows["fire-doors"]["sentence"] == drawn.sentence
