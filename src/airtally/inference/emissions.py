"""What must have been emitted for the room to follow its smoothed path."""

from __future__ import annotations

from math import exp

import numpy as np
from numba import njit, prange

from airtally.arrays import Floats
from airtally.inference.likelihood import Evidence, Path, Physics

LONGEST_SPREAD_HOURS = 2.0
"""A rise seen after a blind gap is laid over the gap, but over no more than this."""
QUIET_WINDOW_HOURS = 1.0
"""Between events what comes in is averaged over this: single minutes are noise of both signs."""


@njit(cache=True, parallel=True)
def _invert(  # noqa: C901 - one pass over the steps; splitting it would hide the order of things
    step_hours, weather, outdoor, regime, at, loss, gain, level, longest, quiet, chance,
):  # fmt: skip  # pragma: no cover - compiled
    """Return the emission rate over volume that the path implies, steady sources included. Shape (N, steps). [ug/m3/h]"""
    count, steps = level.shape
    rate = np.zeros((count, steps))
    for n in prange(count):
        fades = np.empty(loss.shape[1:])
        parts = np.empty(loss.shape[1:])
        for w in range(loss.shape[1]):
            for r in range(loss.shape[2]):
                fades[w, r] = exp(-loss[n, w, r] * step_hours)
                parts[w, r] = (1.0 - fades[w, r]) / loss[n, w, r]
        busy = np.zeros(steps, dtype=np.bool_)
        next_reading = 0
        last_seen = -1
        for t in range(1, steps):
            w = weather[t]
            r = regime[t]
            rise = level[n, t] - fades[w, r] * level[n, t - 1] - gain[n, w, r] * outdoor[t] * parts[w, r]
            is_read = False
            while next_reading < at.size and at[next_reading] <= t:
                if at[next_reading] == t:
                    is_read = True
                next_reading += 1
            first = t
            if is_read:
                if last_seen >= 0 and chance[n, t] > 0.2:
                    first = max(last_seen + 1, t - longest + 1)
                last_seen = t
            if first < t and rise > 0.0:
                # A constant emission over the blind steps that arrives here as this rise.
                arrived = 0.0
                for u in range(first, t + 1):
                    arrived = arrived * fades[weather[u], regime[u]] + parts[weather[u], regime[u]]
                for u in range(first, t + 1):
                    rate[n, u] += rise / arrived
                    busy[u] = True
            else:
                rate[n, t] += rise / parts[w, r]
                if is_read and chance[n, t] > 0.2:
                    busy[t] = True
        # Averages of what came in between events, window by window, mass kept.
        begin = 0
        while begin < steps:
            end = min(begin + quiet, steps)
            total = 0.0
            number = 0
            for u in range(begin, end):
                if not busy[u]:
                    total += rate[n, u]
                    number += 1
            for u in range(begin, end):
                if not busy[u]:
                    rate[n, u] = total / number
            begin = end
    return rate


def implied_emission(evidence: Evidence, physics: Physics, path: Path) -> Floats:
    """Return the emission rate over volume that each path implies. Shape (N, steps). [ug/m3/h]

    A rise found after a blind gap (an in-duct monitor with the fan off) is laid over the gap as a
    constant emission, as nothing tells when in the gap it happened. Steady sources are included.
    """
    e, p = evidence, physics
    return np.asarray(
        _invert(
            e.step_hours, e.level, e.outdoor, e.regime, e.at, p.loss, p.gain,
            path.level, max(int(LONGEST_SPREAD_HOURS / e.step_hours), 1), max(int(QUIET_WINDOW_HOURS / e.step_hours), 1),
            path.chance,
        )
    )  # fmt: skip


@njit(cache=True, parallel=True)
def _march(
    step_hours, weather, outdoor, regime, loss, gain, rate, start
):  # fmt: skip  # pragma: no cover - compiled
    count, steps = rate.shape
    level = np.empty((count, steps))
    for n in prange(count):
        now = start[n]
        for t in range(steps):
            k = loss[n, weather[t], regime[t]]
            fade = exp(-k * step_hours)
            drive = gain[n, weather[t], regime[t]] * outdoor[t] + rate[n, t]
            now = fade * now + drive * (1.0 - fade) / k
            level[n, t] = now
    return level


def march(evidence: Evidence, physics: Physics, rate: Floats, start: Floats) -> Floats:
    """Return the room's level for given emission rates [ug/m3/h] from given start levels [ug/m3]. Shape (N, steps)."""
    e, p = evidence, physics
    return np.asarray(_march(e.step_hours, e.level, e.outdoor, e.regime, p.loss, p.gain, rate, start))
