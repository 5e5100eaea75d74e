"""Leaks in series and side by side, and sharp-edged openings."""

from __future__ import annotations

from math import sqrt

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive


def series_leakage_coefficient(
    first_coefficient: Number, second_coefficient: Number, leakage_exponent: Number
) -> Number:
    r"""Return the leak that two leaks one behind the other make.

    .. math:: C = (C_1^{-1/n} + C_2^{-1/n})^{-n}

    Parameters
    ----------
    first_coefficient : float or array
        Flow of the first leak at 1 Pa, C1. [m3/(s Pa^n)]
    second_coefficient : float or array
        Flow of the second leak at 1 Pa, C2. [m3/(s Pa^n)]
    leakage_exponent : float or array
        Exponent that both share, n. [-]

    Returns
    -------
    leakage_coefficient : float or array
        Flow of the pair at 1 Pa over both, C. [m3/(s Pa^n)]

    Raises
    ------
    InputError
        If a coefficient or an exponent is not above zero.

    Notes
    -----
    Valid: one exponent for both and no other opening between them; else use the network.
    Departs from the source: not at all.
    Checked against: check values, airflow section 11, E6.
    NaN in, NaN out.

    References
    ----------
    .. [PowerLaw] docs/references.md.

    Examples
    --------
    >>> print(f"{series_leakage_coefficient(200.0, 30.0, 0.65):.2f}")
    28.99
    """
    require_positive(
        first_coefficient=first_coefficient,
        second_coefficient=second_coefficient,
        leakage_exponent=leakage_exponent,
    )
    inverse = -1.0 / leakage_exponent
    coefficient: Number = (first_coefficient**inverse + second_coefficient**inverse) ** -leakage_exponent
    return coefficient


def parallel_leakage_coefficient(first_coefficient: Number, second_coefficient: Number) -> Number:
    r"""Return the leak that two leaks side by side make.

    .. math:: C = C_1 + C_2

    Parameters
    ----------
    first_coefficient : float or array
        Flow of the first leak at 1 Pa, C1. [m3/(s Pa^n)]
    second_coefficient : float or array
        Flow of the second leak at 1 Pa, C2. [m3/(s Pa^n)]

    Returns
    -------
    leakage_coefficient : float or array
        Flow of both at 1 Pa, C. [m3/(s Pa^n)]

    Notes
    -----
    Valid: both leaks see the same pressure and share one exponent.
    Departs from the source: not at all.
    Checked against: check values, airflow section 11, E6.
    NaN in, NaN out.

    References
    ----------
    .. [PowerLaw] docs/references.md.

    Examples
    --------
    >>> print(f"{parallel_leakage_coefficient(60.0, 28.992):.3f}")
    88.992
    """
    return first_coefficient + second_coefficient


def orifice_flow(
    area: Number, pressure_difference: Number, air_density: Number, discharge_coefficient: Number = 0.6
) -> Number:
    r"""Return the air that a sharp-edged hole passes.

    .. math:: Q = C_d A \, \mathrm{sign}(\Delta p) \sqrt{2 |\Delta p| / \rho}

    Parameters
    ----------
    area : float or array
        Area of the hole, A. [m2]
    pressure_difference : float or array
        Pressure of the first-named side minus the second, dp. [Pa]
    air_density : float or array
        Density of the air that flows through, rho. [kg/m3]
    discharge_coefficient : float or array, optional
        Contraction and friction together, C_d. [-]

    Returns
    -------
    flow : float or array
        Volume flow, with the sign of the pressure difference. [m3/s]

    Raises
    ------
    InputError
        If a density is not above zero.

    Notes
    -----
    Valid: turbulent flow through a thin plate; in narrow cracks it gives too much.
    Departs from the source: signed.
    Checked against: check values, airflow section 11, E4.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE2017] docs/references.md, chapter 16.

    Examples
    --------
    >>> print(f"{orifice_flow(0.02, 2.0852, 1.2923):.5f}")
    0.02156
    """
    require_positive(air_density=air_density)
    speed: Number = np.sqrt(np.abs(pressure_difference) / air_density)
    flow: Number = sqrt(2.0) * discharge_coefficient * area * np.sign(pressure_difference) * speed
    return flow
