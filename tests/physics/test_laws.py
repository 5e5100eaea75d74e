"""Laws the kernels must keep for all house-sized inputs, NaN included, and slow second methods."""

from __future__ import annotations

import importlib
import inspect
from math import isnan

import numpy as np
import pytest
from check_values import all_rows, kernel
from hypothesis import given, settings
from hypothesis import strategies as st
from mutants import module_names
from numpy.testing import assert_allclose

from airtally.limits.tables import MervEdition
from airtally.physics.air.moist import air_density
from airtally.physics.constants import GRAVITY, HEAT_CAPACITY, TRADE_DENSITY
from airtally.physics.ducts.fittings import LOSS_COEFFICIENTS
from airtally.physics.ducts.friction import (
    ROUGHNESS,
    flow_at_friction,
    friction_factor_colebrook,
    friction_pressure_drop,
)
from airtally.physics.ducts.heat import delivery_effectiveness
from airtally.physics.ducts.sections import equivalent_diameter, hydraulic_diameter
from airtally.physics.fans.laws import operating_flow
from airtally.physics.filters.efficiency import HEPA_EFFICIENCY, merv_efficiency
from airtally.physics.filters.loop import TapOrder, loop_clean_air_rate, loop_recirculation, series_clean_air_rate
from airtally.physics.infiltration.effective import effective_infiltration
from airtally.physics.infiltration.stack_and_wind import basic_infiltration
from airtally.physics.infiltration.superposition import Superposition, combined_ventilation
from airtally.physics.infiltration.weather import weather_factor
from airtally.physics.leaks.imbalance import least_flow_at_50, pressure_from_imbalance
from airtally.physics.leaks.openings import orifice_flow, series_leakage_coefficient
from airtally.physics.leaks.power_law import (
    DEFAULT_LEAKAGE_EXPONENT,
    DUCT_LEAKAGE_EXPONENT,
    leakage_flow,
    pressure_across,
)
from airtally.physics.leaks.tightness import effective_leakage_area, normalised_leakage
from airtally.physics.particles.balance import (
    PENETRATION,
    added_rate_from_levels,
    infiltration_factor,
    steady_concentration,
    steady_reduction,
)
from airtally.physics.particles.decay import decay_rate, decayed_concentration
from airtally.physics.particles.events import event_exposure, event_peak
from airtally.physics.particles.sensors import corrected_by_humidity, corrected_linear, corrected_smoke, wet_mass_ratio
from airtally.physics.particles.settling import default_deposition
from airtally.physics.pressures.neutral_level import neutral_level_leaks, neutral_level_orifices
from airtally.physics.pressures.stack import stack_pressure
from airtally.physics.ventilation.dilution import CO2_PER_PERSON
from airtally.physics.ventilation.intermittent import intermittent_effectiveness
from airtally.physics.ventilation.need import required_fan_flow, total_ventilation

quick = settings(max_examples=60, deadline=None)
flows = st.floats(0.001, 2.0)
exponents = st.floats(0.5, 1.0)
rates = st.floats(1e-5, 1e-3)
shares = st.floats(0.0, 1.0)
temperatures = st.floats(243.15, 313.15)

ONE_CALL = {f"{row.module}.{row.function}": row for row in all_rows()}


def _numeric_inputs(row):
    """Yield the names of the arguments of a row's call that are numbers the formula uses."""
    for name, value in row.inputs.items():
        if isinstance(value, float) and name not in {"reference_pressure", "diameters"}:
            yield name


NOT_OF_ONE_NUMBER = {
    "filters.efficiency.merv_efficiency",
    "filters.drop.default_clean_drop",
    "leaks.power_law.power_law_of_points",
    "pressures.wind.shelter_factor",
}
"""Kernels that choose a row or fit a series; what they do with what is not a number is tested by name below."""


@pytest.mark.parametrize("name", sorted(set(ONE_CALL) - NOT_OF_ONE_NUMBER))
def test_nan_in_gives_nan_out(name):
    row = ONE_CALL[name]
    tried = 0
    for argument in _numeric_inputs(row):
        answer = kernel(row)(**{**row.inputs, argument: float("nan")})
        numbers = np.atleast_1d(np.asarray(answer, dtype=float))
        assert np.isnan(numbers).all(), f"{name}: {argument} is not a number but the answer is {answer}"
        tried += 1
    assert tried or name == "infiltration.weather.weather_factor"


@pytest.mark.parametrize("name", sorted(ONE_CALL))
def test_every_kernel_takes_arrays_and_answers_row_by_row(name):
    row = ONE_CALL[name]
    single = row.inputs
    names = list(_numeric_inputs(row))
    if not names or name in NOT_OF_ONE_NUMBER | {
        "infiltration.weather.weather_factor",
        "ventilation.dilution.equivalent_clean_air",
    }:
        pytest.skip("takes no number that can be an array, or sums its last axis")
    wide = {key: np.array([value, value]) if key in names else value for key, value in single.items()}
    once, twice = np.asarray(kernel(row)(**single)), np.asarray(kernel(row)(**wide))
    assert twice.shape == (*once.shape, 2)
    assert_allclose(twice[..., 1], once, rtol=1e-12)


def test_weather_factor_with_a_missing_hour_is_not_a_number():
    hours = np.full(24, 275.15)
    hours[3] = np.nan
    assert isnan(weather_factor(hours, np.full(24, 4.0)))


@quick
@given(flow=flows, at_50=flows, exponent=exponents)
def test_unbalanced_flow_and_pressure_are_inverse(flow, at_50, exponent):
    pressure = pressure_from_imbalance(-flow, at_50, exponent)
    assert pressure < 0.0
    assert_allclose(least_flow_at_50(flow, pressure, exponent), at_50, rtol=1e-9)


@quick
@given(coefficient=flows, pressure=st.floats(-60.0, 60.0), exponent=exponents)
def test_leak_flow_is_odd_and_has_an_inverse(coefficient, pressure, exponent):
    flow = leakage_flow(coefficient, pressure, exponent)
    assert_allclose(leakage_flow(coefficient, -pressure, exponent), -flow, rtol=1e-12)
    assert_allclose(pressure_across(flow, coefficient, exponent), pressure, rtol=1e-9, atol=1e-300)


@quick
@given(first=flows, second=flows, exponent=exponents, pressure=st.floats(0.5, 50.0))
def test_a_series_of_leaks_passes_one_flow_and_shares_the_pressure(first, second, exponent, pressure):
    flow = leakage_flow(series_leakage_coefficient(first, second, exponent), pressure, exponent)
    shared = pressure_across(flow, first, exponent) + pressure_across(flow, second, exponent)
    assert_allclose(shared, pressure, rtol=1e-9)
    assert flow < leakage_flow(min(first, second), pressure, exponent)


def test_the_published_0_052_is_the_long_chain_with_exponent_0_65():
    """NREL-SWS prints 0.052; the chain leakage area, normalised leakage, effective infiltration gives 0.0519 to 0.0522."""
    area = effective_leakage_area(1.0)
    chain = effective_infiltration(normalised_leakage(area, 1.0, 2.5), 1.0 / 3600.0, 1.0)
    assert_allclose(chain, 0.052, atol=0.0005)


@quick
@given(area=st.floats(0.005, 0.3), delta=st.floats(0.0, 40.0), wind=st.floats(0.0, 12.0), storeys=st.floats(1.0, 3.0))
def test_infiltration_grows_with_leaks_warmth_and_wind_and_falls_with_shelter(area, delta, wind, storeys):
    base = basic_infiltration(area, delta, wind, storeys, 3)
    assert_allclose(basic_infiltration(2.0 * area, delta, wind, storeys, 3), 2.0 * base, rtol=1e-12)
    assert basic_infiltration(area, delta + 1.0, wind, storeys, 3) > base
    assert basic_infiltration(area, delta, wind + 1.0, storeys, 3) > base
    assert basic_infiltration(area, delta, wind, storeys, 4) <= base
    assert_allclose(basic_infiltration(area, -delta, wind, storeys, 3), base, rtol=1e-12)


@quick
@given(unbalanced=flows, natural=flows)
def test_superposition_lies_between_the_larger_flow_and_the_sum(unbalanced, natural):
    for rule in Superposition:
        total = combined_ventilation(0.0, unbalanced, natural, rule)
        assert max(unbalanced, natural) * (1.0 - 1e-12) <= total <= (unbalanced + natural) * (1.0 + 1e-12)


@quick
@given(total=st.floats(0.02, 0.1), natural=st.floats(0.0, 0.1), share=shares)
def test_an_unbalanced_fan_never_gets_more_credit_than_a_balanced_one(total, natural, share):
    balanced = required_fan_flow(total, natural, True, share)
    unbalanced = required_fan_flow(total, natural, False, share)
    assert balanced <= unbalanced * (1.0 + 1e-12)
    assert unbalanced <= total


@quick
@given(total=st.floats(0.02, 0.1), natural=st.floats(0.0, 0.1))
def test_the_fan_credit_and_its_superposition_are_one_rule(total, natural):
    natural = min(natural, total)
    fan = required_fan_flow(total, natural, False)
    together = combined_ventilation(0.0, fan, natural, Superposition.FAN_CREDIT)
    assert_allclose(together, total, rtol=1e-9)


@quick
@given(low=st.floats(0.001, 0.2), high=st.floats(0.001, 0.2), outdoor=temperatures, warmer=st.floats(1.0, 40.0))
def test_at_the_neutral_level_the_mass_that_enters_below_leaves_above(low, high, outdoor, warmer):
    indoor = outdoor + warmer
    share = neutral_level_orifices(low, high, outdoor, indoor)
    inflow = orifice_flow(low, stack_pressure(5.0 * share, outdoor, indoor), air_density(outdoor))
    outflow = orifice_flow(high, stack_pressure(5.0 * (1.0 - share), outdoor, indoor), air_density(indoor))
    assert_allclose(inflow * air_density(outdoor), outflow * air_density(indoor), rtol=1e-9)


def test_worked_example_e4_gives_the_mass_flow_of_the_collection():
    """Check values, airflow section 11, E4: 0.027859, 0.017436, 0.017809 kg/s."""
    found = []
    for low, high in ((0.02, 0.02), (0.02, 0.01), (0.01, 0.02)):
        level = 5.0 * neutral_level_orifices(low, high, 273.15, 293.15)
        inflow = orifice_flow(low, stack_pressure(level, 273.15, 293.15), air_density(273.15))
        found.append(inflow * air_density(273.15))
    assert_allclose(found, [0.027859, 0.017436, 0.017809], rtol=1e-3)


@quick
@given(low=flows, high=flows)
def test_the_two_forms_of_the_neutral_level_agree_without_a_temperature_difference(low, high):
    sharp = neutral_level_orifices(low, high, 293.15, 293.15)
    assert_allclose(neutral_level_leaks(low, high, 0.5), sharp, rtol=1e-9)


@quick
@given(gradient=st.floats(0.1, 3.0), diameter=st.floats(0.1, 0.5), rough=st.floats(1e-5, 2e-3))
def test_flow_at_friction_inverts_the_friction_loss(gradient, diameter, rough):
    flow = flow_at_friction(gradient, diameter, rough, 1.2, 1.82e-5)
    assert_allclose(friction_pressure_drop(flow, diameter, 1.0, rough, 1.2, 1.82e-5), gradient, rtol=1e-9)


@quick
@given(a=st.floats(0.05, 1.0), b=st.floats(0.05, 1.0))
def test_the_equivalent_diameter_exceeds_the_hydraulic_one(a, b):
    assert equivalent_diameter(a, b) > hydraulic_diameter(a, b)
    assert_allclose(equivalent_diameter(a, b), equivalent_diameter(b, a), rtol=1e-12)


@quick
@given(
    shutoff=st.floats(50.0, 400.0),
    droop=st.floats(0.0, 500.0),
    system=st.floats(50.0, 800.0),
    added=st.floats(0.0, 400.0),
)
def test_the_operating_point_lies_on_both_curves_and_falls_with_added_resistance(shutoff, droop, system, added):
    flow = operating_flow(shutoff, droop, system, added, added)
    assert_allclose(shutoff - droop * flow**2, (system + added) * flow**2 + added * flow, rtol=1e-9)
    assert flow <= operating_flow(shutoff, droop, system)


@quick
@given(q=flows, eta=st.floats(0.05, 1.0), r=st.floats(0.0, 0.99))
def test_a_loop_never_cleans_more_than_its_flow_and_less_when_it_breathes_its_own_air(q, eta, r):
    clean = loop_clean_air_rate(q, eta, r)
    assert 0.0 <= clean <= q * eta * (1.0 + 1e-12)
    # second method: follow the mass of a unit concentration around the loop
    intake = 1.0
    for _ in range(4000):
        intake = (1.0 - r) + r * intake * (1.0 - eta)
    assert_allclose(clean, q * eta * intake, rtol=1e-6)


@quick
@given(trunk=st.floats(0.2, 1.0), loop=st.floats(0.01, 0.2), eta=st.floats(0.1, 1.0))
def test_a_reversed_loop_equals_its_closed_form(trunk, loop, eta):
    """Check values, particles section 2: outlet upstream gives eta q Q / (Q + eta q)."""
    share = loop_recirculation(trunk, loop, TapOrder.RETURN_FIRST)
    assert_allclose(loop_clean_air_rate(loop, eta, share), eta * loop * trunk / (trunk + eta * loop), rtol=1e-9)


@quick
@given(trunk=st.floats(0.2, 1.0), loop=st.floats(0.0, 0.2), first=shares, second=shares)
def test_loop_and_filter_in_series_clean_less_than_their_sum_and_no_more_than_the_trunk(trunk, loop, first, second):
    both = series_clean_air_rate(trunk, loop, first, second)
    assert both <= loop * first + trunk * second + 1e-12
    assert both <= trunk * (1.0 + 1e-12)


@pytest.mark.parametrize("edition", list(MervEdition))
def test_a_higher_merv_never_asks_less_and_each_interval_holds_its_middle(edition):
    before = (0.0, 0.0, 0.0)
    for merv in range(5, 17):
        classes = merv_efficiency(merv, edition)
        for one, least in zip(classes, before, strict=True):
            assert one.low <= one.value <= one.high <= 1.0
            assert one.low >= least
        before = tuple(one.low for one in classes)


@quick
@given(penetration=shares, a=rates, k=rates, kf=rates)
def test_the_infiltration_factor_is_the_steady_level_of_outdoor_air(penetration, a, k, kf):
    factor = infiltration_factor(penetration, a, k, kf)
    level = steady_concentration(penetration * 1.0, a, a + k + kf, 0.0, 300.0)
    assert_allclose(factor, level, rtol=1e-12)
    assert factor <= penetration


@quick
@given(loss=rates, added=rates)
def test_reduction_and_added_rate_are_inverse(loss, added):
    left = 1.0 - steady_reduction(loss, added)
    assert_allclose(added_rate_from_levels(1.0, left, loss), added, rtol=1e-7)


@quick
@given(start=st.floats(1e-9, 1e-6), loss=rates, time=st.floats(60.0, 7200.0))
def test_decay_rate_inverts_decay(start, loss, time):
    later = decayed_concentration(start, 0.0, loss, time)
    assert_allclose(decay_rate(start, later, time), loss, rtol=1e-6)


def test_an_event_agrees_with_small_steps_in_time():
    emission, duration, volume, loss, step = 4.5e-8, 900.0, 250.0, 3e-4, 0.5
    level, exposure, peak = 0.0, 0.0, 0.0
    for count in range(int(60_000 / step)):
        source = emission / volume if count * step < duration else 0.0
        middle = level + 0.5 * step * (source - loss * level)
        level += step * (source - loss * middle)
        exposure += middle * step
        peak = max(peak, level)
    assert_allclose(event_peak(emission, duration, volume, loss), peak, rtol=1e-3)
    assert_allclose(event_exposure(emission, duration, volume, loss), exposure, rtol=1e-3)


@quick
@given(emission=st.floats(1e-9, 1e-6), volume=st.floats(20.0, 800.0))
def test_an_event_with_hardly_any_loss_tends_to_the_one_without(emission, volume):
    none = event_peak(emission, 900.0, volume, 0.0)
    assert_allclose(none, emission * 900.0 / volume, rtol=1e-12)
    assert_allclose(event_peak(emission, 900.0, volume, 1e-9), none, rtol=1e-5)


def test_default_settling_rates_hold_their_middle_grow_with_size_and_double_with_the_fan():
    """HowardReed2003: the central fan about doubles settling below 5 um."""
    still = [default_deposition(size, False) for size in range(3)]
    moving = [default_deposition(size, True) for size in range(3)]
    assert [one.value for one in still] == sorted(one.value for one in still)
    for quiet, stirred in zip(still, moving, strict=True):
        assert quiet.low < quiet.value < quiet.high
        assert stirred.low < stirred.value < stirred.high
        assert_allclose(stirred.value, 2.0 * quiet.value, rtol=1e-12)
    for one in PENETRATION:
        assert 0.0 < one.low < one.value < one.high <= 1.0


@quick
@given(raw=st.floats(0.0, 500e-9), humidity=shares)
def test_the_smoke_correction_is_never_negative_and_equals_the_linear_one_in_thin_air(raw, humidity):
    assert corrected_smoke(raw, humidity) >= 0.0
    thin = min(raw, 29.9e-9)
    assert_allclose(corrected_smoke(thin, humidity), corrected_linear(thin, humidity), rtol=1e-9, atol=1e-18)


@pytest.mark.parametrize("corner", [30.0, 50.0, 210.0, 260.0])
def test_the_smoke_correction_has_no_jump_at_its_corners(corner):
    below = corrected_smoke((corner - 1e-6) * 1e-9, 0.5)
    assert_allclose(corrected_smoke((corner + 1e-6) * 1e-9, 0.5), below, rtol=1e-5)


def test_humidity_growth_has_the_published_shape():
    """Check values, particles section 5: kappa/1.65 = 0.24 is the correction by humidity (Nilson2022)."""
    humidity = np.array([0.35, 0.5, 0.65])
    ratio = wet_mass_ratio(0.24 * 1.65, humidity, 1650.0)
    assert_allclose(1.0 / ratio, corrected_by_humidity(1.0, humidity), rtol=1e-12)


@quick
@given(on=st.floats(0.05, 1.0), turnover=st.floats(0.05, 20.0))
def test_a_cycling_fan_dilutes_no_better_than_a_steady_one(on, turnover):
    effectiveness = intermittent_effectiveness(on, turnover)
    assert 0.0 < effectiveness <= 1.0 + 1e-12
    assert intermittent_effectiveness(on, 2.0 * turnover) <= effectiveness + 1e-12


def test_intermittent_effectiveness_agrees_with_stepping_through_the_cycle():
    on, turnover, steps = 0.35, 7.2, 60_000
    level, total = 1.0, 0.0
    for _ in range(3):  # the third cycle repeats the second
        total = 0.0
        for count in range(steps):
            rate = turnover / on if count < on * steps else 0.0
            middle = level + 0.5 / steps * (turnover - rate * level)
            level += (turnover - rate * middle) / steps
            total += middle / steps
    assert_allclose(1.0 / total, intermittent_effectiveness(on, turnover), rtol=1e-3)


def test_delivery_effectiveness_agrees_with_a_balance_station_by_station():
    room, buffer_, rise = 293.15, 293.15 - 30.0 / 1.8, 25.0
    supply_kept, return_kept, supply_b, return_b = 0.9, 0.866, 0.97712, 0.99231
    mixed = return_kept * room + (1.0 - return_kept) * buffer_
    # the leak enters at the far end of the return duct here, so its air is already at the surroundings
    entering = buffer_ + (mixed - buffer_) * return_b
    leaving = buffer_ + (entering + rise - buffer_) * supply_b
    delivered = supply_kept * (leaving - room) / rise
    formula = delivery_effectiveness(supply_kept, return_kept, supply_b, return_b, 30.0 / 1.8, 30.0 / 1.8, rise)
    assert_allclose(formula, delivered, rtol=1e-9)


@quick
@given(temperature=temperatures, humidity=shares)
def test_damp_air_is_lighter_and_thin_air_too(temperature, humidity):
    assert air_density(temperature, humidity) <= air_density(temperature)
    assert air_density(temperature, humidity, 84_556.0) < air_density(temperature, humidity)


def test_every_public_kernel_has_a_check_value():
    missing = {
        f"{module}.{name}"
        for module in module_names()
        for name, function in inspect.getmembers(
            importlib.import_module(f"airtally.physics.{module}"), inspect.isfunction
        )
        if function.__module__ == f"airtally.physics.{module}" and not name.startswith("_")
    } - set(ONE_CALL)
    # the first gives a name and is checked beside the traps; for the second no published figure was found: laws above
    assert missing == {"particles.index.index_category", "particles.settling.default_deposition"}


def test_the_constants_are_the_published_ones():
    """CODATA and the standard free fall; check values, airflow 3 (roughness, losses), 5 and 7; particles 2 (CO2, from memory)."""
    assert GRAVITY == 9.80665
    assert_allclose(HEAT_CAPACITY, 0.24 * 1055.05585262 * 1.8 / 0.45359237, rtol=1e-5)
    assert TRADE_DENSITY == 1.2
    assert [round(rough / 0.3048, 6) for rough in ROUGHNESS.values()] == [0.0003, 0.003, 0.003, 0.01]
    assert [LOSS_COEFFICIENTS[name] for name in ("sharp flush entry", "bellmouth entry", "exit")] == [
        0.5,
        0.03,
        1.0,
    ]
    bends = [LOSS_COEFFICIENTS[f"smooth 90 degree bend, r/D {ratio}"] for ratio in ("0.75", "1", "1.5", "2")]
    assert bends == [0.49, 0.34, 0.24, 0.22]  # the library Fluids to two digits; run in test_oracles
    assert LOSS_COEFFICIENTS["90 degree tee, branch"] == 1.0
    assert LOSS_COEFFICIENTS["45 degree wye, branch"] == 0.5
    assert (DEFAULT_LEAKAGE_EXPONENT, DUCT_LEAKAGE_EXPONENT) == (0.65, 0.6)
    assert_allclose(CO2_PER_PERSON, 0.0052e-3, rtol=1e-12)
    assert_allclose(HEPA_EFFICIENCY, 0.9997)


def test_slow_flow_in_a_pipe_is_laminar():
    assert_allclose(friction_factor_colebrook(1000.0, 1e-3), 0.064, rtol=1e-12)
    assert_allclose(friction_factor_colebrook(1000.0, 0.0), 0.064, rtol=1e-12)
    assert friction_factor_colebrook(2290.0, 1e-3) == pytest.approx(64.0 / 2290.0)
    assert friction_factor_colebrook(2310.0, 1e-3) > 0.04


def test_a_default_density_of_dry_particles_enters_the_wet_mass():
    assert wet_mass_ratio(0.4, 0.5) == wet_mass_ratio(0.4, 0.5, 1650.0)


def test_the_least_wind_of_the_weather_factor_is_one_metre_a_second():
    hours = np.full(24, 275.15)
    assert weather_factor(hours, np.zeros(24)) == weather_factor(hours, np.ones(24))


def test_a_house_without_a_bedroom_counts_as_one():
    assert total_ventilation(100.0, 0) == total_ventilation(100.0, 1)
    assert total_ventilation(100.0, 2) > total_ventilation(100.0, 1)
