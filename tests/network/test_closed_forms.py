"""Pressures, operating points, loops and duct leaks against published figures and worked examples."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from airtally.errors import InputError
from airtally.estimates import Basis, Estimate
from airtally.network.ducts.blower import Resistance, flow_ratio, operating_point
from airtally.network.home.house_pressure import NamedFlow, house_pressure

CFM = 0.3048**3 / 60.0
INCH = 249.08891


def sure(value: float, unit: str = "m3/s") -> Estimate:
    return Estimate(value=value, low=value, high=value, unit=unit, basis=Basis.MEASURED, source="test")


def about(value: float, share: float, unit: str = "m3/s") -> Estimate:
    half = abs(value) * share
    return Estimate(value=value, low=value - half, high=value + half, unit=unit, basis=Basis.MEASURED, source="test")


N = sure(0.65, "-")


def suction(exhaust_cfm: float, cfm50: float) -> float:
    flows = (NamedFlow(name="fan", flow=sure(-exhaust_cfm * CFM)),)
    return house_pressure("fan", flows, sure(cfm50 * CFM), N).pressure.value


@pytest.mark.parametrize(
    ("cfm50", "printed"),
    [
        (800, "0.7 2.0 3.8 5.9 11 17 24 41 60"),
        (1200, "0.4 1.1 2.0 3.2 5.9 9.2 13 22 32"),
        (2000, "0.2 0.5 0.9 1.4 2.7 4.2 5.9 9.9 15"),
        (3500, "0.1 0.2 0.4 0.6 1.1 1.8 2.5 4.2 6.2"),
    ],
)
def test_depressurisation_table_of_the_trade_is_met_to_its_printed_digit(cfm50: float, printed: str) -> None:
    """Printed table of the trade, computed from the power law; tolerance half of the last printed digit."""
    for flow, text in zip((50, 100, 150, 200, 300, 400, 500, 700, 900), printed.split(), strict=True):
        half = 0.05 if "." in text else 0.5
        assert_allclose(-suction(flow, cfm50), float(text), atol=half + 1e-9)


def test_flow_that_gives_five_pascal_is_the_printed_one() -> None:
    """Printed beside that table: 179 cfm at CFM50 800, 448 at 2,000, 784 at 3,500."""
    for flow, cfm50 in ((179, 800), (448, 2000), (784, 3500)):
        assert_allclose(suction(flow, cfm50), -5.0, rtol=0.005)


def test_worked_example_eleven_of_the_airflow_checks() -> None:
    """Worked example E11, power law: 250 cfm 5.93 Pa; 400/1000 12.2; 300/1500 4.20; 300 cfm at 1340 5 Pa."""
    assert_allclose(suction(250, 1000), -5.93, rtol=1e-3)
    assert_allclose(suction(400, 1000), -12.2, rtol=5e-3)
    assert_allclose(suction(300, 1500), -4.20, rtol=1e-3)
    assert_allclose(suction(300, 1340), -5.0, rtol=1e-3)


def test_worked_example_nine_in_line_filter_takes_two_fifths_of_the_flow() -> None:
    """Worked example E9, analytic: x = 0.56619, 679 cfm (-43 %), the filter takes 0.679 inH2O."""
    filter_in_line = Resistance(name="in-line filter", linear=1.2 * INCH)  # 1.0 inH2O per 1000 cfm, linear, at 1200 cfm
    point = operating_point(sure(1200 * CFM), sure(0.5 * INCH, "Pa"), filter_in_line, sure(2.0, "-"))
    assert_allclose(point.flow.value / CFM, 679.43, rtol=1e-4)
    assert_allclose(point.flow_change.value, -0.43381, rtol=1e-4)
    assert_allclose(point.added_pressure.value / INCH, 0.679, rtol=1e-3)
    assert "default" not in point.flow.source
    assert "default" in operating_point(sure(1.0), sure(100.0, "Pa"), filter_in_line).flow.source


def test_suction_is_negative_and_more_suction_is_more_negative() -> None:
    """Sign convention: limits are printed as negative pressures; -3 Pa is stricter than -5 Pa."""
    assert suction(300, 1500) < suction(100, 1500) < 0.0


@given(r=st.floats(1.2, 6.0), linear=st.floats(0.0, 3.0), square=st.floats(0.0, 3.0), more=st.floats(0.01, 1.0))
def test_more_resistance_never_gives_more_flow_and_fan_meets_system(
    r: float, linear: float, square: float, more: float
) -> None:
    x = flow_ratio(r, linear, square)
    assert 0.0 < x <= 1.0
    assert flow_ratio(r, linear + more, square) < x
    assert flow_ratio(r, linear, square + more) < x
    assert_allclose(r - (r - 1.0) * x * x, x * x + linear * x + square * x * x, rtol=1e-9)


def test_resistance_that_was_never_there_cannot_be_taken_away() -> None:
    with pytest.raises(InputError, match="more resistance is taken away than there is"):
        flow_ratio(2.0, 0.0, -2.5)


@given(
    exhaust=st.floats(0.01, 0.5), more=st.floats(0.001, 0.5), at_50=st.floats(0.2, 3.0), tighter=st.floats(0.3, 0.99)
)
def test_more_exhaust_or_a_tighter_house_always_means_more_suction(
    exhaust: float, more: float, at_50: float, tighter: float
) -> None:
    def pressure(flow: float, leakage: float) -> float:
        return house_pressure("fan", (NamedFlow(name="fan", flow=sure(-flow)),), sure(leakage), N).pressure.value

    assert pressure(exhaust + more, at_50) < pressure(exhaust, at_50) < 0.0
    assert pressure(exhaust, at_50 * tighter) < pressure(exhaust, at_50)


def test_interval_of_a_house_pressure_holds_half_of_it_on_both_sides_and_grows_with_its_inputs() -> None:
    flows = (NamedFlow(name="fan", flow=sure(-0.1)),)
    alone = house_pressure("fan", flows, sure(0.5), N).pressure
    assert_allclose((alone.low, alone.high), (1.5 * alone.value, 0.5 * alone.value), rtol=1e-9)
    unsure = house_pressure("fan", (NamedFlow(name="fan", flow=about(-0.1, 0.3)),), about(0.5, 0.1), N).pressure
    assert unsure.low < alone.low
    assert unsure.high > alone.high
