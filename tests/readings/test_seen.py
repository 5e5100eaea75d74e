"""The columns of a file as a form shows them."""

from __future__ import annotations

import pytest

from airtally.quantities import Quantity
from airtally.readings.columns import Stated, parse_statement
from airtally.readings.measures import STATES
from airtally.readings.seen import UNITS_OFFERED, columns_seen
from airtally.readings.source import Source

WIDE = "time,PM2.5 (mg/m3),dust,dust,\n2026-01-05 00:00,0.01,,4,5\n2026-01-05 00:01,0.02,3,4,5\n"
LONG = "time,channel,value,unit\n2026-01-05 00:00,Fan current,0.2,A\n2026-01-05 00:00,Beam,7,V\n"


def source(**stated: str) -> Source:
    return Source(content=b"", name="a.csv", placement="", columns=tuple(stated.items()))


@pytest.mark.parametrize("quantity", Quantity)
def test_every_unit_that_is_offered_is_one_that_the_reader_takes(quantity: Quantity) -> None:
    offered = UNITS_OFFERED.get(quantity, ("",))
    assert quantity in STATES or "" not in offered
    for unit in offered:
        assert parse_statement(f"{quantity.value} {unit}".strip()) == Stated(quantity=quantity, unit=unit, placement="")


def test_columns_are_told_apart_and_shown_with_their_first_filled_cells() -> None:
    seen = columns_seen(WIDE, source())
    assert [one.heading for one in seen] == ["time", "PM2.5 (mg/m3)", "#3", "#4", "column 5"]
    assert [one.cells for one in seen[1:3]] == [("0.01", "0.02"), ("3",)]
    assert [one.read_as for one in seen[:2]] == ["time", "pm25 mg/m3"]


def test_what_is_stated_of_a_column_is_what_it_is_read_as() -> None:
    stated = Source(content=b"", name="a.csv", placement="", columns=(("#3", "pm10 ug/m3"),))
    assert [one.read_as for one in columns_seen(WIDE, stated)][2] == "pm10 ug/m3"
    ignored = Source(content=b"", name="a.csv", placement="", columns=(("PM2.5 (mg/m3)", "ignore"),))
    assert columns_seen(WIDE, ignored)[1].read_as == ""


def test_names_of_a_long_table_are_shown_beside_its_columns() -> None:
    seen = {one.heading: one for one in columns_seen(LONG, source(Beam="co2 ppm"))}
    assert (seen["channel"].read_as, seen["value"].read_as) == ("name", "value")
    assert (seen["Fan current"].read_as, seen["Fan current"].cells) == ("fan_current A", ("0.2",))
    assert seen["Beam"].read_as == "co2 ppm"
    assert {one.heading: one.read_as for one in columns_seen(LONG, source())}["Beam"] == ""


def test_a_text_without_a_table_has_no_columns() -> None:
    assert columns_seen("", source()) == ()
