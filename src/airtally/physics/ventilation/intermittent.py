"""Fans that run part of the time: turnover in a cycle, effectiveness, flow."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.guards import require_fraction

TURNOVER_HEIGHT = 60.0 / 12.8 * 0.3048
"""Height that turns floor area into air exchanged, from the printed 12.8. [m]; TX-Mech E605.1.7, read"""


def cycle_turnover(flow: Number, cycle_time: Number, floor_area: Number) -> Number:
    r"""Return how many times a fan's mean flow changes the air in one on-off cycle.

    .. math:: N = 12.8 \, Q[\mathrm{cfm}] \, T[\mathrm h] / A_f[\mathrm{ft^2}]

    Parameters
    ----------
    flow : float or array
        Mean flow wanted, Q. [m3/s]
    cycle_time : float or array
        Length of one cycle, on and off, T. [s]
    floor_area : float or array
        Floor area, A_f. [m2]

    Returns
    -------
    turnover : float or array
        N. [-]

    Raises
    ------
    InputError
        If a floor area is not above zero.

    Notes
    -----
    Valid: cycles to 24 h.
    Departs from the source: SI; the 12.8 stands for a height of 4.69 ft, lower than a room.
    Checked against: check values, airflow section 9.
    NaN in, NaN out.

    References
    ----------
    .. [TX-Mech] docs/references.md, E605.1.7.

    Examples
    --------
    >>> print(f"{cycle_turnover(0.042475, 14400.0, 185.806):.3f}")
    2.304
    """
    require_positive(floor_area=floor_area)
    return flow * cycle_time / (TURNOVER_HEIGHT * floor_area)


def intermittent_effectiveness(on_fraction: Number, turnover: Number) -> Number:
    r"""Return how well a cycling fan dilutes against one that runs always at the same mean flow.

    .. math:: 1/\varepsilon = f(2-f) + (1-f)^2 \, (N/2) \coth(N/2)

    Parameters
    ----------
    on_fraction : float or array
        Share of the cycle the fan runs, f. [-]
    turnover : float or array
        Air changes by the mean flow in one cycle, N. [-]

    Returns
    -------
    effectiveness : float or array
        epsilon, at most 1. [-]

    Raises
    ------
    InputError
        If a fraction lies outside 0 to 1 or a turnover is not above zero.

    Notes
    -----
    Valid: constant source, mixed room, no other ventilation.
    Departs from the source: closed form derived here; the standard prints a curve.
    Checked against: check values, airflow section 9 and 11 (E12); the older table's 0.33; integration in the tests.
    NaN in, NaN out.

    References
    ----------
    .. [TX-Mech] docs/references.md, E605.1.7, the rule it serves.

    Examples
    --------
    >>> print(f"{intermittent_effectiveness(0.1, 0.9):.4f}")
    0.9488
    """
    require_fraction(on_fraction=on_fraction)
    require_positive(turnover=turnover)
    half: Number = 0.5 * turnover
    inverse = on_fraction * (2.0 - on_fraction) + (1.0 - on_fraction) ** 2 * half / np.tanh(half)
    effectiveness: Number = 1.0 / inverse
    return effectiveness


def intermittent_flow(flow: Number, effectiveness: Number, on_fraction: Number) -> Number:
    r"""Return the flow a cycling fan needs to stand in for a continuous one.

    .. math:: Q_{on} = Q / (\varepsilon f)

    Parameters
    ----------
    flow : float or array
        Continuous flow wanted, Q. [m3/s]
    effectiveness : float or array
        epsilon; 1 when the fan runs at least once in three hours. [-]
    on_fraction : float or array
        Share of the cycle the fan runs, f. [-]

    Returns
    -------
    flow : float or array
        Flow while on. [m3/s]

    Raises
    ------
    InputError
        If an effectiveness or a fraction is not above zero.

    Notes
    -----
    Valid: as intermittent_effectiveness.
    Departs from the source: not at all.
    Checked against: TX-Mech E605.1.7, read.
    NaN in, NaN out.

    References
    ----------
    .. [TX-Mech] docs/references.md, E605.1.7.

    Examples
    --------
    >>> print(f"{intermittent_flow(90.0, 0.9488, 0.1):.0f}")
    949
    """
    require_positive(effectiveness=effectiveness, on_fraction=on_fraction)
    return flow / (effectiveness * on_fraction)
