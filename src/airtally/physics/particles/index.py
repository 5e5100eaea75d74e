"""The United States air quality index for PM2.5, by edition, truncated as its rule says."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Floats, Number
from airtally.limits.tables import IndexEdition, index_table
from airtally.physics.guards import require_not_negative

TENTHS_PER_KILOGRAM = 1e10
"""Tenths of a microgram in a kilogram. [1/kg], exact"""
BINARY_SLACK = 1e-6
"""Tenths by which a value may fall short of a whole tenth and still count as it: decimals are inexact in binary."""


def air_quality_index(mass_concentration: Number, edition: IndexEdition = IndexEdition.E2024) -> Number:
    r"""Return the air quality index of a day's mean PM2.5.

    .. math:: I = \frac{I_{hi} - I_{lo}}{C_{hi} - C_{lo}} (C - C_{lo}) + I_{lo}

    with C cut to 0.1 ug/m3 and I rounded to a whole number, halves upward.

    Parameters
    ----------
    mass_concentration : float or array
        Mean over 24 h, C. [kg/m3]
    edition : IndexEdition, optional
        Whose breakpoints. [-]

    Returns
    -------
    index : float or array
        Whole number; above the last row the row's line is continued, so it can exceed 500. [-]

    Raises
    ------
    InputError
        If a concentration is below zero.

    Notes
    -----
    Valid: 24 h means of outdoor PM2.5. An hourly value is no index, and an indoor one only a comparison.
    Departs from the source: a value within 1e-7 ug/m3 below a tenth counts as that tenth (binary fractions).
    Checked against: AQI2024 and AQI2012 tables, read; check values, particles section 9, examples 1 and 2.
    NaN in, NaN out.

    References
    ----------
    .. [AQI2024] docs/references.md, formula, cutting and rounding; table.
    .. [AQI2012] docs/references.md, earlier table.

    Examples
    --------
    >>> print(f"{air_quality_index(35.9e-9):.0f}")
    102
    """
    require_not_negative(mass_concentration=mass_concentration)
    tenths = np.floor(np.asarray(mass_concentration, dtype=float) * TENTHS_PER_KILOGRAM + BINARY_SLACK)
    rows = index_table(edition).rows
    lows = np.array([row.low for row in rows], dtype=float)
    highs = np.array([row.high for row in rows], dtype=float)
    index_lows = np.array([row.index_low for row in rows], dtype=float)
    index_highs = np.array([row.index_high for row in rows], dtype=float)
    row = np.clip(np.searchsorted(lows, tenths, side="right") - 1, 0, len(rows) - 1)
    slope = (index_highs - index_lows) / (highs - lows)
    whole: Floats = np.floor(slope[row] * (tenths - lows[row]) + index_lows[row] + 0.5)
    index: Number = whole[()]
    return index


def index_category(index: float, edition: IndexEdition = IndexEdition.E2024) -> str:
    """Return the official name of an index value's category.

    Parameters
    ----------
    index : float
        Index as a whole number. [-]
    edition : IndexEdition, optional
        Whose table. [-]

    Returns
    -------
    category : str
        Name as the table prints it; empty for NaN. [-]

    Raises
    ------
    InputError
        If the index is below zero.

    Notes
    -----
    Valid: shown only where the index itself is named.
    Departs from the source: not at all.
    Checked against: AQI2024, read.
    NaN in, NaN out: the answer is then an empty text.

    References
    ----------
    .. [AQI2024] docs/references.md.

    Examples
    --------
    >>> print(index_category(102.0))
    Unhealthy for Sensitive Groups
    """
    require_not_negative(index=index)
    if index != index:
        return ""
    rows = index_table(edition).rows
    reached = [row for row in rows if row.index_low <= index]
    return reached[-1].category
