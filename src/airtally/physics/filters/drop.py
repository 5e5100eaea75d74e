"""Pressure drop of a clean filter: by class and depth, by face velocity, at another flow."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import InputError, require_positive
from airtally.physics.guards import require_not_negative
from airtally.physics.ranges import DefaultRange

_INCH = 0.0254
_FOOT_PER_MINUTE = 0.3048 / 60.0
_INCH_OF_WATER = 249.08891
PRINTED_DROP = 0.10 * _INCH_OF_WATER
"""Clean pressure drop that the velocities of CLEAN_VELOCITIES belong to. [Pa]; FilterBulletin2018, read"""
PRINTED_DEPTHS = (1.0 * _INCH, 2.0 * _INCH, 4.0 * _INCH)
"""Depths of the pleated filters of CLEAN_VELOCITIES. [m]; FilterBulletin2018, read"""
CLEAN_VELOCITIES = {
    11: (200.0 * _FOOT_PER_MINUTE, 240.0 * _FOOT_PER_MINUTE, 300.0 * _FOOT_PER_MINUTE),
    13: (175.0 * _FOOT_PER_MINUTE, 195.0 * _FOOT_PER_MINUTE, 260.0 * _FOOT_PER_MINUTE),
}
"""Face velocity at which a clean pleated filter takes PRINTED_DROP, by MERV and depth. [m/s]; FilterBulletin2018, read"""
DROP_EXPONENTS = DefaultRange(
    low=1.0, value=1.25, high=1.5, unit="-", source="FilterBulletin2018: medium near linear, pleats above; from memory"
)
"""Exponent of a clean filter's pressure drop over flow. [-]"""
SPREAD_OF_PRODUCTS = 2.5
"""Factor by which filters of one class and depth differ. [-]; GBA-Filter reads 0.0274 where the bulletin gives 0.068"""


def default_clean_drop(merv: int, depth: float, face_velocity: float) -> DefaultRange:
    r"""Return the clean pressure drop that pleated filters of a class and depth are printed with.

    .. math:: \Delta p = 24.9 \, (v/v_0)^m

    with v_0 from CLEAN_VELOCITIES, between its classes and depths on a straight line.

    Parameters
    ----------
    merv : int
        Rating, to 13; below 11 it counts as 11, which states the drop too high. [-]
    depth : float
        Depth of the filter; outside 1 to 4 in the nearest printed one. [m]
    face_velocity : float
        Flow over face area, v. [m/s]

    Returns
    -------
    pressure_drop : DefaultRange
        Ends and middle; a printed or measured drop of the filter itself goes before it. [Pa]

    Raises
    ------
    InputError
        If the rating is above 13, or a depth or velocity is not above zero.

    Notes
    -----
    Valid: 100 to 500 ft/min, clean and seated.
    Departs from the source: exponent and spread of products are ours.
    Checked against: FilterBulletin2018's six velocities, read; GBA-Filter, 0.0274 inH2O at 144 fpm, read, lies inside.
    NaN in, NaN out.

    References
    ----------
    .. [FilterBulletin2018] docs/references.md.
    .. [GBA-Filter] docs/references.md.

    Examples
    --------
    >>> print(f"{default_clean_drop(13, 0.0254, 0.889).value:.1f} Pa")
    24.9 Pa
    """
    if merv > max(CLEAN_VELOCITIES):
        raise InputError(f"merv must be at most {max(CLEAN_VELOCITIES)}: no clean drop is printed above; given {merv}")
    require_positive(depth=depth, face_velocity=face_velocity)
    classes = sorted(CLEAN_VELOCITIES)
    at_depth = [float(np.interp(depth, PRINTED_DEPTHS, CLEAN_VELOCITIES[one])) for one in classes]
    ratio = face_velocity / float(np.interp(merv, classes, at_depth))
    ends = sorted((ratio**DROP_EXPONENTS.low, ratio**DROP_EXPONENTS.high))
    return DefaultRange(
        low=PRINTED_DROP * ends[0] / SPREAD_OF_PRODUCTS,
        value=PRINTED_DROP * ratio**DROP_EXPONENTS.value,
        high=PRINTED_DROP * ends[1] * SPREAD_OF_PRODUCTS,
        unit="Pa",
        source="default: pleated filters as printed in FilterBulletin2018; products of one class differ",
    )


def filter_pressure_drop(
    reference_drop: Number, reference_flow: Number, flow: Number, drop_exponent: Number = 1.0
) -> Number:
    r"""Return a filter's pressure drop at another flow than the one it is printed for.

    .. math:: \Delta p = \Delta p_0 (Q/Q_0)^m

    Parameters
    ----------
    reference_drop : float or array
        Pressure drop on the data sheet or measured, dp0. [Pa]
    reference_flow : float or array
        Flow (or face velocity, both alike) that belongs to it, Q0. [m3/s]
    flow : float or array
        Flow (or face velocity) wanted, Q. [m3/s]
    drop_exponent : float or array, optional
        m: 1 for the medium, to 1.5 with pleats, 2 for frame losses. [-]

    Returns
    -------
    pressure_drop : float or array
        Pressure drop at that flow. [Pa]

    Raises
    ------
    InputError
        If a reference flow is not above zero or a flow below zero.

    Notes
    -----
    Valid: one filter in one state of loading; products of one class differ by a factor of two or more.
    Departs from the source: not at all.
    Checked against: check values, particles section 9, example 10.
    NaN in, NaN out.

    References
    ----------
    .. [FilterBulletin2018] docs/references.md; exponents from memory.

    Examples
    --------
    >>> print(f"{filter_pressure_drop(24.9, 175.0, 350.0, 1.5):.1f} Pa")
    70.4 Pa
    """
    require_positive(reference_flow=reference_flow)
    require_not_negative(flow=flow)
    drop: Number = reference_drop * (flow / reference_flow) ** drop_exponent
    return drop


def face_velocity(flow: Number, area: Number) -> Number:
    r"""Return the speed of air at the face of a filter, a coil or a grille.

    .. math:: v = Q / A

    Parameters
    ----------
    flow : float or array
        Volume flow, Q. [m3/s]
    area : float or array
        Face area, A. [m2]

    Returns
    -------
    velocity : float or array
        Mean face velocity, v. [m/s]

    Raises
    ------
    InputError
        If an area is not above zero.

    Notes
    -----
    Valid: always; the flow through is seldom even.
    Departs from the source: not at all.
    Checked against: check values, airflow sections 3 and 4 (144, 346, 173 fpm).
    NaN in, NaN out.

    References
    ----------
    .. [GBA-Filter] docs/references.md.

    Examples
    --------
    >>> print(f"{face_velocity(0.18878, 0.25806):.3f}")
    0.732
    """
    require_positive(area=area)
    return flow / area
