"""Fan curves and operating points against worked examples, the fan laws, printed power figures, and a second method."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.optimize import brentq
from tests.network.hookup_parts import BLOWER, CFM, INCH_OF_WATER, about, sure

from airtally.errors import InputError, Problem, Severity
from airtally.estimates import Basis
from airtally.network.ducts.blower import Blower, OperatingPoint, Resistance, flow_by_table, flow_ratio, settle
from airtally.network.ducts.fan_curves import (
    FallingQuadratic,
    FanTable,
    HeldFlow,
    MotorKind,
    RatedFan,
    at_density,
    at_speed,
    curve_from_table,
    default_power,
    fan_points,
    flow_from_table,
    meeting_flow,
    power_ratio,
    speed_through,
)

FALLING = FanTable(
    name="invented table, medium speed",
    points=tuple(
        (cfm * CFM, inches * INCH_OF_WATER)
        for cfm, inches in ((1400, 0.1), (1330, 0.2), (1250, 0.3), (1170, 0.4), (1080, 0.5), (980, 0.6), (860, 0.7), (700, 0.8))
    ),
)  # fmt: skip
HUMPED = FanTable(
    name="invented humped table",
    points=tuple(
        (cfm * CFM, inches * INCH_OF_WATER)
        for cfm, inches in ((0, 0.9), (200, 0.8), (400, 0.85), (600, 0.95), (800, 0.9), (1000, 0.7), (1200, 0.4), (1400, 0.0))
    ),
)  # fmt: skip


def settled(blower: Blower, change: Resistance) -> OperatingPoint:
    point = settle(blower, change)
    assert isinstance(point, OperatingPoint), point
    return point


def refused(blower: Blower, change: Resistance) -> Problem:
    point = settle(blower, change)
    assert isinstance(point, Problem), point
    return point


def plain(motor: MotorKind = MotorKind.PSC, **more: object) -> Blower:
    """E9's blower: 1200 cfm at 0.5 inH2O."""
    start = Blower(
        name="cooling",
        flow=sure(1200 * CFM, "m3/s"),
        static=sure(0.5 * INCH_OF_WATER, "Pa"),
        motor=motor,
        density=1.2014,
    )
    return replace(start, **more)  # type: ignore[arg-type]


IN_LINE = Resistance(name="in-line filter", linear=1.2 * INCH_OF_WATER)
"""1.0 inH2O per 1000 cfm, linear, at 1200 cfm."""


def test_in_line_filter_on_a_quadratic_fan_is_worked_example_nine() -> None:
    """Worked example E9, analytic: x^2 + 1.2 x - 1 = 0, 679 cfm, the filter takes 0.679 inH2O."""
    point = settled(plain(shut_off_ratio=sure(2.0)), IN_LINE)
    assert_allclose(point.flow.value / CFM, 679.43, rtol=1e-4)
    assert_allclose(point.added_pressure.value / INCH_OF_WATER, 0.67943, rtol=1e-4)
    assert_allclose(point.static.value / INCH_OF_WATER, 1.0 - 0.5 * 0.56619**2, rtol=1e-4)


@given(ratio=st.floats(1.3, 5.0), linear=st.floats(-0.2, 3.0), square=st.floats(-0.5, 3.0))
def test_meeting_of_curve_and_system_is_the_closed_form_and_a_library_root(
    ratio: float, linear: float, square: float
) -> None:
    """Second methods: the quadratic's own root, and brentq of scipy."""
    curve = FallingQuadratic(flow=1.0, pressure=1.0, shut_off_ratio=ratio)
    found = meeting_flow(curve, lambda x: x * x + linear * x + square * x * x, 1.0)
    assert_allclose(found, flow_ratio(ratio, linear, square), rtol=1e-9)
    by_library = brentq(lambda x: curve.pressure_at(x) - (x * x + linear * x + square * x * x), 1e-9, 50.0, xtol=1e-13)
    assert_allclose(found, by_library, rtol=1e-9)


@given(
    flow=st.floats(0.1, 1.0), pressure=st.floats(20.0, 250.0), droop=st.floats(0.0, 0.1), limit=st.floats(1.0, 3.0),
    added=st.floats(0.0, 3.0),
)  # fmt: skip
def test_held_flow_meets_its_system_and_more_resistance_never_gives_more_flow(
    flow: float, pressure: float, droop: float, limit: float, added: float
) -> None:
    curve = HeldFlow(flow=flow, pressure=pressure, droop=droop, limit_ratio=limit)

    def system(q: float) -> float:
        return pressure * (1.0 + added) * (q / flow) ** 2

    found = meeting_flow(curve, system, flow)
    assert_allclose(curve.pressure_at(found), system(found), rtol=1e-6)
    assert found <= flow * (1.0 + 1e-9)
    more = meeting_flow(curve, lambda q: 1.2 * system(q), flow)
    assert more <= found * (1.0 + 1e-9)


def test_an_ecm_holds_its_flow_until_its_power_limit_and_a_psc_blower_does_not() -> None:
    """Direction: an ECM hides restriction by drawing more power (common practice, no source)."""
    small = Resistance(name="filter", linear=0.15 * INCH_OF_WATER)
    psc = settled(plain(MotorKind.PSC, power=sure(600.0, "W")), small)
    ecm = settled(plain(MotorKind.ECM, power=sure(450.0, "W"), power_limit=sure(900.0, "W")), small)
    assert -0.02 < ecm.flow_change.value <= 0.0
    assert psc.flow_change.value < -0.05
    assert psc.power is not None
    assert ecm.power is not None
    assert psc.power.value < 600.0
    assert ecm.power.value > 450.0
    at_limit = settled(plain(MotorKind.ECM, power=sure(900.0, "W"), power_limit=sure(900.0, "W")), small)
    assert at_limit.flow_change.value < -0.03
    # At its limit flow times pressure stands still: constant air power.
    assert_allclose(at_limit.flow.value * at_limit.static.value, 1200 * CFM * 0.5 * INCH_OF_WATER, rtol=0.002)


def test_an_unknown_motor_spans_both_kinds() -> None:
    point = settled(plain(MotorKind.UNKNOWN, power=sure(500.0, "W")), IN_LINE)
    psc = settled(plain(MotorKind.PSC, power=sure(500.0, "W")), IN_LINE)
    assert point.power is not None
    assert psc.power is not None
    assert point.flow.high > psc.flow.high
    assert point.power.low <= psc.power.value <= point.power.high
    assert point.power.high > 500.0 > point.power.low
    assert any("fan curve: default" in word for word in point.assumed)


def test_affinity_at_eighty_per_cent_is_the_published_row() -> None:
    """Trade check values, airflow section 3 (definition, from memory): flow 0.8, pressure 0.64; density as itself."""
    curve = FallingQuadratic(flow=1.0, pressure=100.0, shut_off_ratio=2.0)
    slow = at_speed(curve, 0.8)
    system = meeting_flow(curve, lambda q: 100.0 * q * q, 1.0)
    slowed = meeting_flow(slow, lambda q: 100.0 * q * q, 1.0)
    assert_allclose(slowed, 0.8 * system, rtol=1e-9)
    assert_allclose(slow.pressure_at(slowed), 0.64 * curve.pressure_at(system), rtol=1e-9)
    assert_allclose(at_density(curve, 0.89).pressure_at(0.7), 0.89 * curve.pressure_at(0.7), rtol=1e-12)
    with pytest.raises(InputError, match="speed_ratio must be above zero"):
        at_speed(curve, 0.0)


def test_a_fan_table_gives_back_its_own_pairs_and_a_flow_for_a_measured_static() -> None:
    curve, problems = curve_from_table(FALLING)
    assert problems == ()
    assert curve is not None
    for flow, pressure in FALLING.points:
        assert_allclose(curve.pressure_at(flow), pressure, rtol=1e-12)
        assert_allclose(flow_from_table(curve, pressure, curve.density), flow, rtol=1e-12)
    # At altitude the same static stands for more of a standard table's pressure: by hand 0.5 / 0.9 = 0.5556 inH2O.
    high = flow_from_table(curve, 0.5 * INCH_OF_WATER, 0.9 * curve.density)
    assert_allclose(high / CFM, 1080 - 100 * 0.05556 / 0.1, atol=0.01)
    found = flow_by_table(FALLING, about(0.55 * INCH_OF_WATER, 0.02 * INCH_OF_WATER, "Pa"))
    assert not isinstance(found, Problem)
    assert_allclose(found.value / CFM, 1030.0, rtol=1e-9)
    assert found.high / found.value > 1.07
    lost = flow_by_table(FALLING, sure(1.2 * INCH_OF_WATER, "Pa"))
    assert isinstance(lost, Problem)
    assert lost.code == "network-fan-point-outside"


def test_a_table_through_its_own_point_moves_along_the_table() -> None:
    """By hand: at 1080 cfm and 0.5 inH2O, square system, +0.2 inH2O square: the table crosses 0.7 (Q/1080)^2."""
    blower = Blower(name="medium", flow=sure(1080 * CFM, "m3/s"), static=sure(0.5 * INCH_OF_WATER, "Pa"), table=FALLING)
    point = settled(blower, Resistance(name="more duct", square=0.2 * INCH_OF_WATER))

    # Between 980 cfm, 0.6 and 1080 cfm, 0.5: 0.6 - (Q - 980)/1000 = 0.7 (Q/1080)^2, so Q = 970.6... lies below 980:
    # next piece, 0.7 - (Q - 860)/1200 = 0.7 (Q/1080)^2.
    def gap(q: float) -> float:
        static = 0.6 - (q - 980.0) / 1000.0 if q > 980.0 else 0.7 - (q - 860.0) / 1200.0
        return static - 0.7 * (q / 1080.0) ** 2

    assert_allclose(point.flow.value / CFM, brentq(gap, 860.0, 1080.0), rtol=1e-6)
    assert point.problems == ()


def test_a_measured_point_off_the_table_governs_and_the_size_of_the_conflict_is_named() -> None:
    blower = Blower(name="medium", flow=sure(940 * CFM, "m3/s"), static=sure(0.5 * INCH_OF_WATER, "Pa"), table=FALLING)
    point = settled(blower, Resistance(name="as it is"))
    assert_allclose(point.flow.value, 940 * CFM, rtol=1e-9)
    (problem,) = point.problems
    assert problem.code == "network-fan-table-disagrees"
    assert "-13%" in problem.found  # 940 / 1080 - 1
    curve, _ = curve_from_table(FALLING)
    assert curve is not None
    ratio = speed_through(curve, 940 * CFM, 0.5 * INCH_OF_WATER)
    assert_allclose(at_speed(curve, ratio).pressure_at(940 * CFM), 0.5 * INCH_OF_WATER, rtol=1e-9)


def test_a_humped_table_is_levelled_with_a_problem_and_never_rises() -> None:
    curve, problems = curve_from_table(HUMPED)
    assert curve is not None
    assert [(p.code, p.severity) for p in problems] == [("network-fan-table-humped", Severity.NOTE)]
    assert all(first >= second for first, second in zip(curve.pressures, curve.pressures[1:], strict=False))
    assert_allclose(np.array(curve.altered) / CFM, [(0.0, 600.0)], atol=1e-9)
    assert not curve.is_altered_at(700 * CFM)
    assert_allclose(curve.pressure_at(1000 * CFM), 0.7 * INCH_OF_WATER, rtol=1e-12)


def test_an_operating_point_in_the_altered_part_is_refused_by_name() -> None:
    blower = Blower(name="high", flow=sure(1000 * CFM, "m3/s"), static=sure(0.7 * INCH_OF_WATER, "Pa"), table=HUMPED)
    fine = settled(blower, Resistance(name="a little", square=0.1 * INCH_OF_WATER))
    assert fine.flow.value < 1000 * CFM
    problem = refused(blower, Resistance(name="a lot", square=3.0 * INCH_OF_WATER))
    assert problem.code == "network-fan-point-altered"
    assert problem.severity is Severity.FATAL
    assert "settle at more than one flow" in problem.sentence()


def test_an_operating_point_past_the_table_is_refused_and_not_extrapolated() -> None:
    blower = Blower(name="medium", flow=sure(1080 * CFM, "m3/s"), static=sure(0.5 * INCH_OF_WATER, "Pa"), table=FALLING)
    problem = refused(blower, Resistance(name="far too much", linear=2.0 * INCH_OF_WATER))
    assert problem.code == "network-fan-point-outside"
    assert "past the table's ends" in problem.found


def test_a_measured_point_that_no_speed_of_the_table_reaches_is_refused() -> None:
    blower = Blower(name="low", flow=sure(300 * CFM, "m3/s"), static=sure(0.02 * INCH_OF_WATER, "Pa"), table=FALLING)
    problem = refused(blower, Resistance(name="as it is"))
    assert problem.code == "network-fan-point-outside"
    assert "the measured flow and static" in problem.found


@pytest.mark.parametrize(
    ("points", "found"),
    [
        (((0.4, 100.0),), "1 pair"),
        (((0.4, 100.0), (0.4, 90.0)), "one flow with two statics"),
        (((0.3, 90.0), (0.4, 100.0)), "does not fall"),
        (((0.3, float("nan")), (0.4, 100.0)), "a number missing"),
        (((-0.3, 120.0), (0.4, 100.0)), "a flow below zero"),
    ],
)
def test_a_table_that_holds_no_curve_is_named_and_the_motor_kind_stands_in(
    points: tuple[tuple[float, float], ...], found: str
) -> None:
    table = FanTable(name="copied badly", points=points)
    curve, problems = curve_from_table(table)
    assert curve is None
    assert found in problems[0].found
    point = settled(plain(table=table), IN_LINE)
    assert point.problems == problems
    assert_allclose(point.flow.value, settled(plain(), IN_LINE).flow.value, rtol=1e-12)


def test_power_that_nobody_measured_is_a_default_with_the_published_spread() -> None:
    """Field blowers: about 2 cfm per watt, 10 to 15 % overall efficiency at 0.5 inH2O (LBNL-Blower, read)."""
    psc = default_power(MotorKind.PSC)
    assert psc.basis is Basis.DEFAULT
    assert_allclose((psc.low * CFM, psc.value * CFM, psc.high * CFM), (0.392, 0.5, 0.588), atol=0.005)
    air_power = 0.5 * INCH_OF_WATER
    assert_allclose((air_power / psc.high, air_power / psc.low), (0.10, 0.15), rtol=0.01)
    point = settled(plain(), Resistance(name="as it is"))
    assert point.power is not None
    assert_allclose(point.power.value, 600.0, rtol=1e-3)  # 1200 cfm at 2 cfm/W
    assert any("blower power" in word for word in point.assumed)
    measured = settled(plain(power=sure(480.0, "W")), Resistance(name="as it is"))
    assert measured.power is not None
    assert_allclose(measured.power.value, 480.0, rtol=1e-9)
    assert not any("blower power" in word for word in measured.assumed)


@given(x=st.floats(0.3, 1.0), y=st.floats(1.0, 3.0), k=st.floats(0.3, 1.2))
def test_power_falls_with_flow_on_a_psc_and_rises_with_static_on_an_ecm(x: float, y: float, k: float) -> None:
    assert power_ratio(MotorKind.PSC, x, y, k) <= 1.0
    assert power_ratio(MotorKind.ECM, 1.0, y, k) >= 1.0
    assert power_ratio(MotorKind.PSC, 1.0, y, k) == 1.0


def test_the_two_ends_of_a_rated_fan_are_its_own_and_points_for_a_network_fall() -> None:
    fan = RatedFan(free_flow=0.12, shut_off=150.0, shape=1.5)
    assert_allclose((fan.pressure_at(0.0), fan.pressure_at(0.12)), (150.0, 0.0), atol=1e-12)
    flows, pressures = fan_points(fan, 0.12)
    assert all(np.diff(flows) > 0.0)
    assert all(np.diff(pressures) < 0.0)


def test_a_wider_static_makes_a_wider_answer_and_a_known_filter_part_moves_it() -> None:
    narrow = settled(BLOWER, Resistance(name="filter", linear=60.0))
    wide = settled(
        replace(BLOWER, static=about(BLOWER.static.value, 30.0, "Pa")), Resistance(name="filter", linear=60.0)
    )
    assert wide.flow.high - wide.flow.low > narrow.flow.high - narrow.flow.low
    square = settled(replace(BLOWER, filter_drop=None), Resistance(name="filter", linear=60.0))
    # A linear filter eases less than a duct as the flow falls, so the flow falls further.
    assert narrow.flow.value < square.flow.value


def test_taking_away_more_resistance_than_there_is_names_the_misuse() -> None:
    with pytest.raises(InputError, match="more resistance is taken away than there is"):
        settle(plain(shut_off_ratio=sure(2.0)), Resistance(name="gone", square=-1.6 * INCH_OF_WATER))
