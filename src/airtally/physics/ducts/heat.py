"""Heat that ducts lose on the way."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.constants import HEAT_CAPACITY
from airtally.physics.guards import require_fraction


def conduction_fraction(
    surface_area: Number,
    flow: Number,
    thermal_resistance: Number,
    air_density: Number,
    heat_capacity: Number = HEAT_CAPACITY,
) -> Number:
    r"""Return the share of a duct's temperature difference that is left at its end.

    .. math:: B = e^{-A / (\rho Q c_p R)}

    Parameters
    ----------
    surface_area : float or array
        Surface of the duct, A. [m2]
    flow : float or array
        Volume flow, Q. [m3/s]
    thermal_resistance : float or array
        Insulation with surface films, R. [m2 K/W]
    air_density : float or array
        Density of the air, rho. [kg/m3]
    heat_capacity : float or array, optional
        Heat capacity of the air, c_p. [J/(kg K)]

    Returns
    -------
    conduction_fraction : float or array
        B: 1 loses nothing. [-]

    Raises
    ------
    InputError
        If a flow, resistance, density or heat capacity is not above zero.

    Notes
    -----
    Valid: steady flow, one ambient temperature along the duct, no leaks.
    Departs from the source: SI.
    Checked against: check values, airflow section 7.
    NaN in, NaN out.

    References
    ----------
    .. [DuctLoss] docs/references.md, derivation read.

    Examples
    --------
    >>> print(f"{conduction_fraction(5.837, 0.118, 1.0567, 1.2014):.3f}")
    0.962
    """
    require_positive(
        flow=flow, thermal_resistance=thermal_resistance, air_density=air_density, heat_capacity=heat_capacity
    )
    fraction: Number = np.exp(-surface_area / (air_density * flow * heat_capacity * thermal_resistance))
    return fraction


def duct_exit_temperature(
    inlet_temperature: Number, ambient_temperature: Number, conduction_fraction: Number
) -> Number:
    r"""Return how warm the air is at the end of a duct.

    .. math:: T = T_a + (T_i - T_a) B

    Parameters
    ----------
    inlet_temperature : float or array
        Absolute temperature of the entering air, T_i. [K]
    ambient_temperature : float or array
        Absolute temperature around the duct, T_a. [K]
    conduction_fraction : float or array
        Share of the difference that is left, B. [-]

    Returns
    -------
    temperature : float or array
        Absolute temperature at the end. [K]

    Raises
    ------
    InputError
        If a fraction lies outside 0 to 1.

    Notes
    -----
    Valid: as conduction_fraction.
    Departs from the source: not at all.
    Checked against: check values, airflow section 7 and section 11 (E12).
    NaN in, NaN out.

    References
    ----------
    .. [DuctLoss] docs/references.md.

    Examples
    --------
    >>> print(f"{duct_exit_temperature(322.04, 277.59, 0.962):.2f}")
    320.35
    """
    require_fraction(conduction_fraction=conduction_fraction)
    return ambient_temperature + (inlet_temperature - ambient_temperature) * conduction_fraction


def duct_heat_loss(
    inlet_temperature: Number,
    exit_temperature: Number,
    flow: Number,
    air_density: Number,
    heat_capacity: Number = HEAT_CAPACITY,
) -> Number:
    r"""Return the heat a duct loses between its ends.

    .. math:: H = \rho Q c_p (T_i - T)

    Parameters
    ----------
    inlet_temperature : float or array
        Absolute temperature of the entering air, T_i. [K]
    exit_temperature : float or array
        Absolute temperature of the leaving air, T. [K]
    flow : float or array
        Volume flow, Q. [m3/s]
    air_density : float or array
        Density of the air, rho. [kg/m3]
    heat_capacity : float or array, optional
        Heat capacity of the air, c_p. [J/(kg K)]

    Returns
    -------
    heat_loss : float or array
        Heat lost, H; negative for a gain. [W]

    Notes
    -----
    Valid: as conduction_fraction.
    Departs from the source: not at all.
    Checked against: check values, airflow section 7 and section 11 (E12).
    NaN in, NaN out.

    References
    ----------
    .. [DuctLoss] docs/references.md.

    Examples
    --------
    >>> print(f"{duct_heat_loss(322.04, 320.35, 0.118, 1.2014):.0f} W")
    241 W
    """
    return air_density * flow * heat_capacity * (inlet_temperature - exit_temperature)


def delivery_effectiveness(
    supply_kept: Number,
    return_kept: Number,
    supply_conduction: Number,
    return_conduction: Number,
    supply_ambient_difference: Number,
    return_ambient_difference: Number,
    heating_rise: Number,
) -> Number:
    r"""Return the share of the furnace's heat that ducts bring into the house.

    .. math:: DE = a_s B_s - a_s B_s (1 - B_r a_r) \frac{\Delta T_r}{\Delta T_e}
        - a_s (1 - B_s) \frac{\Delta T_s}{\Delta T_e}

    Parameters
    ----------
    supply_kept : float or array
        Share of the supply air that does not leak, a_s. [-]
    return_kept : float or array
        Share of the return air that comes from the rooms, a_r. [-]
    supply_conduction : float or array
        Conduction fraction of the supply ducts, B_s. [-]
    return_conduction : float or array
        Conduction fraction of the return ducts, B_r. [-]
    supply_ambient_difference : float or array
        Room minus surroundings of the supply ducts, dTs. [K]
    return_ambient_difference : float or array
        Room minus surroundings of the return ducts, dTr. [K]
    heating_rise : float or array
        Temperature rise across the furnace, dTe. [K]

    Returns
    -------
    delivery_effectiveness : float or array
        DE. [-]

    Raises
    ------
    InputError
        If a share lies outside 0 to 1 or the rise is not above zero.

    Notes
    -----
    Valid: heating, steady; the infiltration that leaks cause is not in it.
    Departs from the source: derived from the energy balance, form from memory.
    Checked against: check values, airflow section 5; a stepwise balance in the tests.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE152] docs/references.md, from memory; the name read.

    Examples
    --------
    >>> print(f"{delivery_effectiveness(0.9, 0.866, 0.97712, 0.99231, 30.0, 30.0, 45.0):.4f}")
    0.7832
    """
    require_fraction(
        supply_kept=supply_kept,
        return_kept=return_kept,
        supply_conduction=supply_conduction,
        return_conduction=return_conduction,
    )
    require_positive(heating_rise=heating_rise)
    delivered = supply_kept * supply_conduction
    return_part = delivered * (1.0 - return_conduction * return_kept) * return_ambient_difference
    supply_part = supply_kept * (1.0 - supply_conduction) * supply_ambient_difference
    return delivered - (return_part + supply_part) / heating_rise
