"""Readings on a grid, checked by hand."""

from __future__ import annotations

import numpy as np
from numpy.testing import assert_allclose

from airtally.inference.grid import binned, bridge, on_grid, weighted_mean

NAN = np.nan


def test_a_step_holds_the_mean_of_what_fell_in_it_and_nan_where_nothing_did() -> None:
    time = np.array([-1.0, 0.0, 59.9, 60.0, 200.0, 230.0, 300.0])
    value = np.array([9.0, 1.0, 3.0, 5.0, 7.0, NAN, 9.0])
    assert_allclose(on_grid(time, value, 0.0, 60.0, 5), [2.0, 5.0, NAN, 7.0, NAN])


def test_short_gaps_are_bridged_and_long_ones_stay_open() -> None:
    value = np.array([NAN, 1.0, NAN, 3.0, NAN, NAN, NAN, NAN, 8.0, NAN, NAN, NAN])
    assert_allclose(bridge(value, 2), [1.0, 1.0, 2.0, 3.0, NAN, NAN, NAN, NAN, 8.0, 8.0, 8.0, NAN])
    assert_allclose(bridge(value, 5)[3:9], [3.0, 4.0, 5.0, 6.0, 7.0, 8.0])
    assert np.isnan(bridge(np.full(4, NAN), 3)).all()


def test_room_means_are_weighted_by_volume() -> None:
    rows = np.array([[10.0, NAN, NAN], [20.0, 30.0, NAN]])
    assert_allclose(weighted_mean(rows, np.array([300.0, 100.0])), [12.5, 30.0, NAN])


def test_a_silent_monitor_is_stood_in_for_by_its_usual_ratio() -> None:
    rng = np.random.default_rng(1)
    mean = rng.uniform(5.0, 20.0, 400)
    rows = np.vstack([mean * 1.2, mean * 0.8])
    truth = weighted_mean(rows, np.array([1.0, 1.0]))
    silent = rows.copy()
    silent[0, 200:] = NAN
    assert_allclose(weighted_mean(silent, np.array([1.0, 1.0])), truth, rtol=1e-9)


def test_bins_never_cross_a_change_of_regime_and_keep_their_counts() -> None:
    value = np.array([1.0, 2.0, 3.0, 4.0, NAN, 6.0, 7.0, NAN, NAN, 10.0, 20.0])
    regime = np.array([0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 1])
    at, mean, count = binned(value, regime, 5)
    assert_allclose(mean, [1.5, 3.5, 23.0 / 3.0, 20.0])
    assert_allclose(count, [2, 2, 3, 1])
    assert at.tolist() == [0, 2, 6, 10]


def test_a_bin_stands_at_the_mean_time_of_its_readings() -> None:
    value = np.full(20, NAN)
    value[[14, 19]] = 1.0
    value[[0, 1, 9]] = 1.0
    at, _, _ = binned(value, np.zeros(20, dtype=np.int64), 10)
    assert at.tolist() == [3, 16]


def test_no_readings_give_no_bins() -> None:
    at, mean, count = binned(np.full(6, NAN), np.zeros(6, dtype=np.int64), 5)
    assert at.size == mean.size == count.size == 0
