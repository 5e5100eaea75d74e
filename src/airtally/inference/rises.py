"""Rises of a room's level in a long log: a plain robust detector, in order of time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Booleans, Floats
from airtally.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class Rise:
    """One rise: ``start`` of the climb, instant of its ``peak`` [s], level before and at the peak [unit as given]."""

    start: float
    peak: float
    level_before: float
    level_peak: float


def trailing_quantile(time: Floats, value: Floats, *, share: float, span: float, gap: float) -> Floats:
    """Return for each reading the quantile of the readings ``gap`` to ``span`` seconds before it.

    Parameters
    ----------
    time, value : float64 arrays, shape (readings,)
        Ascending instants [s] and finite readings [any unit].
    share : float
        Which quantile. [-]
    span, gap : float
        Where the stretch begins and ends, before the reading. [s]

    Returns
    -------
    float64 array, shape (readings,)
        NaN where the stretch holds no reading. [unit of the readings]
    """
    first = np.searchsorted(time, time - span, side="left")
    last = np.searchsorted(time, time - gap, side="right")
    base = np.full(time.size, np.nan)
    for index in np.flatnonzero(last > first):
        part = np.sort(value[first[index] : last[index]])
        base[index] = part[int(share * (part.size - 1))]
    return base


def find_rises(
    time: Floats,
    value: Floats,
    *,
    least_rise: float,
    span: float = 2400.0,
    gap: float = 300.0,
    least_duration: float = 120.0,
    merge: float = 900.0,
) -> tuple[Rise, ...]:
    """Find the rises of a log against the quiet level just before.

    A rise stands at least ``least_rise``, four times the usual step between readings and a third of the
    level before above the lower quartile of the ``span`` before it, for ``least_duration``. Rises less
    than ``merge`` apart are one.

    Parameters
    ----------
    time, value : float64 arrays, shape (readings,)
        Ascending instants [s] and readings [any unit]; NaN rows are left out.
    least_rise : float
        Smallest rise that matters. [unit of the readings]
    span, gap : float
        Reach of the level before, and what just before is left out of it. [s]
    least_duration, merge : float
        Shortest rise and longest pause inside one. [s]

    Notes
    -----
    A third of the level before and a factor of four are judgement. A slow climb that takes longer than
    ``span`` is not a rise here: weather and outdoor air climb so.
    """
    if least_rise <= 0.0:
        raise InputError(f"least_rise must be above zero; given {least_rise:g}")
    keep = np.isfinite(time) & np.isfinite(value)
    time, value = time[keep], value[keep]
    if time.size < 3:
        return ()
    base = trailing_quantile(time, value, share=0.25, span=span, gap=gap)
    usual_step = 1.4826 * float(np.median(np.abs(np.diff(value)))) / 2.0**0.5
    need = np.maximum(np.maximum(least_rise, 4.0 * usual_step), np.abs(base) / 3.0)
    high = np.isfinite(base) & (value - base > need)
    rises: list[Rise] = []
    last_seen = -np.inf
    for first, stop in _runs(high):
        together = time[first] - last_seen <= merge
        last_seen = time[stop - 1]
        if together and rises:
            held = rises.pop()
            first = int(np.searchsorted(time, held.start))
        elif time[stop - 1] - time[first] < least_duration:
            continue
        top = first + int(np.argmax(value[first:stop]))
        rises.append(_rise(time, value, base, first, top))
    return tuple(rises)


def _runs(mask: Booleans) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _rise(time: Floats, value: Floats, base: Floats, first: int, top: int) -> Rise:
    """Walk back from the first high reading to the foot of the climb."""
    level = float(base[first]) if np.isfinite(base[first]) else float(value[first])
    foot = first
    while foot > 0 and value[foot - 1] < value[foot] and value[foot] > level:
        foot -= 1
    return Rise(start=float(time[foot]), peak=float(time[top]), level_before=level, level_peak=float(value[top]))
