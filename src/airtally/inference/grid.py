"""Readings on a grid of equal steps: means per step, bridged gaps, room means, short averages."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Floats, Integers


def on_grid(time: Floats, value: Floats, start: float, step: float, steps: int) -> Floats:
    """Return the mean of the readings that fall in each step, NaN where none does. Shape (steps,)."""
    index = np.floor((time - start) / step).astype(np.int64)
    inside = (index >= 0) & (index < steps) & np.isfinite(value)
    total = np.bincount(index[inside], weights=value[inside], minlength=steps)
    count = np.bincount(index[inside], minlength=steps)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.where(count > 0, total / count, np.nan), dtype=np.float64)


def bridge(value: Floats, longest: int) -> Floats:
    """Return values with gaps of at most ``longest`` steps bridged by straight lines; longer ones stay NaN."""
    known = np.flatnonzero(np.isfinite(value))
    if known.size == 0:
        return value
    index = np.arange(value.size)
    filled = np.interp(index, known, value[known])
    after = np.searchsorted(known, index, side="left")
    previous = known[np.clip(after - 1, 0, known.size - 1)]
    following = known[np.clip(after, 0, known.size - 1)]
    distance = np.maximum(following - previous, np.maximum(index - known[-1], known[0] - index))
    return np.asarray(np.where(distance <= longest, filled, np.where(np.isfinite(value), value, np.nan)))


def weighted_mean(rows: Floats, weights: Floats) -> Floats:
    """Return the volume-weighted mean over room monitors; one that is silent is stood in for by its usual ratio to the rest."""
    if rows.shape[0] == 1:
        return np.asarray(rows[0])
    here = np.isfinite(rows)
    everyone = here.all(axis=0)
    filled = rows.copy()
    if everyone.sum() > 100:
        mean = np.average(rows[:, everyone], axis=0, weights=weights)
        for index in range(rows.shape[0]):
            ratio = float(np.sum(rows[index, everyone]) / max(np.sum(mean), 1e-30))
            filled[index] = rows[index] / max(ratio, 0.1)
        share = weights[:, None] * here
        with np.errstate(invalid="ignore", divide="ignore"):
            stand_in = np.nansum(np.where(here, filled, 0.0) * share, axis=0) / share.sum(axis=0)
        result = np.where(here.any(axis=0), stand_in, np.nan)
        result[everyone] = mean
        return np.asarray(result)
    share = weights[:, None] * here
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.where(here.any(axis=0), np.where(here, rows, 0.0).T @ weights / share.sum(axis=0), np.nan))


def binned(value: Floats, regime: Integers, length: int) -> tuple[Integers, Floats, Floats]:
    """Return step, mean and count of the readings within each stretch of ``length`` steps of one regime."""
    steps = np.flatnonzero(np.isfinite(value))
    if steps.size == 0:
        return steps.astype(np.int64), np.empty(0), np.empty(0)
    key = (steps // length) * (int(regime.max()) + 1) + regime[steps]
    first = np.flatnonzero(np.r_[True, np.diff(key) != 0])
    count = np.diff(np.r_[first, steps.size])
    mean = np.add.reduceat(value[steps], first) / count
    # Placed at the mean of their times: a bin put early reads a decay as slower with the fan on, faster with it off.
    middle = np.add.reduceat(steps, first) // count
    return middle.astype(np.int64), np.asarray(mean), count.astype(np.float64)
