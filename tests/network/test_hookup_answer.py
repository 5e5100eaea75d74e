"""From survey and visits to the whole answer: what is taken from where, what is assumed, every number by name."""

from __future__ import annotations

from dataclasses import replace

import pytest
from numpy.testing import assert_allclose
from tests.network.hookup_parts import BTU_PER_HOUR, CFM, FAHRENHEIT, FOOT, INCH_OF_WATER, TON, TRUNK, about, sure

from airtally.estimates import Basis, Estimate
from airtally.house.parts import (
    AirHandler,
    Cleaner,
    FanSpeed,
    Filter,
    House,
    PricedMeasure,
    ReturnLeak,
    RunsWith,
)
from airtally.network.ducts.fan_curves import FanTable, MotorKind
from airtally.network.ducts.hookup_answer import HookupAnswer, hookup_answer
from airtally.network.ducts.hookup_survey import HookupRequest, SurveyedHookup, surveyed_hookup, usual_loop
from airtally.network.ducts.sensor_place import SensorSpot
from airtally.visits.parts import Doors, HandlerMode, HouseState, Reading, Visit, VisitKind

HEATING = HouseState(doors=Doors.OPEN, air_handler=HandlerMode.HEATING)
COOLING = HouseState(doors=Doors.OPEN, air_handler=HandlerMode.COOLING)
OFF = HouseState(doors=Doors.OPEN, air_handler=HandlerMode.OFF)


def guess(value: float, unit: str = "-") -> Estimate:
    return Estimate(value=value, low=0.5 * value, high=1.5 * value, unit=unit, basis=Basis.DEFAULT, source="default")


HOUSE = House(
    home_id="invented", name="invented", is_invented=True, time_zone="UTC", elevation=975.0, currency="USD", zones=(),
    envelopes=(), target=sure(15e-9, "kg/m3"),
    air_handler=AirHandler(
        motor="PSC",
        speeds=(
            FanSpeed(name="heating", flow=guess(1100 * CFM, "m3/s"), power=guess(450.0, "W")),
            FanSpeed(name="cooling", flow=sure(1050 * CFM, "m3/s"), static=sure(170.0, "Pa"), power=sure(500.0, "W")),
            FanSpeed(name="circulate", flow=sure(640 * CFM, "m3/s")),
        ),
        filters=(
            Filter(
                id="f", rating="MERV 13", efficiency=(about(0.6, 0.1), about(0.85, 0.05), about(0.9, 0.05)),
                bypass=sure(0.02),
            ),
        ),
        return_leaks=(ReturnLeak(id="l", zone="garage", fraction=about(0.05, 0.02), is_before_filter=True),),
        duct_volume=about(230 * FOOT**3, 20 * FOOT**3, "m3"),
    ),
)  # fmt: skip


def reading(key: str, value: Estimate, state: HouseState = HEATING, place: str = "air handler") -> Reading:
    return Reading(key=key, place=place, state=state, value=value, time=0.0)


READINGS = (
    reading("airflow", about(1010 * CFM, 70 * CFM, "m3/s")),
    reading("tesp", about(0.62 * INCH_OF_WATER, 2.0, "Pa")),
    reading("filter_drop", about(0.15 * INCH_OF_WATER, 2.0, "Pa")),
    reading("return_static", about(0.36 * INCH_OF_WATER, 2.0, "Pa")),
    reading("supply_static", about(0.26 * INCH_OF_WATER, 2.0, "Pa")),
    reading("blower_power", about(480.0, 20.0, "W")),
    reading("heat_output", sure(64000 * BTU_PER_HOUR, "W")),
    reading("plate_rise_low", sure(40 * FAHRENHEIT, "K")),
    reading("plate_rise_high", sure(70 * FAHRENHEIT, "K")),
    reading("cooling_capacity", sure(2.5 * TON, "W")),
)


def visit(*readings: Reading) -> Visit:
    return Visit(id="v", kind=VisitKind.TEST_OUT, time=0.0, by="technician", state=HEATING, readings=readings)


def surveyed(house: House = HOUSE, *readings: Reading, request: HookupRequest | None = None) -> SurveyedHookup:
    found = surveyed_hookup(house, (visit(*(readings or READINGS)),), request)
    assert found is not None
    return found


def answered(request: HookupRequest | None = None, house: House = HOUSE, **more: float) -> HookupAnswer:
    found = hookup_answer(house, (visit(*READINGS),), request, **more)
    assert found is not None
    return found


def number(answer: HookupAnswer, key: str, state: str) -> Estimate:
    (found,) = [one.number for one in answer.numbers if one.key == key and one.state == state]
    return found


def test_visits_govern_over_the_survey_and_a_default_power_is_left_to_the_motor_kind() -> None:
    found = surveyed()
    heating, cooling, circulate = found.hookup.states
    assert_allclose(heating.flow.value / CFM, 1010.0)
    assert_allclose(cooling.flow.value / CFM, 1050.0)
    by_name = {blower.name: blower for blower in found.blowers}
    assert by_name["heating"].power is not None
    assert_allclose(by_name["heating"].power.value, 480.0)
    assert by_name["cooling"].power is not None
    assert by_name["circulate"].power is None
    assert by_name["heating"].motor is MotorKind.PSC
    unread = surveyed(HOUSE, *(one for one in READINGS if one.key != "blower_power"))
    assert {blower.name: blower for blower in unread.blowers}["heating"].power is None
    assert circulate.name == "circulate"


def test_air_density_is_that_of_the_houses_altitude() -> None:
    """About 0.89 of sea level at 3,200 ft (trade figure, rounded): 21 degC and 40 % make it 1.06 kg/m3."""
    assert_allclose(surveyed().hookup.density / 1.2014, 0.885, atol=0.01)


def test_static_at_the_take_off_is_return_static_less_filter_and_marked_as_not_read() -> None:
    heating = surveyed().hookup.states[0]
    assert heating.take_off_static is not None
    assert_allclose(heating.take_off_static.value / INCH_OF_WATER, 0.36 - 0.15, rtol=1e-6)
    assert any("static at the take-off" in word and "heating" in word for word in answered().not_measured)
    first, second = about(45.0, 1.0, "Pa"), about(55.0, 1.0, "Pa")
    taps = (reading("take_off_static", first, HEATING), reading("re_entry_static", second, HEATING))
    read, at_cooling, _ = surveyed(HOUSE, *READINGS, *taps).hookup.states
    assert (read.take_off_static, read.re_entry_static) == (first, second)
    assert at_cooling.re_entry_static is None
    answer = hookup_answer(HOUSE, (visit(*READINGS, *taps),))
    assert answer is not None
    assert not any("tap" in word or "take-off, " in word for word in answer.not_measured if "at heating" in word)


def test_static_of_a_speed_nobody_read_is_carried_from_one_that_was() -> None:
    """By hand: 0.15 x + 0.47 x^2 inH2O with x = 640 / 1010."""
    circulate = surveyed().hookup.states[2]
    assert circulate.total_static is not None
    x = 640.0 / 1010.0
    assert_allclose(circulate.total_static.value / INCH_OF_WATER, 0.15 * x + 0.47 * x * x, rtol=1e-6)
    assert circulate.total_static.basis is Basis.COMPUTED


def test_cleaner_comes_from_the_request_then_the_duct_then_a_measure_then_a_default() -> None:
    usual = surveyed().hookup.cleaner
    assert usual.free_flow is not None
    assert usual.free_flow.basis is Basis.DEFAULT
    priced = PricedMeasure(
        id="m", kind="bypass cleaner", name="HEPA on the return", stage=2, price_low=1.0, price_high=2.0,
        settings=(("flow", 250 * CFM),),
    )  # fmt: skip
    proposed = surveyed(replace(HOUSE, measures=(priced,))).hookup.cleaner
    assert proposed.name == "HEPA on the return"
    assert proposed.free_flow is not None
    assert_allclose(proposed.free_flow.value / CFM, 250.0)
    on_duct = Cleaner(
        id="c", name="bypass", flow=guess(200 * CFM, "m3/s"), efficiency=about(0.98, 0.01), recirculated=guess(0.1),
        runs_with=RunsWith.AIR_HANDLER,
    )  # fmt: skip
    fitted = replace(HOUSE, cleaners=(on_duct,))
    measured = reading("cleaner_flow", about(218 * CFM, 10 * CFM, "m3/s"), place="c")
    found = surveyed(fitted, *READINGS, measured).hookup
    assert found.states[0].measured_loop_flow is not None
    assert_allclose(found.states[0].measured_loop_flow.value / CFM, 218.0)
    assert found.states[1].measured_loop_flow is None
    assert found.efficiency is on_duct.efficiency
    assert found.mixed_back is None
    assert surveyed(fitted).hookup.states[0].measured_loop_flow is None
    off = reading("cleaner_flow", about(200 * CFM, 10 * CFM, "m3/s"), OFF, "c")
    assert surveyed(fitted, *READINGS, off).hookup.measured_off_flow is not None


def test_answer_names_every_number_once_and_holds_what_a_page_needs() -> None:
    answer = answered(HookupRequest(wanted_clean_air=sure(180 * CFM, "m3/s"), trunk=TRUNK))
    assert {"loop_flow", "own_air", "clean_air", "loop_loss", "size_flow", "in_line_flow", "bypass_power"} <= {
        one.key for one in answer.numbers
    }
    single = [(one.key, one.state, one.name) for one in answer.numbers]
    assert len(single) == len(set(single))
    for mode in ("heating", "cooling", "circulate"):
        assert number(answer, "in_line_flow", mode).value < number(answer, "as_is_flow", mode).value
    assert_allclose(number(answer, "as_is_flow_per_capacity", "cooling").value / (CFM / TON), 1050.0 / 2.5, rtol=1e-9)
    assert 55.0 < number(answer, "as_is_heat_rise", "heating").value / FAHRENHEIT < 75.0
    assert number(answer, "clean_air", "blower off").high < 0.5 * number(answer, "clean_air", "heating").low
    assert any("Assumed, not measured" in sentence for sentence in answer.sentences)
    assert any("only while the blower runs" in sentence for sentence in answer.sentences)
    assert answer.cautions
    assert all(one.number.low <= one.number.value <= one.number.high for one in answer.numbers)


def test_usual_loop_takes_the_smallest_duct_that_holds_the_wanted_flow_and_says_it_is_usual() -> None:
    small = answered(HookupRequest(wanted_clean_air=sure(80 * CFM, "m3/s"), trunk=TRUNK)).design
    large = answered(HookupRequest(wanted_clean_air=sure(190 * CFM, "m3/s"), trunk=TRUNK)).design
    assert small.hookup.loop.diameter < large.hookup.loop.diameter
    assert small.smallest_sure is not None
    assert small.hookup.loop.diameter == small.smallest_sure.diameter
    assert any("the loop itself" in word for word in small.not_measured)
    laid_out = replace(usual_loop(0.2032), is_proposed=False)
    own = answered(HookupRequest(loop=laid_out, wanted_clean_air=sure(190 * CFM, "m3/s"))).design
    assert own.hookup.loop.diameter == 0.2032
    assert not any("the loop itself" in word for word in own.not_measured)
    assert any("section of the return trunk" in word for word in own.not_measured)


def test_sensor_places_use_the_houses_filter_leaks_ducts_and_target() -> None:
    answer = answered(sampling=120.0)
    best = answer.placing.best
    assert best is not None
    assert best.candidate.spot is SensorSpot.RETURN_DROP
    assert best.purge is not None
    # By hand: 0.4 x 230 ft3 at 640 cfm.
    assert_allclose(best.purge.value, 0.4 * 230.0 / 640.0 * 60.0, rtol=1e-6)
    assert best.threshold is not None
    assert SensorSpot.BESIDE_LEAK in {view.candidate.spot for view in answer.placing.views}
    assert "network-sensor-sampling-short" in [problem.code for problem in answer.problems]
    handler = HOUSE.air_handler
    assert handler is not None
    tight = answered(house=replace(HOUSE, air_handler=replace(handler, return_leaks=())))
    assert SensorSpot.BESIDE_LEAK not in {view.candidate.spot for view in tight.placing.views}


def test_fan_table_reaches_the_blower_and_its_faults_reach_the_answer() -> None:
    points = tuple(
        (cfm * CFM, inches * INCH_OF_WATER) for cfm, inches in ((300, 0.7), (500, 0.9), (1000, 0.6), (1300, 0.1))
    )
    table = FanTable(name="invented", points=points)
    answer = answered(HookupRequest(fan_tables={"heating": table}))
    assert "network-fan-table-humped" in [problem.code for problem in answer.problems]


@pytest.mark.parametrize("handler", [None, AirHandler(speeds=(), filters=())])
def test_a_house_without_a_known_airflow_gets_no_answer(handler: AirHandler | None) -> None:
    assert hookup_answer(replace(HOUSE, air_handler=handler), ()) is None
    assert surveyed_hookup(replace(HOUSE, air_handler=handler), ()) is None
