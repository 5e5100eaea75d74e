"""A quantity's controls: what is typed is kept, units are chosen and kept, a word for none is apart from zero."""

from __future__ import annotations

import pytest

from airtally.units import Kind, QuantityTextError, read_quantity
from airtally.web.quantity_control import quantity_control, quantity_text, read_as, unit_choices


@pytest.mark.parametrize(
    ("written", "kind"),
    [
        ("940 cfm (880 to 1000)", Kind.FLOW),
        ("2350 cfm +- 6 %", Kind.FLOW),
        ("300 to 450 USD", Kind.MONEY),
        ("1.25 x (1.18 to 1.32)", Kind.FACTOR),
        ("0.65 (0.55 to 0.75)", Kind.PURE),
        ("15 % (5 to 30)", Kind.FRACTION),
        ("12 +- 3 %", Kind.FRACTION),
        ("4500 degF day (1000 to 9000)", Kind.DEGREE_DAYS),
        ("-5 degF", Kind.TEMPERATURE),
        ("0.860 in. w.c.", Kind.PRESSURE),
        ("1,850 ft2", Kind.AREA),
        ("0 cfm", Kind.FLOW),
        ("not accessible", Kind.FLOW),
    ],
)
def test_what_is_written_comes_back_as_it_was_written(written: str, kind: Kind) -> None:
    shown = quantity_control("flow", written, kind, currency="USD")
    assert quantity_text(shown.typed, shown.unit, shown.standing, kind, "USD") == written


@pytest.mark.parametrize(
    ("typed", "unit", "kept"),
    [
        ("940", "cfm", "940 cfm"),
        ("940.50 (880 to 1000)", "cfm", "940.50 cfm (880 to 1000)"),
        ("940 +- 8 %", "L/s", "940 L/s +- 8 %"),
        ("940,5", "cfm", "940.5 cfm"),
        ("0,125 (0,1 to 0,2)", "m3/s", "0.125 m3/s (0.1 to 0.2)"),
        ("440 L/s", "cfm", "440 L/s"),
        ("not measured", "cfm", "not measured"),
        ("", "cfm", ""),
    ],
)
def test_figures_stay_as_typed_and_the_unit_goes_with_them(typed: str, unit: str, kept: str) -> None:
    assert quantity_text(typed, unit, "", Kind.FLOW) == kept


def test_three_words_for_none_are_not_zero() -> None:
    texts = [quantity_text("", "cfm", word, Kind.FLOW) for word in ("not measured", "not accessible", "unknown")]
    assert [*texts, quantity_text("0", "cfm", "", Kind.FLOW)] == ["not measured", "not accessible", "unknown", "0 cfm"]


def test_a_number_beside_a_word_for_none_is_refused() -> None:
    with pytest.raises(QuantityTextError, match="both given"):
        quantity_text("940", "cfm", "not measured", Kind.FLOW)


def test_a_comma_before_three_figures_parts_thousands_and_is_said() -> None:
    assert read_as("1,850") == "1850"
    assert read_as("2,5") == ""


@pytest.mark.parametrize("kind", list(Kind))
def test_every_unit_to_choose_can_be_read(kind: Kind) -> None:
    units = unit_choices(kind, "CAD")
    assert units or kind is Kind.PURE
    for unit in units or ("",):
        assert read_quantity(quantity_text("2.5", unit, "", kind, "CAD"), kind, source="", currency="CAD")


def test_a_unit_outside_the_list_stays_chosen() -> None:
    shown = quantity_control("flow", "12 m3/min", Kind.FLOW)
    assert shown.unit == "m3/min"
    assert "m3/min" in shown.units
