"""The power law of leaks: flow, coefficient, exponent, pressure across."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Floats, Number
from airtally.errors import InputError, require_positive

DEFAULT_LEAKAGE_EXPONENT = 0.65
"""Exponent of house envelopes when none was measured. [-], Gowri2009, read"""
DUCT_LEAKAGE_EXPONENT = 0.6
"""Exponent of duct leaks when none was measured. [-], from memory"""


def leakage_flow(leakage_coefficient: Number, pressure_difference: Number, leakage_exponent: Number) -> Number:
    r"""Return the air that a leak passes at a pressure difference.

    .. math:: Q = C \, \mathrm{sign}(\Delta p) \, |\Delta p|^n

    Parameters
    ----------
    leakage_coefficient : float or array
        Flow at 1 Pa, C. [m3/(s Pa^n)]
    pressure_difference : float or array
        Pressure of the first-named side minus the second, dp. [Pa]
    leakage_exponent : float or array
        Exponent of the power law, n; 0.5 orifice, 1 long crack. [-]

    Returns
    -------
    flow : float or array
        Volume flow, with the sign of the pressure difference. [m3/s]

    Raises
    ------
    InputError
        If an exponent is not above zero.

    Notes
    -----
    Valid: the range of pressures the coefficient was measured in; below 1 Pa the true flow is nearer to linear.
    Departs from the source: takes either sign of pressure.
    Checked against: check values, airflow section 11, E1 and E6.
    NaN in, NaN out.

    References
    ----------
    .. [PowerLaw] docs/references.md.

    Examples
    --------
    >>> print(f"{leakage_flow(0.0557, 50.0, 0.65):.3f}")
    0.708
    """
    require_positive(leakage_exponent=leakage_exponent)
    flow: Number = leakage_coefficient * np.sign(pressure_difference) * np.abs(pressure_difference) ** leakage_exponent
    return flow


def leakage_coefficient(flow: Number, pressure_difference: Number, leakage_exponent: Number) -> Number:
    r"""Return the flow at 1 Pa from one measured point.

    .. math:: C = Q / \Delta p^n

    Parameters
    ----------
    flow : float or array
        Volume flow at the test pressure, Q. [m3/s]
    pressure_difference : float or array
        Test pressure as a magnitude, dp. [Pa]
    leakage_exponent : float or array
        Exponent of the power law, n. [-]

    Returns
    -------
    leakage_coefficient : float or array
        Flow at 1 Pa, C. [m3/(s Pa^n)]

    Raises
    ------
    InputError
        If a pressure or an exponent is not above zero.

    Notes
    -----
    Valid: one point needs an assumed exponent; an error of 0.05 in it moves the flow at 4 Pa by 13 %.
    Departs from the source: not at all.
    Checked against: check values, airflow section 11, E1.
    NaN in, NaN out.

    References
    ----------
    .. [PowerLaw] docs/references.md.

    Examples
    --------
    >>> print(f"{leakage_coefficient(0.708, 50.0, 0.65):.4f}")
    0.0557
    """
    require_positive(pressure_difference=pressure_difference, leakage_exponent=leakage_exponent)
    coefficient: Number = flow / pressure_difference**leakage_exponent
    return coefficient


def power_law_of_points(pressure_differences: Floats, flows: Floats) -> tuple[float, float]:
    r"""Return flow at 1 Pa and exponent of the power law through the points of a door-fan test.

    The straight line of least squares through :math:`\ln Q = \ln C + n \ln \Delta p`.

    Parameters
    ----------
    pressure_differences : array
        Pressures of the stations as magnitudes, two different ones at least. [Pa]
    flows : array
        Fan flows at the stations. [m3/s]

    Returns
    -------
    law : tuple of float
        Leakage coefficient, C, and exponent, n, in this order. [m3/(s Pa^n) and -]

    Raises
    ------
    InputError
        If the series differ in length, a value is not above zero or fewer than two pressures differ.

    Notes
    -----
    Valid: stations from about 5 to 50 Pa. An exponent outside 0.5 to 1 is returned as it is: the test is then doubtful.
    Departs from the source: every station weighs the same.
    Checked against: scipy.stats.linregress; points made from E1 of check values, airflow section 11.
    NaN in, NaN out.

    References
    ----------
    .. [PowerLaw] docs/references.md, range of n and stations.
    .. [ASTM-E779] docs/references.md, the regression, from memory.

    Examples
    --------
    >>> coefficient, exponent = power_law_of_points(np.array([10.0, 50.0]), np.array([0.2487, 0.7079]))
    >>> print(f"{coefficient:.4f} {exponent:.2f}")
    0.0557 0.65
    """
    pressures = np.atleast_1d(np.asarray(pressure_differences, dtype=float))
    measured = np.atleast_1d(np.asarray(flows, dtype=float))
    if pressures.shape != measured.shape or np.unique(pressures).size < 2:
        raise InputError(
            f"power_law_of_points needs as many flows as pressures and two pressures; given {pressures.size} pressures "
            f"({np.unique(pressures).size} different) and {measured.size} flows"
        )
    require_positive(pressure_differences=pressures, flows=measured)
    x, y = np.log(pressures), np.log(measured)
    away = x - x.mean()
    exponent = float(np.sum(away * y) / np.sum(away**2))
    return float(np.exp(y.mean() - exponent * x.mean())), exponent


def flow_at_pressure(
    flow: Number, reference_pressure: Number, pressure_difference: Number, leakage_exponent: Number
) -> Number:
    r"""Return a leak's flow at another pressure than the one it was tested at.

    .. math:: Q_2 = Q_1 (\Delta p_2 / \Delta p_1)^n

    Parameters
    ----------
    flow : float or array
        Volume flow at the test pressure, Q1. [m3/s]
    reference_pressure : float or array
        Test pressure, dp1. [Pa]
    pressure_difference : float or array
        Pressure wanted, as a magnitude, dp2. [Pa]
    leakage_exponent : float or array
        Exponent of the power law, n. [-]

    Returns
    -------
    flow : float or array
        Volume flow at the pressure wanted, Q2. [m3/s]

    Raises
    ------
    InputError
        If a pressure or an exponent is not above zero.

    Notes
    -----
    Valid: near the range of the test; from 50 to 4 Pa the exponent carries most of the doubt.
    Departs from the source: not at all.
    Checked against: check values, airflow sections 1, 5 and 11; the field pair of FSEC138.
    NaN in, NaN out.

    References
    ----------
    .. [PowerLaw] docs/references.md.
    .. [FSEC138] docs/references.md, measured duct leaks at 25 Pa and in operation.

    Examples
    --------
    >>> print(f"{flow_at_pressure(100.0, 25.0, 50.0, 0.6):.1f}")
    151.6
    """
    require_positive(
        reference_pressure=reference_pressure,
        pressure_difference=pressure_difference,
        leakage_exponent=leakage_exponent,
    )
    scaled: Number = flow * (pressure_difference / reference_pressure) ** leakage_exponent
    return scaled


def pressure_across(flow: Number, leakage_coefficient: Number, leakage_exponent: Number) -> Number:
    r"""Return the pressure difference that drives a flow through a leak.

    .. math:: \Delta p = \mathrm{sign}(Q) \, (|Q| / C)^{1/n}

    Parameters
    ----------
    flow : float or array
        Volume flow from the first-named side to the second, Q. [m3/s]
    leakage_coefficient : float or array
        Flow at 1 Pa, C. [m3/(s Pa^n)]
    leakage_exponent : float or array
        Exponent of the power law, n. [-]

    Returns
    -------
    pressure_difference : float or array
        Pressure of the first-named side minus the second. [Pa]

    Raises
    ------
    InputError
        If a coefficient or an exponent is not above zero.

    Notes
    -----
    Valid: as leakage_flow, of which it is the inverse.
    Departs from the source: takes either sign of flow.
    Checked against: check values, airflow section 11, E6.
    NaN in, NaN out.

    References
    ----------
    .. [PowerLaw] docs/references.md.

    Examples
    --------
    >>> print(f"{pressure_across(-0.0472, 0.0420, 0.65):.2f}")
    -1.20
    """
    require_positive(leakage_coefficient=leakage_coefficient, leakage_exponent=leakage_exponent)
    pressure: Number = np.sign(flow) * (np.abs(flow) / leakage_coefficient) ** (1.0 / leakage_exponent)
    return pressure
