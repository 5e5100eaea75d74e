"""Fan laws: speed, density, and where a fan and its ducts agree."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.constants import STANDARD_AIR_DENSITY
from airtally.physics.guards import require_not_negative


def affinity_flow(flow: Number, speed_ratio: Number) -> Number:
    r"""Return a fan's flow at another speed in the same system.

    .. math:: Q_2 = Q_1 \, (N_2/N_1)

    Parameters
    ----------
    flow : float or array
        Volume flow at the first speed, Q1. [m3/s]
    speed_ratio : float or array
        New speed over old, N2/N1. [-]

    Returns
    -------
    flow : float or array
        Volume flow at the new speed. [m3/s]

    Notes
    -----
    Valid: a system whose pressure goes with the square of the flow; a media filter moves it by a few percent.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3 (80 % speed).
    NaN in, NaN out.

    References
    ----------
    .. [FanLaws] docs/references.md, from memory.

    Examples
    --------
    >>> print(f"{affinity_flow(1.0, 0.8):.2f}")
    0.80
    """
    return flow * speed_ratio


def affinity_pressure(pressure_rise: Number, speed_ratio: Number, density_ratio: Number = 1.0) -> Number:
    r"""Return a fan's pressure at another speed or density in the same system.

    .. math:: p_2 = p_1 \, (N_2/N_1)^2 \, (\rho_2/\rho_1)

    Parameters
    ----------
    pressure_rise : float or array
        Fan pressure at the first speed, p1. [Pa]
    speed_ratio : float or array
        New speed over old. [-]
    density_ratio : float or array, optional
        New air density over old. [-]

    Returns
    -------
    pressure_rise : float or array
        Fan pressure at the new speed and density. [Pa]

    Notes
    -----
    Valid: as affinity_flow.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3 (80 % speed).
    NaN in, NaN out.

    References
    ----------
    .. [FanLaws] docs/references.md, from memory.

    Examples
    --------
    >>> print(f"{affinity_pressure(1.0, 0.8):.2f}")
    0.64
    """
    return pressure_rise * speed_ratio**2 * density_ratio


def affinity_power(power: Number, speed_ratio: Number, density_ratio: Number = 1.0) -> Number:
    r"""Return a fan's power at another speed or density in the same system.

    .. math:: P_2 = P_1 \, (N_2/N_1)^3 \, (\rho_2/\rho_1)

    Parameters
    ----------
    power : float or array
        Shaft power at the first speed, P1. [W]
    speed_ratio : float or array
        New speed over old. [-]
    density_ratio : float or array, optional
        New air density over old. [-]

    Returns
    -------
    power : float or array
        Shaft power at the new speed and density. [W]

    Notes
    -----
    Valid: the shaft; motors lose efficiency at low speed, so electric power falls less.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3 (80 % speed).
    NaN in, NaN out.

    References
    ----------
    .. [FanLaws] docs/references.md, from memory.

    Examples
    --------
    >>> print(f"{affinity_power(1.0, 0.8):.3f}")
    0.512
    """
    return power * speed_ratio**3 * density_ratio


def operating_flow(
    shutoff_pressure: Number,
    fan_droop: Number,
    system_resistance: Number,
    added_resistance: Number = 0.0,
    added_linear_resistance: Number = 0.0,
) -> Number:
    r"""Return the flow at which a fan and its ducts agree, with something added in line.

    The root of :math:`p_0 - a Q^2 = (b + d) Q^2 + c Q`.

    Parameters
    ----------
    shutoff_pressure : float or array
        Fan pressure at no flow, p0. [Pa]
    fan_droop : float or array
        Fall of the fan curve, a. [Pa s2/m6]
    system_resistance : float or array
        Resistance of ducts, coil and filter, b. [Pa s2/m6]
    added_resistance : float or array, optional
        Added resistance that goes with the square of the flow, d. [Pa s2/m6]
    added_linear_resistance : float or array, optional
        Added resistance that goes with the flow, as of a media filter, c. [Pa s/m3]

    Returns
    -------
    flow : float or array
        Volume flow at the operating point. [m3/s]

    Raises
    ------
    InputError
        If a pressure or the sum of droop and resistances is not above zero.

    Notes
    -----
    Valid: a fan curve that is a falling parabola; real curves belong to the network.
    Departs from the source: derived here.
    Checked against: check values, airflow section 4 and section 11 (E9).
    NaN in, NaN out.

    References
    ----------
    .. [FanLaws] docs/references.md.

    Examples
    --------
    >>> print(f"{1200 * operating_flow(1.0, 0.5, 0.5, 0.0, 1.2):.0f}")
    679
    """
    square = fan_droop + system_resistance + added_resistance
    require_positive(shutoff_pressure=shutoff_pressure, droop_and_resistance=square)
    require_not_negative(added_linear_resistance=added_linear_resistance)
    half = 0.5 * added_linear_resistance
    flow: Number = shutoff_pressure / (half + np.sqrt(half**2 + square * shutoff_pressure))
    return flow


def standard_flow(flow: Number, air_density: Number) -> Number:
    r"""Return the flow of standard air that carries as much mass as a flow of air at its own density.

    .. math:: Q_s = Q \, \rho / 1.2014

    Parameters
    ----------
    flow : float or array
        Volume flow as it passes, Q. [m3/s]
    air_density : float or array
        Density of that air, rho. [kg/m3]

    Returns
    -------
    flow : float or array
        Flow in standard cubic metres, Q_s. [m3/s]

    Raises
    ------
    InputError
        If a density is not above zero.

    Notes
    -----
    Valid: always; it is a definition. Heat and mass go with it, velocity and fan tables with the actual flow.
    Departs from the source: SI.
    Checked against: check values, airflow section 10: 16.5 % less mass at 1500 m, 0.0623 against 0.075 lb/ft3 at 5000 ft.
    NaN in, NaN out.

    References
    ----------
    .. [DuctChapter] docs/references.md, standard air.

    Examples
    --------
    >>> print(f"{standard_flow(1.0, 1.00487):.3f}")
    0.836
    """
    require_positive(air_density=air_density)
    return flow * air_density / STANDARD_AIR_DENSITY
