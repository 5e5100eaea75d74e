"""Infiltration against closed forms, a reference integrator and made rooms."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import solve_ivp

from airtally.errors import FitError
from airtally.inference.filter_effect import filter_effect
from airtally.inference.outdoor_fit import fit_infiltration, one_reading_per_refresh, response_to_outdoors

PER_HOUR = 1.0 / 3600.0


def outdoor_day() -> tuple[np.ndarray, np.ndarray]:
    """Return twelve hours of a made outdoor level [s], [ug/m3] that rises and falls."""
    time = np.arange(0.0, 12.0 * 3600.0 + 1.0, 600.0)
    return time, 120.0 + 60.0 * np.sin(time / 5000.0) + 30.0 * np.cos(time / 1700.0)


def made_room(
    rng: np.random.Generator, gain: float, loss: float, *, start: float = 10.0, sd: float = 1.5, every: float = 900.0
) -> tuple[np.ndarray, np.ndarray]:
    """Return readings of a room by a reference integrator, one every quarter of an hour."""
    out_time, out = outdoor_day()
    time = np.arange(300.0, 11.9 * 3600.0, every)
    run = solve_ivp(
        lambda t, c: gain * np.interp(t, out_time, out) - loss * c,
        (time[0], time[-1]),
        [start],
        t_eval=time,
        max_step=60.0,
        rtol=1e-8,
    )
    return time, run.y[0] + rng.normal(0.0, sd, time.size)


def test_response_is_the_closed_form_under_steady_outdoor_air() -> None:
    time = np.linspace(0.0, 36000.0, 50)
    loss = 0.4 * PER_HOUR
    found = response_to_outdoors(loss, time, np.array([-100.0, 50000.0]), np.array([80.0, 80.0]))
    # dR/dt = Co - L R from rest: R = Co (1 - exp(-L t)) / L.
    assert_allclose(found, 80.0 * (1.0 - np.exp(-loss * time)) / loss, rtol=1e-10)


def test_response_is_that_of_a_reference_integrator_under_changing_air() -> None:
    out_time, out = outdoor_day()
    time = np.arange(700.0, 40000.0, 777.0)
    loss = 0.7 * PER_HOUR
    run = solve_ivp(
        lambda t, r: np.interp(t, out_time, out) - loss * r,
        (time[0], time[-1]),
        [0.0],
        t_eval=time,
        max_step=30.0,
        rtol=1e-9,
        atol=1e-6,
    )
    assert_allclose(response_to_outdoors(loss, time, out_time, out), run.y[0], rtol=1e-5, atol=1e-3)


def test_gain_and_loss_of_made_rooms_are_found_and_held() -> None:
    rng = np.random.default_rng(1)
    held = np.zeros(2)
    rounds = 25
    for _ in range(rounds):
        loss = float(rng.uniform(0.2, 1.0)) * PER_HOUR
        gain = float(rng.uniform(0.3, 0.9)) * loss
        fit = fit_infiltration(*made_room(rng, gain, loss), *outdoor_day())
        held += [fit.gain.low <= gain <= fit.gain.high, fit.loss.low <= loss <= fit.loss.high]
        assert_allclose(fit.factor.value, gain / loss, rtol=0.15)
    # With a true coverage of 0.90, 25 rounds hold fewer than 18 once in a hundred times.
    assert held.min() >= 18


def test_one_number_is_the_air_exchange_where_nothing_is_lost_on_the_way() -> None:
    rate = 0.3 * PER_HOUR
    fit = fit_infiltration(*made_room(np.random.default_rng(2), rate, rate, sd=0.3), *outdoor_day())
    assert_allclose(fit.one_rate.value, rate, rtol=0.03)
    assert fit.is_settled


def test_one_number_is_between_gain_and_loss_where_particles_are_lost() -> None:
    fit = fit_infiltration(*made_room(np.random.default_rng(3), 0.1 * PER_HOUR, 0.3 * PER_HOUR, sd=0.3), *outdoor_day())
    assert fit.one_rate.value < fit.gain.value < fit.loss.value
    assert fit.one_rate_misfit > 5.0 * fit.two_rate_misfit
    assert "mixes penetration and loss" in fit.sentences()[0]


def test_held_rows_change_neither_the_rates_nor_the_number_of_readings() -> None:
    time, value = made_room(np.random.default_rng(4), 0.15 * PER_HOUR, 0.3 * PER_HOUR)
    value = np.round(value, 2)
    rows = np.arange(time[0], time[-1] + 840.0, 60.0)
    held = value[np.searchsorted(time, rows, side="right") - 1]
    plain, repeated = (fit_infiltration(t, v, *outdoor_day()) for t, v in ((time, value), (rows, held)))
    assert repeated.rows > 10 * repeated.readings
    assert abs(repeated.readings - plain.readings) <= 1
    assert_allclose(repeated.loss.value, plain.loss.value, rtol=0.02)
    width = [np.log(f.loss.high / f.loss.low) for f in (plain, repeated)]
    assert_allclose(width[1], width[0], rtol=0.3)


def test_looks_that_find_the_same_are_counted_and_waking_values_are_not() -> None:
    # Looks at 0, 15, 30 and 45 min; the third finds the same as the second; the last wakes through 7 to 9.
    value = np.concatenate(
        [np.full(15, 5.0), np.full(30, 6.0), [7.0, 8.0], np.full(13, 9.0), np.full(15, 4.0), np.full(15, 3.0)]
    )
    time = 60.0 * np.arange(value.size)
    looks, found = one_reading_per_refresh(time, value)
    assert found.tolist() == [5.0, 6.0, 6.0, 9.0, 4.0, 3.0]
    assert_allclose(np.diff(looks), 900.0, atol=130.0)


def test_readings_that_are_not_held_stay_as_they_are() -> None:
    value = np.round(np.random.default_rng(5).normal(20.0, 3.0, 200))
    time = 60.0 * np.arange(200.0)
    assert one_reading_per_refresh(time, value)[0].size == 200


def test_missing_data_are_said() -> None:
    out_time, out = outdoor_day()
    time, value = made_room(np.random.default_rng(6), 0.2 * PER_HOUR, 0.2 * PER_HOUR)
    with pytest.raises(FitError, match="needs 16 indoor readings"):
        fit_infiltration(time[:9], value[:9], out_time, out)
    with pytest.raises(FitError, match="more than an hour"):
        fit_infiltration(time, value, out_time[:20], out[:20])
    with pytest.raises(FitError, match="holds no reading"):
        fit_infiltration(time, value, out_time, np.full(out.size, np.nan))


def switched_room(rng: np.random.Generator, left: float) -> tuple[np.ndarray, np.ndarray]:
    """Return readings each 5 min of a room at 60 ug/m3 that a device brings to the share ``left``, from 3 h on."""
    time = np.arange(0.0, 9.0 * 3600.0, 300.0)
    since = np.maximum(time - 3.0 * 3600.0, 0.0)
    level = 60.0 * (left + (1.0 - left) * np.exp(-4.0 * PER_HOUR * since))
    return time, level * np.exp(rng.normal(0.0, 0.06, time.size))


def test_filter_effect_is_found_held_and_counts_readings() -> None:
    rng = np.random.default_rng(7)
    held = 0
    for _ in range(40):
        effect = filter_effect(*switched_room(rng, 0.1))
        held += effect.reduction.low <= 0.9 <= effect.reduction.high
        assert_allclose(effect.reduction.value, 0.9, atol=0.02)
        # The interval is that of the logarithm of what is left, so both sides are the same factor.
        value, low, high = (1.0 - x for x in (effect.reduction.value, effect.reduction.low, effect.reduction.high))
        assert_allclose(low / value, value / high, rtol=1e-9)
        assert_allclose(effect.switched_at, 3.0 * 3600.0, atol=1200.0)
    # With a true coverage of 0.90, 40 rounds hold fewer than 31 once in a hundred times.
    assert held >= 31


def test_outdoor_air_that_moves_is_divided_out_and_said() -> None:
    time, level = switched_room(np.random.default_rng(8), 0.2)
    outdoor = np.where(time < 4.0 * 3600.0, 100.0, 50.0)
    halved = np.where(time < 4.0 * 3600.0, level, 0.5 * level)
    effect = filter_effect(time, halved, time, outdoor)
    assert_allclose(effect.reduction.value, 0.8, atol=0.03)
    assert not effect.outdoors_held_still
    assert "moved, and is divided out" in effect.sentence()


def test_a_record_without_a_switch_has_no_effect() -> None:
    time = np.arange(0.0, 7200.0, 60.0)
    with pytest.raises(FitError, match="no fall"):
        filter_effect(time, 20.0 + np.sin(time))
