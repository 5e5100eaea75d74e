"""What a stream can say at all: how often it is fresh, where it has gaps, below what it is blind."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats
from airtally.errors import Problem, Severity
from airtally.quantities import UNITS, Quantity
from airtally.readings import problems as codes
from airtally.readings.log import Flag, Log, Stream
from airtally.readings.measures import STATES
from airtally.readings.row_times import instant_in_words

FLOORED = frozenset(
    quantity
    for quantity in Quantity
    if quantity.value.startswith(("pm", "count_")) or quantity in (Quantity.CO, Quantity.NO2, Quantity.VOC)
)
"""Quantities whose sensors are blind below some level."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """A level below which a stream cannot tell; readings on it mean 'at or below'."""

    value: float
    """[SI unit of the quantity]"""
    share: float
    """Share of the kept readings that sit on it. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gaps:
    """Times without any reading. Arrays have shape (gaps,). [s, POSIX UTC]"""

    start: Floats
    """Last reading before the gap."""
    end: Floats
    """First reading after it."""


def usual_step(time: Floats) -> float:
    """Return the median step between instants in order of time; NaN for fewer than two. [s]"""
    steps = np.diff(np.sort(time))
    steps = steps[steps > 0.0]
    return float(np.median(steps)) if steps.size else float("nan")


def refresh_interval(log: Log, stream: Stream) -> float:
    """Return how often a stream holds a fresh reading; NaN for fewer than two readings. [s]

    For a stream that the screening found to hold its readings this is the sensor's own interval, not the
    step of the rows.
    """
    time, _ = log.series(stream)
    step = usual_step(time)
    if time.size < 3 or not np.any(log.flag[log.rows(stream)] == Flag.HELD):
        return step
    silent = gaps(log, stream, shortest=0.0)
    over_gap = np.searchsorted(silent.start, time[1:]) > np.searchsorted(silent.start, time[:-1])
    steps = np.sort(np.diff(time)[~over_gap])
    if not steps.size:
        return step
    half = np.searchsorted(np.cumsum(steps), steps.sum() / 2.0)  # the step in which most of the time is spent
    return float(steps[min(int(half), steps.size - 1)])


def gaps(log: Log, stream: Stream, factor: float = 5.0, shortest: float = 600.0) -> Gaps:
    """Return where a stream has no row at all for much longer than its usual step.

    Parameters
    ----------
    log : Log
        Rows of any flag count, as long as their time is known.
    stream : Stream
        Which stream.
    factor : float, optional
        Steps longer than this many usual ones are gaps. [-]
    shortest : float, optional
        No gap is shorter. [s]
    """
    time = log.time[log.rows(stream)]
    time = np.unique(time[np.isfinite(time)])
    steps = np.diff(time)
    if not steps.size:
        return Gaps(start=np.empty(0), end=np.empty(0))
    long = np.flatnonzero(steps > max(factor * float(np.median(steps)), shortest))
    return Gaps(start=time[long], end=time[long + 1])


def floor_of(log: Log, stream: Stream, least: float = 0.05) -> Floor | None:
    """Return a stream's floor, or None if its lowest readings do not pile up.

    Parameters
    ----------
    log : Log
        Kept readings count.
    stream : Stream
        Which stream; only particles, CO, NO2 and VOC have floors.
    least : float, optional
        Smallest share of readings on the lowest value that makes a floor. [-]

    Notes
    -----
    The lowest value is a floor if at least three times as many readings sit on it as on the next value above
    (values apart by less than a ten-thousandth of the field unit are one). Judgement, no source.
    """
    if stream.quantity not in FLOORED:
        return None
    _, value = log.series(stream)
    if value.size < 20:
        return None
    return find_floor(value / UNITS[stream.quantity].factor, UNITS[stream.quantity].factor, least)


def find_floor(value: Floats, factor: float, least: float) -> Floor | None:
    """Return the floor of values in field units, itself times ``factor``; see :func:`floor_of`."""
    distinct, count = np.unique(np.round(value, 4), return_counts=True)
    share = float(count[0]) / value.size
    if distinct.size < 2 or share < least or count[0] < 3 * count[1]:
        return None
    return Floor(value=float(distinct[0]) * factor, share=share)


def about_floors(log: Log, least: float) -> list[Problem]:
    """Return a problem for each stream of which at least this share of the readings sits on the floor."""
    found = []
    for stream in log.streams:
        floor = floor_of(log, stream)
        if floor is None or floor.share < least:
            continue
        found.append(
            Problem(
                code=codes.CENSORED_FLOOR,
                where=stream.name,
                found=f"{100.0 * floor.share:.0f} % of the readings are exactly {in_field(stream, floor.value)}, the lowest",
                wanted="a sensor that tells lower values",
                remedy="Those readings mean 'at or below'; the fit takes them so, and a mean of them is too high.",
                severity=Severity.NOTE if floor.value == 0.0 else Severity.WARNING,
            )
        )
    return found


def about_gaps(log: Log) -> list[Problem]:
    """Return one note a placement about the gaps of its fullest stream."""
    fullest: dict[str, tuple[int, Stream]] = {}
    for stream in log.streams:
        count = log.rows(stream).size
        if stream.quantity not in STATES and count > fullest.get(stream.placement, (0, stream))[0]:
            fullest[stream.placement] = (count, stream)
    notes = []
    for placement, (_, stream) in fullest.items():
        silent = gaps(log, stream, shortest=1800.0)
        if not silent.start.size:
            continue
        lasted = silent.end - silent.start
        longest = int(lasted.argmax())
        notes.append(
            Problem(
                code=codes.GAPS,
                where=placement,
                found=f"{lasted.size} gap{'s' if lasted.size > 1 else ''}, {lasted.sum() / 3600.0:.3g} h in all, the longest "
                f"from {instant_in_words(float(silent.start[longest]))} to {instant_in_words(float(silent.end[longest]))}",
                wanted="readings throughout",
                remedy="Nothing was filled in; look whether power or network failed.",
                severity=Severity.NOTE,
            )
        )
    return notes


def in_field(stream: Stream, value: float) -> str:
    """Return a value in the quantity's field unit."""
    unit = UNITS[stream.quantity]
    return f"{(value - unit.offset) / unit.factor:.4g} {unit.field}".removesuffix(" -")
