"""Readings that repeat: held by the logger between two looks of the sensor, or stuck."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Booleans, Floats, Integers

MOST_MULTIPLES = 3
"""A run may stand for this many equal readings one after the other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """A logger that writes each reading over several rows."""

    rows: int
    """Rows that one reading fills."""
    interval: float
    """Time between two fresh readings. [s]"""


def runs(changed: Booleans) -> tuple[Integers, Integers]:
    """Return start and length of the runs that begin where ``changed`` is true; the first row begins one."""
    starts = np.flatnonzero(np.concatenate([[True], changed[1:]])) if changed.size else np.empty(0, dtype=np.int64)
    return starts, np.diff(np.append(starts, changed.size))


def changes(time: Floats, values: Floats) -> Booleans:
    """Return at which rows any column differs from the row before, or a gap lies between.

    Parameters
    ----------
    time : float array, shape (rows,)
        In order. [s]
    values : float array, shape (columns, rows)
        NaN where a column has no reading; the last one stands in for it.
    """
    changed = np.zeros(time.size, dtype=np.bool_)
    if time.size < 2:
        return changed
    for column in values:
        filled = np.flatnonzero(np.isfinite(column))
        differs = np.diff(column[filled]) != 0.0
        changed[filled[1:][differs]] = True
    steps = np.diff(time)
    changed[1:] |= steps > 3.0 * np.median(steps)
    return changed


def find_hold(time: Floats, changed: Booleans, counts: Booleans) -> Hold | None:
    """Return the interval at which a logger's readings are fresh, if it is longer than a row.

    Parameters
    ----------
    time : float array, shape (rows,)
        In order. [s]
    changed : bool array, shape (rows,)
        Where a new value begins, see :func:`changes`.
    counts : bool array, shape (rows,)
        Rows that may tell; rows on a floor repeat for another reason and do not.

    Notes
    -----
    A signal that happens to repeat has runs of all lengths; a held one has runs of one length, or of small
    multiples where two readings were equal. With a share s of all rows in runs that fit a length r within a
    tenth, and a share c that would fit by chance, r is accepted if s >= (1 + c) / 2 and five runs fit.
    Judgement, no source; for runs of random (geometric) length s is near c.
    """
    starts, lengths = runs(changed)
    if lengths.size < 6:
        return None
    telling = counts[starts]
    starts, lengths = starts[telling], lengths[telling]
    total = int(lengths.sum())
    if not total:
        return None
    weight = np.bincount(lengths, weights=lengths)
    best, best_excess, mean = 0, 0.0, 0.0
    for length in np.argsort(weight)[::-1][:12]:
        if length < 2 or weight[length] == 0.0:
            continue
        slack = int(0.1 * length)
        multiple = np.clip(np.round(lengths / length), 1, MOST_MULTIPLES)
        fits = np.abs(lengths - multiple * length) <= slack * multiple
        share = float(lengths[fits].sum()) / total
        chance = min((1.0 + 2.0 * slack) / float(length), 1.0)
        excess = share - (1.0 + chance) / 2.0
        if np.count_nonzero(fits) >= 5 and excess > best_excess:
            best, best_excess = int(length), excess
            mean = float(lengths[fits].sum() / multiple[fits].sum())
    if not best:
        return None
    return Hold(rows=best, interval=mean * float(np.median(np.diff(time))))


def held_rows(time: Floats, value: Floats, interval: float) -> Booleans:
    """Return which rows repeat a reading that the logger holds.

    The first row of a run is fresh. A run of about n intervals is n equal readings: n of its rows are fresh.
    """
    held = np.zeros(time.size, dtype=np.bool_)
    rows = interval / float(np.median(np.diff(time))) if time.size > 1 else 1.0
    starts, lengths = runs(changes(time, value[np.newaxis, :]))
    for start, length in zip(starts, lengths, strict=True):
        if length > 1:
            readings = max(round(float(length) / rows), 1)
            held[start + 1 : start + length] = np.diff(np.arange(length) * readings // length) < 1
    return held


def stuck_rows(time: Floats, value: Floats, shortest: float, exempt: Booleans) -> Booleans:
    """Return which rows belong to a run without change that is far longer than the stream's other runs.

    Parameters
    ----------
    time, value : float array, shape (rows,)
        In order of time.
    shortest : float
        No run below this length is doubted. [s]
    exempt : bool array, shape (rows,)
        Rows that may repeat for ever: on a floor, or zero for a gas that is not there.
    """
    stuck = np.zeros(time.size, dtype=np.bool_)
    starts, lengths = runs(changes(time, value[np.newaxis, :]))
    lasted = time[starts + lengths - 1] - time[starts] if starts.size else np.empty(0)
    if time.size >= 10 and np.all(value == value[0]):  # never moved: gaps part it into runs, but it is one
        stuck[1:] = time[-1] - time[0] >= shortest and not exempt[0]
        return stuck
    long = np.flatnonzero((lasted >= shortest) & (lengths >= 10))
    for index in long:
        others = np.delete(lasted, index)
        usual = float(np.quantile(others, 0.95)) if others.size else 0.0
        start, length = starts[index], lengths[index]
        if lasted[index] >= 10.0 * usual and not exempt[start]:
            stuck[start + 1 : start + length] = True
    return stuck
