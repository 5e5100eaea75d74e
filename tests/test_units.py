"""Units against NIST SP 811, pint and handbook anchors; text with a unit, and what is refused."""

from __future__ import annotations

import re

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from airtally.estimates import Basis, Estimate, Missing
from airtally.units import (
    Kind,
    QuantityTextError,
    estimate_to_field,
    field_unit,
    read_quantity,
    scale_of,
    si_unit,
    to_field,
    to_si,
)

PHYSICAL = tuple(kind for kind in Kind if kind not in (Kind.MONEY, Kind.ENERGY_PRICE))


def read(text: str, kind: Kind, **choices: object) -> Estimate:
    found = read_quantity(text, kind, source="test", currency="USD", **choices)  # type: ignore[arg-type]
    assert isinstance(found, Estimate)
    return found


@pytest.mark.parametrize(
    ("unit", "kind", "printed", "relative"),
    [
        # NIST SP 811 (2008), appendix B.8, as printed there; from memory
        ("cfm", Kind.FLOW, 4.719474e-4, 5e-7),
        ("ft2", Kind.AREA, 9.290304e-2, 1e-12),
        ("ft3", Kind.VOLUME, 2.831685e-2, 2e-7),
        ("inH2O", Kind.PRESSURE, 249.0889, 1e-6),
        ("mmH2O", Kind.PRESSURE, 9.80665, 1e-12),
        ("Btu/h", Kind.HEAT_OUTPUT, 0.2930711, 5e-7),
        ("ton", Kind.HEAT_OUTPUT, 3516.853, 5e-7),
        ("mph", Kind.SPEED, 0.44704, 1e-12),
        ("fpm", Kind.SPEED, 5.08e-3, 1e-12),
        ("lb", Kind.MASS, 0.45359237, 1e-12),
        ("kWh", Kind.ENERGY, 3.6e6, 1e-12),
    ],
)
def test_factors_are_those_that_the_national_institute_prints(
    unit: str, kind: Kind, printed: float, relative: float
) -> None:
    assert_allclose(scale_of(unit, kind).factor, printed, rtol=relative)


@pytest.mark.parametrize(
    ("unit", "kind", "for_pint"),
    [
        ("cfm", Kind.FLOW, "ft**3/min"),
        ("L/s", Kind.FLOW, "liter/second"),
        ("m3/h", Kind.CLEAN_AIR, "m**3/hour"),
        ("cm2", Kind.AREA, "cm**2"),
        ("in2", Kind.AREA, "inch**2"),
        ("kPa", Kind.PRESSURE, "kPa"),
        ("ug/m3", Kind.MASS_CONCENTRATION, "ug/m**3"),
        ("mg/h", Kind.EMISSION_RATE, "mg/hour"),
        ("mg/min", Kind.EMISSION_RATE, "mg/minute"),
        ("g/day", Kind.MASS_FLOW, "g/day"),
        ("kBtu/h", Kind.HEAT_OUTPUT, "kBtu_it/hour"),
        ("h", Kind.HOURS, "hour"),
        ("1/h", Kind.RATE, "1/hour"),
        ("km/h", Kind.SPEED, "km/hour"),
    ],
)
def test_tables_agree_with_the_reference_library_pint(unit: str, kind: Kind, for_pint: str) -> None:
    registry = pint.UnitRegistry(cache_folder=None)
    wanted = registry.Quantity(1.0, for_pint).to_base_units()
    si = {"kilogram": "kg", "meter": "m", "second": "s"}
    assert set(str(wanted.units).replace("*", " ").replace("/", " ").split()) - {"1", "2", "3"} <= set(si)
    assert_allclose(scale_of(unit, kind).factor, wanted.magnitude, rtol=1e-9)


@pytest.mark.parametrize(
    ("fahrenheit", "kelvin"),
    [(-40.0, 233.15), (32.0, 273.15), (212.0, 373.15), (68.0, 293.15)],  # defining and well-known points
)
def test_a_level_of_temperature_has_its_zero_and_a_difference_has_none(fahrenheit: float, kelvin: float) -> None:
    assert_allclose(to_si(fahrenheit, Kind.TEMPERATURE, "degF"), kelvin, rtol=1e-12)
    assert_allclose(to_si(fahrenheit, Kind.TEMPERATURE_DIFFERENCE, "degF"), fahrenheit * 5.0 / 9.0, rtol=1e-12)


@given(value=st.floats(-1e6, 1e6), kind=st.sampled_from(PHYSICAL))
def test_a_number_comes_back_from_si_as_it_went(value: float, kind: Kind) -> None:
    back, unit = to_field(to_si(value, kind), kind)
    assert unit == field_unit(kind)
    assert_allclose(back, value, rtol=1e-12, atol=1e-9)


@given(
    value=st.floats(0.01, 1e6),
    half=st.floats(0.0, 0.9),
    kind=st.sampled_from([k for k in PHYSICAL if k is not Kind.TEMPERATURE]),
)
def test_what_is_written_is_read_whichever_way_the_interval_is_put(value: float, half: float, kind: Kind) -> None:
    unit = field_unit(kind)
    low, high = value * (1.0 - half), value * (1.0 + half)
    ends = read(f"{value!r} {unit} ({low!r} to {high!r})", kind)
    spread = read(f"{value!r} +- {value * half!r} {unit}", kind)
    middle = read(f"{low!r} to {high!r} {unit}", kind)
    for found in (ends, spread, middle):
        assert_allclose(
            [to_field(x, kind)[0] for x in (found.value, found.low, found.high)], [value, low, high], rtol=1e-9
        )
        assert found.unit == si_unit(kind)


@pytest.mark.parametrize(
    ("text", "kind", "value", "low", "high"),
    [
        ("940 cfm", Kind.FLOW, 940.0, 940.0, 940.0),
        ("940 cfm (880 to 1000)", Kind.FLOW, 940.0, 880.0, 1000.0),
        ("940 CFM (880 to 1,000 cfm)", Kind.FLOW, 940.0, 880.0, 1000.0),
        ("940 cfm +- 10 %", Kind.FLOW, 940.0, 846.0, 1034.0),
        ("940 cfm \u00b1 50 cfm", Kind.FLOW, 940.0, 890.0, 990.0),
        ("\u22123.7 Pa", Kind.PRESSURE, -3.7, -3.7, -3.7),
        ("0.41 in. w.c.", Kind.PRESSURE, 0.41 * 249.08891, 0.41 * 249.08891, 0.41 * 249.08891),
        ("5 \u00b5g/m\u00b3", Kind.MASS_CONCENTRATION, 5.0, 5.0, 5.0),
        ("0.35 1/h", Kind.RATE, 0.35, 0.35, 0.35),
        ("0.35/h", Kind.RATE, 0.35, 0.35, 0.35),
        ("12 % (9 to 15)", Kind.FRACTION, 12.0, 9.0, 15.0),
        ("1.25 x (1.18 to 1.32)", Kind.FACTOR, 1.25, 1.18, 1.32),
        ("2,150 ft2", Kind.AREA, 2150.0, 2150.0, 2150.0),
        ("2150 sq ft", Kind.AREA, 2150.0, 2150.0, 2150.0),
        ("300 to 450 USD", Kind.MONEY, 375.0, 300.0, 450.0),
        ("0.16 USD/kWh", Kind.ENERGY_PRICE, 0.16, 0.16, 0.16),
        ("0.65 (0.6 to 0.7)", Kind.PURE, 0.65, 0.6, 0.7),
        ("68 degF (60 to 70)", Kind.TEMPERATURE, 68.0, 60.0, 70.0),
    ],
)
def test_texts_of_the_trade_are_read(text: str, kind: Kind, value: float, low: float, high: float) -> None:
    found = estimate_to_field(read(text, kind), kind, currency="USD")
    assert_allclose([found.value, found.low, found.high], [value, low, high], rtol=1e-12)
    assert found.basis is Basis.SURVEYED


def test_a_usual_spread_is_taken_only_where_no_interval_is_written() -> None:
    plain = estimate_to_field(read("100 cfm", Kind.FLOW, spread=0.1), Kind.FLOW)
    stated = estimate_to_field(read("100 cfm (99 to 101)", Kind.FLOW, spread=0.1), Kind.FLOW)
    assert_allclose([plain.low, plain.high, stated.low, stated.high], [90.0, 110.0, 99.0, 101.0], rtol=1e-12)


def test_rarer_units_of_the_right_dimension_are_taken_from_pint() -> None:
    # international yard = 3 ft, imperial units act 1963 and US 1959: exact
    assert_allclose(read("5 yd^3", Kind.VOLUME).value, 5 * 27 * 0.3048**3, rtol=1e-12)


def test_the_three_ways_of_missing_stay_three() -> None:
    found = [read_quantity(f" {word.title()} ", Kind.FLOW, source="test") for word in Missing]
    assert found == [Missing.NOT_MEASURED, Missing.NOT_ACCESSIBLE, Missing.UNKNOWN]


@pytest.mark.parametrize(
    ("text", "kind", "message"),
    [
        ("940", Kind.FLOW, '"940" has no unit; wanted: a number with one of the units cfm, L/s, m3/h.'),
        ("0.12", Kind.FRACTION, '"0.12" has no unit; wanted: a number with one of the units %.'),
        ("0,41 inH2O", Kind.PRESSURE, "Write a decimal point, not a comma."),
        ("3 kg", Kind.LENGTH, '"kg" is no unit of length known here; wanted: one of ft, m, in.'),
        ("60 scfm", Kind.FLOW, '"scfm" is a flow of standard air; wanted: the actual flow at the house.'),
        ("940 cfm (980 to 1000)", Kind.FLOW, "an interval of 980 to 1000 that does not hold 940"),
        ("12 % +- 3 %", Kind.FRACTION, "may mean points or a part of the value"),
        ("10 cfm to 20 L/s", Kind.FLOW, "names two units"),
        ("1e999 m", Kind.LENGTH, "is no finite number"),
        ("about 50 cfm", Kind.FLOW, '"about 50 cfm" is not a quantity'),
        ("n/a", Kind.FLOW, '"n/a" is not a quantity'),
        ("300 EUR", Kind.MONEY, '"EUR" is no unit of money known here; wanted: one of USD.'),
        ("x" * 300, Kind.FLOW, "a text of more than 200 characters"),
    ],
)
def test_what_cannot_be_read_is_refused_with_what_is_wanted(text: str, kind: Kind, message: str) -> None:
    with pytest.raises(QuantityTextError, match=re.escape(message)):
        read_quantity(text, kind, source="test", currency="USD")


def kind_of_answer(text: str, kind: Kind) -> object:
    """Return the reading, or the refusal's three parts."""
    try:
        return read_quantity(text, kind, source="test", currency="USD")
    except QuantityTextError as doubt:
        return doubt.found, doubt.wanted, doubt.remedy


@settings(max_examples=300)
@given(text=st.text(max_size=60), kind=st.sampled_from(tuple(Kind)))
def test_no_text_raises_anything_but_a_refusal_in_three_parts(text: str, kind: Kind) -> None:
    answer = kind_of_answer(text, kind)
    assert isinstance(answer, (Estimate, Missing)) or all(answer)  # type: ignore[call-overload]


@settings(max_examples=300)
@given(
    text=st.from_regex(
        r"\A-?[0-9]{1,5}(\.[0-9]{1,3})?(e[0-9]{1,3})? ?[A-Za-z%/0-9.^*]{0,9}( \([0-9]{1,4} to [0-9]{1,4}\))?\Z"
    ),
    kind=st.sampled_from(tuple(Kind)),
)
def test_no_near_miss_raises_anything_but_a_refusal_in_three_parts(text: str, kind: Kind) -> None:
    answer = kind_of_answer(text, kind)
    assert isinstance(answer, (Estimate, Missing)) or all(answer)  # type: ignore[call-overload]
