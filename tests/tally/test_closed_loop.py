"""A fan rule in the loop: what it may do, what it may never do, and that the loop is the open loop."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from tally_houses import full_house

from airtally.errors import InputError
from airtally.house.parts import AirSide
from airtally.tally.closed_loop import run_with_rule
from airtally.tally.coefficients import coefficients
from airtally.tally.engine import Store, run
from airtally.tally.house_air import HouseAir
from airtally.tally.rules import Course, RuleRun, RuleValues, Sensor
from airtally.tally.sensing import view_of
from airtally.tally.stepping import Inputs, inputs_of

UG = 1e-9
MINUTE = 60.0
DAY = 1440
WEIGHT = np.array([1.0, 1.0, 0.3, 0.0])


def rules_of(count: int = 1, **changed: object) -> RuleValues:
    """Return rules: on above 15, off below 10, 10 minutes at least, 90 at most, 6 minutes at the full hour."""
    columns: dict[str, object] = {
        "on_above": np.full(count, 15.0 * UG),
        "off_below": np.full(count, 10.0 * UG),
        "minimum_run": np.full(count, 600.0),
        "maximum_run": np.full(count, 5400.0),
        "sampling_seconds": np.full(count, 360.0),
        "sampling_offsets": np.tile([0.0, np.nan], (count, 1)),
        "early_first": np.full(count, 5.0 * 3600.0),
        "early_last": np.full(count, 6.0 * 3600.0),
        "early_colder_than": np.full(count, -np.inf),
        "cap": np.full(count, 1000.0 * UG),
    }
    return RuleValues(**(columns | changed))


def random_rules(rng: np.random.Generator, count: int) -> RuleValues:
    on = rng.uniform(4.0, 40.0, count) * UG
    return rules_of(
        count,
        on_above=on,
        off_below=on * rng.uniform(0.3, 1.0, count),
        minimum_run=rng.uniform(0.0, 1800.0, count),
        maximum_run=rng.uniform(600.0, 9000.0, count),
        sampling_seconds=rng.uniform(0.0, 900.0, count),
        sampling_offsets=np.column_stack([rng.uniform(0, 3599, count), np.full(count, np.nan)]),
        early_colder_than=rng.uniform(255.0, 285.0, count),
        cap=rng.uniform(30.0, 300.0, count) * UG,
    )


def day_of(house: HouseAir, seed: int, steps: int = DAY) -> tuple[Course, Inputs, np.ndarray, np.ndarray]:
    """Return a day with heating cycles, two bursts indoors, and the raw drivers and emissions."""
    rng = np.random.default_rng(seed)
    clock = np.arange(steps) * MINUTE
    drivers = np.repeat(rng.uniform(1.0, 20.0, (steps // 60, house.species_count, 3)), 60, axis=0) * UG
    emissions = np.zeros((steps, house.species_count, house.zone_count))
    for begin in rng.integers(0, steps - 40, 2):
        emissions[begin : begin + 20, :, 0] += rng.uniform(10.0, 150.0) * UG
    presence = np.ones((steps, house.zone_count))
    presence[480:1020] = 0.0
    course = Course(
        conditions=np.repeat(rng.integers(0, 4, steps // 120), 120),
        demand=np.where(rng.uniform(size=steps // 10) < 0.2, 2, 0).repeat(10),
        local_seconds=clock % 86400.0,
        outdoor_temperature=265.0 + 10.0 * np.sin(clock / 14000.0),
        presence=presence,
        lockout=np.zeros(steps, dtype=bool),
        is_event=emissions.any(axis=(1, 2)),
    )
    return course, inputs_of(drivers, emissions), drivers, emissions


def sensor_in(house: HouseAir, side: AirSide = AirSide.AFTER_FILTER, **changed: object) -> Sensor:
    values: dict[str, object] = {
        "view": view_of(house, side, driver_count=3),
        "species_weight": WEIGHT,
        "gain": np.array([1.3]),
        "response_time": 60.0,
        "purge": 180.0,
        "hold": 7200.0,
    }
    return Sensor(**(values | changed))


def traced(
    seed: int, rules: RuleValues, side: AirSide = AirSide.AFTER_FILTER, **sensing: object
) -> tuple[RuleRun, Course]:
    house = full_house(seed)
    course, inputs, _, _ = day_of(house, seed)
    law = coefficients(house)
    sensor = sensor_in(house, side, **sensing)
    return run_with_rule(law, course, inputs, None, MINUTE, rules=rules, sensor=sensor, traces=True), course


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_the_closed_loop_is_the_open_loop_replayed_with_the_states_it_chose(seed: int) -> None:
    house = full_house(seed)
    law = coefficients(house)
    course, inputs, drivers, emissions = day_of(house, seed)
    rules = random_rules(np.random.default_rng(seed), 3)
    closed = run_with_rule(law, course, inputs, None, MINUTE, rules=rules, sensor=sensor_in(house), traces=True)
    assert closed.states is not None
    for rule in range(3):
        for draw in range(2):
            replayed = run(law.take([draw]), closed.states[rule, draw], drivers, emissions, None, MINUTE)
            assert_allclose(closed.mean[rule, draw], replayed.mean[0], rtol=1e-11)
            assert_allclose(closed.end[rule, draw], replayed.end[0], rtol=1e-11)
            assert_allclose(closed.account.removed[rule, draw], replayed.account.removed[0], rtol=1e-10, atol=1e-25)
    assert closed.account.imbalance().max() < 1e-12


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_exposure_is_the_presence_weighted_mean_of_step_means(seed: int) -> None:
    house = full_house(seed)
    law = coefficients(house)
    course, inputs, drivers, emissions = day_of(house, seed)
    weights = np.random.default_rng(seed).integers(0, 3, (24, 3)).repeat(60, axis=0).astype(float)
    weights[0] = 1.0
    course = replace(course, presence=weights)
    closed = run_with_rule(law, course, inputs, None, MINUTE, rules=rules_of(), sensor=sensor_in(house), traces=True)
    assert closed.states is not None
    series = run(
        law.take([1]), closed.states[0, 1], drivers, emissions, None, MINUTE, store=Store.BLOCK_MEANS, block_steps=1
    ).series
    assert series is not None
    expected = np.einsum("tz,tcz->c", weights, series[0]) / weights.sum()
    assert_allclose(closed.exposure[0, 1], expected, rtol=1e-11)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_a_rule_never_asks_above_the_cap_and_never_holds_off_the_equipment(seed: int) -> None:
    rules = random_rules(np.random.default_rng(seed), 4)
    outcome, course = traced(seed, rules)
    assert outcome.states is not None
    assert outcome.asks is not None
    assert outcome.readings is not None
    cap = rules.cap[:, None, None]
    assert not (outcome.asks & (outcome.readings > cap)).any()
    fan = outcome.states % 3
    heating = course.demand == 2
    assert np.all(fan[..., heating] == 2)
    assert np.all(fan[..., ~heating] <= 1)
    assert np.array_equal(fan > 0, outcome.asks | heating)


def test_the_cap_is_met_somewhere_in_these_days() -> None:
    """Guards the test above: without a cap the same days ask above it."""
    reached = 0
    for seed in range(12):
        rules = random_rules(np.random.default_rng(seed), 4)
        outcome, _ = traced(seed, replace(rules, cap=np.full(4, np.inf)))
        assert outcome.asks is not None
        assert outcome.readings is not None
        reached += int((outcome.asks & (outcome.readings > rules.cap[:, None, None])).any())
    assert reached >= 6


def test_lockout_silences_the_rule_but_not_the_heating() -> None:
    house = full_house(3)
    course, inputs, _, _ = day_of(house, 3)
    lockout = np.zeros(DAY, dtype=bool)
    lockout[300:900] = True
    outcome = run_with_rule(
        coefficients(house),
        replace(course, lockout=lockout),
        inputs,
        None,
        MINUTE,
        rules=rules_of(),
        sensor=sensor_in(house),
        traces=True,
    )
    assert outcome.asks is not None
    assert not outcome.asks[..., lockout].any()
    assert outcome.asks[..., ~lockout].any()


def run_lengths(asks: np.ndarray) -> np.ndarray:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], asks, [False]]).astype(int)))
    return edges[1::2] - edges[::2]


def test_requests_last_at_least_the_minimum_and_expire_at_the_maximum() -> None:
    """A room sensor and no sampling, so that only the level asks."""
    house = full_house(5)
    course, inputs, _, _ = day_of(house, 5)
    rules = rules_of(
        3,
        on_above=np.full(3, 4.0 * UG),
        off_below=np.full(3, 3.9 * UG),
        minimum_run=np.array([0.0, 1200.0, 0.0]),
        maximum_run=np.array([np.inf, np.inf, 1800.0]),
        sampling_seconds=np.zeros(3),
        cap=np.full(3, np.inf),
    )
    sensor = sensor_in(house, AirSide.ROOM, purge=0.0)
    outcome = run_with_rule(coefficients(house), course, inputs, None, MINUTE, rules=rules, sensor=sensor, traces=True)
    assert outcome.asks is not None
    assert len(run_lengths(outcome.asks[1, 0])) > 0
    assert run_lengths(outcome.asks[1, 0])[:-1].min(initial=20) >= 20
    assert run_lengths(outcome.asks[2, 0]).max() <= 30
    assert run_lengths(outcome.asks[0, 0]).max() > 30


def test_after_the_longest_run_a_new_request_needs_a_new_sample() -> None:
    """Always above threshold: 8 minutes of sampling on the hour carry into 30 of level, then rest to the next hour."""
    house = full_house(5)
    course, inputs, _, _ = day_of(house, 5)
    course = replace(course, demand=np.zeros(DAY, dtype=int))
    rules = rules_of(
        on_above=np.zeros(1),
        off_below=np.zeros(1),
        sampling_seconds=np.array([480.0]),
        maximum_run=np.array([1800.0]),
        cap=np.array([np.inf]),
    )
    outcome = run_with_rule(
        coefficients(house), course, inputs, None, MINUTE, rules=rules, sensor=sensor_in(house), traces=True
    )
    assert outcome.asks is not None
    by_hour = outcome.asks[0, 0].reshape(24, 60)
    assert_array_equal(by_hour.any(axis=1), True)
    assert_array_equal(by_hour[:, 40:], False)
    assert_array_equal(by_hour.sum(axis=1), 33)


def test_sampling_runs_the_fan_at_its_minutes_and_fills_the_hour_with_a_reading() -> None:
    rules = rules_of(on_above=np.array([1.0]), sampling_offsets=np.array([[600.0, 2400.0]]))
    house = full_house(6)
    course, inputs, _, _ = day_of(house, 6)
    course = replace(course, demand=np.zeros(DAY, dtype=int), is_event=np.ones(DAY, dtype=bool))
    outcome = run_with_rule(
        coefficients(house), course, inputs, None, MINUTE, rules=rules, sensor=sensor_in(house), traces=True
    )
    assert outcome.asks is not None
    minute = np.arange(DAY) % 60
    assert_array_equal(outcome.asks[0, 0], ((minute >= 10) & (minute < 16)) | ((minute >= 40) & (minute < 46)))
    assert outcome.requests[0, 0] == 48
    assert_allclose(outcome.fan_seconds[0, 0], [86400.0 - 48 * 360.0, 48 * 360.0, 0.0])
    assert_allclose(outcome.rule_seconds, 48 * 360.0)
    assert_allclose(outcome.covered_share, 1.0)
    blind = run_with_rule(
        coefficients(house), course, inputs, None, MINUTE, rules=rules, sensor=sensor_in(house, purge=420.0)
    )
    assert_allclose(blind.covered_share, 0.0)
    assert blind.states is None


def test_the_early_run_asks_only_in_its_window_on_cold_mornings() -> None:
    house = full_house(7)
    course, inputs, _, _ = day_of(house, 7)
    course = replace(course, demand=np.zeros(DAY, dtype=int))
    rules = rules_of(
        3,
        on_above=np.full(3, 1.0),
        sampling_seconds=np.zeros(3),
        early_first=np.array([5.0, 5.0, 23.0]) * 3600.0,
        early_last=np.array([6.0, 6.0, 1.0]) * 3600.0,
        early_colder_than=np.array([400.0, 100.0, 400.0]),
    )
    outcome = run_with_rule(
        coefficients(house), course, inputs, None, MINUTE, rules=rules, sensor=sensor_in(house), traces=True
    )
    assert outcome.asks is not None
    hour = np.arange(DAY) // 60
    assert_array_equal(outcome.asks[0, 0], hour == 5)
    assert not outcome.asks[1].any()
    assert_array_equal(outcome.asks[2, 0], (hour == 23) | (hour == 0))


def test_the_reading_is_the_lagged_sum_of_what_the_duct_shows() -> None:
    """Second method: the sensor recomputed in NumPy from the stored series, with its first-order lag and hold."""
    house = full_house(8)
    course, inputs, drivers, emissions = day_of(house, 8)
    sensor = sensor_in(house, hold=1e9)
    outcome = run_with_rule(
        coefficients(house), course, inputs, None, MINUTE, rules=rules_of(), sensor=sensor, traces=True
    )
    assert outcome.states is not None
    assert outcome.readings is not None
    states = outcome.states[0, 1]
    law = coefficients(house).take([1])
    series = run(law, states, drivers, emissions, None, MINUTE, store=Store.STEP_ENDS).series
    assert series is not None
    signal, held, ran, expected = None, np.nan, 0.0, []
    for t, state in enumerate(states):
        expected.append(held)
        ran = ran + MINUTE if state % 3 else 0.0
        if state % 3:
            seen = (sensor.view.zones[1, state] * series[0, t]).sum(axis=-1)
            seen = seen + (sensor.view.drivers[1, state] * drivers[t]).sum(axis=-1)
            true = 1.3 * float(seen @ WEIGHT)
            signal = true if signal is None else signal + (1.0 - np.exp(-1.0)) * (true - signal)
            held = signal if ran >= 180.0 else held
    assert_allclose(outcome.readings[0, 1], expected, rtol=1e-5)


def test_an_old_reading_is_forgotten_so_that_sampling_resumes_after_a_capped_event() -> None:
    house = full_house(9)
    course, inputs, _, _ = day_of(house, 9)
    course = replace(course, demand=np.zeros(DAY, dtype=int))
    rules = rules_of(on_above=np.array([1.0]), cap=np.array([0.0]))
    outcome = run_with_rule(
        coefficients(house),
        course,
        inputs,
        None,
        MINUTE,
        rules=rules,
        sensor=sensor_in(house, hold=5400.0),
        traces=True,
    )
    assert outcome.asks is not None
    starts = np.flatnonzero(np.diff(outcome.asks[0, 0].astype(int)) == 1) + 1
    assert np.all(np.diff(starts) >= 90)
    assert len(starts) >= 8


def test_rules_and_draws_do_not_touch_each_other() -> None:
    house = full_house(10, draws=3)
    law = coefficients(house)
    course, inputs, _, _ = day_of(house, 10)
    rules = random_rules(np.random.default_rng(10), 5)
    sensor = sensor_in(house)
    together = run_with_rule(law, course, inputs, None, MINUTE, rules=rules, sensor=sensor)
    columns = {name: getattr(rules, name)[3:4] for name in RuleValues.__slots__}
    alone = run_with_rule(law, course, inputs, None, MINUTE, rules=RuleValues(**columns), sensor=sensor)
    assert_array_equal(together.end[3], alone.end[0])
    assert_allclose(together.exposure[3], alone.exposure[0], rtol=1e-13)
    assert_array_equal(together.fan_seconds[3], alone.fan_seconds[0])


def test_a_rule_that_would_never_rest_is_refused() -> None:
    with pytest.raises(InputError, match="off_below"):
        rules_of(off_below=np.array([20.0 * UG]))
    with pytest.raises(InputError, match="sampling_offsets"):
        rules_of(sampling_offsets=np.array([[3600.0]]))


def test_presence_with_a_different_row_every_step_is_refused() -> None:
    house = full_house(12)
    course, inputs, _, _ = day_of(house, 12)
    course = replace(course, presence=np.random.default_rng(1).uniform(size=(DAY, 3)))
    with pytest.raises(InputError, match="different rows"):
        run_with_rule(coefficients(house), course, inputs, None, MINUTE, rules=rules_of(), sensor=sensor_in(house))
