"""Baseline pressures: the stack that published figures give, changes read from them, and readings that cannot be."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.network.sheet_house import READINGS, sheet

from airtally.estimates import Basis, Estimate
from airtally.house.parts import House
from airtally.network.home.baselines import baselines_of
from airtally.network.home.calibrate import Calibrated, calibrate
from airtally.network.home.from_survey import LATEST
from airtally.network.home.solved import solve_states
from airtally.network.home.works import AS_FOUND
from airtally.visits.parts import Visit

WORST = 'place = "utility", reference = "outdoors", air_handler = "heating", doors = "worst case", exhausts_on = "all"'
CLOSED = 'place = "utility", reference = "outdoors", air_handler = "heating", doors = "closed", exhausts_on = "all"'


def baseline(value: str) -> str:
    return f'key = "baseline_pressure", value = "{value}", place = "utility", reference = "outdoors"'


def kelvin(value: float) -> Estimate:
    return Estimate(value=value, low=value, high=value, unit="K", basis=Basis.MEASURED, source="test")


def on_a_day(outdoor: float, *readings: str) -> tuple[House, tuple[Visit, ...]]:
    """Return the sheet's house with more readings, every one taken at 20 C inside and an outdoor temperature [C]."""
    house, visits = sheet((*READINGS, *readings))
    calm = replace(kelvin(0.5), unit="m/s")
    day = [
        replace(r, state=replace(
            r.state, outdoor_temperature=kelvin(273.15 + outdoor), indoor_temperature=kelvin(293.15), wind_speed=calm,
        )) for r in visits[0].readings
    ]  # fmt: skip
    return house, (replace(visits[0], readings=tuple(day)),)


def fitted(house: House, visits: tuple[Visit, ...]) -> Calibrated:
    found = calibrate(house, visits)
    assert found is not None
    return found


def test_the_stack_of_a_cold_day_is_what_the_check_values_give() -> None:
    """CHECKS airflow, section 2: 0.044 Pa a metre and kelvin below the neutral level, 3.3 Pa at 2.5 m and 30 K."""
    house, visits = on_a_day(-10.0, baseline("-2.0 Pa"))
    found = fitted(house, visits)
    (gauge,) = baselines_of(house, found.network, visits, LATEST).gauges
    made = gauge.predict(found.values, solve_states(found.network, found.values, gauge.states, AS_FOUND))[0]
    # The tap stands a metre above the lowest floor of a house of 20 ft: 2.05 m below its middle, were leaks even.
    assert_allclose(made, -0.044 * (0.5 * 20 * 0.3048 - 1.0) * 30.0, rtol=0.4)
    warm_house, warm_visits = on_a_day(20.0, baseline("0.0 Pa"))
    (still,) = baselines_of(warm_house, found.network, warm_visits, LATEST).gauges
    none = still.predict(found.values, solve_states(found.network, found.values, still.states, AS_FOUND))
    assert_allclose(none, 0.0, atol=0.05)


def test_a_baseline_that_a_cold_day_explains_agrees_and_moves_nothing_else() -> None:
    with_it, without = fitted(*on_a_day(-1.0, baseline("-1.6 Pa"))), fitted(*on_a_day(-1.0))
    assert not with_it.problems
    assert any("baseline_pressure" in one.where and abs(one.miss) < 1.0 for one in with_it.given_back)
    assert_allclose(with_it.values["blower flow"][0], without.values["blower flow"][0], rtol=0.01)


@pytest.mark.parametrize("value", ["+4.0 Pa", "-12 Pa"])
def test_a_baseline_that_no_stack_of_this_house_makes_is_named_with_both_figures(value: str) -> None:
    problems = fitted(*on_a_day(-1.0, baseline(value))).problems
    (named,) = [one for one in problems if "baseline_pressure" in one.where]
    assert named.code == "network-reading-disagrees"
    assert value.removeprefix("+").split(".")[0] in named.found


def test_a_pressure_as_read_less_its_baseline_is_the_change_that_fans_make() -> None:
    """Trap 6 of the check values: the worst case is a change from the baseline; stack alone can be 3 to 4 Pa at the floor."""
    as_change = f'key = "zone_pressure_change", value = "-5.0 Pa", {CLOSED}'
    as_read = (baseline("-1.5 Pa"), f'key = "zone_pressure", value = "-6.5 Pa", {CLOSED}')
    first, second = fitted(*sheet((*READINGS, as_change))), fitted(*sheet((*READINGS, *as_read)))
    (given,) = [one for one in second.given_back if one.key == "zone_pressure"]
    assert given.measured == pytest.approx(-5.0)
    assert_allclose(first.values.table[0], second.values.table[0], rtol=0.15)
    deeper = fitted(*sheet((*READINGS, baseline("-0.1 Pa"), as_read[1])))
    (other,) = [one for one in deeper.given_back if one.key == "zone_pressure"]
    assert other.measured == pytest.approx(-6.4)


def test_a_written_change_that_the_two_readings_do_not_make_is_named_and_stands() -> None:
    # The sheet wrote -5.6 Pa for this state; -6.0 as read less +4.0 would be -10.0.
    house, visits = sheet((*READINGS, baseline("+4.0 Pa"), f'key = "zone_pressure", value = "-6.0 Pa", {WORST}'))
    problems = [one for one in fitted(house, visits).problems if one.code == "network-baseline-disagrees"]
    assert len(problems) == 1
    assert "4.4 Pa apart" in problems[0].found
    agreeing = sheet((*READINGS, baseline("-1.4 Pa"), f'key = "zone_pressure", value = "-7.0 Pa", {WORST}'))
    assert not fitted(*agreeing).problems


def test_a_pressure_as_read_without_a_baseline_is_said_to_change_nothing() -> None:
    house, visits = sheet((*READINGS, f'key = "zone_pressure", value = "-9.0 Pa", {CLOSED}'))
    found = fitted(house, visits)
    assert [one.code for one in found.problems] == ["network-no-baseline"]
    assert np.array_equal(found.values.table, fitted(*sheet()).values.table)


def test_a_burn_that_was_logged_teaches_what_the_fire_draws() -> None:
    """Two readings of one fire: the deeper one makes the fire's draw the larger, inside the survey's 250 to 600 cfm."""
    fire = 'place = "main", reference = "outdoors", air_handler = "off", doors = "open", fires_lit = "all"'

    def draw(value: str) -> float:
        found = fitted(*sheet((*READINGS, f'key = "burn_pressure_change", value = "{value} +- 0.3 Pa", {fire}')))
        assert any(one.key == "burn_pressure_change" for one in found.given_back)
        return float(found.values["exhaust/fire"][0])

    assert draw("-1.8 Pa") < 0.8 * draw("-5.0 Pa")
