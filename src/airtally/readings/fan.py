"""When the fan ran, told from its current, power or state; and what an in-duct monitor can say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np

from airtally.arrays import Booleans, Floats, Integers
from airtally.errors import InputError, Problem, Severity
from airtally.quantities import Quantity
from airtally.readings import problems as codes
from airtally.readings.coverage import usual_step
from airtally.readings.log import Flag, Log
from airtally.readings.measures import STATES
from airtally.readings.row_times import regular_step

LEAST_RUNNING = {Quantity.FAN_CURRENT: 0.15, Quantity.FAN_POWER: 15.0}
"""A fan that draws less than this does not run [A] [W]; common practice, no source."""
APART = 4.0
"""Two levels are told apart if their medians differ by this many times the sum of their spreads. [-] Judgement."""
LEAST_APART = 0.12
"""Two running levels differ by at least this share of the higher. [-] Judgement."""
LEAST_SHARE = 0.002
"""A level holds at least this share of the readings, and at least five. [-] Judgement."""
UNMASKED = frozenset(
    {
        *STATES,
        Quantity.FAN_CURRENT,
        Quantity.FAN_POWER,
        Quantity.FAN_FLOW,
        Quantity.FILTER_PRESSURE_DROP,
        Quantity.PRESSURE_DIFFERENCE,
        Quantity.BAROMETRIC_PRESSURE,
        Quantity.SPILL_TEMPERATURE,
    }
)
"""Quantities of a machine or a room's shell; they say what they say with the fan off too."""


class FanLevel(IntEnum):
    """What the fan does."""

    OFF = 0
    CIRCULATE = 1
    HEATING = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class FanStates:
    """Intervals of one fan level each, in order of time; between them the level is not known.

    Attributes
    ----------
    start, end : float array, shape (intervals,)
        Half-open interval. [s, POSIX UTC]
    level : int array, shape (intervals,)
        A :class:`FanLevel` value.
    typical : tuple of float
        Median reading of the levels found, lowest first. [SI unit of the series]
    """

    start: Floats
    end: Floats
    level: Integers
    typical: tuple[float, ...]

    def on(self) -> tuple[Floats, Floats]:
        """Return start and end of the intervals in which the fan ran; adjoining ones are one. [s, POSIX UTC]"""
        runs = self.level > FanLevel.OFF
        return merge_intervals(self.start[runs], self.end[runs])

    def known(self) -> tuple[Floats, Floats]:
        """Return start and end of the intervals in which the level is known. [s, POSIX UTC]"""
        return merge_intervals(self.start, self.end)


def fan_states(
    time: Floats,
    value: Floats,
    quantity: Quantity,
    burner_on: tuple[Floats, Floats] | None = None,
    hold: float | None = None,
) -> FanStates:
    """Return when the fan was off, circulating or heating.

    Parameters
    ----------
    time, value : float array, shape (readings,)
        Kept readings in order of time. [s, POSIX UTC] [SI]
    quantity : Quantity
        FAN_CURRENT, FAN_POWER, FAN_FLOW or FAN_STATE.
    burner_on : tuple of float arrays, optional
        Start and end of the burner's runs: a fan interval of which half is fired is HEATING. [s, POSIX UTC]
    hold : float, optional
        Longest time a reading stands for. ``None``: a series with a regular step, one and a half steps on either
        side; a series of switch events, until the next event. [s]

    Returns
    -------
    states : FanStates
        With two levels found in a current or power, the upper is CIRCULATE: the readings alone cannot tell at
        which of the two speeds it is. With three, the middle is CIRCULATE and the highest HEATING.

    Raises
    ------
    InputError
        If the quantity does not tell a fan.

    Notes
    -----
    Levels are cut where the variance between them is greatest, first off from on, then within each part, and a
    cut counts only if the medians differ clearly (:data:`APART`, :data:`LEAST_APART`, :data:`LEAST_SHARE`).
    """
    if quantity not in (Quantity.FAN_STATE, Quantity.FAN_CURRENT, Quantity.FAN_POWER, Quantity.FAN_FLOW):
        raise InputError(f"a fan is told from its state, current, power or flow; got {quantity.value}")
    if not time.size:
        return FanStates(start=np.empty(0), end=np.empty(0), level=np.empty(0, dtype=np.int64), typical=())
    if quantity is Quantity.FAN_STATE:
        level = np.clip(np.round(value), 0, FanLevel.HEATING).astype(np.int64)
        typical = tuple(float(one) for one in np.unique(level))
    else:
        level, typical = find_levels(value, LEAST_RUNNING.get(quantity, 0.01))
    start, end, level = _intervals(time, level, hold, holds_on=quantity is Quantity.FAN_STATE)
    if burner_on is not None:
        fired = overlap(start, end, *merge_intervals(*burner_on))
        level = np.where((level > 0) & (fired >= 0.5 * (end - start)), int(FanLevel.HEATING), level)
    return FanStates(start=start, end=end, level=level, typical=typical)


def find_levels(value: Floats, least: float) -> tuple[Integers, tuple[float, ...]]:
    """Return the fan level of each reading of a current, power or flow, and each level's median.

    Parameters
    ----------
    value : float array, shape (readings,)
        All finite.
    least : float
        A level below this is off, whatever else is seen.
    """
    cuts: list[float] = []
    first = _cut(value)
    if first is not None:
        cuts.append(first)
        for part in (value[value > first], value[value <= first]):
            second = _cut(part) if len(cuts) < 2 else None
            if second is not None:
                cuts.append(second)
    group = np.searchsorted(np.sort(cuts), value, side="left")
    medians = tuple(float(np.median(value[group == one])) for one in np.unique(group))
    lowest_is_off = medians[0] < least or (len(medians) > 1 and medians[0] < 0.25 * medians[-1])
    level = group if lowest_is_off else group + 1
    return np.minimum(level, FanLevel.HEATING).astype(np.int64), medians


def _cut(value: Floats) -> float | None:
    """Return where to cut values into two levels, or None if they are one."""
    few = max(5, int(LEAST_SHARE * value.size))
    if value.size < 2 * few:
        return None
    ordered = np.sort(value)
    count = np.arange(1, ordered.size)
    total = np.cumsum(ordered)[:-1]
    low_mean, high_mean = total / count, (ordered.sum() - total) / (ordered.size - count)
    between = count * (ordered.size - count) * (high_mean - low_mean) ** 2
    between[: few - 1] = 0.0
    between[ordered.size - few :] = 0.0
    best = int(between.argmax())
    low, high = ordered[: best + 1], ordered[best + 1 :]
    apart = float(np.median(high) - np.median(low))
    if apart <= APART * (_spread(low) + _spread(high)) or apart < LEAST_APART * float(np.median(high)):
        return None
    return float((np.median(low) + np.median(high)) / 2.0)


def _spread(value: Floats) -> float:
    """Return a standard deviation that a few strays do not move."""
    return 1.4826 * float(np.median(np.abs(value - np.median(value))))


def _intervals(time: Floats, level: Integers, hold: float | None, *, holds_on: bool) -> tuple[Floats, Floats, Integers]:
    """Return the runs of equal level as intervals."""
    step, is_regular = regular_step(time)
    if holds_on and hold is None and not is_regular:  # switch events: a state lasts until the next one
        starts = np.flatnonzero(np.concatenate([[True], np.diff(level) != 0]))
        return time[starts], np.append(time[starts[1:]], time[-1]), level[starts]
    reach = hold if hold is not None else 1.5 * step
    half = step / 2.0
    gap = np.diff(time) > 2.0 * reach
    begins = np.concatenate([[True], (np.diff(level) != 0) | gap])
    starts = np.flatnonzero(begins)
    lasts = np.append(starts[1:] - 1, time.size - 1)
    start, end = time[starts] - half, time[lasts] + half
    joined = np.flatnonzero(~gap[lasts[:-1]])  # neighbours without a gap meet in the middle
    middle = (time[lasts[joined]] + time[starts[joined + 1]]) / 2.0
    end[joined], start[joined + 1] = middle, middle
    return start, end, level[starts]


def merge_intervals(start: Floats, end: Floats) -> tuple[Floats, Floats]:
    """Return the union of intervals as disjoint intervals in order of time. [s]"""
    order = np.argsort(start, kind="stable")
    start, end = np.asarray(start, dtype=np.float64)[order], np.asarray(end, dtype=np.float64)[order]
    if not start.size:
        return start, end
    furthest = np.maximum.accumulate(end)
    begins = np.concatenate([[True], start[1:] > furthest[:-1]])
    lasts = np.append(np.flatnonzero(begins)[1:] - 1, start.size - 1)
    return start[begins], furthest[lasts]


def overlap(start: Floats, end: Floats, other_start: Floats, other_end: Floats) -> Floats:
    """Return how long each interval is covered by a union of disjoint intervals. Shape (intervals,). [s]"""
    if not other_start.size:
        return np.zeros(start.size)
    lasted = np.concatenate([[0.0], np.cumsum(other_end - other_start)])

    def covered(instant: Floats) -> Floats:
        index = np.searchsorted(other_start, instant, side="right")
        inside = np.clip(instant - other_start[index - 1], 0.0, other_end[index - 1] - other_start[index - 1])
        return np.asarray(np.where(index > 0, lasted[index - 1] + inside, 0.0), dtype=np.float64)

    return covered(end) - covered(start)


def running_spells(time: Floats, state: Floats, bridge: float = 900.0) -> tuple[Floats, Floats]:
    """Return the runs of a burner or fan that shows up as single readings, such as the pulses of a gas meter.

    Parameters
    ----------
    time, state : float array, shape (readings,)
        In order of time; above 0.5 means running. [s, POSIX UTC] [-]
    bridge : float, optional
        Pulses no further apart than this are one run. [s]

    Returns
    -------
    start, end : float array, shape (runs,)
        First and last reading of each run. [s, POSIX UTC]
    """
    pulses = time[state > 0.5]
    if not pulses.size:
        return np.empty(0), np.empty(0)
    parted = np.flatnonzero(np.diff(pulses) > bridge)
    return pulses[np.concatenate([[0], parted + 1])], pulses[np.append(parted, pulses.size - 1)]


def mask_in_duct(
    log: Log,
    placements: Sequence[str],
    fan: FanStates | tuple[Floats, Floats],
    purge_seconds: float,
) -> Log:
    """Return the log with in-duct readings masked where they are not room air.

    A reading counts only if the fan ran throughout its averaging interval and had run for the purge time before.

    Parameters
    ----------
    log : Log
        Screened or not; only kept readings are masked.
    placements : sequence of str
        Placements inside the duct.
    fan : FanStates, or start and end of the intervals in which the fan ran
        Where a FanStates does not know the level, readings are masked and a problem says so. [s, POSIX UTC]
    purge_seconds : float
        Time from the fan's start until duct and sensor show room air. [s]

    Raises
    ------
    InputError
        If the purge time is below zero.
    """
    if not purge_seconds >= 0.0:
        raise InputError(f"purge_seconds must not be below zero; got {purge_seconds:g}")
    known = fan.known() if isinstance(fan, FanStates) else None
    start, end = fan.on() if isinstance(fan, FanStates) else merge_intervals(*fan)
    flag = log.flag.copy()
    unknown = 0
    for stream in log.streams:
        if stream.placement not in placements or stream.quantity in UNMASKED:
            continue
        block = log.rows(stream)
        rows = block[flag[block] == Flag.KEPT]
        step = usual_step(log.time[block][np.isfinite(log.time[block])])
        half = min(step / 2.0, 150.0) if step == step else 0.0
        before, after = log.time[rows] - half, log.time[rows] + half
        runs, since = _running(before, after, start, end)
        flag[rows[runs & (since < purge_seconds)]] = Flag.MASKED_PURGE
        flag[rows[~runs]] = Flag.MASKED_FAN_OFF
        if known is not None and known[0].size:
            unknown += int(np.count_nonzero(~_running(log.time[rows], log.time[rows], *known)[0]))
    problems = log.problems
    if unknown:
        problems = (*problems, _unknown(placements, unknown))
    return replace(log, flag=flag, problems=problems)


def _running(before: Floats, after: Floats, start: Floats, end: Floats) -> tuple[Booleans, Floats]:
    """Return whether one interval covers each span, and how long before the span it began. [s]"""
    if not start.size:
        return np.zeros(before.size, dtype=np.bool_), np.zeros(before.size)
    index = np.clip(np.searchsorted(start, before, side="right") - 1, 0, None)
    runs = (start[index] <= before) & (after <= end[index])
    return np.asarray(runs, dtype=np.bool_), before - start[index]


def _unknown(placements: Sequence[str], count: int) -> Problem:
    return Problem(
        code=codes.FAN_STATE_UNKNOWN,
        where=", ".join(placements),
        found=f"{count} in-duct readings at times for which the fan's state is not known",
        wanted="a fan log that covers the monitor's",
        remedy="They were masked as if the fan had been off.",
        severity=Severity.WARNING,
    )
