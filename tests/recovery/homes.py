"""Simulated one-zone homes with known truth, for the recovery runs.

Written without the engine: explicit sub-steps of ten seconds, its own events and sensors. The design
is the one the compute notes measured: 400 m3, four weeks, a bypass cleaner in weeks three and four,
an in-duct monitor that sees room air only while the fan runs, or a room monitor.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]

VOLUME = 400.0
CUBIC_FEET_A_MINUTE = 0.0283168466 * 60.0  # m3/h


@dataclass(frozen=True)
class SimulatedHome:
    """Readings of one home and the truth behind them; ug/m3, 1/h and m3/h throughout."""

    minutes: Floats
    outdoor: Floats
    fan_on: NDArray[np.bool_]
    cleaner_from: int
    """First minute with the cleaner in place."""
    observed: Floats
    """What the monitor logs each minute; NaN where there is no row."""
    in_duct: bool
    truth: dict[str, float]
    room: Floats


@njit(cache=True)
def _march(loss_off, loss_on, cleaner, gain, outdoor, steady, fan_on, cleaner_from, pulses, start):  # pragma: no cover
    count = outdoor.size
    room = np.empty(count)
    level = start
    for minute in range(count):
        rate = loss_on if fan_on[minute] else loss_off
        if fan_on[minute] and minute >= cleaner_from:
            rate += cleaner
        total = 0.0
        for _ in range(6):
            slope = gain * outdoor[minute] + steady + pulses[minute] * 60.0 - rate * level
            middle = level + slope / 720.0
            slope = gain * outdoor[minute] + steady + pulses[minute] * 60.0 - rate * middle
            level += slope / 360.0
            total += level
        room[minute] = total / 6.0
    return room


def simulate_home(
    rng: np.random.Generator,
    *,
    weeks: int = 4,
    fan_minutes_per_hour: int = 15,
    in_duct: bool = True,
    unseen_pulses: bool = False,
    cleaner_works: bool = True,
) -> SimulatedHome:
    """Draw one home and its readings; a cleaner that does not work is surveyed as if it did."""
    count = weeks * 7 * 1440
    minutes = np.arange(count, dtype=float)
    hour = (minutes / 60.0) % 24.0
    exchange = 0.35 * rng.uniform(0.6, 1.5)
    settling = 0.2 * rng.uniform(0.5, 1.8)
    penetration = rng.uniform(0.75, 1.0)
    efficiency = rng.uniform(0.15, 0.35)
    flow = 1200.0 * rng.uniform(0.85, 1.1) * CUBIC_FEET_A_MINUTE
    cleaner = 250.0 * rng.uniform(0.6, 1.0) * CUBIC_FEET_A_MINUTE / VOLUME
    cleaner *= float(cleaner_works)
    steady = rng.uniform(0.2, 1.5) * 1000.0 / VOLUME
    walk = np.repeat(np.cumsum(rng.normal(0.0, 0.18, count // 60)), 60)
    walk -= np.repeat(np.linspace(0.0, walk[-1], count // 60), 60)
    outdoor = 8.0 * np.exp(0.7 * np.sin(2 * np.pi * (hour - 20.0) / 24.0) * 0.5 + 0.35 * walk)
    pulses = np.zeros(count)
    for day in range(weeks * 7):
        for centre, chance in ((7.5, 0.8), (12.5, 0.7), (18.5, 1.0), (20.5, 0.9), (16.0, 0.35)):
            if rng.random() < chance:
                start = int(day * 1440 + 60 * (centre + rng.normal(0.0, 0.6)))
                length = int(rng.integers(5, 25))
                mass = float(np.exp(rng.normal(np.log(18.0), 0.75)))
                mass = min(max(mass, 4.0), 80.0)
                stop = min(start + length, count)
                if 0 <= start < stop:
                    pulses[start:stop] += mass * 1000.0 / VOLUME / length
    if unseen_pulses:
        for start in np.flatnonzero(rng.random(count) < 1.0 / 60.0):
            stop = min(int(start) + 5, count)
            pulses[start:stop] += float(np.exp(rng.normal(np.log(0.8), 0.6))) * 1000.0 / VOLUME / 5.0
    fan_on = (np.arange(count) % 60) < fan_minutes_per_hour
    cleaner_from = count // 2
    loss_off = exchange + settling
    loss_on = loss_off + efficiency * flow / VOLUME
    room = _march(
        loss_off, loss_on, cleaner, penetration * exchange, outdoor, steady, fan_on, cleaner_from, pulses, 6.0
    )
    from_outdoors = _march(
        loss_off, loss_on, cleaner, penetration * exchange, outdoor, 0.0, fan_on, cleaner_from, 0.0 * pulses, 0.0
    )
    noisy = room + rng.normal(0.0, 1.0, count) * (1.0 + 0.05 * room)
    observed = np.full(count, np.nan)
    observed[4::5] = noisy[4::5]
    if in_duct:
        run = np.zeros(count, dtype=int)
        for minute in range(1, count):
            run[minute] = run[minute - 1] + 1 if fan_on[minute] and fan_on[minute - 1] else 0
        observed[run < 5] = np.nan
    truth = {
        "loss_off": loss_off,
        "loss_on": loss_on,
        "cleaner": cleaner * VOLUME,
        "exchange": exchange,
        "settling": settling,
        "penetration": penetration,
        "efficiency": efficiency,
        "flow": flow,
        "mean_before": float(room[:cleaner_from].mean()),
        "mean_after": float(room[cleaner_from:].mean()),
        "outdoor_gain": penetration * exchange,
        "outdoor_share_before": float(from_outdoors[:cleaner_from].mean() / room[:cleaner_from].mean()),
        "outdoor_share_after": float(from_outdoors[cleaner_from:].mean() / room[cleaner_from:].mean()),
    }
    return SimulatedHome(
        minutes=minutes,
        outdoor=outdoor * np.exp(rng.normal(0.0, 0.03, count)),
        fan_on=fan_on,
        cleaner_from=cleaner_from,
        observed=observed,
        in_duct=in_duct,
        truth=truth,
        room=room,
    )
