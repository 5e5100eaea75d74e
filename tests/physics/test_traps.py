"""Mistakes seen in print or in other people's programs, each as a regression test (check values, airflow 12, particles 6 and 9)."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest
from numpy.testing import assert_allclose

from airtally.errors import InputError
from airtally.limits.tables import IndexEdition, VentilationEdition, index_table
from airtally.physics.air.moist import moist_air_enthalpy
from airtally.physics.ducts.fittings import fitting_pressure_drop, velocity_pressure
from airtally.physics.ducts.friction import friction_pressure_drop
from airtally.physics.ducts.heat import duct_exit_temperature
from airtally.physics.ducts.measuring import discard_time
from airtally.physics.ducts.sections import equivalent_diameter, hydraulic_diameter
from airtally.physics.fans.heat_rise import flow_by_heat_rise, temperature_rise_by_flow
from airtally.physics.fans.laws import standard_flow
from airtally.physics.fans.power import constant_flow_power, specific_fan_power, split_capacitor_power
from airtally.physics.filters.drop import filter_pressure_drop
from airtally.physics.filters.efficiency import efficiency_with_bypass, merv_efficiency
from airtally.physics.filters.loading import drop_by_dust, drop_by_hours, final_resistance, hours_to_drop
from airtally.physics.filters.loop import TapOrder, loop_clean_air_rate, loop_recirculation, series_clean_air_rate
from airtally.physics.flues.cooling import cooling_length, mean_flue_temperature
from airtally.physics.flues.draft import cooled_draft, theoretical_draft
from airtally.physics.infiltration.effective import SHORT_FORM_FACTOR, effective_infiltration_from_50
from airtally.physics.infiltration.stack_and_wind import wind_coefficient
from airtally.physics.infiltration.weather import weather_factor
from airtally.physics.leaks.imbalance import least_flow_at_50, pressure_from_imbalance
from airtally.physics.leaks.tightness import default_normalised_leakage, flow_at_50_from_normalised
from airtally.physics.particles.balance import added_rate_from_levels, infiltration_factor, steady_reduction
from airtally.physics.particles.events import event_peak
from airtally.physics.particles.index import air_quality_index, index_category
from airtally.physics.particles.sensors import corrected_linear, growth_factor
from airtally.physics.particles.settling import default_deposition
from airtally.physics.pressures.stack import stack_pressure
from airtally.physics.pressures.wind import Terrain, shelter_factor, site_wind_speed
from airtally.physics.ventilation.need import PrintedUnits, required_fan_flow, total_ventilation

CFM = 0.3048**3 / 60.0


def test_trap_1_draft_uses_absolute_temperatures():
    """10 m, 150 and 10 degC: 40.4 Pa, not the 118 Pa that a ratio of Celsius gives (seen on a public calculator page)."""
    assert_allclose(theoretical_draft(10.0, 283.15, 423.15), 40.4, rtol=5e-3)
    with pytest.raises(InputError, match="outdoor_temperature must be above zero"):
        theoretical_draft(10.0, -5.0, 423.15)


def test_trap_2_the_short_form_takes_a_flow_not_air_changes():
    """1500 cfm at 50 Pa gives 57.64 cfm; the 5.625 air changes of the same house would give 0.2."""
    flow = effective_infiltration_from_50(1500.0 * CFM, 0.56 / 3600.0, 16.4 * 0.3048)
    assert_allclose(flow / CFM, 57.64, rtol=1e-3)


def test_trap_3_a_suction_limit_keeps_its_sign():
    assert least_flow_at_50(0.1, -3.0) > least_flow_at_50(0.1, -5.0)
    with pytest.raises(InputError, match="suction_limit must be above zero"):
        least_flow_at_50(0.1, 5.0)
    assert pressure_from_imbalance(-0.1, 0.5) < 0.0 < pressure_from_imbalance(0.1, 0.5)


def test_trap_4_the_two_printed_forms_of_the_ventilation_rate_differ():
    """1500 ft2, 3 bedrooms: 75 cfm against 73.96 cfm."""
    area = 1500.0 * 0.3048**2
    ip = total_ventilation(area, 3)
    si = total_ventilation(area, 3, printed_units=PrintedUnits.SI)
    assert_allclose([ip / CFM, si / CFM], [75.0, 73.96], rtol=2e-4)


def test_trap_5_the_credit_for_infiltration_depends_on_balance_and_edition():
    """E2: 32 cfm balanced, 53 unbalanced in 2019; 32 either way in 2013."""
    total, natural = 90.0 * CFM, 57.64 * CFM
    old = required_fan_flow(total, natural, False, edition=VentilationEdition.E2013)
    new = required_fan_flow(total, natural, False)
    assert_allclose([old / CFM, new / CFM], [32.4, 53.1], rtol=2e-3)
    first = VentilationEdition.E2010
    assert required_fan_flow(total, natural, False, edition=first) == total


def test_trap_6_winter_stack_alone_uses_most_of_a_five_pascal_allowance():
    """2.5 m below the neutral level at 30 K: about 3.3 Pa of suction with every fan off; fans are a change from that."""
    baseline = stack_pressure(-2.5, 263.15, 293.15)
    assert_allclose(baseline, -3.3, rtol=0.06)
    change = pressure_from_imbalance(-150.0, 1500.0)
    assert change > -5.0
    assert baseline + change < change - 3.0


def test_trap_7_a_return_loop_with_the_air_handler_off_cleans_only_itself():
    share = loop_recirculation(0.0, 0.118, TapOrder.TAKE_OFF_FIRST)
    assert share == 1.0
    assert loop_clean_air_rate(0.118, 0.9997, share) == 0.0


def test_trap_8_sealing_a_return_leak_can_turn_pressure_into_suction():
    """Return leak 170 and supply leak 167 cfm balance; with the return sealed the house is under suction.

    Supply leaks to outside lower the house pressure and return leaks raise it (Modera 2005, read).
    """
    before = pressure_from_imbalance((170.0 - 167.0) * CFM, 1000.0 * CFM)
    after = pressure_from_imbalance((0.0 - 167.0) * CFM, 1000.0 * CFM)
    assert before > 0.0
    assert after < -3.0


def test_trap_7_also_holds_for_a_fan_that_only_just_turns():
    """Check values, airflow 4: r = 1 - Q/q, so a tenth of the loop's flow in the trunk leaves a tenth of its cleaning."""
    share = loop_recirculation(0.0118, 0.118, TapOrder.TAKE_OFF_FIRST)
    assert_allclose(loop_clean_air_rate(0.118, 1.0, share), 0.0118, rtol=1e-9)


def test_trap_9_the_equivalent_diameter_is_not_the_hydraulic_one():
    """350 x 200 mm: 286 against 254 mm."""
    assert_allclose(equivalent_diameter(0.35, 0.2), 0.2864, rtol=1e-3)
    assert_allclose(hydraulic_diameter(0.35, 0.2), 0.2545, rtol=1e-3)


def test_trap_10_filter_duct_and_fitting_grow_differently_with_flow():
    """Near linear, near flow^1.85 to 1.9, flow^2 (from memory)."""
    double = np.log2(
        friction_pressure_drop(0.236, 0.2032, 1.0, 9.144e-5, 1.2, 1.82e-5)
        / friction_pressure_drop(0.118, 0.2032, 1.0, 9.144e-5, 1.2, 1.82e-5)
    )
    assert 1.80 < double < 1.95
    assert_allclose(filter_pressure_drop(25.0, 0.5, 1.0), 50.0)
    assert_allclose(fitting_pressure_drop(0.22, 4.0, 1.2) / fitting_pressure_drop(0.22, 2.0, 1.2), 4.0)


def _celsius_ratio(height, outdoor_temperature, flue_temperature):
    """Draft as the wrong calculator has it: 353/T with Celsius in the ratio, about three times too high."""
    return 0.0342 * 101_325.0 / 283.15 * height * (1.0 - (outdoor_temperature - 273.15) / (flue_temperature - 273.15))


def _air_changes_for_a_flow(flow_at_50, weather_factor, height):
    return SHORT_FORM_FACTOR * flow_at_50 / 453.07 * weather_factor * (height / 2.5) ** 0.4


def _magnitude_of_a_limit(exhaust_flow, pressure_limit, leakage_exponent=0.65):
    return exhaust_flow * (50.0 / abs(pressure_limit)) ** leakage_exponent


def _one_set_of_printed_units(floor_area, bedrooms, **_):
    return 0.03 * 0.00508 * floor_area + 7.5 * CFM * (bedrooms + 1.0)


def _credit_without_balance(total_flow, infiltration, *_, **__):
    return total_flow - infiltration


def _no_stack(height, outdoor_temperature, indoor_temperature):  # noqa: ARG001 - the mistake is to leave them out
    return 0.0


def _loop_of_fresh_air(trunk_flow, loop_flow, order):  # noqa: ARG001
    return 0.0


def _pressure_without_a_sign(unbalanced_flow, flow_at_50, leakage_exponent=0.65):
    return 50.0 * (abs(unbalanced_flow) / flow_at_50) ** (1.0 / leakage_exponent)


def _hydraulic_for_equivalent(width, height):
    return 2.0 * width * height / (width + height)


def _filter_like_a_fitting(reference_drop, reference_flow, flow, drop_exponent=2.0):
    return reference_drop * (flow / reference_flow) ** drop_exponent


MISTAKES = (
    (test_trap_1_draft_uses_absolute_temperatures, "theoretical_draft", _celsius_ratio),
    (
        test_trap_2_the_short_form_takes_a_flow_not_air_changes,
        "effective_infiltration_from_50",
        _air_changes_for_a_flow,
    ),
    (test_trap_3_a_suction_limit_keeps_its_sign, "least_flow_at_50", _magnitude_of_a_limit),
    (
        test_trap_4_the_two_printed_forms_of_the_ventilation_rate_differ,
        "total_ventilation",
        _one_set_of_printed_units,
    ),
    (
        test_trap_5_the_credit_for_infiltration_depends_on_balance_and_edition,
        "required_fan_flow",
        _credit_without_balance,
    ),
    (test_trap_6_winter_stack_alone_uses_most_of_a_five_pascal_allowance, "stack_pressure", _no_stack),
    (
        test_trap_7_a_return_loop_with_the_air_handler_off_cleans_only_itself,
        "loop_recirculation",
        _loop_of_fresh_air,
    ),
    (
        test_trap_8_sealing_a_return_leak_can_turn_pressure_into_suction,
        "pressure_from_imbalance",
        _pressure_without_a_sign,
    ),
    (
        test_trap_9_the_equivalent_diameter_is_not_the_hydraulic_one,
        "equivalent_diameter",
        _hydraulic_for_equivalent,
    ),
    (
        test_trap_10_filter_duct_and_fitting_grow_differently_with_flow,
        "filter_pressure_drop",
        _filter_like_a_fitting,
    ),
)


@pytest.mark.parametrize(("trap", "kernel", "mistake"), MISTAKES, ids=lambda one: getattr(one, "__name__", str(one)))
def test_each_trap_springs_on_the_mistake_it_is_named_for(monkeypatch, trap, kernel, mistake):
    trap()
    monkeypatch.setitem(globals(), kernel, mistake)
    with pytest.raises((AssertionError, pytest.fail.Exception), match=r"Not equal to tolerance|assert |DID NOT RAISE"):
        trap()


def test_the_celsius_mistake_is_the_one_that_was_seen():
    """118 Pa, and 40.4 Pa with the same formula in kelvin."""
    assert_allclose(_celsius_ratio(10.0, 283.15, 423.15), 118.0, rtol=0.04)


def test_the_trade_constant_4005_goes_with_density():
    """At 1500 m it is 4384: the same reading means more speed."""
    inch = 249.08891
    for density, constant in ((1.204, 4004.2), (1.2014, 4008.5), (1.00487, 4384.0)):
        assert_allclose(np.sqrt(2.0 * inch / density) / (0.3048 / 60.0), constant, rtol=5e-4)
        assert_allclose(velocity_pressure(constant * 0.3048 / 60.0, density), inch, rtol=1e-3)


def test_the_index_cuts_every_decimal_to_the_right_tenth():
    """int(c / 0.1) is one too low for 1615 of these 5005 values; each must give the answer of exact decimals."""
    tenths = np.arange(5005)
    as_read = np.array([float(f"{Decimal(int(tenth)) / 10}") for tenth in tenths]) * 1e-9
    rows = index_table(IndexEdition.E2012).rows
    exact = []
    for tenth in tenths:
        row = next(one for one in rows if one.low <= tenth <= one.high)
        span = Decimal(row.index_high - row.index_low) / Decimal(row.high - row.low)
        exact.append(int(span * (int(tenth) - row.low) + row.index_low + Decimal("0.5")))
    found = air_quality_index(as_read, IndexEdition.E2012)
    assert np.array_equal(np.asarray(found), np.array(exact))


def test_the_index_cuts_and_does_not_round_the_concentration():
    assert air_quality_index(9.09e-9) == 50.0
    assert air_quality_index(9.1e-9) == 51.0


def test_the_index_above_its_last_row_is_continued():
    assert air_quality_index(400e-9) > 500.0


def test_the_two_editions_of_the_index_disagree_and_name_their_categories():
    assert air_quality_index(12e-9, IndexEdition.E2012) == 50.0
    assert air_quality_index(12e-9) == 56.0
    assert [index_category(float(i)) for i in (50, 51, 500)] == ["Good", "Moderate", "Hazardous"]
    assert index_category(float("nan")) == ""


def test_the_ratio_of_means_is_not_the_mean_of_ratios():
    """Barn2008: factors 0.27 to 0.10 fall 63 %; the published mean of per-home falls is 55 %."""
    added = added_rate_from_levels(0.27, 0.10, 1.0)
    fall = steady_reduction(1.0, added)
    assert_allclose(fall, 0.630, atol=5e-4)
    assert abs(fall - 0.55) > 0.05


def test_clean_damp_air_never_reads_below_zero():
    """A raw zero at 80 %: the bare formula gives -1.15."""
    assert corrected_linear(0.0, 0.8) == 0.0


def test_airflow_by_heat_rise_grows_at_altitude_for_the_same_heat():
    low = flow_by_heat_rise(17_584.0, 30.0, 1.2014)
    high = flow_by_heat_rise(17_584.0, 30.0, 1.00487)
    assert_allclose(high / low, 1.2014 / 1.00487, rtol=1e-12)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: merv_efficiency(17), "merv must be 5 to 16; given 17"),
        (lambda: wind_coefficient(1.0, 6), "shelter_class must be 1 to 5; given 6"),
        (lambda: efficiency_with_bypass(1.2, 0.0), "efficiency must lie between 0 and 1"),
        (lambda: loop_clean_air_rate(0.1, 0.0, 1.0), "air_that_leaves_the_loop must be above zero"),
        (lambda: series_clean_air_rate(0.1, 0.2, 1.0, 0.5), "loop_share_of_trunk must lie between 0 and 1"),
        (lambda: growth_factor(0.3, 1.0), "relative_humidity must be below 1"),
        (lambda: event_peak(1e-9, 60.0, 100.0, -1.0), "loss_rate must not be below zero"),
        (lambda: default_deposition(3, True), "size_class must be 0, 1 or 2; given 3"),
        (lambda: duct_exit_temperature(300.0, 280.0, 1.5), "conduction_fraction must lie between 0 and 1"),
        (lambda: air_quality_index(-1e-9), "mass_concentration must not be below zero"),
        (lambda: weather_factor(np.array([]), np.array([])), "two series of one length"),
        (lambda: infiltration_factor(0.8, 0.0, 0.0), "total_loss_rate must be above zero"),
        (lambda: shelter_factor(6), "shelter_class must be 1 to 5; given 6"),
        (
            lambda: site_wind_speed(-1.0, 5.0, Terrain.CITY),
            "wind_speed must not be below zero; the lowest given is -1",
        ),
        (lambda: site_wind_speed(1.0, 0.0, Terrain.CITY), "height must be above zero"),
        (lambda: cooled_draft(5.0, -5.0, 423.15, 293.15, 10.0), "outdoor_temperature must be above zero"),
        (lambda: cooling_length(0.0, 3.0, 0.5), "mass_flow must be above zero"),
        (lambda: mean_flue_temperature(0.0, 420.0, 290.0, 10.0), "height must be above zero"),
        (lambda: drop_by_hours(40.0, -1.0, 1e-5), "fan_time must not be below zero"),
        (lambda: hours_to_drop(40.0, 80.0, 0.0), "drop_rise must be above zero"),
        (lambda: drop_by_dust(40.0, 0.01, 300.0, 0.0), "dust_holding must be above zero"),
        (lambda: final_resistance(-1.0, 300.0), "clean_drop must not be below zero"),
        (lambda: standard_flow(1.0, 0.0), "air_density must be above zero"),
        (lambda: specific_fan_power(100.0, 0.0), "flow must be above zero"),
        (lambda: split_capacitor_power(100.0, -0.1), "flow_ratio must not be below zero"),
        (lambda: constant_flow_power(100.0, -0.1), "pressure_ratio must not be below zero"),
        (lambda: temperature_rise_by_flow(1.0, 0.0, 1.2), "flow must be above zero"),
        (lambda: discard_time(-1.0, 60.0), "purge_duration must not be below zero"),
        (lambda: default_normalised_leakage(1950, 0.0), "floor_area must be above zero"),
        (lambda: flow_at_50_from_normalised(-0.1, 100.0, 5.0), "normalised_leakage must not be below zero"),
        (lambda: moist_air_enthalpy(293.15, -0.001), "humidity_ratio must not be below zero"),
    ],
)
def test_values_that_no_formula_takes_are_refused_by_name(call, message):
    with pytest.raises(InputError, match=message):
        call()
