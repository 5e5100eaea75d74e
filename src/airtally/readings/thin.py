"""A stream thinned for drawing: lowest and highest reading of each stretch of time, so that no peak is hidden."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Floats


def thinned(time: Floats, value: Floats, begin: float, end: float, count: int) -> tuple[Floats, Floats]:
    """Return lowest and highest value in each of ``count`` equal stretches from begin to end, NaN where none is.

    Parameters
    ----------
    time : array, shape (N,)
        In order. [s, POSIX UTC]
    value : array, shape (N,)
        Any unit; the results are in the same.
    begin, end : float
        Half-open. [s, POSIX UTC]
    count : int
    """
    low, high = np.full(count, np.nan), np.full(count, np.nan)
    first, last = np.searchsorted(time, (begin, end))
    if first == last:
        return low, high
    stretch = np.minimum(((time[first:last] - begin) * (count / (end - begin))).astype(np.int64), count - 1)
    starts = np.flatnonzero(np.diff(stretch, prepend=-1))
    low[stretch[starts]] = np.minimum.reduceat(value[first:last], starts)
    high[stretch[starts]] = np.maximum.reduceat(value[first:last], starts)
    return low, high
