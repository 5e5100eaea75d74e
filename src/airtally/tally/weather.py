"""Weather-driven series cut into few levels, so that step matrices can be kept per level."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Floats, Integers
from airtally.errors import InputError

_ONE_LEVEL = 1e-9
"""A series that spreads by less than this share has one level: bands would be cut by rounding."""


def levels_of(values: Floats, count: int) -> tuple[Floats, Integers]:
    """Quantise a positive series (T,) into at most ``count`` log-spaced levels.

    Parameters
    ----------
    values : array (T,)
        Positive series, such as the infiltration of a reference house. [any]
    count : int
        Most levels wanted.

    Returns
    -------
    levels : array (W,)
        Mean of the values in each occupied band, rising; W <= count. [same as values]
    index : array (T,)
        Level of each value; ``levels[index]`` has the mean of ``values``.

    Raises
    ------
    InputError
        Where a value is not positive and finite, or ``count`` is below one.

    Notes
    -----
    Bands are equal in the logarithm, so no value moves by more than the ratio (largest/least)^(1/count).
    """
    given = np.asarray(values, dtype=float)
    if count < 1 or given.ndim != 1 or given.size == 0:
        raise InputError("levels need a series with one axis, at least one value, and a count of one or more")
    if not np.all(np.isfinite(given) & (given > 0.0)):
        raise InputError("levels need positive, finite values; fill gaps first")
    low, high = np.log(given.min()), np.log(given.max())
    if high - low < _ONE_LEVEL:
        return np.array([given.mean()]), np.zeros(given.size, dtype=np.int64)
    band = np.minimum((np.log(given) - low) / (high - low) * count, count - 1).astype(np.int64)
    occupied, index = np.unique(band, return_inverse=True)
    members = np.bincount(index)
    levels = np.bincount(index, weights=given) / members
    return levels[: len(occupied)], np.asarray(index, dtype=np.int64)
