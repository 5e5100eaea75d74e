"""What works do to a house's network: the trade's worked sheet foretold from its test-in column, and laws."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.network.sheet_house import READINGS, calibrated, sheet

from airtally.estimates import Estimate
from airtally.house.measure_kinds import MeasureKind
from airtally.house.parts import PricedMeasure
from airtally.network.home.calibrate import calibrate
from airtally.network.home.house_network import BLOWER, FILTERED, PLENUM, AirState
from airtally.network.home.plans import deep_filter, transfer_paths, works_of
from airtally.network.home.pressures import deepest_states
from airtally.network.home.works import Works, close_return_opening, draws_of, seal_ducts, together
from airtally.physics.fans.heat_rise import flow_by_heat_rise
from airtally.visits.parts import HandlerMode

CFM, INCH = 4.719474e-4, 249.08891
HEATING = AirState(handler=HandlerMode.HEATING)
SHUT = AirState(handler=HandlerMode.HEATING, shut=frozenset({"bedrooms", "family", "workshop", "utility"}))
STAGE_1 = together(seal_ducts(), close_return_opening())
"""The sheet's list: returns sealed, the return grille beside the utility room removed."""


def sheet_works() -> Works:
    network = calibrated().network
    hood = Works(exhausts=(("hood", 165.0 * CFM),))
    return together(STAGE_1, transfer_paths(network), deep_filter(network), hood)


def foretold(works: Works) -> dict[str, float]:
    on, shut = calibrated().solve((HEATING, SHUT), works, draws=1)
    flow = float(on.flow(BLOWER)[0])
    # A7 of the practice notes: cfm = Btu/h / (1.08 dT density ratio), solved for the rise at one flow.
    per_kelvin = float(flow_by_heat_rise(18757.0, 1.0, 0.89 * 1.2014))
    return {
        "tesp": float(on.pressure(PLENUM)[0] - on.pressure(FILTERED)[0]) / INCH,
        "airflow": flow / CFM,
        "rise": per_kelvin / flow * 1.8,
        "utility": float(shut.pressure("utility")[0]),
    }


def test_sealing_alone_is_foretold_from_the_test_in_column() -> None:
    # The sheet's column 'after sealing only': TESP 0.93 inH2O, 900 cfm, 74 F, utility room -0.5 Pa.
    found = foretold(STAGE_1)
    assert found["tesp"] == pytest.approx(0.93, abs=0.05)
    assert found["airflow"] == pytest.approx(900.0, rel=0.07)
    assert found["rise"] == pytest.approx(74.0, abs=4.0)
    assert found["utility"] == pytest.approx(-0.5, abs=1.0)
    as_found = foretold(Works())
    assert found["tesp"] > as_found["tesp"]
    assert found["airflow"] < as_found["airflow"]
    assert as_found["utility"] < found["utility"] < 0.0


def test_the_test_out_is_foretold_but_for_a_static_that_no_listed_work_explains() -> None:
    # The sheet's column 'test-out': 1,010 cfm, 66 F, utility room -0.5 Pa, worst case -4.0 Pa, about -10 Pa with the
    # fire lit; TESP 0.62 inH2O.
    found = foretold(sheet_works())
    assert found["airflow"] == pytest.approx(1010.0, rel=0.07)
    assert found["rise"] == pytest.approx(66.0, abs=4.0)
    assert found["utility"] == pytest.approx(-0.5, abs=1.0)
    worst, fire = (
        deepest_states(calibrated(), ("utility",), with_fire=lit, works=sheet_works())["utility"]
        for lit in (False, True)
    )
    deepest, burning = calibrated().solve((worst, fire), sheet_works(), draws=1)
    assert float(deepest.pressure("utility")[0]) == pytest.approx(-4.0, abs=1.0)
    # The sheet's 'about -10' is its one-zone formula, doors open, by its own words good to 50 %.
    assert float(burning.pressure("utility")[0]) == pytest.approx(-10.0, rel=0.5)


def test_the_sheets_test_out_static_needs_ducts_that_changed() -> None:
    # 0.93 - 0.39 = 0.54 inH2O in ducts and coil at 900 cfm after sealing; 0.62 - 0.15 = 0.47 at 1,010 cfm at test-out.
    # Turbulent ducts lose with the flow to the power 1.8 to 2, so the same ducts would lose 0.66 to 0.68: either their
    # resistance fell by a third, which no listed work does, or one of the readings is off. The network keeps the ducts.
    ducts_after_sealing, ducts_at_test_out = 0.93 - 0.39, 0.62 - 0.15
    same_ducts = ducts_after_sealing * (1010.0 / 900.0) ** 1.8
    assert ducts_at_test_out < 0.75 * same_ducts
    assert foretold(sheet_works())["tesp"] == pytest.approx(0.15 + same_ducts, abs=0.08)


def test_every_reading_is_given_back_within_what_gauges_can_tell() -> None:
    for one in calibrated().given_back:
        assert abs(one.miss) < 2.0, one
    assert not calibrated().problems


def test_a_reading_that_no_house_could_give_is_named_with_the_size_of_the_conflict() -> None:
    slip = tuple(one.replace("0.41 inH2O", "1.6 inH2O") for one in READINGS)
    house, visits = sheet(slip)
    found = calibrate(house, visits)
    assert found is not None
    named = [problem.where for problem in found.problems]
    assert any("filter_drop" in where for where in named)
    assert all("filter_drop" in where or "tesp" in where for where in named), "the conflict lies between these two"
    assert all("Pa was read; the other readings together make" in problem.found for problem in found.problems)


def test_sealing_raises_static_and_lowers_flow_in_every_draw() -> None:
    found, sealed = (calibrated().solve((HEATING,), works)[0] for works in (Works(), seal_ducts()))
    assert (
        sealed.pressure(PLENUM) - sealed.pressure(FILTERED) > found.pressure(PLENUM) - found.pressure(FILTERED)
    ).all()
    assert (sealed.flow(BLOWER) < found.flow(BLOWER)).all()


def test_works_add_up_in_any_order_where_they_touch_different_things() -> None:
    network = calibrated().network
    some = (seal_ducts(0.4), transfer_paths(network), deep_filter(network), Works(supply_air=0.02))
    assert foretold(together(*some)) == pytest.approx(foretold(together(*reversed(some))), rel=1e-9)
    twice = together(seal_ducts(0.5), seal_ducts(0.5))
    assert twice.left_of("return leak/trunk") == pytest.approx(0.25)
    assert Works().left_of("return leak/trunk") == 1.0


def test_supply_air_lifts_the_house_and_an_exhaust_lowers_it() -> None:
    hood = AirState(exhausts=frozenset({"hood"}))
    for state in (AirState(), hood):
        low, high = (calibrated().solve((state,), w)[0].pressure("main") for w in (Works(), Works(supply_air=0.03)))
        assert (high > low).all()
    still, drawn = calibrated().solve((AirState(), hood))
    assert_allclose(still.pressure("main"), 0.0, atol=1e-6)
    assert (drawn.pressure("main") < 0.0).all()


@pytest.mark.parametrize(
    ("kind", "moves"),
    [("return sealing", True), ("better filter", True), ("in-line HEPA", True), ("continuous fan", False)],
)
def test_measures_of_the_survey_become_works_where_they_move_a_pressure(kind: str, moves: bool) -> None:
    measure = PricedMeasure(id="m", kind=kind, name=kind, stage=1, price_low=1.0, price_high=2.0)
    works = works_of(calibrated().network, measure, MeasureKind(kind))
    assert (works != Works()) is moves
    assert (foretold(works)["airflow"] != pytest.approx(foretold(Works())["airflow"], rel=1e-6)) is moves


def test_an_amount_is_drawn_around_its_middle_and_as_wide_as_its_interval() -> None:
    left = Estimate(value=0.3, low=0.15, high=0.5, unit="-", basis="default", source="left after sealing")  # type: ignore[arg-type]
    draws = draws_of(left, 4000)
    assert draws[0] == 0.3
    assert_allclose(np.quantile(draws, (0.05, 0.5, 0.95)), (0.15, 0.3, 0.5), atol=0.015)
    assert np.array_equal(draws_of(left, 32), draws_of(left, 32)), "one source is one unknown"
    assert (draws_of(Estimate(value=0.1, low=0.0, high=3.0, unit="-", basis="default", source="x"), 500) >= 0.0).all()  # type: ignore[arg-type]
    assert_allclose(draws_of(0.7, 5), 0.7)


def test_draws_of_one_job_are_the_same_every_time() -> None:
    again = calibrate(*sheet())
    assert again is not None
    assert np.array_equal(again.values.table, calibrated().values.table)
