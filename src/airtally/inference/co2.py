"""Air exchange from CO2, and what CO2 meters say about each other and about recorded ventilation.

People are the tracer's source, so a decay counts only while they are out, and a balance only while
their number is known. CO2 does not stick to anything: what is lost went outdoors. Levels are mole
fractions [mol/mol] throughout.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from airtally.arrays import Booleans, Floats
from airtally.errors import FitError, InputError, Problem
from airtally.estimates import Basis, Estimate
from airtally.inference.decays import DecayFit, DecayWindow, Phase, SensorScale, WindowRule, fit_decay
from airtally.inference.outdoor_fit import response_to_outdoors

OUTDOOR_CO2 = Estimate(
    value=425e-6,
    low=405e-6,
    high=470e-6,
    unit="mol/mol",
    basis=Basis.DEFAULT,
    source="global mean of the 2020s about 415 to 425 ppm, more near traffic and at night (from memory)",
)
"""Outdoor level where none was measured."""

ASLEEP_CO2 = Estimate(
    value=3.6e-6,
    low=2.9e-6,
    high=4.4e-6,
    unit="m3/s",
    basis=Basis.DEFAULT,
    source="sleeping adult, about 0.0036 L/s (from memory, after Persily and de Jonge 2017)",
)
"""CO2 that one sleeping adult gives off."""

LOWEST_OUTDOOR_CO2 = 380e-6
"""No outdoor air of the 2010s and later is below this (from memory); a lower reading is the meter's. [mol/mol]"""

REPEATABILITY = 30e-6
"""Within this a usual CO2 meter repeats itself (common practice, no source). [mol/mol]"""

METER_STEP = SensorScale(step=5e-6)
"""A twentieth of 100 ppm above outdoors, where usual meters (+-50 ppm, common practice, no source) stop telling much."""


def find_co2_decays(
    time: Floats,
    co2: Floats,
    *,
    outdoor: float = OUTDOOR_CO2.value,
    least_excess: float = 300e-6,
    least_duration: float = 7200.0,
    step: float = 900.0,
) -> tuple[DecayWindow, ...]:
    """Find the stretches over which CO2 falls without a break, from well above outdoors.

    Parameters
    ----------
    time, co2 : float64 arrays, shape (readings,)
        Ascending instants [s] and readings [mol/mol].
    outdoor : float
        Level a decay runs towards, as this meter reads it. [mol/mol]
    least_excess : float
        Least height above it at the start. [mol/mol]
    least_duration : float
        Shortest stretch. [s]
    step : float
        Width of the medians looked at. [s]

    Notes
    -----
    A decay in which people stay looks slower than the air exchange: the caller must know that they left.
    """
    at, level = _medians(time, co2, step)
    windows: list[DecayWindow] = []
    start = 0
    for index in range(1, at.size + 1):
        if index < at.size and at[index] - at[index - 1] <= 4.0 * step:
            lowest = float(np.min(level[start:index]))
            if level[index] - lowest <= REPEATABILITY:
                continue
        # The fall begins where the level last stood near its top, not where a plateau began.
        top = float(np.max(level[start:index]))
        part = slice(start + int(np.flatnonzero(level[start:index] >= top - REPEATABILITY)[-1]), index)
        # Aired out, the level stands at outdoors within the meter's repeatability, on either side of it.
        x, y = at[part], np.maximum(level[part] - outdoor, REPEATABILITY)
        start = index
        if x[-1] - x[0] < least_duration or y[0] < least_excess or y[0] < 1.5 * y[-1]:
            continue
        windows.append(
            DecayWindow(
                phase=Phase.DECAY,
                start=float(x[0] - 0.5 * step),
                stop=float(x[-1] + 0.5 * step),
                level_start=float(y[0] + outdoor),
                level_stop=float(y[-1] + outdoor),
                rate=float(np.log(y[0] / y[-1]) / (x[-1] - x[0])),
                backgrounds=(outdoor,),
            )
        )
    return tuple(windows)


def _medians(time: Floats, value: Floats, step: float) -> tuple[Floats, Floats]:
    keep = np.isfinite(time) & np.isfinite(value)
    owner, value = np.floor(time[keep] / step).astype(np.int64), value[keep]
    value = value[np.lexsort((value, owner))]  # each bin's values in order: its median is its middle, or between two
    bins, starts, counts = np.unique(owner, return_index=True, return_counts=True)
    medians = 0.5 * (value[starts + (counts - 1) // 2] + value[starts + counts // 2])
    return np.asarray((bins + 0.5) * step, dtype=np.float64), np.asarray(medians, dtype=np.float64)


def air_exchange_from_decay(
    time: Floats, co2: Floats, window: DecayWindow, *, outdoor: Estimate = OUTDOOR_CO2
) -> DecayFit:
    """Return the air exchange from a CO2 decay with nobody in.

    Parameters
    ----------
    time, co2 : float64 arrays, shape (readings,)
        Ascending instants [s] and readings [mol/mol].
    window : DecayWindow
        The stretch, from :func:`find_co2_decays`.
    outdoor : Estimate
        Outdoor level as the same meter reads it. Its interval is part of the choice of window. [mol/mol]
    """
    backgrounds = (outdoor.value, outdoor.low, outdoor.high)
    lowest = min(window.level_start, window.level_stop)
    usable = tuple(level for level in backgrounds if level < lowest) or (min(backgrounds),)
    return fit_decay(time, co2, window, rule=WindowRule(least_fall=1.3), scale=METER_STEP, backgrounds=usable)


def outdoor_as_read(co2: Floats) -> Estimate:
    """Return the outdoor level as a meter reads it: the lowest it comes to over days, faults left out.

    Needs a record in which the room stood empty long enough to air out; otherwise it is an upper limit.

    Parameters
    ----------
    co2 : float64 array, shape (readings,)
        Readings without single drop-outs. [mol/mol]
    """
    finite = co2[np.isfinite(co2)]
    if finite.size < 100:
        raise FitError(f"the lowest level of a meter needs 100 readings or more; given {finite.size}")
    low, value, high = np.quantile(finite, (0.001, 0.01, 0.05))
    return Estimate(
        value=float(value),
        low=float(low),
        high=float(high),
        unit="mol/mol",
        basis=Basis.FITTED,
        source=f"lowest hundredth of {finite.size} readings of this meter",
    )


def night_balance(
    time: Floats,
    co2: Floats,
    *,
    people: float,
    volume: Estimate,
    outdoor: Estimate = OUTDOOR_CO2,
    generation: Estimate = ASLEEP_CO2,
    blocks: int = 6,
) -> Estimate:
    """Return the air exchange of a night from a known number of sleepers: ``dC/dt = a (Co - C) + n G / V``.

    Parameters
    ----------
    time, co2 : float64 arrays, shape (readings,)
        Ascending instants [s] and readings of the space in which the people are [mol/mol].
    people : float
        How many are in.
    volume : Estimate
        Volume of that space: bedroom with the door closed, house with doors open. [m3]
    outdoor : Estimate
        Outdoor level as the same meter reads it. [mol/mol]
    generation : Estimate
        CO2 one person gives off. [m3/s]
    blocks : int
        Contiguous blocks of the jackknife.

    Notes
    -----
    Volume, outdoor level and generation enter at both ends of their intervals, one at a time, in quadrature.
    """
    if people <= 0.0:
        raise InputError("a night balance needs people in the space")
    keep = np.isfinite(time) & np.isfinite(co2)
    x, y = time[keep], co2[keep]
    if x.size < 3 * blocks:
        raise FitError(f"a night balance needs {3 * blocks} readings; given {x.size}")

    def solve(use: Booleans, size: float, outside: float, each: float) -> float:
        return _balance_rate(x, y, use, outside, people * each / size)

    everything = np.ones(x.size, dtype=np.bool_)
    middle = (volume.value, outdoor.value, generation.value)
    value = solve(everything, *middle)
    owner = (np.arange(x.size) * blocks) // x.size
    logs = np.log([solve(owner != block, *middle) for block in range(blocks)])
    down = up = (blocks - 1) / blocks * float(np.sum((logs - np.mean(logs)) ** 2)) * 1.645**2
    for index, given in enumerate((volume, outdoor, generation)):
        for end in (given.low, given.high):
            inputs = list(middle)
            inputs[index] = end
            change = float(np.log(solve(everything, *inputs) / value))
            down, up = (down + change**2, up) if change < 0.0 else (down, up + change**2)
    return Estimate(
        value=value,
        low=value * float(np.exp(-(down**0.5))),
        high=value * float(np.exp(up**0.5)),
        unit="1/s",
        basis=Basis.FITTED,
        source=f"night balance of {people:g} people, {x.size} CO2 readings",
    )


def _balance_rate(time: Floats, co2: Floats, use: Booleans, outdoor: float, rise: float) -> float:
    """Return the air exchange that fits best; ``rise`` is the source over the volume [1/s], the start is fitted."""
    excess, ends, ones = co2 - outdoor, np.array([time[0], time[-1]]), np.ones(2)

    def misfit(log_rate: float) -> float:
        rate = float(np.exp(log_rate))
        left = excess - rise * response_to_outdoors(rate, time, ends, ones)
        start = np.exp(-rate * (time - time[0]))
        amount = np.sum((start * left)[use]) / np.sum((start * start)[use])
        return float(np.sum((left - amount * start)[use] ** 2))

    return _least_of(misfit, np.log(0.01 / 3600.0), np.log(20.0 / 3600.0))


def _least_of(misfit: Callable[[float], float], low: float, high: float) -> float:
    from scipy.optimize import minimize_scalar

    grid = np.linspace(low, high, 40)
    best = int(np.argmin([misfit(float(point)) for point in grid]))
    around = (float(grid[max(best - 1, 0)]), float(grid[min(best + 1, grid.size - 1)]))
    return float(np.exp(minimize_scalar(misfit, bounds=around, method="bounded", options={"xatol": 1e-6}).x))


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterPair:
    """Two CO2 meters in one room.

    Attributes
    ----------
    offset : Estimate
        Second less first, median over the matched readings; the interval holds nine tenths of them. [mol/mol]
    gain : float
        Slope of second on first: below 1 the second sees peaks flatter. [-]
    matched : int
        Readings of the second that have one of the first close by.
    """

    offset: Estimate
    gain: float
    matched: int


def compare_meters(
    first_time: Floats, first: Floats, second_time: Floats, second: Floats, *, reach: float = 600.0
) -> MeterPair:
    """Compare two CO2 meters that share a room.

    Parameters
    ----------
    first_time, first, second_time, second : float64 arrays
        Ascending instants [s] and readings without drop-outs [mol/mol].
    reach : float
        Longest way to the nearest reading of the first. [s]
    """
    nearest = np.interp(second_time, first_time, first)
    after = np.clip(np.searchsorted(first_time, second_time), 1, first_time.size - 1)
    away = np.minimum(np.abs(second_time - first_time[after - 1]), np.abs(first_time[after] - second_time))
    close = (away <= reach) & np.isfinite(nearest) & np.isfinite(second)
    if np.count_nonzero(close) < 20:
        raise FitError(f"two meters need 20 readings close in time; they share {np.count_nonzero(close)}")
    if np.ptp(nearest[close]) == 0.0:
        raise FitError("the first meter stands still over the readings that the two share")
    gap = second[close] - nearest[close]
    low, value, high = np.quantile(gap, (0.05, 0.5, 0.95))
    return MeterPair(
        offset=Estimate(
            value=float(value),
            low=float(low),
            high=float(high),
            unit="mol/mol",
            basis=Basis.FITTED,
            source=f"{gap.size} readings of two meters in one room",
        ),
        gain=float(np.polyfit(nearest[close], second[close], 1)[0]),
        matched=int(gap.size),
    )


def dropped_out(co2: Floats) -> Booleans:
    """Return which readings are drop-outs: under half of the lowest outdoor level, where no air is. Shape (readings,).

    Parameters
    ----------
    co2 : float64 array, shape (readings,)
        Readings. [mol/mol]
    """
    return np.asarray(co2 < 0.5 * LOWEST_OUTDOOR_CO2, dtype=np.bool_)


def meter_problems(name: str, co2: Floats) -> tuple[Problem, ...]:
    """Return what is wrong with a CO2 meter by itself: drop-outs, and a stand below outdoor air.

    Parameters
    ----------
    name : str
        Placement or file, for the problem's ``where``.
    co2 : float64 array, shape (readings,)
        Readings. [mol/mol]
    """
    problems: list[Problem] = []
    finite = co2[np.isfinite(co2)]
    dropped = finite < 0.5 * LOWEST_OUTDOOR_CO2
    if np.any(dropped):
        problems.append(
            Problem(
                code="co2-dropped-out",
                where=name,
                found=f"{np.count_nonzero(dropped)} readings as low as {1e6 * float(np.min(finite)):.0f} ppm",
                wanted=f"nothing below outdoor air, about {1e6 * OUTDOOR_CO2.value:.0f} ppm",
                remedy="These readings are left out; look at the meter's cable and supply.",
            )
        )
    held = finite[~dropped]
    low = held < LOWEST_OUTDOOR_CO2 - 20e-6
    if held.size and np.mean(low) > 0.01:
        problems.append(
            Problem(
                code="co2-below-outdoors",
                where=name,
                found=(
                    f"{np.mean(low):.0%} of the readings stand below outdoor air, "
                    f"the lowest hundredth at {1e6 * float(np.quantile(held, 0.01)):.0f} ppm"
                ),
                wanted=f"no room air below {1e6 * LOWEST_OUTDOOR_CO2:.0f} ppm",
                remedy="Only changes of this meter count, against the lowest it reads; calibrate it in outdoor air.",
            )
        )
    return tuple(problems)


def meter_pair_problem(first: str, second: str, pair: MeterPair, *, least: float = 75e-6) -> Problem | None:
    """Return the problem that two meters in one room disagree by more than ``least`` [mol/mol], or None.

    75 ppm is what two meters of +-50 ppm each may differ by in quadrature.
    """
    if abs(pair.offset.value) <= least:
        return None
    offset = pair.offset
    return Problem(
        code="co2-meters-disagree",
        where=f"{second} against {first}",
        found=(
            f"{1e6 * abs(offset.value):.0f} ppm {'lower' if offset.value < 0.0 else 'higher'} on the median "
            f"({1e6 * offset.low:+.0f} to {1e6 * offset.high:+.0f}), slope {pair.gain:.2f}"
        ),
        wanted=f"two meters in one room within {1e6 * least:.0f} ppm",
        remedy="Each meter is used against its own lowest level; put both in outdoor air for half an hour.",
    )


def recorded_against_air(name: str, recorded: Estimate, seen: Estimate, *, least_ratio: float = 2.0) -> Problem | None:
    """Return the contradiction between a recorded ventilation rate and the one the air shows, or None.

    Parameters
    ----------
    name : str
        What recorded it, and when.
    recorded, seen : Estimate
        Air exchange from the record (recorded flow over volume) and from the air. [1/s]
    least_ratio : float
        The two must differ by this factor, and their intervals must not meet. [-]
    """
    if recorded.meets(seen):
        return None
    larger, smaller = max(recorded.value, seen.value), min(recorded.value, seen.value)
    if smaller > 0.0 and larger < least_ratio * smaller:
        return None
    return Problem(
        code="record-against-air",
        where=name,
        found=(
            f"the record says {3600.0 * recorded.value:.2f} air changes per h, "
            f"the air shows {3600.0 * seen.value:.2f} ({3600.0 * seen.low:.2f} to {3600.0 * seen.high:.2f})"
        ),
        wanted="a recorded rate that the air bears out",
        remedy=(
            "The air is believed: the fan was off, the value stood still, or the full flow is not what is stated. Look at it."
            if recorded.value > seen.value
            else "The air is believed: look for an open window or door, or a fan that is not in the record."
        ),
    )
