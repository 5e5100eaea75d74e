"""Each quirk leaves its mark in what the monitors show, and without it the mark is not there."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.demo.conftest import simulated

from airtally.demo import ALL_QUIRKS, Quirk, kernel
from airtally.demo.aerosols import SOURCES
from airtally.demo.balance import passing
from airtally.demo.dates import make_dates
from airtally.demo.layouts import duct_clock
from airtally.demo.plan import CFM, Plan
from airtally.demo.simulate import World, make_world
from airtally.demo.streams import present
from airtally.demo.survey_text import survey_text

NONE: frozenset[Quirk] = frozenset()
SEEDS = (1, 4)
both = pytest.mark.parametrize(("seed", "planted"), [(s, p) for s in SEEDS for p in (True, False)])


def quirks(planted: bool) -> frozenset[Quirk]:
    return ALL_QUIRKS if planted else NONE


def between(world: World, first: float, last: float) -> np.ndarray:
    return (world.time >= first) & (world.time < last)


def long_runs(fan: np.ndarray, minutes: int = 4) -> np.ndarray:
    on = fan > 0
    held = on.copy()
    for shift in range(1, minutes):
        held &= np.roll(on, shift)
    return held


@both
def test_smoke_week_is_outdoors_and_comes_in_by_about_half(seed: int, planted: bool) -> None:
    world, actual, _ = simulated(seed, quirks(planted))
    day = world.dates.day_index(world.time)
    daily = np.array([world.weather.pm25[day == d].mean() for d in range(70)])
    if planted:
        week = daily[7 * world.dates.smoke_week :][:7]
        assert 30.0 < week.min() < 80.0
        assert 120.0 < week.max() < 260.0
        inside = actual.occupied(world.plan)[day // 7 == world.dates.smoke_week].mean()
        assert 0.4 < inside / week.mean() < 0.85
    else:
        assert daily.max() < 30.0


@both
def test_colocation_shows_the_third_monitor_high(seed: int, planted: bool) -> None:
    world, _, shown = simulated(seed, quirks(planted))
    table = world.time < world.dates.at(-1, 18.0)
    ratio = shown["M3"]["pm25"][table].mean() / np.mean([shown[m]["pm25"][table].mean() for m in ("M1", "M2", "M4")])
    assert (1.15 < ratio < 1.36) if planted else (0.88 < ratio < 1.12)
    assert ('gain = "1.25 x' in survey_text(world)) is planted


@both
def test_monitor_moved_shifts_the_level_and_is_declared_as_two_placements(seed: int, planted: bool) -> None:
    world, actual, shown = simulated(seed, quirks(planted))
    on = long_runs(actual.out[:, kernel.FAN])

    def ratio(first: float, last: float) -> float:
        chosen = on & between(world, first, last)
        return float(shown["M4"]["pm25"][chosen].mean() / shown["M1"]["pm25"][chosen].mean())

    before = ratio(world.dates.at(0), world.dates.at(29))
    after = ratio(world.dates.works[1], world.dates.at(57))
    assert 0.18 < after < 0.45
    if planted:
        assert 0.85 < before < 1.25
    else:
        assert 0.6 < before < 0.98  # behind a poor filter from the start
    assert ("return before filter" in survey_text(world)) is planted


@both
def test_the_first_rule_misses_what_the_second_would_have_run_for(seed: int, planted: bool) -> None:
    world, actual, _ = simulated(seed, quirks(planted))
    week = between(world, world.dates.at(35), world.dates.at(39, 12.0))
    by_rule = (actual.out[week, kernel.BY_RULE] > 0.5).mean()
    dirty = (actual.occupied(world.plan)[week] > 15.0).mean()
    circulating = (actual.out[week, kernel.FAN] == 1).mean()
    assert dirty > 0.05
    if planted:
        assert by_rule < 0.45 * dirty
        assert circulating < 0.09  # three minutes an hour is 5 %, and a little more
    else:
        assert by_rule > 0.5 * dirty
        assert circulating > 0.2
    text = survey_text(world)
    assert ('on_above = "15 ug/m3"' in text) is planted
    assert ('sampling_per_hour = "3 min"' in text) is planted


@both
def test_logger_gap_takes_43_hours_of_three_loggers_only(seed: int, planted: bool) -> None:
    world, actual, _ = simulated(seed, quirks(planted))
    for monitor in ("M1", "M2", "M3", "M4", "M5", "M6", "M7"):
        there = world.time[present(world, monitor)]
        longest = np.diff(there).max() / 3600.0
        if planted and monitor in ("M4", "M6", "M7"):
            assert_allclose(longest, 43.25, atol=0.05)
        else:
            assert longest < 0.5
    if planted:
        assert not (actual.out[between(world, *world.dates.gap), kernel.FAN] == 1).any()


@both
def test_spill_shows_in_carbon_monoxide_and_at_the_draft_hood(seed: int, planted: bool) -> None:
    world, actual, shown = simulated(seed, quirks(planted))
    carbon_monoxide, spill = shown["M6"]["co"], shown["M6"]["spill_temperature"]
    if planted:
        event = between(world, world.dates.spill + 300.0, world.dates.spill + 1500.0)
        assert carbon_monoxide[event].min() >= 9.0
        assert 11.0 <= carbon_monoxide[event].max() <= 20.0
        assert spill[event].max() > 88.0
        assert not (actual.out[event, kernel.FAN] == 1).any()
        assert world.drivers[event][:, [kernel.HOOD, kernel.DRYER, kernel.FIRE]].min() > 0.0
    else:
        assert carbon_monoxide.max() < 9.0
        assert spill.max() < 65.0


@both
def test_garage_air_steps_into_the_rooms_at_fan_starts_after_the_car_left(seed: int, planted: bool) -> None:
    world, actual, shown = simulated(seed, quirks(planted))
    fan, hour, day = actual.out[:, kernel.FAN], world.dates.hour_of_day(world.time), world.dates.day_index(world.time)
    starts = np.flatnonzero((fan[1:] > 0) & (fan[:-1] == 0)) + 1
    starts = starts[(starts > 4000) & (world.time[starts] < world.dates.at(29))]
    morning = (day[starts] % 7 < 5) & (hour[starts] > 7.63) & (hour[starts] < 8.4)

    def step(monitor: str, chosen: np.ndarray) -> float:
        voc = shown[monitor]["voc"]
        return float(np.median([voc[i + 3 : i + 9].mean() - voc[i - 6 : i].mean() for i in starts[chosen]]))

    assert morning.sum() >= 8
    if planted:
        assert step("M2", morning) > step("M2", ~morning) + 3.0
        assert step("M4", morning) > step("M4", ~morning) + 8.0
    else:
        assert abs(step("M2", morning) - step("M2", ~morning)) < 3.0
        assert abs(step("M4", morning) - step("M4", ~morning)) < 8.0
    assert ('zone = "garage"\nfraction' in survey_text(world)) is planted


@both
def test_the_workshop_keeps_its_dust_only_after_its_grille_is_gone(seed: int, planted: bool) -> None:
    world, actual, _ = simulated(seed, quirks(planted))
    turning = np.zeros(world.time.size, dtype=np.bool_)
    for event in world.household.events:
        if event.kind == "turning":
            turning[world.household.span(event.start, event.minutes + 30.0)] = True
    dust = SOURCES.index("workshop")

    def spread(first: float, last: float) -> float:
        chosen = turning & between(world, first, last)
        return float(actual.tagged[chosen, 3, dust].mean() / actual.tagged[chosen, 0, dust].mean())

    change = spread(world.dates.works[1], world.dates.end) / spread(world.dates.at(0), world.dates.works[0])
    assert change > 1.7 if planted else 0.7 < change < 1.2
    assert bool(world.plan.epochs[0].returns[3] > 0.1) is planted
    assert world.plan.epochs[-1].returns[3] == 0.0


@both
def test_the_wrong_filter_lowers_the_drop_and_lets_more_through(seed: int, planted: bool) -> None:
    world, actual, shown = simulated(seed, quirks(planted))
    swap, mended = world.dates.filter_gap
    heating = actual.out[:, kernel.FAN] == 2
    drop = shown["M7"]["filter_drop"]
    ahead = np.median(drop[heating & between(world, world.dates.at(45), swap)])
    during = np.median(drop[heating & between(world, swap, mended)])
    later = np.median(drop[heating & (world.time >= mended)])
    assert 0.14 < ahead < 0.18
    assert_allclose(later, ahead, atol=0.015)
    if planted:
        assert during < ahead - 0.03
    else:
        assert_allclose(during, ahead, atol=0.01)
    assert ("furnace filter" in survey_text(world)) is planted
    assert "wrong" not in survey_text(world)


@both
def test_the_in_duct_clock_repeats_an_hour_and_stays_an_hour_ahead(seed: int, planted: bool) -> None:
    world, _, _ = simulated(seed, quirks(planted))
    stamp = world.time + 60.0
    clock, wall = duct_clock(world, stamp), world.dates.wall_seconds(stamp)
    back = np.diff(clock) < 0.0
    ahead = clock - wall
    if planted:
        assert back.sum() == 1
        assert np.unique(clock).size == clock.size - 60
        assert_allclose(ahead[-1], 3600.0)
        assert_allclose(ahead[0], 0.0)
    else:
        assert back.sum() == 0
        assert np.unique(np.diff(clock)).tolist() == [60.0]
    zone = survey_text(world).split('file = "logs/in-duct.csv"')[1].split("time_zone = ")[1].split("\n")[0]
    assert zone == ('"America/Denver"' if planted else '"UTC-6"')


@both
def test_fog_reads_high_outdoors_and_runs_the_fan_for_nothing(seed: int, planted: bool) -> None:
    world, _, shown = simulated(seed, quirks(planted))
    humid = world.weather.humidity > 0.94
    requests = world.drivers[:, kernel.SMOKE_REQUEST]
    if planted:
        over = shown["M5"]["pm25"][humid].mean() / world.weather.pm25[humid].mean()
        assert 1.8 < over < 4.0
        assert 22.0 < shown["M5"]["pm25"][humid].mean() < 55.0
        assert requests[humid].mean() > 0.6
        assert world.time[humid].min() > world.dates.at(67)
    else:
        assert not humid.any()
        assert requests.sum() == 0.0


@pytest.mark.parametrize("seed", [1, 2, 3, 4, 5, 6])
def test_the_unbalanced_draw_turns_every_sunday_off_and_the_other_does_not(seed: int) -> None:
    drawn = np.array(make_dates(seed, ALL_QUIRKS, 10).rule_days)
    fair = np.array(make_dates(seed, NONE, 10).rule_days)
    weekday = np.arange(21) % 7
    assert drawn.sum() == 9
    assert drawn[weekday == 6].sum() == 0
    assert fair[weekday < 4].sum() == 6
    assert fair[weekday >= 4].sum() in (4, 5)
    for day in range(7):
        assert fair[weekday == day].sum() in (1, 2)


@both
def test_carbon_fades_or_keeps(seed: int, planted: bool) -> None:
    world, actual, _ = simulated(seed, quirks(planted))
    on = long_runs(actual.out[:, kernel.FAN])

    def passed(first: float, last: float) -> float:
        chosen = on & between(world, first, last)
        rooms = actual.gas[chosen][:, [0, 1, 2], kernel.VOC].mean()
        return float(actual.out[chosen, kernel.DUCT_VOC].mean() / rooms)

    early = passed(world.dates.works[1], world.dates.at(38))
    late = passed(world.dates.at(63), world.dates.end)
    assert early < 0.94
    assert (late > early + 0.08) if planted else (abs(late - early) < 0.05)


def test_a_short_circuited_cleaner_cleans_about_half() -> None:
    """A unit of 250 cfm that draws half of its discharge again is worth half: common practice, no source."""
    plain = make_world(1, ALL_QUIRKS, 6).plan
    short = make_world(1, ALL_QUIRKS | {Quirk.CLEANER_SHORT_CIRCUIT}, 6).plan
    assert_allclose(plain.epochs[-1].cleaner_flow, 218.0 * CFM)

    def clean_air(plan: Plan) -> float:
        epoch = plan.epochs[-1]
        return float((1.0 - passing(epoch, plan, epoch.heating_flow, 0.0)[1]).mean() * epoch.heating_flow)

    assert_allclose(clean_air(plain) / plain.epochs[-1].cleaner_flow, 0.9, atol=0.02)
    assert_allclose(clean_air(short) / short.epochs[-1].cleaner_flow, 0.5, atol=0.02)


def test_a_placebo_house_is_the_same_house_afterwards() -> None:
    world, actual, _ = simulated(1, ALL_QUIRKS | {Quirk.NO_WORK}, 10)
    text = survey_text(world)
    first, last = world.plan.epochs
    assert first.leak == last.leak
    assert first.cfm50 == last.cfm50
    assert last.cleaner_flow == 0.0
    assert not (actual.out[:, kernel.FAN] == 1).any()
    assert "[trial]" not in text
    assert "[[rule]]" not in text
    assert 'id = "install"' in text
    assert "furnace filter" not in text
