"""Cross-sections of ducts: area, hydraulic diameter, round duct of equal friction."""

from __future__ import annotations

from math import pi

from airtally.arrays import Number
from airtally.errors import require_positive


def round_duct_area(diameter: Number) -> Number:
    r"""Return the cross-section of a round duct.

    .. math:: A = \pi D^2 / 4

    Parameters
    ----------
    diameter : float or array
        Inside diameter, D. [m]

    Returns
    -------
    area : float or array
        Cross-section, A. [m2]

    Notes
    -----
    Valid: always.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3, 8 inch duct.
    NaN in, NaN out.

    References
    ----------
    .. [DuctChapter] docs/references.md.

    Examples
    --------
    >>> print(f"{round_duct_area(0.2032):.5f}")
    0.03243
    """
    return 0.25 * pi * diameter**2


def equivalent_diameter(width: Number, height: Number) -> Number:
    r"""Return the round duct that loses as much pressure at the same flow as a rectangular one.

    .. math:: D_e = 1.30 \, (ab)^{0.625} / (a+b)^{0.25}

    Parameters
    ----------
    width : float or array
        One inside dimension, a. [m]
    height : float or array
        The other inside dimension, b. [m]

    Returns
    -------
    diameter : float or array
        Huebscher's equivalent diameter, D_e: larger than the hydraulic diameter. [m]

    Raises
    ------
    InputError
        If a dimension is not above zero.

    Notes
    -----
    Valid: aspect ratio to 8; beyond, the loss is understated.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3 and section 11 (E8).
    NaN in, NaN out.

    References
    ----------
    .. [DuctChapter] docs/references.md, Huebscher's formula, read.

    Examples
    --------
    >>> print(f"{equivalent_diameter(0.350, 0.200) * 1000:.1f} mm")
    286.4 mm
    """
    require_positive(width=width, height=height)
    diameter: Number = 1.30 * (width * height) ** 0.625 / (width + height) ** 0.25
    return diameter


def hydraulic_diameter(width: Number, height: Number) -> Number:
    r"""Return four times the cross-section over the perimeter of a rectangular duct.

    .. math:: D_h = 2ab / (a+b)

    Parameters
    ----------
    width : float or array
        One inside dimension, a. [m]
    height : float or array
        The other inside dimension, b. [m]

    Returns
    -------
    diameter : float or array
        Hydraulic diameter, D_h; to be used with the true velocity, not with that of a round duct. [m]

    Raises
    ------
    InputError
        If a dimension is not above zero.

    Notes
    -----
    Valid: always; it is a definition.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3, 350x200 mm.
    NaN in, NaN out.

    References
    ----------
    .. [DuctChapter] docs/references.md.

    Examples
    --------
    >>> print(f"{hydraulic_diameter(0.350, 0.200) * 1000:.1f} mm")
    254.5 mm
    """
    require_positive(width=width, height=height)
    return 2.0 * width * height / (width + height)
