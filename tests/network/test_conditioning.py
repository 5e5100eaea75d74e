"""Supply air for a pressure and what a year of it takes: worked figures, second methods, real weather."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import psychrolib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.optimize import brentq
from tests.open_data.open_sets import need_whole_set

from airtally.errors import AirtallyError, InputError
from airtally.estimates import Basis, Estimate, Missing
from airtally.network import NamedFlow, house_pressure
from airtally.network.conditioning_root import crossing
from airtally.network.outdoor_air.conditioning import (
    DEGREE_DAY_BASE,
    ConditioningCost,
    DegreeDays,
    HourlyWeather,
    Prices,
    conditioning_cost,
    degree_seconds,
)
from airtally.network.outdoor_air.conditioning_supply import (
    Governs,
    supply_balance,
    supply_flow_for_pressure,
    supply_to_hold,
    supply_with_network,
)
from airtally.network.solver.graph import OUTDOORS, FixedFlow, Leak, Link, Network, Node, Solution
from airtally.network.solver.solve import solve

CFM = 0.3048**3 / 60.0
BTU_PER_H = 1055.05585262 / 3600.0
DAY = 86400.0
GREENSBORO, SAND_POINT = "723170TYA.CSV", "703165TY.csv"


def sure(value: float, unit: str) -> Estimate:
    return Estimate(value=value, low=value, high=value, unit=unit, basis=Basis.MEASURED, source="test")


ALL_NEW = sure(1.0, "-")
N = sure(0.65, "-")


def celsius(value: float) -> Estimate:
    return sure(273.15 + value, "K")


def exhaust(cfm: float) -> tuple[NamedFlow, ...]:
    return (NamedFlow(name="hood", flow=sure(-cfm * CFM, "m3/s")),)


def typical_year(name: str) -> HourlyWeather:
    """Return a typical year of the open data: dry bulb, humidity and mean pressure."""
    path: Path = need_whole_set("weather-tmy") / name
    with path.open(newline="", encoding="utf-8") as file:
        next(file)
        rows = list(csv.DictReader(file))
    assert len(rows) == 8760
    return HourlyWeather(
        outdoor_temperature=np.array([float(row["Dry-bulb (C)"]) + 273.15 for row in rows]),
        relative_humidity=np.array([float(row["RHum (%)"]) / 100.0 for row in rows]),
        site_pressure=100.0 * float(np.mean([float(row["Pressure (mbar)"]) for row in rows])),
        source=f"typical year, station {name[:6]}",
    )


def test_worked_example_eleven_wants_no_supply_where_the_house_just_holds() -> None:
    """E11, power law: 300 cfm at CFM50 1340 is 5 Pa; 400 at 1000 is 12.2 Pa: 1000 (5/50)^0.65 = 223.9 cfm may leave."""
    assert_allclose(supply_flow_for_pressure(-300.0, -5.0, 1340.0), 0.0, atol=0.3)
    assert_allclose(supply_flow_for_pressure(-400.0, -5.0, 1000.0), 400.0 - 223.87, rtol=1e-4)
    assert_allclose(supply_flow_for_pressure(-250.0, -5.93, 1000.0), 0.0, atol=0.1)
    assert_allclose(supply_flow_for_pressure(-100.0, 0.0, 1000.0), 100.0, rtol=1e-12)
    assert_allclose(supply_flow_for_pressure(0.0, 2.0, 1000.0), 1000.0 * (2.0 / 50.0) ** 0.65, rtol=1e-12)


@pytest.mark.parametrize(
    "function",
    [lambda x: x - 0.3, lambda x: x**9 - 1e-6, lambda x: np.expm1(40.0 * (x - 0.9)), lambda x: np.sign(x - 0.5)],
)
def test_crossing_is_where_the_reference_library_finds_it(function: Callable[[float], float]) -> None:
    """Reference: scipy.optimize.brentq, the last case a step."""
    calls = []

    def counted(x: float) -> float:
        calls.append(x)
        return function(x)

    assert_allclose(crossing(counted, 0.0, 1.0, 1e-10), brentq(function, 0.0, 1.0, xtol=1e-12), atol=1e-8)
    assert len(calls) < 60


def test_no_crossing_is_refused() -> None:
    with pytest.raises(InputError, match="no crossing"):
        crossing(lambda x: x + 1.0, 0.0, 1.0, 1e-9)
    with pytest.raises(AirtallyError, match="no number"):
        crossing(lambda x: float("nan") if 0.0 < x < 1.0 else x - 0.5, 0.0, 1.0, 1e-9)


@given(exhausted=st.floats(0.0, 0.6), leakage=st.floats(0.1, 3.0), limit=st.floats(-20.0, 5.0), n=st.floats(0.5, 0.9))
@settings(max_examples=60, deadline=None)
def test_supply_that_was_asked_for_holds_the_pressure(exhausted: float, leakage: float, limit: float, n: float) -> None:
    flow = supply_flow_for_pressure(-exhausted, limit, leakage, n)
    flows = (NamedFlow(name="all", flow=sure(flow - exhausted, "m3/s")),)
    made = house_pressure("with supply", flows, sure(leakage, "m3/s"), sure(n, "-")).pressure.value
    assert made >= limit - 1e-6 * max(1.0, abs(limit))
    if flow > 0.0:
        assert_allclose(made, limit, rtol=1e-6, atol=1e-9)


def test_supply_for_a_pressure_carries_the_doubt_and_the_baseline() -> None:
    plain = supply_to_hold(exhaust(400), -5.0, sure(1000 * CFM, "m3/s"), N)
    assert_allclose(plain.value / CFM, 176.13, rtol=1e-3)
    # a house with twice the pressure of the formula, half of it: 400 - 1000 (5 / 1.5 / 50)^0.65 and (5 / 0.5 / 50)^0.65
    assert_allclose(plain.high / CFM, 400 - 1000 * (5 / 1.5 / 50) ** 0.65, rtol=1e-3)
    assert_allclose(plain.low / CFM, 400 - 1000 * (5 / 0.5 / 50) ** 0.65, rtol=1e-3)
    winter = supply_to_hold(exhaust(400), -5.0, sure(1000 * CFM, "m3/s"), N, baseline=sure(-3.0, "Pa"))
    assert_allclose(winter.value / CFM, 400 - 1000 * (2 / 50) ** 0.65, rtol=1e-3)
    assert supply_to_hold((), -5.0, sure(1000 * CFM, "m3/s"), N).value == 0.0


def test_solved_network_agrees_with_the_closed_form_and_says_when_nothing_holds() -> None:
    """Second method: the solved network of one zone, no stack, bracketed root, against the closed form."""

    def pressure(supply: float) -> Estimate:
        links = (
            Link(name="leaks", start=OUTDOORS, end="house", law=Leak(coefficient=1000 * CFM / 50**0.65, exponent=0.65)),
            Link(name="hood", start="house", end=OUTDOORS, law=FixedFlow(flow=400 * CFM)),
            Link(name="supply", start=OUTDOORS, end="house", law=FixedFlow(flow=supply)),
        )
        found = solve(Network(nodes=(Node(name="house", temperature=293.15),), links=links, outdoor_temperature=293.15))
        assert isinstance(found, Solution)
        value = found.pressures["house"]
        return Estimate(value=value, low=1.5 * value if value < 0 else value, high=0.5 * value if value < 0 else value,
                        unit="Pa", basis=Basis.COMPUTED, source="network")  # fmt: skip

    held, problems = supply_with_network(pressure, -5.0, most=1.0)
    assert held is not None
    assert problems == ()
    closed = supply_to_hold(exhaust(400), -5.0, sure(1000 * CFM, "m3/s"), N)
    assert_allclose((held.low, held.value, held.high), (closed.low, closed.value, closed.high), rtol=1e-4)
    none, problems = supply_with_network(pressure, -5.0, most=50 * CFM, where="utility")
    assert none is None
    assert [p.code for p in problems] == ["network-supply-cannot-hold"]
    assert "utility" in problems[0].sentence()
    easy, _ = supply_with_network(pressure, -30.0, most=1.0)
    assert easy is not None
    assert (easy.low, easy.value, easy.high) == (0.0, 0.0, 0.0)
    with pytest.raises(InputError, match="most must be above zero"):
        supply_with_network(pressure, -5.0, most=0.0)


def cost(flow_cfm: float, weather: HourlyWeather | DegreeDays, **options: object) -> ConditioningCost:
    given_options = {"new_air_share": ALL_NEW, **options}
    return conditioning_cost(sure(flow_cfm * CFM, "m3/s"), weather, celsius(21.111), **given_options)  # type: ignore[arg-type]


STILL = HourlyWeather(outdoor_temperature=np.full(8760, 273.15), relative_humidity=np.full(8760, 0.8), source="still")


def value(one: Estimate | Missing) -> float:
    assert isinstance(one, Estimate)
    return one.value


def test_heat_of_a_flow_is_the_trades_one_point_oh_eight() -> None:
    """Common practice, no source: Btu/h = 1.08 cfm dT(F); 60 cfm from 0 to 70 F is 4,536 Btu/h."""
    heat = cost(60, STILL, design_temperature=(0.0 + 459.67) / 1.8).heat_power
    assert_allclose(value(heat) / BTU_PER_H, 1.08 * 60 * 70, rtol=3e-3)
    half = cost(60, STILL, design_temperature=459.67 / 1.8, recovery=sure(0.5, "-")).heat_power
    assert_allclose(value(half), 0.5 * value(heat), rtol=1e-9)
    assert cost(60, STILL).heat_power is Missing.UNKNOWN


def test_year_from_degree_days_is_the_trades_sum() -> None:
    """Common practice, no source: Btu a year = 1.08 cfm 24 HDD(F), here to a base at house temperature; 5,000 F-days."""
    degree_days = DegreeDays(heating=sure(5000.0 / 1.8 * DAY, "K s"), base=294.261, hours_heating=sure(0.0, "s"))
    heat = value(cost(60, degree_days).heating)
    assert_allclose(heat / 1055.05585262, 1.08 * 60 * 24 * 5000, rtol=3e-3)


def test_hours_and_degree_days_of_one_year_agree() -> None:
    """Second method: heat below the base equals degree-days plus the house's excess over the base during those hours."""
    rng = np.random.default_rng(3)
    air = 283.0 + 10.0 * np.sin(np.arange(8760) / 8760 * 2 * np.pi) + 4.0 * rng.standard_normal(8760)
    hourly = HourlyWeather(outdoor_temperature=air, relative_humidity=np.full(8760, 0.5), source="made")
    heating, cooling = degree_seconds(hourly)
    below = float(np.sum(air < DEGREE_DAY_BASE)) * 3600.0
    sums = DegreeDays(heating=sure(heating, "K s"), cooling=sure(cooling, "K s"), hours_heating=sure(below, "s"))
    first = cost(60, hourly, heated_below=sure(DEGREE_DAY_BASE, "K"), cooled_to=sure(DEGREE_DAY_BASE, "K"))
    second = cost(60, sums, cooled_to=sure(DEGREE_DAY_BASE, "K"))
    assert_allclose(value(first.heating), value(second.heating), rtol=1e-9)
    assert_allclose(value(first.cooling), value(second.cooling), rtol=1e-9)
    assert second.moisture is Missing.UNKNOWN
    assert any("not known" in text for text in second.said)
    assert cost(60, DegreeDays(heating=sure(1.0, "K s")), cooled_to=celsius(24.0)).cooling is Missing.UNKNOWN


def test_fan_with_its_filter_takes_flow_times_pressure_over_efficiency() -> None:
    """Fan power, Q dp / eta: 60 cfm, 150 Pa, 25 %: 17 W, 149 kWh a year."""
    found = cost(60, STILL)
    assert_allclose(found.fan_power.value, 60 * CFM * 150.0 / 0.25, rtol=1e-9)
    assert_allclose(found.fan_energy.value / 3.6e6, 60 * CFM * 600.0 * 8.76, rtol=1e-9)
    measured = cost(60, STILL, power=sure(40.0, "W"), run_share=sure(0.25, "-"))
    assert_allclose(measured.fan_energy.value / 3.6e6, 40.0 * 8.76 * 0.25, rtol=1e-9)
    assert found.fan_power.low < found.fan_power.value < found.fan_power.high


def test_water_of_the_cooling_season_is_what_psychrolib_says_of_each_hour() -> None:
    """Second method: humidity ratios of the library psychrolib, hours above 24 C (297 K) only."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    air = np.concatenate((np.full(4000, 303.15), np.full(1000, 293.15), np.full(3760, 273.15)))
    wet = np.concatenate((np.full(4000, 0.6), np.full(1000, 1.0), np.full(3760, 0.8)))
    weather = HourlyWeather(outdoor_temperature=air, relative_humidity=wet)
    found = cost(60, weather, cooled_to=celsius(24.0), indoor_humidity=sure(0.5, "-"))
    over = psychrolib.GetHumRatioFromRelHum(30.0, 0.6, 101325.0) - psychrolib.GetHumRatioFromRelHum(24.0, 0.5, 101325.0)
    expected = 60 * CFM * psychrolib.GetDryAirDensity(24.0, 101325.0) * over * 4000 * 3600
    assert_allclose(value(found.moisture), expected, rtol=1e-3)
    assert_allclose(value(found.drying), expected * 2.45e6, rtol=1e-3)
    assert any("cooling season" in text for text in found.said)
    assert value(cost(60, weather).moisture) == 0.0


def test_prices_are_the_callers_and_unknown_parts_stay_out_by_name() -> None:
    prices = Prices(heat=sure(0.04 / 3.6e6, "USD/J"), electricity=sure(0.15 / 3.6e6, "USD/J"), currency="USD")
    found = cost(60, STILL, prices=prices)
    by_hand = value(found.heating) * 0.04 / 3.6e6 + found.fan_energy.value * 0.15 / 3.6e6
    assert_allclose(value(found.cost), by_hand, rtol=1e-9)
    assert found.currency == "USD"
    tropics = HourlyWeather(outdoor_temperature=np.full(8760, 305.0), relative_humidity=np.full(8760, 0.7))
    wet = cost(60, tropics, prices=prices, cooled_to=celsius(24.0))
    electric = (value(wet.cooling) + value(wet.drying)) / 3.0 + wet.fan_energy.value
    assert value(wet.drying) > value(wet.cooling) > 0.0
    assert_allclose(value(wet.cost), electric * 0.15 / 3.6e6, rtol=1e-9)
    assert cost(60, STILL).cost is Missing.UNKNOWN
    sums = DegreeDays(heating=sure(2e8, "K s"), cooling=sure(5e7, "K s"))
    damp = cost(60, sums, prices=prices, cooled_to=celsius(24.0)).cost
    assert isinstance(damp, Estimate)
    assert "drying of the air not in it" in damp.source


@given(more=st.floats(1.05, 4.0))
@settings(max_examples=10, deadline=None)
def test_more_air_costs_more_and_keeping_infiltration_out_costs_less(more: float) -> None:
    first, second = cost(60, STILL), cost(60 * more, STILL)
    assert_allclose(value(second.heating), more * value(first.heating), rtol=1e-9)
    shared = conditioning_cost(sure(60 * CFM, "m3/s"), STILL, celsius(21.111)).heating
    assert isinstance(shared, Estimate)
    assert shared.low < shared.value < value(first.heating) * (1 + 1e-9)
    assert_allclose(shared.high, value(first.heating), rtol=0.02)


def test_temperature_and_humidity_of_unlike_length_are_refused() -> None:
    bad = HourlyWeather(outdoor_temperature=np.full(10, 300.0), relative_humidity=np.full(9, 0.5))
    with pytest.raises(InputError, match="one length"):
        cost(60, bad, cooled_to=celsius(24.0))


def test_the_larger_need_governs_and_what_is_only_for_the_pressure_is_named() -> None:
    press, air = sure(100 * CFM, "m3/s"), sure(40 * CFM, "m3/s")
    both = supply_balance(press, air)
    assert both.governs is Governs.PRESSURE
    assert_allclose(value(both.flow) / CFM, 100.0, rtol=1e-9)
    assert_allclose(value(both.surplus) / CFM, 60.0, rtol=1e-9)
    aired = supply_balance(sure(10 * CFM, "m3/s"), air)
    assert aired.governs is Governs.VENTILATION
    assert value(aired.surplus) == 0.0
    enough = supply_balance(sure(0.0, "m3/s"), sure(-20 * CFM, "m3/s"))
    assert enough.governs is Governs.NEITHER
    assert value(enough.flow) == 0.0
    unknown = supply_balance(press, Missing.NOT_MEASURED)
    assert unknown.governs is Governs.PRESSURE
    assert unknown.surplus is Missing.UNKNOWN
    assert supply_balance(Missing.UNKNOWN, Missing.UNKNOWN).flow is Missing.UNKNOWN


@pytest.mark.open_data
def test_degree_days_of_a_typical_year_are_those_of_its_station() -> None:
    """Sand Point: by its data sheet a mean of 4.4 C and no hour much above 65 F, so 365 (18.33 - 4.4) = 5,085 K-days.

    Greensboro: about 3,850 heating and 1,330 cooling F-days in the national normals, from memory; hours instead of
    daily means and a typical year move them by some percent.
    """
    heating, _ = degree_seconds(typical_year(SAND_POINT))
    assert_allclose(heating / DAY, 365 * (18.333 - 4.4), rtol=5e-3)
    heating, cooling = degree_seconds(typical_year(GREENSBORO))
    assert_allclose(heating / DAY * 1.8, 3850, rtol=0.12)
    assert_allclose(cooling / DAY * 1.8, 1330, rtol=0.25)


@pytest.mark.open_data
def test_sixty_cfm_in_a_cold_and_a_humid_climate() -> None:
    """Typical years: the cold place pays heat and no water, the mixed one both; orders of size by the 1.08 sum."""
    prices = Prices(heat=sure(0.05 / 3.6e6, "USD/J"), electricity=sure(0.15 / 3.6e6, "USD/J"), currency="USD")
    cold = cost(60, typical_year(SAND_POINT), prices=prices, cooled_to=celsius(24.0))
    mixed = cost(60, typical_year(GREENSBORO), prices=prices, cooled_to=celsius(24.0))
    assert_allclose(value(cold.heating) / 1055.056, 1.08 * 60 * 24 * 1.8 * 365 * (21.1 - 4.4), rtol=0.05)
    assert value(cold.moisture) < 1.0
    assert value(cold.cooling) == 0.0
    assert 100.0 < value(mixed.moisture) < 3000.0
    assert value(mixed.heating) < 0.7 * value(cold.heating)
    assert value(mixed.drying) > value(mixed.cooling)
    assert isinstance(mixed.cost, Estimate)
    assert mixed.cost.low < mixed.cost.value < mixed.cost.high
