"""Decays against closed forms, made records of known rate, and reference statistics."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from airtally.errors import FitError, InputError
from airtally.estimates import Basis, Estimate
from airtally.inference.decay_windows import straight_pieces
from airtally.inference.decays import (
    DecayWindow,
    Phase,
    SensorScale,
    WindowRule,
    clean_air_rate,
    compare_sensors,
    decay_rate,
    find_decay_windows,
    find_rises,
    fit_decay,
    largest_fall,
    mixture_interval,
    sensor_scale,
)

PER_HOUR = 1.0 / 3600.0


def correlated(rng: np.random.Generator, count: int, sd: float, memory: float = 0.9) -> np.ndarray:
    """Return noise in which neighbours share their error, as moving averages of sensors do."""
    steps = rng.normal(0.0, sd * (1.0 - memory**2) ** 0.5, count)
    noise = np.empty(count)
    noise[0] = rng.normal(0.0, sd)
    for index in range(1, count):
        noise[index] = memory * noise[index - 1] + steps[index]
    return noise


def chamber_record(
    rng: np.random.Generator, natural: float, device: float, *, peak: float = 900.0, sd: float = 0.02, step: float = 1.0
) -> tuple[np.ndarray, np.ndarray]:
    """Return a made record [s], [ug/m3]: quiet, rise to 300 s, natural decay to 1500 s, device decay after."""
    time = np.arange(0.0, 2400.0, 1.0)
    level = np.where(time < 60.0, 0.2, peak * np.clip((time - 60.0) / 240.0, 1e-3, 1.0))
    falling = time >= 300.0
    level[falling] = peak * np.exp(-natural * (np.minimum(time[falling], 1500.0) - 300.0))
    level[time > 1500.0] *= np.exp(-device * (time[time > 1500.0] - 1500.0))
    return time, np.round(level * np.exp(correlated(rng, time.size, sd)) / step) * step


def estimate(value: float, low: float, high: float, unit: str = "1/s") -> Estimate:
    return Estimate(value=value, low=low, high=high, unit=unit, basis=Basis.FITTED, source="made")


def test_rise_natural_and_device_decay_are_found_without_times() -> None:
    time, value = chamber_record(np.random.default_rng(1), 3.0 * PER_HOUR, 60.0 * PER_HOUR)
    windows = find_decay_windows(time, value)
    natural, device = largest_fall(windows, Phase.NATURAL), largest_fall(windows, Phase.DEVICE)
    assert natural is not None
    assert device is not None
    assert any(w.phase is Phase.RISE and w.stop <= natural.start for w in windows)
    assert_allclose([natural.start, natural.stop, device.start], [300.0, 1500.0, 1500.0], atol=15.0)
    for window, truth in ((natural, 3.0), (device, 60.0)):
        rate = decay_rate(time, value, window)
        assert_allclose(rate.value / PER_HOUR, truth, rtol=0.05)
        assert rate.low / PER_HOUR <= truth <= rate.high / PER_HOUR


def test_a_fall_at_one_rate_is_not_claimed_for_a_device() -> None:
    time, value = chamber_record(np.random.default_rng(2), 4.0 * PER_HOUR, 4.0 * PER_HOUR)
    phases = {w.phase for w in find_decay_windows(time, value)}
    assert Phase.DECAY in phases
    assert phases.isdisjoint({Phase.NATURAL, Phase.DEVICE})


def test_two_falls_in_one_record_keep_their_own_rates() -> None:
    rng = np.random.default_rng(3)
    time, first = chamber_record(rng, 3.0 * PER_HOUR, 90.0 * PER_HOUR)
    _, second = chamber_record(rng, 3.0 * PER_HOUR, 30.0 * PER_HOUR)
    both_time = np.concatenate([time, time + 2400.0])
    both = np.concatenate([first, second])
    devices = [w for w in find_decay_windows(both_time, both) if w.phase is Phase.DEVICE]
    rates = [decay_rate(both_time, both, w).value / PER_HOUR for w in devices]
    assert_allclose(rates, [90.0, 30.0], rtol=0.06)


def test_intervals_hold_the_true_rate_nine_times_in_ten() -> None:
    rng = np.random.default_rng(4)
    held = 0
    rounds = 60
    for _ in range(rounds):
        truth = float(rng.uniform(20.0, 120.0)) * PER_HOUR
        time, value = chamber_record(rng, 3.0 * PER_HOUR, truth, sd=0.06)
        window = largest_fall(find_decay_windows(time, value), Phase.DEVICE)
        assert window is not None
        rate = decay_rate(time, value, window)
        held += rate.low <= truth <= rate.high
    # Binomial: with a true coverage of 0.90, 60 rounds hold fewer than 48 once in a hundred times.
    assert held >= 48


def test_readings_at_the_ceiling_are_left_out() -> None:
    time, value = chamber_record(np.random.default_rng(5), 4.0 * PER_HOUR, 60.0 * PER_HOUR, peak=2600.0, step=0.1)
    clipped = np.minimum(value, 999.9)
    assert sensor_scale(clipped).ceiling == pytest.approx(999.9)
    windows = find_decay_windows(time, clipped)
    assert any(w.phase is Phase.CEILING for w in windows)
    device = largest_fall(windows, Phase.DEVICE, Phase.DECAY)
    assert device is not None
    assert_allclose(decay_rate(time, clipped, device).value / PER_HOUR, 60.0, rtol=0.05)


def test_a_window_that_reaches_into_the_ceiling_is_fitted_below_it() -> None:
    # The plateau of 500 s at the ceiling is no decay: with it the rate would come out far too low.
    time = np.arange(0.0, 1000.0)
    level = 4000.0 * np.exp(-10.0 * PER_HOUR * time)
    clipped = np.minimum(np.round(level), 1000.0)
    whole = DecayWindow(phase=Phase.DECAY, start=0.0, stop=1000.0, level_start=1000.0, level_stop=250.0, rate=0.001)
    rule = WindowRule(openings=(1.0,))
    fit = fit_decay(time, clipped, whole, rule=rule)
    assert fit.readings < 505
    assert_allclose(fit.rate.value / PER_HOUR, 10.0, rtol=0.01)


def test_interval_holds_the_rate_where_the_sensor_compresses_and_the_bend_tells() -> None:
    # A reading C / (1 + C / 3000): the coincidence law of a particle counter, in its simplest form.
    time = np.arange(0.0, 3600.0)
    truth = 3.0 * PER_HOUR
    level = 2000.0 * np.exp(-truth * time)
    seen = np.round(level / (1.0 + level / 3000.0) * np.exp(correlated(np.random.default_rng(6), time.size, 0.02)))
    fit = fit_decay(time, seen, find_decay_windows(time, seen)[0])
    assert fit.bend > 1.15
    assert fit.rate.value < truth <= fit.rate.high
    assert fit.choice_sd > 0.0


def test_a_room_event_decays_to_its_own_background() -> None:
    # Kitchen smoke in a room that stands at 8 ug/m3: without the background the rate would come out a quarter low.
    rng = np.random.default_rng(7)
    time = np.arange(0.0, 8.0 * 3600.0, 60.0)
    truth = 1.1 * PER_HOUR
    level = 8.0 + np.where(time < 3600.0, 0.0, 90.0 * np.exp(-truth * (time - 3600.0)))
    value = np.round(level + rng.normal(0.0, 0.5, time.size), 1)
    window = largest_fall(find_decay_windows(time, value), Phase.DECAY, Phase.DEVICE)
    assert window is not None
    assert_allclose(window.backgrounds[0], 8.0, atol=1.0)
    rate = decay_rate(time, value, window)
    assert_allclose(rate.value, truth, rtol=0.1)
    assert rate.low <= truth <= rate.high


def test_rates_do_not_depend_on_the_unit_of_the_readings() -> None:
    time, value = chamber_record(np.random.default_rng(8), 3.0 * PER_HOUR, 60.0 * PER_HOUR)
    plain, si = (find_decay_windows(time, v) for v in (value, value * 1e-9))
    assert [w.phase for w in plain] == [w.phase for w in si]
    rates = [decay_rate(time, v, w[-1] if w[-1].is_decay else w[-2]) for v, w in ((value, plain), (value * 1e-9, si))]
    # A reading that meets a level exactly may fall on either side of it: one sample more or less.
    for name in ("value", "low", "high"):
        assert_allclose(getattr(rates[1], name), getattr(rates[0], name), rtol=1e-2)


def test_the_widest_window_is_the_least_squares_line_of_a_reference_library() -> None:
    time = np.arange(0.0, 600.0)
    value = 500.0 * np.exp(-20.0 * PER_HOUR * time) * np.exp(np.random.default_rng(9).normal(0.0, 0.03, time.size))
    window = DecayWindow(
        phase=Phase.DECAY, start=0.0, stop=600.0, level_start=500.0, level_stop=18.0, rate=20.0 * PER_HOUR
    )
    rule = WindowRule(openings=(1.0,), closings=(1.0,))
    fit = fit_decay(time, value, window, rule=rule, scale=SensorScale(step=0.0), backgrounds=(0.0,))
    # scipy.stats.linregress over the samples that the rule keeps: from the record's peak on, to a fiftieth of it.
    reference = stats.linregress(time[-fit.readings :], np.log(value[-fit.readings :]))
    assert fit.readings > 590
    assert_allclose(fit.rate.value, -reference.slope, rtol=1e-3)
    # White noise: the jackknife over blocks must come near the textbook standard error.
    assert 0.4 < fit.noise_sd / reference.stderr < 2.5


def test_pieces_are_cut_where_two_lines_meet() -> None:
    time = np.arange(40.0)
    height = np.where(time < 25.0, 5.0, 4.0 - 0.4 * (time - 24.0))
    assert straight_pieces(time, height, np.full(40, 0.01), penalty=10.0) == [0, 25, 40]
    assert straight_pieces(time, 3.0 + 0.1 * time, np.full(40, 0.01), penalty=10.0) == [0, 40]


def test_one_normal_in_the_mixture_gives_its_own_quantiles() -> None:
    low, high = mixture_interval(np.array([2.0, 2.0]), np.array([0.5, 0.5]))
    assert_allclose([low, high], stats.norm(2.0, 0.5).ppf([0.05, 0.95]), rtol=1e-6)
    apart = mixture_interval(np.array([1.0, 3.0]), np.array([0.01, 0.01]))
    assert apart[0] < 1.02
    assert apart[1] > 2.98


def test_clean_air_is_volume_times_the_difference_of_rates() -> None:
    # V (ke - kn), the decay method of the clean-air test (formula: common practice; 1008 ft3 = 28.54 m3 chamber of AC-1).
    natural = estimate(0.15 * PER_HOUR, 0.12 * PER_HOUR, 0.18 * PER_HOUR)
    device = estimate(8.15 * PER_HOUR, 7.75 * PER_HOUR, 8.55 * PER_HOUR)
    found = clean_air_rate(natural, device, estimate(28.54, 28.54, 28.54, "m3"))
    assert_allclose(found.value * 3600.0, 228.32, rtol=1e-9)
    # Quadrature by hand: 28.54 * sqrt(0.40^2 + 0.03^2) = 11.45 m3/h.
    assert_allclose((found.high - found.value) * 3600.0, 11.448, rtol=1e-3)
    assert_allclose((found.value - found.low) * 3600.0, 11.448, rtol=1e-3)


def test_disagreement_of_two_sensors_is_said_and_both_are_held() -> None:
    first, second = estimate(100.0, 95.0, 105.0), estimate(112.0, 108.0, 116.0)
    found = compare_sensors("sensor 3", first, "sensor 2", second)
    assert not found.intervals_meet
    assert_allclose(found.ratio, 1.12)
    assert "12 % more" in found.sentence()
    assert (found.pooled.low, found.pooled.high) == (95.0, 116.0)
    with pytest.raises(InputError, match="cannot be compared"):
        compare_sensors("a", first, "b", estimate(1.0, 1.0, 1.0, "m3/s"))


def test_step_and_ceiling_are_read_off_the_record() -> None:
    scale = sensor_scale(np.array([0.0, 3.0, 5.0, 999.0, 999.0, 999.0, 999.0, 999.0, 400.0]))
    assert (scale.step, scale.ceiling) == (2.0, 999.0)
    assert sensor_scale(np.array([0.0, 3.0, 5.0, 999.0, 400.0])).ceiling == float("inf")


def test_records_without_a_decay_say_what_is_missing() -> None:
    time = np.arange(6.0)
    with pytest.raises(FitError, match="8 readings"):
        find_decay_windows(time, time)
    flat = DecayWindow(phase=Phase.DECAY, start=0.0, stop=99.0, level_start=10.0, level_stop=10.0, rate=0.0)
    with pytest.raises(FitError, match="falls by less than"):
        fit_decay(np.arange(100.0), np.full(100, 10.0) + np.arange(100) % 2, flat)


def test_rises_are_found_and_chatter_is_one_rise() -> None:
    rng = np.random.default_rng(10)
    time = np.arange(0.0, 24.0 * 3600.0, 60.0)
    level = np.full(time.size, 8.0)
    for start, height in ((8.0, 60.0), (8.1, 30.0), (18.0, 40.0)):
        since = time - start * 3600.0
        level += np.where(
            since > 0.0,
            height * (1.0 - np.exp(-np.clip(since, 0, 600) / 200.0)) * np.exp(-np.clip(since - 600, 0, None) / 2400.0),
            0.0,
        )
    rises = find_rises(time, level + rng.normal(0.0, 0.5, time.size), least_rise=5.0)
    assert_allclose([rise.start / 3600.0 for rise in rises], [8.0, 18.0], atol=0.1)
    assert find_rises(time, 8.0 + rng.normal(0.0, 0.5, time.size), least_rise=5.0) == ()
    # Two puffs ten minutes apart are one event by the rule's quarter of an hour, two where the pause may be five minutes.
    puffs = np.full(time.size, 8.0)
    puffs[600:606] = puffs[616:622] = 60.0
    assert len(find_rises(time, puffs, least_rise=5.0)) == 1
    assert len(find_rises(time, puffs, least_rise=5.0, merge=300.0)) == 2
    with pytest.raises(InputError, match="least_rise"):
        find_rises(time, level, least_rise=0.0)
