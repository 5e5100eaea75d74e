"""How likely the readings are, given loss rates and sources: one compiled filter.

The air of the occupied rooms is one well-mixed volume with level x [kg/m3]:

    dx/dt = gain(t) Co(t) + s(hour) - k(t) x,     k(t) = K[weather(t), regime(t)]

Between readings the level and its variance are carried exactly. Emissions are sparse and never
negative, so what arrives between two readings is either nothing, or a pulse with an exponential size,
small or large. The filter keeps a Gaussian for the level and, at every reading, replaces the mixture
that results by the Gaussian with the same mean and variance (assumed density filtering). A level
above the prediction is therefore mostly read as emission, a level below it as loss: rises and falls
are not treated alike, which is what keeps small unseen emissions from slowing the decays.

One kernel chain lives in this file, as the compiler's cache does not see changes in other files.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import erfc, exp, log, pi, sqrt

import numpy as np
from numba import njit, prange

from airtally.arrays import Floats, Integers

LOG_THREE = 1.0986122886681098
"""Logarithm of the factor by which the wide twin's standard deviation exceeds the normal one's."""
HOUR_CLASSES = 2
"""Steady sources are told apart by day (0) and night (1)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """Readings and drivers on one grid of steps, scaled to ug/m3 and hours for the kernel.

    Attributes
    ----------
    step_hours : float
        Length of the shortest step. [h]
    length : int64 array, shape (steps,)
        Length of each step as a multiple of that.
    shape : float64 array, shape (levels,)
        Levels of the weather's pull on air exchange, near 1. [-]
    level : int64 array, shape (steps,)
        Which of them is in force.
    outdoor : float64 array, shape (steps,)
        Outdoor PM2.5. [ug/m3]
    regime : int64 array, shape (steps,)
        Equipment regime in force.
    hour_class : int64 array, shape (steps,)
        0 by day, 1 by night.
    at : int64 array, shape (readings,)
        Step at whose end the reading was taken, not falling.
    sensor : int64 array, shape (readings,)
        Which sensor spoke.
    value : float64 array, shape (readings,)
        What it said. [ug/m3]
    weight : float64 array, shape (readings,)
        Readings averaged into this one; noise shrinks with it only in part. [-]
    block : int64 array, shape (readings,)
        Block of days the reading belongs to, for the day-block spread; -1 where it is followed but not judged by.
    """

    step_hours: float
    length: Integers
    shape: Floats
    level: Integers
    outdoor: Floats
    regime: Integers
    hour_class: Integers
    at: Integers
    sensor: Integers
    value: Floats
    weight: Floats
    block: Integers


LONGEST_STEP = 10
"""Steps are joined into ones of no more than this: outdoor air and what was expected to come in stay nearly constant."""


def joined(evidence: Evidence) -> Evidence:
    """Return the same evidence on as few steps as its drivers and readings allow; outdoor levels are averaged.

    A joined step has one weather level, regime and hour class, and ends where a reading was taken.
    """
    e = evidence
    steps = e.regime.size
    begins = np.zeros(steps, dtype=np.bool_)
    begins[0] = True
    for driver in (e.level, e.regime, e.hour_class):
        begins[1:] |= driver[1:] != driver[:-1]
    begins[np.minimum(e.at + 1, steps - 1)] = True
    first = np.flatnonzero(begins)
    since = np.arange(steps) - np.repeat(first, np.diff(np.r_[first, steps]))
    first = np.flatnonzero(since % LONGEST_STEP == 0)
    length = np.diff(np.r_[first, steps])
    return replace(
        e,
        length=length * e.length[first],
        level=e.level[first],
        outdoor=np.add.reduceat(e.outdoor, first) / length,
        regime=e.regime[first],
        hour_class=e.hour_class[first],
        at=np.searchsorted(first, e.at, side="right") - 1,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Physics:
    """The numbers the kernel needs for N sets of parameters; ug/m3 and hours.

    Attributes
    ----------
    loss : float64 array, shape (N, levels, regimes)
        Loss by all ways out. [1/h]
    gain : float64 array, shape (N, levels, regimes)
        Outdoor PM2.5 brought in by all ways, as a rate on the outdoor level. [1/h]
    steady : float64 array, shape (N, hour classes)
        Steady source over volume. [ug/m3/h]
    slope : float64 array, shape (N, sensors, regimes)
        Reading over room level. [-]
    leak : float64 array, shape (N, sensors, regimes)
        Reading over outdoor level. [-]
    noise_floor, noise_share : float64 array, shape (N, sensors)
        Standard deviation at zero [ug/m3] and in proportion to the level [-].
    wander : float64 array, shape (N,)
        Process noise. [ug/m3/sqrt(h)]
    pulse_rate : float64 array, shape (N, 2, hour classes)
        Chance of a small (0) and a large (1) pulse. [1/h]
    pulse_size : float64 array, shape (N, 2)
        Mean rise by a small and a large pulse. [ug/m3]
    """

    loss: Floats
    gain: Floats
    steady: Floats
    slope: Floats
    leak: Floats
    noise_floor: Floats
    noise_share: Floats
    wander: Floats
    pulse_rate: Floats
    pulse_size: Floats


@njit(cache=True)
def _log_normal_tail(z: float) -> float:  # pragma: no cover - compiled
    """Return the logarithm of the standard normal's upper tail beyond z."""
    if z < 25.0:
        return log(0.5 * erfc(z / sqrt(2.0)) + 1e-300)
    return -0.5 * z * z - log(z * sqrt(2.0 * pi))


@njit(cache=True)
def _pulse_component(error, variance, mean):  # pragma: no cover - compiled
    """Return log density and the pulse's posterior mean and variance for an exponential pulse of a given mean rise.

    ``error`` is reading minus prediction [ug/m3], ``variance`` that of the prediction and the noise.
    """
    spread = sqrt(variance)
    centre = error - variance / mean
    log_tail = _log_normal_tail(-centre / spread)
    log_density = -log(mean) - error / mean + 0.5 * variance / (mean * mean) + log_tail
    z = centre / spread
    if z < -25.0:  # far out the differences below lose every digit: the first terms of their series in 1 / z
        return log_density, -spread / z * (1.0 - 2.0 / (z * z)), variance / (z * z) * (1.0 - 6.0 / (z * z))
    ratio = exp(-0.5 * z * z - 0.5 * log(2.0 * pi) - log_tail)
    first = centre + spread * ratio
    second = variance * (1.0 - ratio * (ratio + z))
    return log_density, max(first, 1e-9), max(second, 1e-9 * variance)


@njit(cache=True)
def _pass(  # noqa: C901 - one pass over the steps; splitting it would hide the order of things
    n, step_hours, length, weather, outdoor, regime, hour_class, at, sensor, value, weight, block,
    loss, gain, steady, slope, leak, noise_floor, noise_share, wander, pulse_rate, pulse_size,
    score, keep, level, spread, ahead, ahead_spread, chance,
):  # fmt: skip  # pragma: no cover - compiled
    """Filter once; add log densities to ``score`` by block, and keep the path where ``keep`` is true."""
    steps = regime.size
    readings = at.size
    levels = loss.shape[1]
    regimes = loss.shape[2]
    longest = 0
    for t in range(steps):
        longest = max(longest, length[t])
    fades = np.ones((longest + 1, levels, regimes))
    parts = np.zeros((longest + 1, levels, regimes))
    awaited = np.zeros((longest + 1, levels, regimes))  # what is left of a unit a shortest step at a longer step's end
    scattered = np.zeros((longest + 1, levels, regimes))  # and of a unit of variance
    for w in range(levels):
        for r in range(regimes):
            fade = exp(-loss[n, w, r] * step_hours)
            for many in range(1, longest + 1):
                fades[many, w, r] = fades[many - 1, w, r] * fade
                parts[many, w, r] = (1.0 - fades[many, w, r]) / loss[n, w, r]
                awaited[many, w, r] = awaited[many - 1, w, r] * fade + 1.0
                scattered[many, w, r] = scattered[many - 1, w, r] * fade * fade + 1.0
    mean = 0.0
    variance = 1e6
    if readings > 0:
        mean = max(value[0], 1.0)
        variance = mean * mean + 25.0
    noise = wander[n] * wander[n] * step_hours
    lively = 0.0  # chance that the last reading showed an event under way
    next_reading = 0
    expected_small = 0.0
    expected_large = 0.0
    for t in range(steps):
        w = weather[t]
        r = regime[t]
        many = length[t]
        fade = fades[many, w, r]
        mean = fade * mean + (gain[n, w, r] * outdoor[t] + steady[n, hour_class[t]]) * parts[many, w, r]
        variance = fade * fade * variance + noise * scattered[many, w, r]
        waited = step_hours * awaited[many, w, r]
        expected_small = expected_small * fade + pulse_rate[n, 0, hour_class[t]] * waited
        expected_large = expected_large * fade + pulse_rate[n, 1, hour_class[t]] * waited
        if keep:
            ahead[t] = mean
            ahead_spread[t] = variance
            chance[t] = 0.0
        first = True
        while next_reading < readings and at[next_reading] == t:
            i = next_reading
            next_reading += 1
            s = sensor[i]
            h = slope[n, s, r]
            offset = leak[n, s, r] * outdoor[t]
            read = value[i]
            predicted = h * mean + offset
            reference = max(0.5 * (max(read, 0.0) + predicted), 0.0)
            own = noise_share[n, s] * reference
            thin = noise_floor[n, s]
            noise_variance = thin * thin / weight[i] + own * own
            total = h * h * variance + noise_variance
            error = read - predicted
            if first:
                small = 1.0 - exp(-expected_small)
                large = max(1.0 - exp(-expected_large), 0.3 * lively)
            else:  # a second sensor at the same instant sees the same pulse, not another
                small = 0.0
                large = 0.0
            quiet = max(1.0 - small - large, 0.02)
            share = quiet + small + large
            # component 0: nothing came in; the normal density has slightly heavy tails by a wide twin
            log_norm = log(2.0 * pi * total)
            wide = 9.0 * total
            log_quiet = -0.5 * (error * error / total + log_norm)
            log_wide = -0.5 * (error * error / wide + log_norm) - LOG_THREE
            top = max(log_quiet, log_wide)
            log_small = -1e300
            log_large = -1e300
            small_mean = small_variance = large_mean = large_variance = 0.0
            if first:
                log_small, small_mean, small_variance = _pulse_component(error, total, max(pulse_size[n, 0] * h, 1e-6))
                log_large, large_mean, large_variance = _pulse_component(error, total, max(pulse_size[n, 1] * h, 1e-6))
                top = max(top, max(log_small, log_large))
            w_quiet = 0.98 * quiet / share * exp(log_quiet - top)
            w_wide = 0.02 * quiet / share * exp(log_wide - top)
            w_small = 0.0
            w_large = 0.0
            if first:
                w_small = small / share * exp(log_small - top)
                w_large = large / share * exp(log_large - top)
            mass = w_quiet + w_wide + w_small + w_large + 1e-300
            if block[i] >= 0:
                score[block[i]] += top + log(mass)
            w_quiet /= mass
            w_wide /= mass
            w_small /= mass
            w_large /= mass
            gain_quiet = variance * h / total
            gain_wide = variance * h / wide
            keep_share = 1.0 - gain_quiet * h
            # pulses in reading units; / h gives room units
            mean_quiet = mean + gain_quiet * error
            mean_wide = mean + gain_wide * error
            mean_small = mean_quiet + keep_share * small_mean / h
            mean_large = mean_quiet + keep_share * large_mean / h
            variance_quiet = keep_share * variance
            variance_wide = (1.0 - gain_wide * h) * variance
            variance_small = variance_quiet + keep_share * keep_share * small_variance / (h * h)
            variance_large = variance_quiet + keep_share * keep_share * large_variance / (h * h)
            new = w_quiet * mean_quiet + w_wide * mean_wide + w_small * mean_small + w_large * mean_large
            variance = (
                w_quiet * (variance_quiet + (mean_quiet - new) ** 2)
                + w_wide * (variance_wide + (mean_wide - new) ** 2)
                + w_small * (variance_small + (mean_small - new) ** 2)
                + w_large * (variance_large + (mean_large - new) ** 2)
            )
            mean = new
            if first and keep:
                # The Gaussian that, updated by this reading alone, would give the same result: what
                # came in is then part of the way here, and the backward pass leaves it in its place.
                room = noise_variance - h * h * variance
                wanted = 1e8 if room <= 1e-9 * noise_variance else variance * noise_variance / room
                wanted = min(max(wanted, ahead_spread[t]), 1e8)
                pull = wanted * h / (h * h * wanted + noise_variance)
                ahead_spread[t] = wanted
                ahead[t] = (mean - pull * (read - offset)) / (1.0 - pull * h)
                chance[t] = w_large
            if first:
                lively = w_large
                expected_small = 0.0
                expected_large = 0.0
            first = False
        if keep:
            level[t] = mean
            spread[t] = variance


@njit(cache=True, parallel=True)
def _score_many(
    step_hours, length, weather, outdoor, regime, hour_class, at, sensor, value, weight, block, blocks,
    loss, gain, steady, slope, leak, noise_floor, noise_share, wander, pulse_rate, pulse_size,
):  # fmt: skip  # pragma: no cover - compiled
    """Return log densities by block for N parameter sets, in parallel. Shape (N, blocks)."""
    count = loss.shape[0]
    score = np.zeros((count, blocks))
    for n in prange(count):
        none = np.empty(0)
        _pass(
            n, step_hours, length, weather, outdoor, regime, hour_class, at, sensor, value, weight, block,
            loss, gain, steady, slope, leak, noise_floor, noise_share, wander,
            pulse_rate, pulse_size, score[n], False, none, none, none, none, none,
        )  # fmt: skip
    return score


@njit(cache=True, parallel=True)
def _smooth_many(
    step_hours, length, weather, outdoor, regime, hour_class, at, sensor, value, weight, block, blocks,
    loss, gain, steady, slope, leak, noise_floor, noise_share, wander, pulse_rate, pulse_size,
):  # fmt: skip  # pragma: no cover - compiled
    """Return smoothed level, its variance and the chance of a large pulse for N parameter sets. Each shape (N, steps)."""
    count = loss.shape[0]
    steps = regime.size
    smooth = np.empty((count, steps))
    smooth_spread = np.empty((count, steps))
    chances = np.empty((count, steps))
    for n in prange(count):
        score = np.zeros(blocks)
        level = np.empty(steps)
        spread = np.empty(steps)
        ahead = np.empty(steps)
        ahead_spread = np.empty(steps)
        _pass(
            n, step_hours, length, weather, outdoor, regime, hour_class, at, sensor, value, weight, block,
            loss, gain, steady, slope, leak, noise_floor, noise_share, wander,
            pulse_rate, pulse_size, score, True, level, spread, ahead, ahead_spread, chances[n],
        )  # fmt: skip
        smooth[n, steps - 1] = level[steps - 1]
        smooth_spread[n, steps - 1] = spread[steps - 1]
        for t in range(steps - 2, -1, -1):
            fade = exp(-loss[n, weather[t + 1], regime[t + 1]] * step_hours * length[t + 1])
            share = spread[t] * fade / max(ahead_spread[t + 1], 1e-12)
            smooth[n, t] = level[t] + share * (smooth[n, t + 1] - ahead[t + 1])
            smooth_spread[n, t] = spread[t] + share * share * (smooth_spread[n, t + 1] - ahead_spread[t + 1])
            if smooth[n, t] < 0.0:
                smooth[n, t] = 0.0
            if smooth_spread[n, t] < 1e-6:
                smooth_spread[n, t] = 1e-6
    return smooth, smooth_spread, chances


def _arguments(evidence: Evidence, physics: Physics) -> tuple[object, ...]:
    blocks = int(evidence.block.max()) + 1 if evidence.block.size else 1
    e, p = evidence, physics
    return (
        e.step_hours, e.length, e.level, e.outdoor, e.regime, e.hour_class, e.at, e.sensor, e.value, e.weight, e.block, blocks,
        p.loss, p.gain, p.steady, p.slope, p.leak, p.noise_floor, p.noise_share, p.wander,
        p.pulse_rate, p.pulse_size,
    )  # fmt: skip


def score_by_block(evidence: Evidence, physics: Physics) -> Floats:
    """Return the log density of the readings by block of days. Shape (N, blocks). [-]"""
    return np.asarray(_score_many(*_arguments(evidence, physics)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """Smoothed room levels for N parameter sets; each array has shape (N, steps).

    ``level`` [ug/m3] and its ``variance`` [(ug/m3)2]; ``chance`` is the probability that a large
    pulse arrived at the reading of that step [-].
    """

    level: Floats
    variance: Floats
    chance: Floats


def smooth(evidence: Evidence, physics: Physics) -> Path:
    """Return the room's level at every step given all readings, for each parameter set."""
    level, variance, chance = _smooth_many(*_arguments(evidence, physics))
    return Path(level=level, variance=variance, chance=chance)
