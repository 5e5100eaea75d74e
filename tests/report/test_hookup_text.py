"""The comparison and the sensor's places as tables, and the answer as lines: units, refusals, words."""

from __future__ import annotations

import re

import pytest
from tests.network.hookup_parts import CFM, INCH_OF_WATER, TRUNK, sure
from tests.network.test_hookup_answer import HOUSE, READINGS, visit

from airtally.network.ducts.fan_curves import FanTable
from airtally.network.ducts.hookup_answer import HookupAnswer, hookup_answer
from airtally.network.ducts.hookup_survey import HookupRequest
from airtally.report.hookup_table import METRIC_UNITS
from airtally.report.hookup_text import COMPARISON_HEAD, PLACE_HEAD, comparison_rows, hookup_lines, place_rows
from airtally.report.words import _FORBIDDEN


@pytest.fixture(scope="module")
def answer() -> HookupAnswer:
    request = HookupRequest(trunk=TRUNK, wanted_clean_air=sure(180 * CFM, "m3/s"))
    found = hookup_answer(HOUSE, (visit(*READINGS),), request, sampling=600.0)
    assert found is not None
    return found


def test_comparison_has_three_rows_a_speed_in_the_units_of_the_trade(answer: HookupAnswer) -> None:
    rows = comparison_rows(answer.comparison)
    assert [row[:2] for row in rows[:3]] == [
        ("heating", "as it is"),
        ("heating", "filter in line"),
        ("heating", "bypass"),
    ]
    assert len(rows) == 9
    assert all(len(row) == len(COMPARISON_HEAD) for row in rows)
    as_is, in_line, _ = rows[:3]
    assert as_is[2].startswith("1,010 cfm (")
    assert as_is[3] == "0%"
    assert in_line[3].startswith("\N{MINUS SIGN}")
    assert as_is[4].startswith("0.62")
    assert "the plate" in as_is[6] or "cannot be told" in as_is[6]
    cooling = next(row for row in rows if row[:2] == ("cooling", "as it is"))
    assert cooling[7].startswith("420 cfm/ton")  # 1050 cfm on 2.5 tons
    assert as_is[7] == ""


def test_metric_comparison_has_no_trade_unit_left(answer: HookupAnswer) -> None:
    whole = " ".join(cell for row in comparison_rows(answer.comparison, METRIC_UNITS) for cell in row)
    assert "L/s per kW" in whole
    assert not re.search(r"cfm|w\.c\.|\N{DEGREE SIGN}F", whole)
    # 420 cfm/ton by hand: 420 x 0.4719474 / 3.516853 = 56.4 L/s per kW.
    assert "56 L/s per kW" in whole


def test_a_point_that_was_refused_says_why_in_its_row() -> None:
    points = tuple((cfm * CFM, inches * INCH_OF_WATER) for cfm, inches in ((1100, 0.4), (1010, 0.62), (950, 0.7)))
    request = HookupRequest(fan_tables={"heating": FanTable(name="short", points=points)})
    found = hookup_answer(HOUSE, (visit(*READINGS),), request)
    assert found is not None
    row = next(row for row in comparison_rows(found.comparison) if row[:2] == ("heating", "filter in line"))
    assert row[2].startswith("no answer: ")
    assert "past the table's ends" in row[2]


def test_places_say_threshold_or_why_there_is_none(answer: HookupAnswer) -> None:
    rows = place_rows(answer.placing)
    assert all(len(row) == len(PLACE_HEAD) for row in rows)
    best = rows[0]
    assert best[0] == "return drop, before filter and taps"
    assert "g/m" in best[2]
    assert any(row[2].startswith("cannot be set: ") for row in rows)
    assert all("blower is off" in row[5] for row in rows)


def test_lines_put_cautions_first_name_what_is_missing_and_promise_nothing(answer: HookupAnswer) -> None:
    lines = hookup_lines(answer)
    assert lines[0] == answer.cautions[0]
    assert "Not measured" in lines
    assert "Filter in line against bypass, on this blower" in lines
    assert any(line.startswith("[5] cleaner's flow, heating: ") for line in lines)
    whole = "\n".join(lines)
    allowed = r"\bclean air\b"  # a quantity here, asked for by the contractor: 'clean air wanted'
    for pattern in _FORBIDDEN:
        if pattern != allowed:
            assert not re.search(pattern, whole, re.IGNORECASE), pattern
