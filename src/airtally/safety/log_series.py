"""Small readings of a log that the safety room needs: baselines, rises, gaps. No particle stream is ever read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Booleans, Floats

DAY = 86400.0
LONGEST_HOLE = 600.0
"""A rise that dips for less than this is one rise. [s]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rise:
    """A stretch of readings above their baseline. Times [s]; ``peak`` and ``baseline`` in the stream's unit."""

    start: float
    end: float
    peak: float
    baseline: float

    @property
    def duration(self) -> float:
        """Return how long it lasted [s]."""
        return self.end - self.start


def usual_interval(time: Floats) -> float:
    """Return the median step between readings [s]; 60 s for fewer than two."""
    if time.size < 2:
        return 60.0
    return max(float(np.median(np.diff(time))), 1.0)


def daily_baseline(time: Floats, value: Floats, quantile: float = 0.25) -> Floats:
    """Return a slowly moving baseline: a low quantile of each 24 hours, joined by straight lines.

    Shape as ``time``. A sensor's own drift goes with it, so that a rise is a rise against that day.
    """
    day = np.floor((time - time[0]) / DAY)
    days = np.unique(day)
    middle = np.array([time[day == one].mean() for one in days])
    low = np.array([np.quantile(value[day == one], quantile) for one in days])
    return np.asarray(np.interp(time, middle, low), dtype=np.float64)


def noise(value: Floats) -> float:
    """Return the standard deviation of reading-to-reading noise by the median absolute step, in the value's unit."""
    if value.size < 3:
        return 0.0
    return float(1.4826 * np.median(np.abs(np.diff(value))) / np.sqrt(2.0))


def rises(time: Floats, value: Floats, baseline: Floats, least: float, least_duration: float) -> tuple[Rise, ...]:
    """Return the stretches in which a running median of three readings lies ``least`` or more above the baseline.

    Stretches parted by less than ten minutes are one. A stretch counts from ``least_duration`` [s] on; readings further
    apart than that count alone.
    """
    if time.size < 3:
        return ()
    smooth = value.copy()
    smooth[1:-1] = np.median(np.stack((value[:-2], value[1:-1], value[2:])), axis=0)
    step = usual_interval(time)
    above = np.flatnonzero(smooth - baseline >= least)
    if above.size == 0:
        return ()
    hole = max(LONGEST_HOLE, 2.0 * step)
    groups = np.split(above, np.flatnonzero(np.diff(time[above]) > hole) + 1)
    found = []
    for group in groups:
        if group.size * step < least_duration:
            continue
        inside = slice(int(group[0]), int(group[-1]) + 1)
        found.append(
            Rise(
                start=float(time[group[0]] - step / 2.0),
                end=float(time[group[-1]] + step / 2.0),
                peak=float(value[inside].max()),
                baseline=float(np.median(baseline[inside])),
            )
        )
    return tuple(found)


def highest_mean(time: Floats, value: Floats, averaging_time: float, start: float, end: float) -> float:
    """Return the highest running mean over an averaging time [s] whose window touches start to end.

    Readings are taken as steps held until the next one, no longer than three usual intervals; a window that
    holds less than three quarters of its time in readings does not count. NaN where none does.
    """
    near: Booleans = (time >= start - averaging_time) & (time <= end + averaging_time)
    t, v = time[near], value[near]
    if t.size == 0:
        return float("nan")
    step = usual_interval(t)
    held = np.minimum(np.diff(t, append=t[-1] + step), 3.0 * step)
    seconds = np.concatenate(([0.0], np.cumsum(held)))
    dose = np.concatenate(([0.0], np.cumsum(held * v)))
    last = np.searchsorted(t, t + averaging_time, side="left")
    covered = seconds[last] - seconds[:-1]
    with np.errstate(invalid="ignore"):
        mean = np.where(covered >= 0.75 * averaging_time, (dose[last] - dose[:-1]) / covered, np.nan)
    return float(np.nanmax(mean)) if np.any(np.isfinite(mean)) else float("nan")


def between(time: Floats, value: Floats, start: float, end: float) -> Floats:
    """Return the values between two instants [s], both ends included."""
    return value[(time >= start) & (time <= end)]
