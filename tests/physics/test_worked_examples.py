"""The twelve worked examples of building airflow (check values, airflow 11), each from beginning to end.

Tolerances: closed forms 0.1 %, friction 2 %, published rounded constants 1 %. The expected numbers were worked out apart
from this project, by plain arithmetic or by the libraries fluids and scipy; where a source prints them it is named. E4, E5
and E6 are solved here by closed forms and by a root finder on a balance written out in the test.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import brentq

from airtally.physics.air.moist import air_density
from airtally.physics.constants import STANDARD_AIR_DENSITY
from airtally.physics.ducts.fittings import LOSS_COEFFICIENTS, fitting_pressure_drop, velocity_pressure
from airtally.physics.ducts.friction import (
    ROUGHNESS,
    flow_at_friction,
    friction_factor_altshul_tsal,
    friction_pressure_drop,
    reynolds_number,
)
from airtally.physics.ducts.heat import conduction_fraction, duct_exit_temperature, duct_heat_loss
from airtally.physics.ducts.sections import equivalent_diameter, round_duct_area
from airtally.physics.fans.laws import operating_flow
from airtally.physics.filters.drop import face_velocity, filter_pressure_drop
from airtally.physics.filters.efficiency import HEPA_EFFICIENCY
from airtally.physics.filters.loop import loop_clean_air_rate, series_clean_air_rate
from airtally.physics.flues.draft import cooled_draft, theoretical_draft
from airtally.physics.infiltration.effective import effective_infiltration, effective_infiltration_from_50
from airtally.physics.infiltration.stack_and_wind import basic_infiltration
from airtally.physics.infiltration.weather import WEATHER_FACTORS
from airtally.physics.leaks.imbalance import least_flow_at_50, pressure_from_imbalance
from airtally.physics.leaks.openings import orifice_flow, parallel_leakage_coefficient, series_leakage_coefficient
from airtally.physics.leaks.power_law import (
    DUCT_LEAKAGE_EXPONENT,
    flow_at_pressure,
    leakage_coefficient,
    leakage_flow,
    pressure_across,
)
from airtally.physics.leaks.tightness import air_changes_at_50, effective_leakage_area, normalised_leakage
from airtally.physics.pressures.neutral_level import neutral_level_orifices
from airtally.physics.pressures.stack import stack_pressure
from airtally.physics.ventilation.intermittent import intermittent_effectiveness
from airtally.physics.ventilation.need import PrintedUnits, required_fan_flow, total_ventilation

CFM = 0.3048**3 / 60.0
FOOT = 0.3048
INCH = 0.0254
INCH_OF_WATER = 249.08891
HOUR = 3600.0
BTU_PER_HOUR = 0.29307107
CLOSED = 1e-3
FRICTION = 2e-2
PUBLISHED = 1e-2


def fahrenheit(degrees):
    return (degrees + 459.67) / 1.8


def test_e1_a_door_fan_reading_becomes_coefficient_area_and_air_changes():
    """CFM50 1500, n 0.65, rho 1.2. The 18.2 CFM50 per square inch is the trade's, from memory."""
    flow = 1500.0 * CFM
    coefficient = leakage_coefficient(flow, 50.0, 0.65)
    at_four = flow_at_pressure(flow, 50.0, 4.0, 0.65)
    area = effective_leakage_area(flow, 0.65, 1.2)
    assert_allclose(coefficient / CFM, 117.967, rtol=CLOSED)
    assert_allclose(at_four / CFM, 290.47, rtol=CLOSED)
    assert_allclose([area * 1e4, area / INCH**2], [530.9, 82.29], rtol=CLOSED)
    assert_allclose(1500.0 / (area / INCH**2), 18.2, rtol=PUBLISHED)
    assert_allclose(air_changes_at_50(flow, 16_000.0 * FOOT**3) * HOUR, 5.625, rtol=CLOSED)
    # second way: an orifice of that area, discharge coefficient 1, passes the flow at 4 Pa
    assert_allclose(orifice_flow(area, 4.0, 1.2, 1.0), at_four, rtol=1e-12)


def test_e2_leakage_and_floor_area_become_the_ventilation_that_is_missing():
    """2000 ft2, 3 bedrooms, 16.4 ft, wsf 0.56: ASHRAE62.2-2019, TX-Mech and NREL-SWS, read."""
    flow, floor, height = 1500.0 * CFM, 2000.0 * FOOT**2, 16.4 * FOOT
    wsf = WEATHER_FACTORS[727930]
    assert_allclose(wsf * HOUR, 0.56, rtol=CLOSED)
    normalised = normalised_leakage(effective_leakage_area(flow), floor, height)
    chain = effective_infiltration(normalised, wsf, floor)
    short = effective_infiltration_from_50(flow, wsf, height)
    total = total_ventilation(floor, 3)
    metric = total_ventilation(floor, 3, printed_units=PrintedUnits.SI)
    assert_allclose(normalised, 0.3770, rtol=CLOSED)
    assert_allclose(chain / CFM, 57.85, rtol=PUBLISHED)  # the printed divisor 7.3 is rounded
    assert_allclose(short / CFM, 57.64, rtol=CLOSED)
    assert_allclose([total / CFM, metric * 1e3, metric / CFM], [90.0, 41.87, 88.72], rtol=CLOSED)
    fan = [required_fan_flow(total, short, balanced) / CFM for balanced in (True, False)]
    assert_allclose(fan, [32.4, 53.1], rtol=2e-3)


def test_e2_the_published_short_form_is_the_chain_with_its_printed_divisor():
    """1000/7.3 times the leakage area per CFM50 is 0.05219; NREL-SWS prints 0.052. The 2.5 m in place of 7.3 gives 0.4 % less."""
    area = effective_leakage_area(1.0 * CFM) / FOOT**2
    assert_allclose(1000.0 / 7.3 * area, 0.05219, rtol=CLOSED)
    chain = effective_infiltration(normalised_leakage(area, 1.0, 2.5), 1.0 / HOUR, FOOT**2) / CFM
    assert_allclose(chain, 0.052, rtol=PUBLISHED)


def test_e3_the_basic_model_agrees_in_both_systems_of_units():
    """AL 645.16 cm2, 2 storeys, class 4, 20 K, 3 m/s: 54.1 L/s, 114.6 cfm; inch-pound coefficients, from memory, 114.3."""
    flow = basic_infiltration(645.16e-4, 20.0, 3.0, 2, 4)
    assert_allclose([flow * 1e3, flow / CFM], [54.1, 114.6], rtol=CLOSED)
    inch_pound = 100.0 * np.sqrt(0.0299 * 36.0 + 0.0051 * (3.0 / 0.44704) ** 2)
    assert_allclose(inch_pound, 114.3, rtol=PUBLISHED)
    assert_allclose(flow / CFM, inch_pound, rtol=PUBLISHED)


OPENINGS = ((0.02, 0.02), (0.02, 0.01), (0.01, 0.02))
E4_LEVELS = (2.4117, 0.9447, 3.9423)
E4_MASS_FLOWS = (0.027859, 0.017436, 0.017809)
COLD, WARM = 273.15, 293.15


def mass_through(area, pressure_outside_minus_inside):
    """Mass flow of an orifice, Cd 0.6, positive inward, written out apart from the engine."""
    density = 101_325.0 / (287.042 * (COLD if pressure_outside_minus_inside > 0.0 else WARM))
    size = np.sqrt(2.0 * density * abs(pressure_outside_minus_inside))
    return 0.6 * area * np.sign(pressure_outside_minus_inside) * size


@pytest.mark.parametrize(("openings", "level", "mass"), list(zip(OPENINGS, E4_LEVELS, E4_MASS_FLOWS, strict=True)))
def test_e4_two_orifices_find_their_neutral_level(openings, level, mass):
    """Cd 0.6, 5 m apart, 20 and 0 degC: total 4.3232 Pa; (a) 2.0852 and 2.2379 Pa."""
    low, high = openings
    assert_allclose(stack_pressure(5.0, COLD, WARM), 4.3232, rtol=CLOSED)
    found = 5.0 * neutral_level_orifices(low, high, COLD, WARM)
    below = -stack_pressure(-found, COLD, WARM)
    above = stack_pressure(5.0 - found, COLD, WARM)
    enters = orifice_flow(low, below, air_density(COLD)) * air_density(COLD)
    leaves = orifice_flow(high, above, air_density(WARM)) * air_density(WARM)
    assert_allclose(found, level, rtol=CLOSED)
    assert_allclose([enters, leaves], [mass, mass], rtol=CLOSED)
    if low == high:
        assert_allclose([below, above], [2.0852, 2.2379], rtol=CLOSED)
    # second way: the root of the balance, no neutral level assumed
    floor = brentq(lambda p: mass_through(low, -p) + mass_through(high, -p - 4.3232), -10.0, 10.0)
    assert_allclose(-floor, below, rtol=CLOSED)


def test_e5_an_exhaust_fan_draws_in_through_both_openings():
    """E4a with 0.06 kg/s exhausted: -5.0628 Pa at the floor, 0.043409 + 0.016591 kg/s; 0.040113 kg/s stops the top."""
    stack = stack_pressure(5.0, COLD, WARM)
    outdoor = air_density(COLD)

    def entering(pressure):
        below = orifice_flow(0.02, -pressure, outdoor) * outdoor
        above = orifice_flow(0.02, -(pressure + stack), outdoor) * outdoor
        return below, above

    floor = brentq(lambda p: sum(entering(p)) - 0.06, -20.0, -stack)
    assert_allclose(floor, -5.0628, rtol=CLOSED)
    assert_allclose(entering(floor), [0.043409, 0.016591], rtol=CLOSED)
    # the fan flow that just stops the outflow above: then the top opening feels no pressure
    assert_allclose(entering(-stack)[0], 0.040113, rtol=CLOSED)
    assert_allclose(entering(-stack)[1], 0.0, atol=1e-12)


@pytest.mark.parametrize(
    ("exhaust", "house", "crawlspace", "through_floor", "direct"),
    [(100.0, -1.1965, -0.0613, 32.58, 67.42), (150.0, -2.2327, None, 48.87, 101.13)],
)
def test_e6_a_house_over_a_crawlspace_draws_a_third_from_below(exhaust, house, crawlspace, through_floor, direct):
    """C to outdoors 60, vents 200 and floor 30 in series, n 0.65: series 28.992, total 88.992, share 32.58 % at any flow."""
    series = series_leakage_coefficient(200.0, 30.0, 0.65)
    total = parallel_leakage_coefficient(60.0, series)
    assert_allclose([series, total], [28.992, 88.992], rtol=CLOSED)
    pressure = pressure_across(-exhaust, total, 0.65)
    below = -leakage_flow(series, pressure, 0.65)
    assert_allclose(pressure, house, rtol=CLOSED)
    assert_allclose([below, -leakage_flow(60.0, pressure, 0.65)], [through_floor, direct], rtol=CLOSED)
    assert_allclose(below / exhaust, 0.3258, rtol=CLOSED)
    if crawlspace is not None:
        assert_allclose(pressure_across(-below, 200.0, 0.65), crawlspace, rtol=PUBLISHED)
    # second way: the crawlspace's own balance by a root finder
    between = brentq(lambda p: leakage_flow(200.0, -p, 0.65) - leakage_flow(30.0, p - pressure, 0.65), pressure, 0.0)
    assert_allclose(leakage_flow(200.0, -between, 0.65), below, rtol=1e-6)


def test_e7_an_eight_inch_duct_takes_a_tenth_of_an_inch_a_hundred_feet():
    """250 cfm, galvanised: 716 fpm, 0.1078 inH2O per 100 ft by Colebrook, 0.1091 by Altshul-Tsal; 240 cfm at 0.1 (Fluids)."""
    flow, diameter, rough = 250.0 * CFM, 8.0 * INCH, ROUGHNESS["galvanised steel"]
    speed = face_velocity(flow, round_duct_area(diameter))
    loss = friction_pressure_drop(flow, diameter, 100.0 * FOOT, rough, 1.2014, 1.82e-5)
    assert_allclose(speed / (FOOT / 60.0), 716.0, rtol=CLOSED)
    assert_allclose(loss / INCH_OF_WATER, 0.1078, rtol=FRICTION)
    number = reynolds_number(speed, diameter, 1.2014, 1.82e-5)
    explicit = friction_factor_altshul_tsal(number, rough / diameter)
    assert_allclose(explicit * 100.0 * FOOT / diameter * 0.0319, 0.1091, rtol=FRICTION)
    found = flow_at_friction(0.1 * INCH_OF_WATER / (100.0 * FOOT), diameter, rough, 1.2014, 1.82e-5)
    assert_allclose(found / CFM, 240.0, rtol=FRICTION)


@pytest.mark.parametrize(
    ("cfm", "printed"), [(150.0, 0.0435), (200.0, 0.0729), (225.0, 0.0902), (250.0, 0.1091), (300.0, 0.1520)]
)
def test_e7_the_explicit_friction_factor_gives_the_bracketed_losses(cfm, printed):
    """Check values, airflow 3, 8 in galvanised, Altshul-Tsal in brackets; run as an oracle with Fluids (Tsal_1989)."""
    diameter = 8.0 * INCH
    speed = cfm * CFM / round_duct_area(diameter)
    factor = friction_factor_altshul_tsal(reynolds_number(speed, diameter, 1.2014, 1.82e-5), 0.0003 * FOOT / diameter)
    loss = factor * 100.0 * FOOT / diameter * velocity_pressure(speed, 1.2014)
    assert_allclose(loss / INCH_OF_WATER, printed, rtol=5e-3)


def test_e7_a_run_with_elbows_entry_and_exit_adds_up():
    """8 in, 250 cfm, 20 ft and 3 elbows, sharp entry and exit: 0.0216 + 0.0690 = 0.0905 inH2O, 22.5 Pa."""
    flow, diameter = 250.0 * CFM, 8.0 * INCH
    straight = friction_pressure_drop(flow, diameter, 20.0 * FOOT, ROUGHNESS["galvanised steel"], 1.2014, 1.82e-5)
    names = ["smooth 90 degree bend, r/D 2"] * 3 + ["sharp flush entry", "exit"]
    losses = sum(LOSS_COEFFICIENTS[name] for name in names)
    fittings = fitting_pressure_drop(losses, flow / round_duct_area(diameter), 1.2014)
    assert_allclose(np.array([straight, fittings]) / INCH_OF_WATER, [0.0216, 0.0690], rtol=5e-3)
    assert_allclose(straight + fittings, 22.5, rtol=5e-3)


def test_e8_a_rectangular_duct_has_huebschers_diameter():
    """DuctChapter, read: 286.4 mm and 13.48 in."""
    assert_allclose(equivalent_diameter(0.350, 0.200), 0.2864, rtol=CLOSED)
    assert_allclose(equivalent_diameter(20.0 * INCH, 8.0 * INCH) / INCH, 13.48, rtol=CLOSED)


def test_e9_an_in_line_filter_halves_the_flow_and_a_loop_does_not():
    """Fan 1.0 - 0.5 x2, system 0.5 x2, HEPA 1.0 inH2O per 1000 cfm: 679 cfm, -43 %, 0.679 inH2O; loop 175.0; both 725 cfm."""
    nominal = 1200.0 * CFM
    shutoff, square = 1.0 * INCH_OF_WATER, 0.5 * INCH_OF_WATER / nominal**2
    linear = 1.0 * INCH_OF_WATER / (1000.0 * CFM)
    before = operating_flow(shutoff, square, square)
    after = operating_flow(shutoff, square, square, 0.0, linear)
    assert_allclose([before / CFM, after / CFM], [1200.0, 679.0], rtol=CLOSED)
    assert_allclose(1.0 - after / before, 0.43, rtol=PUBLISHED)
    taken = filter_pressure_drop(1.0 * INCH_OF_WATER, 1000.0 * CFM, after)
    assert_allclose(taken / INCH_OF_WATER, 0.679, rtol=CLOSED)
    assert_allclose(loop_clean_air_rate(250.0, HEPA_EFFICIENCY, 0.3), 175.0, rtol=CLOSED)
    assert_allclose(series_clean_air_rate(1200.0, 250.0, 1.0, 0.5), 725.0, rtol=CLOSED)


def test_e10_a_chimney_draws_what_the_book_prints():
    """Steam, eq. 24: 100 ft, 60 and 500 F, 0.67 inH2O, read. 5 m, 200 and 0 degC: 26.8 Pa."""
    tall = theoretical_draft(100.0 * FOOT, fahrenheit(60.0), fahrenheit(500.0))
    assert_allclose(tall / INCH_OF_WATER, 0.67, rtol=PUBLISHED)
    assert_allclose(theoretical_draft(5.0, 273.15, 473.15), 26.8, rtol=2e-3)
    # a column that cools draws less, and as much when nothing cools
    assert_allclose(cooled_draft(5.0, 273.15, 473.15, 273.15, 1e9), 26.8, rtol=2e-3)
    assert cooled_draft(5.0, 273.15, 473.15, 273.15, 14.0) < 26.0


def test_e11_an_exhaust_fan_against_a_limit():
    """250 cfm in a house of CFM50 1000: 5.93 Pa of suction; 300 cfm at 5 Pa asks for CFM50 1340."""
    assert_allclose(pressure_from_imbalance(-250.0, 1000.0), -5.93, rtol=CLOSED)
    assert_allclose(least_flow_at_50(300.0, -5.0), 1340.0, rtol=CLOSED)


def test_e12_a_duct_in_a_crawlspace_a_cycling_fan_and_a_leaking_return():
    """116.96 F and 822 Btu/h; eps 0.9488; FSEC138, read: 88 cfm at 25 Pa is 170 at 75 Pa, 13.4 % of 1269."""
    area, flow = 62.83 * FOOT**2, 250.0 * CFM
    density = STANDARD_AIR_DENSITY
    kept = conduction_fraction(area, flow, 6.0 * 0.17611018, density)
    leaving = duct_exit_temperature(fahrenheit(120.0), fahrenheit(40.0), kept)
    lost = duct_heat_loss(fahrenheit(120.0), leaving, flow, density)
    assert_allclose(leaving * 1.8 - 459.67, 116.96, rtol=CLOSED)
    assert_allclose(lost / BTU_PER_HOUR, 822.0, rtol=CLOSED)
    turnover = 0.9
    assert_allclose(intermittent_effectiveness(0.1, turnover), 0.9488, rtol=CLOSED)
    leak = flow_at_pressure(88.0, 25.0, 75.0, DUCT_LEAKAGE_EXPONENT)
    assert_allclose(leak, 170.0, rtol=PUBLISHED)
    assert_allclose(leak / 0.134, 1269.0, rtol=PUBLISHED)


def test_e12_the_closed_form_of_a_cycling_fan_is_the_integral_over_a_cycle():
    """Second way: exposure over one steady cycle of a constant source, written out; on 0.1, N 0.9, and 0.35, N 7.2."""
    for on, turnover, expected in ((0.1, 0.9, 0.9488), (0.35, 7.2, 0.4760)):
        rate = turnover / on
        # the level falls toward 1/rate while the fan is on, then rises by the source alone; cycle of length 1
        fall = np.exp(-rate * on)
        start = ((1.0 - fall) / rate + (1.0 - on)) / (1.0 - fall)
        end = 1.0 / rate + (start - 1.0 / rate) * fall
        during = on / rate + (start - 1.0 / rate) * (1.0 - fall) / rate
        after = end * (1.0 - on) + 0.5 * (1.0 - on) ** 2
        assert_allclose(1.0 / turnover / (during + after), expected, rtol=CLOSED)
        assert_allclose(intermittent_effectiveness(on, turnover), expected, rtol=CLOSED)
