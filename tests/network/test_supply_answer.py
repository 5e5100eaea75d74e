"""Supply air of a surveyed house: the closed form and its worked example, which limit holds, what a year takes."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from numpy.testing import assert_allclose
from tests.network.passages_house import CLIMATE, PRICES, network, survey

from airtally.estimates import Basis, Estimate, Missing
from airtally.house.parts import House
from airtally.house.survey import survey_from_bytes
from airtally.network.home.calibrate import calibrate
from airtally.network.home.pressures import worst_states
from airtally.network.outdoor_air.conditioning import NEW_AIR_SHARE
from airtally.network.outdoor_air.conditioning_supply import Governs, supply_flow_for_pressure
from airtally.network.outdoor_air.supply_answer import SupplyAnswer, supply_answer, zone_limit
from airtally.network.outdoor_air.ventilation_need import ventilation_need

CFM = 0.3048**3 / 60.0
ONE_ROOM = """
schema = 1
[home]
id = "one"
time_zone = "UTC"
elevation = "0 ft"
[[zone]]
id = "main"
kind = "room"
volume = "12000 ft3"
floor_area = "1500 ft2"
[envelope]
flow_at_50 = "{leak} cfm +- 0.1 %"
exponent = "0.65 (0.6499 to 0.6501)"
height = "8 ft"
[[exhaust]]
id = "hood"
kind = "range hood"
zone = "main"
flow = "{fan} cfm +- 0.1 %"
[[appliance]]
id = "boiler"
kind = "boiler"
zone = "main"
venting = "natural draft"
shares_flue_with = "none"
"""


@cache
def one_room(leak: int, fan: int, more: str = "") -> tuple[House, SupplyAnswer]:
    house = survey_from_bytes((ONE_ROOM.format(leak=leak, fan=fan) + more).encode())
    calibrated = calibrate(house, (), draws=8)
    assert calibrated is not None
    need = ventilation_need(house, ())
    return house, supply_answer(house, (), calibrated, worst_states(calibrated), need)


def answered(house: House) -> SupplyAnswer:
    calibrated, worst = network()
    return supply_answer(house, (), calibrated, worst, ventilation_need(house, ()))


@pytest.mark.parametrize(("leak", "fan", "expected"), [(1340, 300, 0.0), (1000, 400, 176.13), (1000, 250, 26.13)])
def test_supply_of_one_room_is_that_of_the_worked_example(leak: int, fan: int, expected: float) -> None:
    """E11, power law: CFM50 1340 just holds 5 Pa under 300 cfm; CFM50 1000 lets 223.87 cfm through at 5 Pa."""
    house, answer = one_room(leak, fan)
    (held,) = answer.zones
    assert held.limit.value == -5.0  # natural-draft boiler alone, auditor's list (read)
    assert held.flow is not None
    assert_allclose(held.flow.value / CFM, expected, atol=1.5)
    by_hand = supply_flow_for_pressure(-fan * CFM, -5.0, leak * CFM, 0.65)
    assert_allclose(held.flow.value, by_hand, atol=1.5 * CFM)
    assert held.flow.low <= held.flow.value <= held.flow.high
    assert house.envelopes[0].exponent.value == 0.65


def test_without_supply_the_pressure_is_that_of_the_trades_table() -> None:
    """400 cfm at CFM50 1000: 12.2 Pa, 250: 5.93 Pa, check values section 6 (computed)."""
    for fan, expected in ((400, -12.2), (250, -5.93)):
        _, answer = one_room(1000, fan)
        assert_allclose(answer.zones[0].pressure.value, expected, rtol=0.01)


def test_more_exhaust_asks_for_more_supply_and_a_leakier_house_for_less() -> None:
    flows = [one_room(leak, fan)[1].zones[0].flow for leak, fan in ((1000, 250), (1000, 400), (1340, 400))]
    values = [flow.value for flow in flows if flow is not None]
    assert values[0] < values[1]
    assert values[2] < values[1]


def test_the_strictest_limit_in_force_holds_in_a_room() -> None:
    """Sheet: induced-draft furnace and natural-draft heater in one room, nobody says who shares a flue: -2 Pa governs."""
    house = survey()
    limit = zone_limit(house, "utility", with_fire=False)
    assert limit is not None
    assert (limit.value, limit.applies_to) == (-2.0, "natural-draft water heater alone")
    assert zone_limit(house, "utility", with_fire=True) is None
    hearth = zone_limit(house, "main", with_fire=True)
    assert hearth is not None
    assert hearth.value == -5.0
    assert zone_limit(house, "main", with_fire=False) is None
    assert zone_limit(house, "bedrooms", with_fire=True) is None
    furnace_only = replace(house, appliances=house.appliances[:1])
    alone = zone_limit(furnace_only, "utility", with_fire=False)
    assert alone is not None
    assert alone.value == -5.0  # induced draft, auditor's list; the older table's -15 Pa is milder


def test_each_room_is_held_in_its_own_state_and_the_largest_flow_governs() -> None:
    answer = answered(survey())
    assert {(one.zone, one.has_fire_lit) for one in answer.zones} == {("utility", False), ("main", True)}
    flows = [one.flow for one in answer.zones]
    assert None not in flows
    largest = max(flow.value for flow in flows if flow is not None)
    assert isinstance(answer.balance.for_pressure, Estimate)
    assert answer.balance.for_pressure.value == largest
    assert answer.balance.governs is Governs.PRESSURE
    assert answer.problems == ()


def test_a_room_that_no_supply_to_the_main_body_holds_is_said_and_leaves_the_answer_open() -> None:
    """By hand: 140 cfm through the undercut of a shut door, 100 cm2, take (0.066 / (0.6 x 0.01 x 1.29))^2 = 73 Pa."""
    dryer = (
        '[[zone]]\nid = "utility"\nkind = "basement"\nvolume = "500 ft3"\n'
        '[[exhaust]]\nid = "dryer"\nkind = "dryer"\nzone = "utility"\nflow = "140 cfm"\n'
        '[[appliance]]\nid = "heater"\nkind = "water heater"\nzone = "utility"\nventing = "natural draft"\n'
    )
    _, answer = one_room(1000, 250, dryer)
    assert [one.code for one in answer.problems] == ["network-supply-cannot-hold"]
    by_zone = {one.zone: one for one in answer.zones}
    assert by_zone["utility"].flow is None
    assert by_zone["utility"].pressure.value < -20.0
    assert by_zone["main"].flow is not None
    assert answer.balance.for_pressure is Missing.UNKNOWN
    assert answer.with_exhausts is None


def test_no_network_asks_nothing_for_the_pressure() -> None:
    house = survey()
    answer = supply_answer(house, (), None, (), ventilation_need(house, ()))
    assert answer.zones == ()
    assert answer.balance.for_pressure is Missing.UNKNOWN
    assert answer.with_exhausts is None
    assert answer.balance.governs in (Governs.VENTILATION, Governs.NEITHER)


def test_a_year_of_it_is_flow_times_degree_days() -> None:
    """By hand at 975 m: density x 1006 J/(kg K) x flow x share x (degree days + (house - base) over the season)."""
    answer = answered(survey())
    cost = answer.always
    assert cost is not None
    assert isinstance(cost.heating, Estimate)
    kelvin = 1.0 / 1.8
    house, base = (70.0 + 459.67) * kelvin, (65.0 + 459.67) * kelvin
    degree_time = 6000.0 * 86400.0 * kelvin + (house - base) * 210.0 * 86400.0
    density = 101325.0 * (1.0 - 2.25577e-5 * 3200 * 0.3048) ** 5.2559 / (287.042 * house)
    by_hand = cost.flow.value * NEW_AIR_SHARE.value * density * 1006.0 * degree_time
    assert_allclose(cost.heating.value, by_hand, rtol=2e-3)
    assert isinstance(cost.cost, Estimate)
    assert cost.cost.unit == "USD"
    heat_price = 1.40 / (1e5 * 1055.05585262)
    assert isinstance(cost.cooling, Estimate)
    electric = (cost.cooling.value / 3.0 + cost.fan_energy.value) * 0.16 / 3.6e6
    assert_allclose(cost.cost.value, by_hand * heat_price + electric, rtol=5e-3)
    with_exhausts = answer.with_exhausts
    assert with_exhausts is not None
    assert isinstance(with_exhausts.heating, Estimate)
    assert with_exhausts.heating.value < 0.2 * cost.heating.value
    for year in (cost, with_exhausts):
        assert all(
            one.low >= 0.0 for one in (year.heating, year.fan_power, year.fan_energy) if isinstance(one, Estimate)
        )


def test_what_nobody_wrote_is_said_and_no_price_is_guessed() -> None:
    answer = answered(survey(climate={}, prices={}))
    assert answer.always is not None
    assert answer.always.cost is answer.always.heat_power is Missing.UNKNOWN
    assert isinstance(answer.always.heating, Estimate)  # by wide default degree days
    assert answer.always.heating.high > 4.0 * answer.always.heating.low
    assert len(answer.unknown) == 5
    assert answered(survey()).unknown == ()
    half = answered(survey(climate={k: v for k, v in CLIMATE.items() if k != "cooling_degree_days"}))
    assert half.unknown == ("cooling degree days",)
    assert half.always is not None
    assert half.always.cost is Missing.UNKNOWN  # the cooling is wanted and its degree days are not known
    no_heat = answered(survey(prices={"electricity": PRICES["electricity"]}))
    assert no_heat.unknown == ("price of heat",)


def test_colder_places_cost_more_and_the_surveyed_factor_sets_the_credit() -> None:
    def heat(days: str) -> float:
        cost = answered(survey(climate={**CLIMATE, "heating_degree_days": f'"{days} degF day"'})).always
        assert cost is not None
        assert isinstance(cost.heating, Estimate)
        return cost.heating.value

    assert heat("3000") < heat("6000") < heat("9000")
    house = survey()
    assert house.climate is not None
    read = replace(
        house, envelopes=tuple(
            replace(one, flow_at_50=replace(one.flow_at_50, basis=Basis.MEASURED)) for one in house.envelopes
            if one.flow_at_50 is not None
        )
    )  # fmt: skip
    mild, windy = (ventilation_need(read, (), weather_factor=factor).infiltration for factor in (
        replace(house.climate.weather_factor, value=0.4 / 3600, low=0.4 / 3600),  # type: ignore[type-var]
        house.climate.weather_factor,
    ))  # fmt: skip
    assert isinstance(mild, Estimate)
    assert isinstance(windy, Estimate)
    assert mild.value < windy.value
