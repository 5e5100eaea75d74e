"""Fan levels from current, power and state; the in-duct mask; clock offsets."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from tests.readings.reading import made_log, sentence

from airtally.errors import InputError
from airtally.quantities import Quantity
from airtally.readings import FanStates, Flag, clock_offset, fan_states, mask_in_duct, offset_changes
from airtally.readings.fan import merge_intervals, overlap

START = 1.7e9


def levels(minutes: int = 10080, heating: float = 0.05, circulate: float = 0.05, seed: int = 1) -> np.ndarray:
    """Return invented fan levels by the minute: runs of 5 to 25 minutes."""
    rng = np.random.default_rng(seed)
    level = np.zeros(minutes, dtype=np.int64)
    at = 10
    while at < minutes - 40:
        run = int(rng.integers(5, 26))
        level[at : at + run] = 2 if rng.random() < heating / (heating + circulate) else 1
        at += run + int(rng.exponential(15.0 / (heating + circulate))) + 5
    return level


def level_at(states: FanStates, time: np.ndarray) -> np.ndarray:
    index = np.searchsorted(states.start, time, side="right") - 1
    return states.level[index]


@pytest.mark.parametrize(
    ("quantity", "readings", "noise"),
    [
        (Quantity.FAN_POWER, (3.0, 310.0, 480.0), 8.0),
        (Quantity.FAN_CURRENT, (0.03, 2.7, 4.1), 0.08),
        (Quantity.FAN_FLOW, (0.0, 0.302, 0.472), 0.01),
    ],
)
def test_three_levels_are_told_apart(quantity: Quantity, readings: tuple[float, ...], noise: float) -> None:
    level = levels()
    time = START + 60.0 * np.arange(level.size)
    value = np.array(readings)[level] + np.random.default_rng(2).normal(0.0, noise, level.size)
    states = fan_states(time, value, quantity)
    assert np.mean(level_at(states, time) == level) == 1.0
    assert_allclose(states.typical, readings, atol=2.0 * noise)
    assert np.all(states.start[1:] >= states.end[:-1])


def test_two_levels_are_off_and_circulate_unless_the_burner_says_heating() -> None:
    level = np.minimum(levels(), 1)
    time = START + 60.0 * np.arange(level.size)
    value = np.array([0.0, 300.0])[level] + np.random.default_rng(2).normal(0.0, 5.0, level.size)
    states = fan_states(time, value, Quantity.FAN_POWER)
    assert set(states.level.tolist()) == {0, 1}
    start, end = states.on()
    fired = fan_states(time, value, Quantity.FAN_POWER, burner_on=(start[:3] + 30.0, end[:3] - 30.0))
    assert np.count_nonzero(fired.level == 2) == 3
    assert level_at(fired, start[:3] + 60.0).tolist() == [2, 2, 2]


def test_noise_alone_is_one_level() -> None:
    time = START + 60.0 * np.arange(5000)
    noise = np.random.default_rng(3).normal(0.0, 1.0, 5000)
    assert set(fan_states(time, np.abs(noise), Quantity.FAN_POWER).level.tolist()) == {0}
    assert set(fan_states(time, 400.0 + noise, Quantity.FAN_POWER).level.tolist()) == {1}


def test_a_gap_in_the_fan_log_is_unknown() -> None:
    time = START + 60.0 * np.concatenate([np.arange(100), np.arange(300, 400)])
    states = fan_states(time, np.ones(200), Quantity.FAN_STATE)
    start, end = states.known()
    assert start.tolist() == [time[0] - 30.0, time[100] - 30.0]
    assert end.tolist() == [time[99] + 30.0, time[199] + 30.0]


def test_switch_events_hold_until_the_next() -> None:
    time = START + np.array([0.0, 700.0, 9000.0, 9100.0, 50000.0])
    states = fan_states(time, np.array([1.0, 0, 2, 0, 1]), Quantity.FAN_STATE)
    assert states.start.tolist() == time[:5].tolist()
    assert states.end[:4].tolist() == time[1:].tolist()
    assert states.level.tolist() == [1, 0, 2, 0, 1]


def test_a_fan_is_not_told_from_a_temperature() -> None:
    with pytest.raises(InputError, match="a fan is told from its state, current, power or flow; got temperature"):
        fan_states(np.zeros(1), np.zeros(1), Quantity.TEMPERATURE)


def test_no_readings_no_states() -> None:
    assert fan_states(np.empty(0), np.empty(0), Quantity.FAN_POWER).start.size == 0


def test_intervals_are_joined_and_measured() -> None:
    start, end = merge_intervals(np.array([5.0, 0.0, 2.0, 9.0]), np.array([6.0, 3.0, 5.0, 9.5]))
    assert (start.tolist(), end.tolist()) == ([0.0, 9.0], [6.0, 9.5])
    assert overlap(np.array([-1.0, 4.0, 20.0]), np.array([1.0, 9.25, 21.0]), start, end).tolist() == [1.0, 2.25, 0.0]


def test_in_duct_readings_count_only_after_the_purge_and_while_the_fan_runs() -> None:
    """Fan from minute 10 to minute 30; minute readings, each the mean over its minute; purge 5 min."""
    log = made_log(np.linspace(5, 9, 60) * 1e-9, Quantity.PM25, start=START + 30.0, filter_pressure_drop=np.ones(60))
    masked = mask_in_duct(log, ["kitchen"], (np.array([START + 600.0]), np.array([START + 1800.0])), 300.0)
    pm = masked.flag[masked.stream == 0]
    assert np.flatnonzero(pm == Flag.MASKED_PURGE).tolist() == [10, 11, 12, 13, 14]
    assert np.flatnonzero(pm == Flag.KEPT).tolist() == list(range(15, 30))
    assert np.count_nonzero(pm == Flag.MASKED_FAN_OFF) == 40
    assert np.all(masked.flag[masked.stream == 1] == Flag.KEPT), "a pressure drop is no duct air"
    assert mask_in_duct(log, ["elsewhere"], (np.empty(0), np.empty(0)), 300.0).kept.all()
    assert not np.any(mask_in_duct(log, ["kitchen"], (np.empty(0), np.empty(0)), 300.0).flag[:60] == Flag.KEPT)


def test_hours_without_a_fan_log_are_masked_and_said() -> None:
    log = made_log(np.linspace(5, 9, 60) * 1e-9, Quantity.PM25, start=START)
    states = fan_states(START + 60.0 * np.arange(30), np.ones(30), Quantity.FAN_STATE)
    masked = mask_in_duct(log, ["kitchen"], states, 0.0)
    assert masked.counts()["masked_fan_off"] == 30
    assert "30 in-duct readings" in sentence(masked, "log-fan-state-unknown")
    with pytest.raises(InputError, match="purge_seconds must not be below zero; got -1"):
        mask_in_duct(log, ["kitchen"], states, -1.0)


def fan_and_duct(days: int = 30, seed: int = 3) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return time, fan current and in-duct PM2.5 that answers the fan two to four minutes later."""
    rng = np.random.default_rng(seed)
    on = levels(1440 * days, seed=seed) > 0
    time = START + 60.0 * np.arange(on.size)
    current = 4.0 * on + rng.normal(0.0, 0.05, on.size)
    air = np.where(np.roll(on, 2), 5.0, 1.5) + np.cumsum(rng.normal(0.0, 0.01, on.size))
    return time, current, np.convolve(air, [0.5, 0.3, 0.2])[: on.size] + rng.normal(0.0, 0.2, on.size)


@pytest.mark.parametrize("shift", [-3000.0, 0.0, 600.0, 3600.0])
def test_a_clock_that_is_off_is_found_by_the_lag(shift: float) -> None:
    time, current, air = fan_and_duct(10)
    found = clock_offset(time, current, time + shift, air, 7200.0)
    assert_allclose(found.offset, shift + 150.0, atol=90.0)
    assert found.confidence > 0.5


def test_an_offset_is_found_whether_the_answer_is_a_rise_or_a_fall() -> None:
    time, current, air = fan_and_duct(10)
    assert_allclose(clock_offset(time, current, time, -air, 7200.0).offset, 150.0, atol=90.0)


def test_two_steps_that_do_not_fit_are_compared() -> None:
    time, current, air = fan_and_duct(10)
    slow = air[: air.size // 5 * 5].reshape(-1, 5).mean(axis=1)
    found = clock_offset(time, current, time[2 : slow.size * 5 : 5] + 3600.0, slow, 7200.0)
    assert_allclose(found.offset, 3750.0, atol=300.0)


@pytest.mark.parametrize("seed", range(6))
def test_series_that_have_nothing_in_common_give_no_confidence(seed: int) -> None:
    time, current, _ = fan_and_duct(10, seed=10 + seed)
    other = np.cumsum(np.random.default_rng(seed).normal(0.0, 1.0, time.size))
    assert clock_offset(time, current, time, other, 7200.0).confidence < 0.2
    assert offset_changes(time, current, time, other, 7200.0) == ()


def test_too_few_readings_tell_nothing() -> None:
    time = np.arange(5.0)
    found = clock_offset(time, time, time, time, 100.0)
    assert np.isnan(found.offset)
    assert found.confidence == 0.0
    assert offset_changes(time, time, time, time, 100.0) == ()
    flat = np.arange(1000.0) * 60.0
    assert clock_offset(flat, np.ones(1000), flat, np.ones(1000), 3600.0).confidence == 0.0


@pytest.mark.parametrize(("day", "seed"), [(24.3, 3), (7.6, 4), (15.0, 5)])
def test_a_clock_that_jumps_by_an_hour_is_found_with_its_time(day: float, seed: int) -> None:
    time, current, air = fan_and_duct(seed=seed)
    moved = time + 3600.0 * (time >= START + 86400.0 * day)
    (change,) = offset_changes(time, current, moved, air, 7200.0)
    assert_allclose(change.time, START + 86400.0 * day, atol=4.0 * 3600.0)
    assert_allclose([change.before, change.after], [150.0, 3750.0], atol=120.0)
    assert change.confidence > 0.5


@pytest.mark.parametrize("seed", range(3, 9))
def test_a_steady_clock_has_no_jump(seed: int) -> None:
    time, current, air = fan_and_duct(seed=seed)
    assert offset_changes(time, current, time, air, 7200.0) == ()


def test_a_reading_counts_only_if_the_fan_ran_throughout_its_average() -> None:
    """Fan from 10 min 20 s to 19 min 40 s; the minutes 10 and 19 are only partly duct air in motion."""
    log = made_log(np.linspace(5, 9, 30) * 1e-9, Quantity.PM25, start=START + 30.0)
    masked = mask_in_duct(log, ["kitchen"], (np.array([START + 620.0]), np.array([START + 1180.0])), 0.0)
    assert np.flatnonzero(masked.kept).tolist() == list(range(11, 19))


@pytest.mark.parametrize("seed", range(8))
def test_the_best_of_few_lags_may_be_chance(seed: int) -> None:
    time, current, _ = fan_and_duct(3, seed=20 + seed)
    other = np.cumsum(np.random.default_rng(seed).normal(0.0, 1.0, time.size))
    assert clock_offset(time, current, time, other, 1200.0).confidence == 0.0


@pytest.mark.slow
def test_sixty_jumps_are_found_and_none_is_claimed_without_one() -> None:
    """The figures of docs/readings.md."""
    found = steady = unrelated = lagged = 0
    for seed in range(60):
        time, current, air = fan_and_duct(20, seed=300 + seed)
        other = fan_and_duct(20, seed=900 + seed)[2]
        moved = time + 3600.0 * (time >= START + 86400.0 * (3 + seed % 14))
        changes = offset_changes(time, current, moved, air, 7200.0)
        found += len(changes) == 1 and abs(changes[0].after - changes[0].before - 3600.0) < 200.0
        steady += bool(offset_changes(time, current, time, air, 7200.0))
        unrelated += bool(offset_changes(time, current, time, other, 7200.0))
        lagged += clock_offset(time, current, time, other, 7200.0).confidence > 0.0
    assert found >= 57
    assert steady <= 1
    assert unrelated <= 2
    assert lagged <= 3
