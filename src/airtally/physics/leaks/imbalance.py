"""Unbalanced flow and the pressure it makes in a house."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.leaks.power_law import DEFAULT_LEAKAGE_EXPONENT


def pressure_from_imbalance(
    unbalanced_flow: Number, flow_at_50: Number, leakage_exponent: Number = DEFAULT_LEAKAGE_EXPONENT
) -> Number:
    r"""Return the house pressure that fans make when they blow in more or less than they take out.

    .. math:: \Delta p = 50 \, \mathrm{sign}(Q) \, (|Q| / Q_{50})^{1/n}

    Parameters
    ----------
    unbalanced_flow : float or array
        Supplied minus exhausted flow, Q; an exhaust fan alone is negative. [m3/s]
    flow_at_50 : float or array
        Envelope leakage at 50 Pa, Q50. [m3/s]
    leakage_exponent : float or array, optional
        Exponent of the envelope, n. [-]

    Returns
    -------
    pressure_difference : float or array
        House minus outdoors; below zero when the house is under suction. [Pa]

    Raises
    ------
    InputError
        If a leakage or an exponent is not above zero.

    Notes
    -----
    Valid: still air and no stack effect: it is a change from the baseline, not the pressure at the floor.
    Departs from the source: signed.
    Checked against: check values, airflow sections 5, 6 and 11 (E11).
    NaN in, NaN out.

    References
    ----------
    .. [PowerLaw] docs/references.md.

    Examples
    --------
    >>> print(f"{pressure_from_imbalance(-250.0, 1000.0):.2f} Pa")
    -5.93 Pa
    """
    require_positive(flow_at_50=flow_at_50, leakage_exponent=leakage_exponent)
    pressure: Number = (
        50.0 * np.sign(unbalanced_flow) * (np.abs(unbalanced_flow) / flow_at_50) ** (1.0 / leakage_exponent)
    )
    return pressure


def least_flow_at_50(
    exhaust_flow: Number, pressure_limit: Number, leakage_exponent: Number = DEFAULT_LEAKAGE_EXPONENT
) -> Number:
    r"""Return the leakage a house must have for an exhaust not to exceed a suction limit.

    .. math:: Q_{50} = Q_{ex} \, (50 / |\Delta p|)^n

    Parameters
    ----------
    exhaust_flow : float or array
        Net exhausted flow as a magnitude, Qex. [m3/s]
    pressure_limit : float or array
        House pressure not to fall below, a negative number. [Pa]
    leakage_exponent : float or array, optional
        Exponent of the envelope, n. [-]

    Returns
    -------
    flow_at_50 : float or array
        Least envelope leakage at 50 Pa. [m3/s]

    Raises
    ------
    InputError
        If a limit is not below zero or an exponent not above zero.

    Notes
    -----
    Valid: still air; the suction of the stack effect comes on top.
    Departs from the source: the limit keeps its printed minus sign.
    Checked against: check values, airflow sections 6 and 11 (E11).
    NaN in, NaN out.

    References
    ----------
    .. [PowerLaw] docs/references.md.

    Examples
    --------
    >>> print(f"{least_flow_at_50(300.0, -5.0):.0f}")
    1340
    """
    suction = -np.asarray(pressure_limit, dtype=float)
    require_positive(suction_limit=suction, leakage_exponent=leakage_exponent)
    flow: Number = exhaust_flow * (50.0 / suction) ** leakage_exponent
    return flow
