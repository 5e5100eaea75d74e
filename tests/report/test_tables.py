"""Tables for a spreadsheet, and texts made fit to print.

A text that a spreadsheet would run is told by its first letter: OWASP, "CSV Injection" (=, +, -, @, tab, carriage return).
"""

from __future__ import annotations

import copy
import csv
import io
from typing import Any

import pytest
from invented_record import build_record, survey_only

from airtally.record import plain
from airtally.report.appendix import quantities
from airtally.report.plain_words import readable, readable_text
from airtally.report.tables import TABLES


def rows_of(name: str, document: dict[str, Any]) -> list[list[str]]:
    """Return a table as a spreadsheet reads it, its head first."""
    return list(csv.reader(io.StringIO(TABLES[name].text(document), newline="")))


def test_every_number_stands_unrounded_in_its_table() -> None:
    document = plain(build_record())
    head, *rows = rows_of("numbers", document)
    found = [quantity for _, quantity in quantities(document)]
    assert len(rows) == len(found) > 100
    for row, quantity in zip(rows, found, strict=True):
        entry = dict(zip(head, row, strict=True))
        for key in ("value", "low", "high"):
            assert (float(entry[key]) if entry[key] else None) == quantity[key]
        assert [entry[key] for key in ("unit", "basis", "source")] == [
            quantity[key] for key in ("unit", "basis", "source")
        ]


def test_both_sides_of_an_account_add_up_to_its_total() -> None:
    document = plain(build_record())
    head, *rows = rows_of("account", document)
    phase, side, value = (head.index(one) for one in ("phase", "side", "value"))
    for name in {row[phase] for row in rows}:
        sums = {
            one: sum(float(row[value]) for row in rows if (row[phase], row[side]) == (name, one))
            for one in ("comes in", "goes out", "both sides")
        }
        assert sums["comes in"] == pytest.approx(sums["both sides"])
        assert sums["goes out"] == pytest.approx(sums["both sides"])


def test_the_counts_of_the_readings_close_by_reason() -> None:
    head, *rows = rows_of("readings", plain(build_record()))
    at = {name: index for index, name in enumerate(head)}
    for stream in {row[0] for row in rows}:
        mine = [row for row in rows if row[0] == stream]
        assert int(mine[0][at["read"]]) == int(mine[0][at["kept"]]) + int(mine[0][at["set aside"]])
        assert sum(int(row[at["of that reason"]]) for row in mine) == int(mine[0][at["set aside"]])


@pytest.mark.parametrize("first", ["=", "+", "-", "@", "\t", "\r"])
def test_a_text_that_a_sheet_would_run_is_held_and_numbers_stay_numbers(first: str) -> None:
    document = plain(build_record())
    trick = f'{first}cmd|"/c calc"!A1,\n2'
    document["phases"]["after"]["account"]["in"][0]["name"] = trick
    document["job"]["streams"][0]["name"] = trick
    for name in ("account", "readings"):
        cells = [cell for row in rows_of(name, document) for cell in row]
        assert f"'{trick}" in cells
        assert trick not in cells
    values = [row[6] for row in rows_of("numbers", document)]
    assert not [cell for row in rows_of("numbers", document)[1:] for cell in row[1:5] if cell.startswith("'")]
    assert values
    assert [row for row in rows_of("numbers", document) if row[1].startswith("-")]  # a number below zero is no formula


def test_a_record_without_readings_has_its_tables_with_their_heads() -> None:
    document = plain(survey_only())
    assert len(rows_of("account", document)) == len(rows_of("readings", document)) == 1
    assert len(rows_of("numbers", document)) > 5


@pytest.mark.parametrize(
    ("written", "printed"),
    [
        ("spillage_time at furnace, worst case", "spillage time at furnace, worst case"),
        ("cfm25_return at the garage", "return leakage at 25 Pa at the garage"),
        ("went to -7.1 Pa (-8.3 Pa as read)", "went to \u22127.1 Pa (\u22128.3 Pa as read)"),
        ("from 25 degC to 97 degC", "from 25 \u00b0C to 97 \u00b0C"),
        ("above 1000 ug/m3 at its sensor", "above 1000 \u00b5g/m\u00b3 at its sensor"),
        ("6.51 cfm/100 ft2 of the floor", "6.51 cfm/100 ft\u00b2 of the floor"),
        ("on 2025-10-03 at -1 Pa", "on 2025-10-03 at \u22121 Pa"),
        ("survey.toml, climate.heated_to", "survey.toml, climate.heated_to"),
        ("logs/spillage_time.csv, draft.csv", "logs/spillage_time.csv, draft.csv"),
        ("UTC-7, M4-pm25, 20-25", "UTC-7, M4-pm25, 20-25"),
    ],
)
def test_keys_units_and_signs_are_printed_as_people_read_them(written: str, printed: str) -> None:
    assert readable_text(written) == printed


def test_drawings_and_numbers_are_left_alone() -> None:
    data = {"svg": "<path d='M-1,2 spillage_time'/>", "rows": [["-1 degC", 3.5, None, True]], "spillage_time": "draft"}
    before = copy.deepcopy(data)
    assert readable(data) == before | {"rows": [["\u22121 \u00b0C", 3.5, None, True]]}
