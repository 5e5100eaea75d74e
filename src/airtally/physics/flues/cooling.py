"""How flue gas cools on its way up: length, temperature at a height, mean temperature."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.constants import HEAT_CAPACITY


def cooling_length(
    mass_flow: Number, heat_transfer_coefficient: Number, perimeter: Number, heat_capacity: Number = HEAT_CAPACITY
) -> Number:
    r"""Return the height over which flue gas loses 63 % of its excess temperature through the wall.

    .. math:: L = \dot m c_p / (U P)

    Parameters
    ----------
    mass_flow : float or array
        Mass flow of gas, m. [kg/s]
    heat_transfer_coefficient : float or array
        Heat that passes the wall per inside area and degree, films included, U. [W/(m2 K)]
    perimeter : float or array
        Inside perimeter of the flue, P. [m]
    heat_capacity : float or array, optional
        Heat capacity of the gas, c_p; air's by default, flue gas is up to 8 % above. [J/(kg K)]

    Returns
    -------
    cooling_length : float or array
        L; the longer, the warmer the gas that leaves. [m]

    Raises
    ------
    InputError
        If a flow, coefficient, perimeter or heat capacity is not above zero.

    Notes
    -----
    Valid: steady flow in a wall that has reached its own temperature; while masonry warms up, U is larger.
    Departs from the source: the standard's cooling number is K = H/L.
    Checked against: the duct of check values, airflow section 7, which cools by the same law.
    NaN in, NaN out.

    References
    ----------
    .. [EN13384] docs/references.md, from memory.
    .. [DuctLoss] docs/references.md, derivation read.

    Examples
    --------
    >>> print(f"{cooling_length(0.02, 3.0, 0.48):.1f} m")
    14.0 m
    """
    require_positive(
        mass_flow=mass_flow,
        heat_transfer_coefficient=heat_transfer_coefficient,
        perimeter=perimeter,
        heat_capacity=heat_capacity,
    )
    return mass_flow * heat_capacity / (heat_transfer_coefficient * perimeter)


def flue_temperature_at(
    height: Number, inlet_temperature: Number, ambient_temperature: Number, cooling_length: Number
) -> Number:
    r"""Return how hot the gas still is at a height in the flue.

    .. math:: T(z) = T_a + (T_i - T_a) \, e^{-z/L}

    Parameters
    ----------
    height : float or array
        Height above the flue's inlet, z. [m]
    inlet_temperature : float or array
        Absolute temperature of the gas where it enters, T_i. [K]
    ambient_temperature : float or array
        Absolute temperature around the flue, T_a. [K]
    cooling_length : float or array
        See cooling_length, L. [m]

    Returns
    -------
    temperature : float or array
        Absolute temperature of the gas. [K]

    Raises
    ------
    InputError
        If a temperature or the cooling length is not above zero.

    Notes
    -----
    Valid: as cooling_length; one ambient temperature along the flue.
    Departs from the source: not at all.
    Checked against: check values, airflow section 7 (exit of the 8 in duct, R 1 and R 6).
    NaN in, NaN out.

    References
    ----------
    .. [EN13384] docs/references.md, from memory.
    .. [DuctLoss] docs/references.md, derivation read.

    Examples
    --------
    >>> print(f"{flue_temperature_at(5.0, 473.15, 273.15, 14.0):.1f} K")
    413.1 K
    """
    require_positive(
        inlet_temperature=inlet_temperature, ambient_temperature=ambient_temperature, cooling_length=cooling_length
    )
    temperature: Number = ambient_temperature + (inlet_temperature - ambient_temperature) * np.exp(
        -height / cooling_length
    )
    return temperature


def mean_flue_temperature(
    height: Number, inlet_temperature: Number, ambient_temperature: Number, cooling_length: Number
) -> Number:
    r"""Return the mean temperature of the gas over the height of the flue.

    .. math:: T_m = T_a + (T_i - T_a) \, \frac{1 - e^{-K}}{K}, \quad K = H/L

    Parameters
    ----------
    height : float or array
        Height of the flue above its inlet, H. [m]
    inlet_temperature : float or array
        Absolute temperature of the gas where it enters, T_i. [K]
    ambient_temperature : float or array
        Absolute temperature around the flue, T_a. [K]
    cooling_length : float or array
        See cooling_length, L. [m]

    Returns
    -------
    temperature : float or array
        Absolute mean temperature; it gives the heat through the wall exactly, the draft within 1 %. [K]

    Raises
    ------
    InputError
        If a height, a temperature or the cooling length is not above zero.

    Notes
    -----
    Valid: as cooling_length.
    Departs from the source: not at all.
    Checked against: the heat loss of check values, airflow section 7, divided by surface and resistance.
    NaN in, NaN out.

    References
    ----------
    .. [EN13384] docs/references.md, from memory.

    Examples
    --------
    >>> print(f"{mean_flue_temperature(5.0, 473.15, 273.15, 14.0):.1f} K")
    441.3 K
    """
    require_positive(
        height=height,
        inlet_temperature=inlet_temperature,
        ambient_temperature=ambient_temperature,
        cooling_length=cooling_length,
    )
    cooling: Number = height / cooling_length
    mean: Number = ambient_temperature - (inlet_temperature - ambient_temperature) * np.expm1(-cooling) / cooling
    return mean
