"""Synthetic daily tables with weather that moves along with the change, and days that resemble their neighbours."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Floats
from airtally.proof.days import Days


def neighbours(rng: np.random.Generator, count: int, correlation: float, spread: float) -> Floats:
    """Return a first-order autoregression of given standard deviation."""
    series = np.empty(count)
    series[0] = spread * rng.normal()
    for i in range(1, count):
        series[i] = correlation * series[i - 1] + np.sqrt(1.0 - correlation**2) * spread * rng.normal()
    return series


def some_days(
    rng: np.random.Generator, before: int, after: int, effect: float, *, correlation: float = 0.4, noise: float = 2.0
) -> Days:
    """Return days whose room mean [ug/m3 in, kg/m3 out] follows outdoors, cold and emissions, plus an effect after."""
    count = before + after
    is_after = np.arange(count) >= before
    outdoor = 8.0 * np.exp(neighbours(rng, count, 0.6, 0.5))
    cold = 10.0 + 6.0 * np.linspace(-1.0, 1.0, count) + neighbours(rng, count, 0.7, 3.0)
    given = np.exp(rng.normal(np.log(40.0), 0.5, count))
    room = 8.0 + 0.35 * outdoor + 0.12 * given - 0.15 * cold + neighbours(rng, count, correlation, noise)
    return Days(
        day=np.arange(count) + float(rng.integers(20000, 20007)),
        room=(room + effect * is_after) * 1e-9,
        outdoor=outdoor * 1e-9,
        cold=cold,
        fan=np.full(count, 0.3),
        given=given * 1e-6,
        phase=is_after.astype(float),
    )
