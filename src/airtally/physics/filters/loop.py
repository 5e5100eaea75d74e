"""Filter in a loop beside the trunk: air it takes in again, clean air it gives, alone and in series."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.guards import require_fraction, require_not_negative


class TapOrder(StrEnum):
    """Which of a bypass loop's two taps comes first along the trunk."""

    TAKE_OFF_FIRST = "take-off upstream"
    RETURN_FIRST = "re-entry upstream"


def loop_recirculation(trunk_flow: Number, loop_flow: Number, order: TapOrder) -> Number:
    r"""Return how much of a bypass loop's intake is its own discharge.

    .. math:: r = \max(0, 1 - Q/q) \quad\text{or}\quad r = q/(Q + q)

    Parameters
    ----------
    trunk_flow : float or array
        Flow that the trunk brings to the taps, Q. [m3/s]
    loop_flow : float or array
        Flow of the loop's own fan, q. [m3/s]
    order : TapOrder
        Take-off upstream (first form) or re-entry upstream (second form, perfect mixing between the taps). [-]

    Returns
    -------
    recirculated_fraction : float or array
        r. [-]

    Raises
    ------
    InputError
        If a loop flow is not above zero or a trunk flow below zero.

    Notes
    -----
    Valid: both taps on one duct. With the air handler off the loop takes in only its own discharge.
    Departs from the source: derived here.
    Checked against: check values, airflow section 4.
    NaN in, NaN out.

    References
    ----------
    .. [CommonPractice] docs/references.md, no published measurement was found.

    Examples
    --------
    >>> print(f"{loop_recirculation(1200.0, 250.0, TapOrder.RETURN_FIRST):.3f}")
    0.172
    """
    require_positive(loop_flow=loop_flow)
    require_not_negative(trunk_flow=trunk_flow)
    if order == TapOrder.RETURN_FIRST:
        return loop_flow / (trunk_flow + loop_flow)
    fraction: Number = np.maximum(0.0, 1.0 - trunk_flow / loop_flow)
    return fraction


def loop_clean_air_rate(loop_flow: Number, efficiency: Number, recirculated_fraction: Number) -> Number:
    r"""Return the clean air a bypass loop gives when part of its intake is its own discharge.

    .. math:: Q_c = q \eta (1 - r) / [1 - r (1 - \eta)]

    Parameters
    ----------
    loop_flow : float or array
        Flow of the loop, q. [m3/s]
    efficiency : float or array
        Single-pass efficiency, eta. [-]
    recirculated_fraction : float or array
        Share of the intake that is its own discharge, r. [-]

    Returns
    -------
    clean_air_rate : float or array
        Clean air that reaches the house. [m3/s]

    Raises
    ------
    InputError
        If a share lies outside 0 to 1, or the share is 1 with an efficiency of 0.

    Notes
    -----
    Valid: steady state, mixed within the loop. At r = 1 it is zero.
    Departs from the source: derived here.
    Checked against: check values, airflow sections 4 and 11 (E9), particles section 2.
    NaN in, NaN out.

    References
    ----------
    .. [CommonPractice] docs/references.md.

    Examples
    --------
    >>> print(f"{loop_clean_air_rate(250.0, 0.9997, 0.3):.1f}")
    175.0
    """
    require_fraction(efficiency=efficiency, recirculated_fraction=recirculated_fraction)
    left = 1.0 - recirculated_fraction * (1.0 - efficiency)
    require_positive(air_that_leaves_the_loop=left)
    return loop_flow * efficiency * (1.0 - recirculated_fraction) / left


def series_clean_air_rate(
    trunk_flow: Number, loop_flow: Number, loop_efficiency: Number, filter_efficiency: Number
) -> Number:
    r"""Return the clean air of a bypass loop and a trunk filter one after the other.

    .. math:: Q_c = Q \, [1 - (1 - \eta_b q / Q)(1 - \eta_f)]

    Parameters
    ----------
    trunk_flow : float or array
        Flow in the trunk, Q. [m3/s]
    loop_flow : float or array
        Flow of the loop, not above the trunk's, q. [m3/s]
    loop_efficiency : float or array
        Single-pass efficiency of the loop's filter, eta_b. [-]
    filter_efficiency : float or array
        Single-pass efficiency of the trunk filter, eta_f. [-]

    Returns
    -------
    clean_air_rate : float or array
        Clean air of both together: less than their sum. [m3/s]

    Raises
    ------
    InputError
        If a share lies outside 0 to 1, a trunk flow is not above zero or the loop takes more than the trunk brings.

    Notes
    -----
    Valid: both on the trunk, air mixed between them, take-off upstream.
    Departs from the source: derived here.
    Checked against: check values, airflow sections 4 and 11 (E9).
    NaN in, NaN out.

    References
    ----------
    .. [CommonPractice] docs/references.md.

    Examples
    --------
    >>> print(f"{series_clean_air_rate(1200.0, 250.0, 1.0, 0.5):.0f}")
    725
    """
    require_positive(trunk_flow=trunk_flow)
    share = loop_flow / trunk_flow
    require_fraction(loop_share_of_trunk=share, loop_efficiency=loop_efficiency, filter_efficiency=filter_efficiency)
    return trunk_flow * (1.0 - (1.0 - loop_efficiency * share) * (1.0 - filter_efficiency))
