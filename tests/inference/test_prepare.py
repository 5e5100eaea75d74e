"""From house and log to evidence: which readings count, what drives the rooms, where epochs part."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.recovery.as_job import as_house, as_log
from tests.recovery.homes import simulate_home
from tests.scenario.full_home import DAYS, PHASES, START, WORKS, a_log, fan_runs, full_house, made_log

from airtally.errors import Problem, Severity
from airtally.house.parts import AirSide, Instrument, Placement, ZoneKind
from airtally.inference.drivers import DEFAULT_OUTDOOR, PLAN_ERROR, mixed_volume, mixed_volume_spread
from airtally.inference.prepare import FAN_CIRCULATE, FAN_HEATING, FAN_OFF, FAN_STATES, Prepared, prepare
from airtally.quantities import Quantity
from airtally.readings.log import Flag, Log


def prepared(log: Log | None = None, house=None, fan=True) -> Prepared:
    found = prepare(house or full_house(), log or made_log(), PHASES, fan_runs() if fan else None)
    assert isinstance(found, Prepared)
    return found


def codes(found: Prepared) -> set[str]:
    return {p.code for p in found.problems}


def without(log: Log, placement: str, quantity: Quantity) -> Log:
    keep = {(s.placement, s.quantity): log.series(s) for s in log.streams}
    del keep[placement, quantity]
    return a_log(keep)


def test_epochs_part_where_parts_came_or_went_and_hold_the_house_of_their_time() -> None:
    found = prepared()
    assert found.epochs[0].first == 0
    assert found.epochs[-1].last == found.steps
    edges = [found.time[e.first] - 30.0 for e in found.epochs[1:]]
    assert_allclose(edges, WORKS, atol=60.0)
    filters = [e.house.air_handler.filters[0].id for e in found.epochs]
    assert filters == ["thin", "deep", "deep"]
    assert [len(e.house.cleaners) for e in found.epochs] == [1, 2, 3]


def test_the_regime_tells_epoch_and_fan_state_and_heating_goes_before_circulation() -> None:
    found = prepared()
    six = int(6.1 * 60)
    assert found.fan[six] == FAN_HEATING
    assert found.fan[(3 * 60 + 5)] == FAN_CIRCULATE
    assert found.fan[(3 * 60 + 30)] == FAN_OFF
    assert_allclose(found.evidence.regime % FAN_STATES, found.fan)
    epoch = np.searchsorted([e.last for e in found.epochs], np.arange(found.steps), side="right")
    assert_allclose(found.evidence.regime // FAN_STATES, epoch)


def test_flagged_readings_are_not_used() -> None:
    log = made_log()
    spoilt = replace(log, value=log.value.copy(), flag=log.flag.copy())
    for code, offset in zip((Flag.HELD, Flag.STUCK, Flag.RAILED, Flag.MASKED_FAN_OFF), range(4), strict=True):
        spoilt.value[100 + 4 * offset] = 4000e-9
        spoilt.flag[100 + 4 * offset] = code
    found, clean = prepared(spoilt), prepared(log)
    assert found.evidence.value.max() < 1000.0
    assert clean.evidence.weight.sum() - found.evidence.weight.sum() <= 4
    assert found.evidence.at.size <= clean.evidence.at.size


def test_the_room_mean_outlives_a_silent_monitor() -> None:
    log = made_log()
    flag = log.flag.copy()
    workshop = [s.placement for s in log.streams].index("W")
    flag[(log.stream == workshop) & (log.time > START + 6 * 86400.0)] = Flag.STUCK
    found, whole = prepared(replace(log, flag=flag)), prepared(log)
    late = whole.evidence.at > 7 * 1440
    rooms = (whole.evidence.sensor == 0) & late
    others = (found.evidence.sensor == 0) & (found.evidence.at > 7 * 1440)
    assert_allclose(found.evidence.value[others].mean(), whole.evidence.value[rooms].mean(), rtol=0.02)


def test_gains_of_instruments_are_taken_off_indoors_and_outdoors() -> None:
    house = full_house()
    log = made_log()
    scaled = replace(
        house,
        instruments=tuple(
            replace(i, gain=replace(i.gain, value=2.0, low=1.8, high=2.2)) if i.id in ("D", "O") else i
            for i in house.instruments
        ),
    )
    plain, taken = prepared(log), prepared(log, scaled)
    duct = plain.evidence.sensor == 1
    assert_allclose(taken.evidence.value[duct], plain.evidence.value[duct] / 2.0)
    assert_allclose(taken.evidence.value[~duct], plain.evidence.value[~duct])
    assert_allclose(taken.outdoor, plain.outdoor / 2.0)


def test_gaps_of_the_near_monitor_are_filled_from_a_farther_one_scaled_to_it() -> None:
    house = full_house()
    house = replace(
        house,
        instruments=(*house.instruments, Instrument(id="far", gain=house.instruments[0].gain)),
        placements=(*house.placements, Placement(id="far", instrument="far", air_side=AirSide.OUTDOOR, zone=None)),
    )
    series = {(s.placement, s.quantity): made_log().series(s) for s in made_log().streams}
    time, value = series["O", Quantity.PM25]
    hourly = np.arange(START + 1800.0, START + DAYS * 86400.0, 3600.0)
    near = np.arange(START + 300.0, START + DAYS * 86400.0, 600.0)
    near_value = np.interp(near, time, value)
    hole = (near > START + 3 * 86400.0) & (near < START + 5 * 86400.0)
    series["O", Quantity.PM25] = (near[~hole], near_value[~hole])
    series["far", Quantity.PM25] = (hourly, 1.6 * np.interp(hourly, time, value))
    found = prepared(a_log(series), house)
    inside = (found.time > START + 3.3 * 86400.0) & (found.time < START + 4.7 * 86400.0)
    assert_allclose(found.outdoor[inside], np.interp(found.time[inside], time, value), rtol=0.05)
    assert "outdoor-gap" not in codes(found)


def test_no_outdoor_monitor_is_a_problem_and_a_stated_constant() -> None:
    found = prepared(without(made_log(), "O", Quantity.PM25))
    assert "no-outdoor-particles" in codes(found)
    assert not found.outdoor_is_measured
    assert_allclose(found.outdoor, DEFAULT_OUTDOOR)


def test_no_record_of_the_fan_is_a_problem_and_the_fan_is_taken_as_off() -> None:
    found = prepared(fan=False)
    assert "fan-unrecorded" in codes(found)
    assert not found.fan_is_known.any()
    assert (found.fan == FAN_OFF).all()


def test_in_duct_readings_are_set_aside_without_a_record_of_the_fan() -> None:
    # The problem says so: "Until then it is taken as off, and in-duct readings are set aside."
    found = prepared(fan=False)
    assert [s.side for s in found.sensors] == [AirSide.ROOM]


def test_no_particles_indoors_is_fatal_and_says_what_is_wanted() -> None:
    log = made_log()
    for placement in ("L", "W", "D"):
        log = without(log, placement, Quantity.PM25)
    found = prepare(full_house(), log, PHASES, fan_runs())
    assert isinstance(found, Problem)
    assert found.severity is Severity.FATAL
    assert found.code == "no-indoor-particles"


def test_a_house_without_air_handler_has_no_fan_to_miss() -> None:
    house = replace(full_house(), air_handler=None)
    found = prepared(house=house, fan=False)
    assert "fan-unrecorded" not in codes(found)
    assert [s.side for s in found.sensors] == [AirSide.ROOM]


def test_blocks_are_two_days_and_nights_are_told_from_days() -> None:
    found = prepared()
    assert found.evidence.block.max() == (DAYS - 1) // 2
    assert found.evidence.hour_class[2 * 60] == 1
    assert found.evidence.hour_class[12 * 60] == 0


@pytest.mark.parametrize("quantity", [Quantity.TEMPERATURE])
def test_without_outdoor_temperature_air_exchange_is_the_same_all_the_time(quantity: Quantity) -> None:
    found = prepared(without(made_log(), "O", quantity))
    assert "no-outdoor-temperature" in codes(found)
    assert_allclose(found.evidence.shape[found.evidence.level], 1.0)
    assert prepared().evidence.shape.size > 3


def test_long_records_of_rooms_are_averaged_over_ten_minutes_and_in_duct_ones_over_five() -> None:
    home = simulate_home(np.random.default_rng(0), in_duct=True)
    house, phases = as_house(home)
    log, fan = as_log(home)
    duct = prepare(house, log, phases, fan)
    assert isinstance(duct, Prepared)
    assert (duct.evidence.weight == 1.0).all()  # each reading of a run stands alone: their fall is the rate
    room_home = simulate_home(np.random.default_rng(0), in_duct=False)
    house, phases = as_house(room_home)
    log, fan = as_log(room_home)
    room = prepare(house, log, phases, fan)
    assert isinstance(room, Prepared)
    assert room.evidence.weight.max() == 2.0
    # No bin is early or late: the mean time of the readings it holds, to the step.
    time, _ = log.series(log.streams[0])
    middle = np.average(room.evidence.at, weights=room.evidence.weight)
    assert abs(middle + 0.5 - (time.mean() - room.start) / 60.0) < 1.0


def test_readings_amid_the_works_are_followed_and_not_judged_by() -> None:
    house = full_house()
    handler = house.air_handler
    thin, *later = handler.filters
    a_day_on = thin.until + 86400.0
    between = replace(later[0], id="between", since=thin.until, until=a_day_on)
    after = tuple(replace(f, since=max(f.since, a_day_on)) for f in later)
    found = prepared(house=replace(house, air_handler=replace(handler, filters=(thin, between, *after))))
    short = [e for e in found.epochs if e.house.air_handler.filters[0].id == "between"]
    assert sum(e.last - e.first for e in short) == pytest.approx(1440, abs=2)
    inside = (found.evidence.at >= short[0].first) & (found.evidence.at < short[-1].last)
    assert inside.any()
    assert (found.evidence.block[inside] == -1).all()
    assert (found.evidence.block[~inside] >= 0).all()


def test_rooms_that_nobody_uses_mix_too_and_leave_the_volume_in_doubt() -> None:
    house = full_house()
    assert mixed_volume_spread(house) >= PLAN_ERROR
    volume = mixed_volume(house)
    store = replace(house.zones[0], id="store", is_occupied=False)
    larger = replace(house, zones=(*house.zones, store))
    assert_allclose(mixed_volume(larger), volume + store.volume.value)
    assert mixed_volume_spread(larger) > mixed_volume_spread(house)
    garage = replace(store, id="cars", kind=ZoneKind.GARAGE)
    assert_allclose(mixed_volume(replace(house, zones=(*house.zones, garage))), volume)
