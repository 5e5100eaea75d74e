"""Small evidence and physics for the tests of the compiled filter, and the filter again in plain Python.

The second method shares no formula with the kernel: densities and moments come from scipy.stats
(normal, exponentially modified normal, truncated normal).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy import stats

from airtally.arrays import Floats
from airtally.inference.likelihood import Evidence, Physics


def small_evidence(seed: int, *, steps: int = 240, sensors: int = 2) -> Evidence:
    """Return random drivers, with readings of each sensor every few steps, some at the same step, and a blind gap."""
    rng = np.random.default_rng(seed)
    rows = []
    for sensor in range(sensors):
        at = np.arange(5 + sensor, steps, 5 + 2 * sensor)
        rows += [(t, sensor) for t in at if not 100 <= t < 150]
    rows.sort()
    at, sensor = np.array(rows, dtype=np.int64).T
    value = 8.0 + 3.0 * rng.normal(size=at.size)
    value[rng.random(at.size) < 0.1] += 40.0
    return Evidence(
        step_hours=1.0 / 60.0,
        length=np.ones(steps, dtype=np.int64),
        shape=np.array([0.8, 1.3]),
        level=rng.integers(0, 2, steps),
        outdoor=8.0 + 2.0 * np.sin(np.arange(steps) / 40.0),
        regime=np.repeat(rng.integers(0, 3, -(-steps // 20)), 20)[:steps],
        hour_class=(np.arange(steps) > 150).astype(np.int64),
        at=at,
        sensor=sensor,
        value=value,
        weight=rng.integers(1, 6, at.size).astype(float),
        block=np.minimum(at // 80, 2),
    )


def some_physics(seed: int, count: int = 2, *, sensors: int = 2, regimes: int = 3) -> Physics:
    """Return random but plausible parameters."""
    rng = np.random.default_rng(seed)
    return Physics(
        loss=rng.uniform(0.4, 4.0, (count, 2, regimes)),
        gain=rng.uniform(0.1, 0.9, (count, 2, regimes)),
        steady=rng.uniform(0.5, 3.0, (count, 2)),
        slope=rng.uniform(0.6, 1.1, (count, sensors, regimes)),
        leak=rng.uniform(0.0, 0.1, (count, sensors, regimes)),
        noise_floor=rng.uniform(0.5, 1.5, (count, sensors)),
        noise_share=rng.uniform(0.02, 0.1, (count, sensors)),
        wander=rng.uniform(0.3, 0.8, count),
        pulse_rate=rng.uniform(0.05, 0.8, (count, 2, 2)),
        pulse_size=np.stack([rng.uniform(1.0, 3.0, count), rng.uniform(15.0, 40.0, count)], axis=1),
    )


def one_room(**changed: object) -> tuple[Evidence, Physics]:
    """Return one regime, one sensor read every fifth step at a level of 10, with no weather and no outdoors."""
    steps = 200
    at = np.arange(4, steps, 5)
    evidence = Evidence(
        step_hours=1.0 / 60.0,
        length=np.ones(steps, dtype=np.int64),
        shape=np.ones(1),
        level=np.zeros(steps, dtype=np.int64),
        outdoor=np.zeros(steps),
        regime=np.zeros(steps, dtype=np.int64),
        hour_class=np.zeros(steps, dtype=np.int64),
        at=at,
        sensor=np.zeros(at.size, dtype=np.int64),
        value=np.full(at.size, 10.0),
        weight=np.ones(at.size),
        block=np.zeros(at.size, dtype=np.int64),
    )
    physics = Physics(
        loss=np.array([[[1.0]]]),
        gain=np.full((1, 1, 1), 0.32),
        steady=np.full((1, 2), 10.0),
        slope=np.ones((1, 1, 1)),
        leak=np.zeros((1, 1, 1)),
        noise_floor=np.array([[0.8]]),
        noise_share=np.array([[0.0]]),
        wander=np.array([0.5]),
        pulse_rate=np.full((1, 2, 2), 0.2),
        pulse_size=np.array([[2.0, 30.0]]),
    )
    return evidence, replace(physics, **changed)  # type: ignore[arg-type]


def filtered_plainly(evidence: Evidence, physics: Physics, n: int) -> tuple[Floats, Floats, Floats]:
    """Return log density by block, filtered mean and variance of parameter set ``n``; slow, scipy's densities."""
    e, p = evidence, physics
    score = np.zeros(int(e.block.max()) + 1)
    mean, variance = max(e.value[0], 1.0), max(e.value[0], 1.0) ** 2 + 25.0
    means, variances = np.empty(e.regime.size), np.empty(e.regime.size)
    awaited = np.zeros(2)
    lively = 0.0
    for t in range(e.regime.size):
        r, pull = e.regime[t], e.level[t]
        k = p.loss[n, pull, r]
        fade = np.exp(-k * e.step_hours)
        inflow = p.gain[n, pull, r] * e.outdoor[t] + p.steady[n, e.hour_class[t]]
        mean = fade * mean + inflow * (1.0 - fade) / k
        variance = fade**2 * variance + p.wander[n] ** 2 * e.step_hours
        awaited = awaited * fade + p.pulse_rate[n, :, e.hour_class[t]] * e.step_hours
        for number, i in enumerate(np.flatnonzero(e.at == t)):
            s = e.sensor[i]
            h = p.slope[n, s, r]
            predicted = h * mean + p.leak[n, s, r] * e.outdoor[t]
            middle = max(0.5 * (max(e.value[i], 0.0) + predicted), 0.0)
            noise = p.noise_floor[n, s] ** 2 / e.weight[i] + (p.noise_share[n, s] * middle) ** 2
            total = h**2 * variance + noise
            error = e.value[i] - predicted
            chances = 1.0 - np.exp(-awaited) if number == 0 else np.zeros(2)
            if number == 0:
                chances[1] = max(chances[1], 0.3 * lively)
            quiet = max(1.0 - chances.sum(), 0.02)
            share = quiet + chances.sum()
            parts = []  # log weight, mean, variance of the level
            for weight, factor in ((0.98, 1.0), (0.02, 9.0)):
                gain = h * variance / (factor * total)
                log_density = stats.norm.logpdf(error, scale=np.sqrt(factor * total))
                parts.append(
                    (np.log(weight * quiet / share) + log_density, mean + gain * error, (1.0 - gain * h) * variance)
                )
            kept = 1.0 - h**2 * variance / total
            sd = np.sqrt(total)
            for chance, size in zip(chances, p.pulse_size[n] * h, strict=True):
                log_density = stats.exponnorm.logpdf(error, size / sd, scale=sd)
                centre = error - total / size
                pulse = stats.truncnorm(-centre / sd, np.inf, loc=centre, scale=sd)
                parts.append(
                    (
                        np.log(chance / share + 1e-12) + log_density,
                        parts[0][1] + kept * pulse.mean() / h,
                        kept * variance + (kept / h) ** 2 * pulse.var(),
                    )
                )
            logs, middles, spreads = np.array(parts).T
            score[e.block[i]] += np.logaddexp.reduce(logs)
            weights = np.exp(logs - np.logaddexp.reduce(logs))
            mean = float(weights @ middles)
            variance = float(weights @ (spreads + (middles - mean) ** 2))
            if number == 0:
                lively = weights[3]
                awaited = np.zeros(2)
        means[t], variances[t] = mean, variance
    return score, means, variances
