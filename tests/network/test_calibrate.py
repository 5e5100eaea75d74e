"""Gauge readings of made-up houses: the network fitted to them holds what it was made from, as often as it says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.network.sheet_house import READINGS, calibrated, sheet

from airtally.estimates import Basis, Estimate
from airtally.house.parts import Cleaner, House, RunsWith
from airtally.network.home.calibrate import calibrate
from airtally.network.home.from_survey import LATEST
from airtally.network.home.gauges import gauges_of
from airtally.network.home.house_flows import with_measured_flows
from airtally.network.home.house_network import BLOWER, FILTERED, PLENUM, AirState, network_of
from airtally.network.home.pressures import METHOD, leak_air, room_pressures, supply_lost, worst_cases
from airtally.network.home.solved import solve_states
from airtally.network.home.unknowns import layout_of, prior_of_network
from airtally.network.home.works import Works, seal_ducts
from airtally.parameters import Values
from airtally.visits.parts import HandlerMode, Reading, Visit

HEATING = AirState(handler=HandlerMode.HEATING)
SHUT = AirState(handler=HandlerMode.HEATING, shut=frozenset({"bedrooms", "family", "workshop", "utility"}))


def made_up(seed: int) -> tuple[Values, House, tuple[Visit, ...]]:
    """Return unknowns drawn at random, and survey and readings as that house would have given them, with gauge errors."""
    rng = np.random.default_rng(seed)
    house, visits = sheet()
    layout = layout_of(house, LATEST)
    assert layout is not None
    leakage = (house.envelopes[0].flow_at_50, house.envelopes[0].exponent)
    prior = prior_of_network(visits, layout, leakage, LATEST)  # type: ignore[arg-type]
    values = prior.values(rng.normal(size=(1, len(prior.parameters))))
    network = network_of(house, visits, layout, LATEST)
    readings: list[Reading] = []
    surveyed: dict[str, float] = {}
    for gauge in gauges_of(network, visits, leakage[0], LATEST):  # type: ignore[arg-type]
        key = next(
            (r for r in visits[0].readings if gauge.where.startswith(f"visits.toml, {r.key} of {r.place}")), None
        )
        if gauge.key == "cfm50":
            key = visits[0].find("cfm50")[0]
        said = float(gauge.predict(values, solve_states(network, values, gauge.states, Works()))[0])
        said += gauge.deviation * rng.normal()
        if key is None:
            surveyed["circulate"] = said
            continue
        half = 0.5 * (key.estimate.high - key.estimate.low)  # type: ignore[union-attr]
        estimate = Estimate(
            value=said, low=said - half, high=said + half, unit=gauge.unit, basis=key.estimate.basis, source="made up"  # type: ignore[union-attr]
        )  # fmt: skip
        readings.append(replace(key, value=estimate))
    handler = house.air_handler
    assert handler is not None
    speeds = tuple(replace(s, flow=_about(s.flow, surveyed.get(s.name, s.flow.value))) for s in handler.speeds)
    house = replace(house, air_handler=replace(handler, speeds=speeds))
    return values, house, (replace(visits[0], readings=tuple(readings)),)


def _about(flow: Estimate, value: float) -> Estimate:
    return replace(flow, value=value, low=0.93 * value, high=1.07 * value)


def answers(values: Values, works: Works) -> dict[str, np.ndarray]:
    on, shut = solve_states(calibrated().network, values, (HEATING, SHUT), works)
    return {
        "flow": on.flow(BLOWER),
        "static": on.pressure(PLENUM) - on.pressure(FILTERED),
        "garage air": on.flow("return leak/trunk") / on.flow(BLOWER),
        "utility": shut.pressure("utility"),
        "bedrooms": shut.pressure("bedrooms") - shut.pressure("main"),
    }


@pytest.mark.slow
def test_ninety_percent_intervals_hold_the_made_up_house_about_that_often() -> None:
    held: dict[str, list[bool]] = {}
    for seed in range(30):
        truth, house, visits = made_up(seed)
        found = calibrate(house, visits)
        assert found is not None
        for name, works in (("now", Works()), ("sealed", seal_ducts())):
            real, drawn = answers(truth, works), answers(found.values, works)
            for quantity, draws in drawn.items():
                low, high = np.quantile(draws, [0.05, 0.95])
                held.setdefault(f"{quantity}, {name}", []).append(bool(low <= real[quantity][0] <= high))
    shares = {name: float(np.mean(hits)) for name, hits in held.items()}
    assert min(shares.values()) >= 0.70, shares
    assert 0.80 <= float(np.mean(list(shares.values()))) <= 0.99, shares


def test_without_a_visit_every_unknown_keeps_its_prior() -> None:
    house, _ = sheet()
    found = calibrate(house, (), draws=400)
    assert found is not None
    for parameter in found.prior.parameters:
        if parameter.name.startswith("shut door/"):
            spread = np.std(np.log(found.values[parameter.name]))
            assert spread == pytest.approx(parameter.spread, rel=0.15)
    narrow = calibrated().values["shut door/bedrooms"]
    assert np.std(np.log(narrow)) < 0.5 * np.std(np.log(found.values["shut door/bedrooms"]))


def test_a_house_whose_leakage_nobody_knows_has_no_network_and_says_so() -> None:
    house, _ = sheet()
    bare: House = replace(house, envelopes=(replace(house.envelopes[0], flow_at_50=None),))
    assert calibrate(bare, ()) is None
    cases, problems = worst_cases(bare, ())
    assert cases == ()
    assert "network-no-envelope-leakage" in {problem.code for problem in problems}


def test_blower_door_and_ducts_are_told_apart() -> None:
    # A blower door finds duct leaks to outside too: sealing them alone lowers it, by no more than they leaked at 50 Pa.
    network, values = calibrated().network, calibrated().values
    before, after = (network.house_leakage_at_50(values, works) for works in (Works(), seal_ducts(0.3)))
    outside = sum(network.leak_at_25(values, n) for n, z in network.leak_zones.items() if z in ("garage", "outdoors"))
    assert_allclose(before - after, 0.7 * outside * 2.0**0.6, rtol=1e-9)
    assert before[0] / 4.719474e-4 == pytest.approx(2350.0, rel=0.02)


def test_worst_cases_are_sorted_name_their_state_and_stand_beside_the_measured_one() -> None:
    cases, _ = worst_cases(*sheet(), calibrated=calibrated())
    values = [case.pressure.value for case in cases]
    assert values == sorted(values)
    measured = [case for case in cases if case.method == "measured"]
    assert [case.pressure.value for case in measured] == [-5.6]
    found = next(c for c in cases if c.state.startswith("worst state found for utility") and not c.has_fire_lit)
    assert found.method == METHOD
    assert found.pressure.low <= -5.6 <= found.pressure.high
    assert "its door shut" in found.state
    assert "air handler on heating" in found.state
    lit = next(c for c in cases if c.state.startswith("worst state found for utility") and c.has_fire_lit)
    assert lit.pressure.value < found.pressure.value
    assert {flow.name for flow in lit.flows} == {"hood", "bath-1", "bath-2", "dryer", "fire"}


def test_no_searched_state_is_deeper_than_the_one_found() -> None:
    from itertools import product

    from airtally.network.home.pressures import deepest_states

    found = deepest_states(calibrated(), ("utility",), with_fire=False)["utility"]
    (deepest,) = calibrated().solve((found,), draws=1)
    rooms = ("bedrooms", "family", "workshop", "utility")
    fans = ("hood", "bath-1", "dryer")
    rng = np.random.default_rng(3)
    some = [
        AirState(
            handler=handler,
            shut=frozenset(r for r in rooms if rng.random() < 0.5),
            exhausts=frozenset(f for f in fans if rng.random() < 0.5),
        )
        for handler, _ in product((HandlerMode.OFF, HandlerMode.HEATING, HandlerMode.CIRCULATE), range(40))
    ]
    for one in calibrated().solve(tuple(some), draws=1):
        assert one.pressure("utility")[0] >= deepest.pressure("utility")[0] - 1e-9


def test_shut_rooms_with_registers_stand_above_the_main_body_and_the_main_body_below_outdoors() -> None:
    rows = {(r.state, r.zone): r.pressure for r in room_pressures(calibrated())}
    assert rows["heating, doors shut", "bedrooms"].low > 0.0
    assert rows["heating, doors shut", "main"].high < 0.0
    assert rows["circulate, doors shut", "bedrooms"].value < rows["heating, doors shut", "bedrooms"].value
    assert rows["all exhaust fans and open fire", "main"].value < rows["open fire lit", "main"].value < 0.0


def test_leak_air_falls_with_sealing_and_counts_no_house_air() -> None:
    (before,), (after,) = leak_air(calibrated()), leak_air(calibrated(), seal_ducts(0.3))
    assert before.zone == after.zone == "garage"
    assert after.share.high < before.share.low
    lost, kept = supply_lost(calibrated()), supply_lost(calibrated(), seal_ducts(0.3))
    assert lost is not None
    assert kept is not None
    assert kept.value < 0.5 * lost.value


def test_stack_alone_lets_air_in_low_and_out_high_and_wind_in_on_one_side() -> None:
    cold = AirState(outdoor_temperature=263.15)
    windy = AirState(wind_speed=6.0)
    still, stack, wind = calibrated().solve((AirState(), cold, windy), draws=1)
    assert abs(still.flow("low wall main, windward")[0]) < 1e-6
    assert stack.flow("low wall family, windward")[0] > 0.0 > stack.flow("high wall bedrooms, windward")[0]
    assert wind.flow("low wall main, windward")[0] > 0.0 > wind.flow("low wall main, other sides")[0]


def test_readings_in_other_order_give_the_same_network() -> None:
    house, _ = sheet()
    _, turned = sheet(tuple(reversed(READINGS)))
    again = calibrate(house, turned)
    assert again is not None
    for name in again.values.names:
        assert again.values[name][0] == pytest.approx(calibrated().values[name][0], rel=1e-4), name


def test_a_return_leak_that_was_tested_enters_the_account_as_measured_and_one_that_was_not_as_surveyed() -> None:
    house, visits = sheet()
    measured = with_measured_flows(house, visits, calibrated())
    assert house.air_handler is not None
    assert measured.air_handler is not None
    (before,), (after,) = house.air_handler.return_leaks, measured.air_handler.return_leaks
    (air,) = leak_air(calibrated())
    assert after.fraction == air.share
    assert after.fraction.high - after.fraction.low < before.fraction.high - before.fraction.low
    assert with_measured_flows(house, (), calibrated()) == house
    untested = tuple(r for r in READINGS if "cfm25" not in r)
    assert with_measured_flows(*sheet(untested), None) == house


@pytest.mark.parametrize("read", ["940 cfm +- 7 %", "2350 cfm", "205 cfm", "395 cfm", "0.86 inH2O", "0.41 inH2O"])
def test_a_reading_of_nothing_stops_no_answer(read: str) -> None:
    unit = read.split()[1]
    house, visits = sheet(tuple(one.replace(read, f"0 {unit}") for one in READINGS))
    cases, _ = worst_cases(house, visits)
    assert all(np.isfinite(case.pressure.value) for case in cases)


def test_a_speed_whose_airflow_was_read_enters_the_account_with_the_networks_flow() -> None:
    house, visits = sheet()
    measured = with_measured_flows(house, visits, calibrated())
    assert house.air_handler is not None
    assert measured.air_handler is not None
    read = {r.state.air_handler.value for v in visits for r in v.find("airflow")}
    assert read
    for before, after in zip(house.air_handler.speeds, measured.air_handler.speeds, strict=True):
        if before.name in read:
            (solved,) = calibrated().solve((AirState(handler=HandlerMode(before.name)),))
            assert after.flow.value == pytest.approx(float(solved.flow(BLOWER)[0]), rel=1e-6)
            assert after.flow.basis is not before.flow.basis
        else:
            assert after == before


def test_a_cleaner_that_was_read_at_keeps_its_reading_and_another_its_plate() -> None:
    house, _ = sheet()
    plate = Estimate(value=0.12, low=0.1, high=0.14, unit="m3/s", basis=Basis.SURVEYED, source="made up")
    share = replace(plate, value=0.0, low=0.0, high=0.1, unit="-")
    unit = Cleaner(
        id="loop", name="loop", flow=plate, efficiency=share, recirculated=share, runs_with=RunsWith.AIR_HANDLER
    )
    _, visits = sheet((*READINGS, 'key = "cleaner_flow", value = "205 cfm", place = "loop", air_handler = "heating"'))
    both = with_measured_flows(replace(house, cleaners=(unit, replace(unit, id="other"))), visits, calibrated())
    assert both.cleaners[0].flow.value == pytest.approx(205 * 0.00047194745, rel=1e-6)
    assert both.cleaners[1].flow == plate
    off = sheet((*READINGS, 'key = "cleaner_flow", value = "205 cfm", place = "loop", air_handler = "off"'))[1]
    assert with_measured_flows(replace(house, cleaners=(unit,)), off, calibrated()).cleaners[0].flow == plate
