"""Stack pressure and the weight of a column of air."""

from __future__ import annotations

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.constants import DRY_AIR_CONSTANT, GRAVITY, STANDARD_PRESSURE


def stack_pressure(
    height: Number,
    outdoor_temperature: Number,
    indoor_temperature: Number,
    pressure: Number = STANDARD_PRESSURE,
) -> Number:
    r"""Return the pressure that warm indoor air makes at a height above the neutral level.

    .. math:: \Delta p = g h (\rho_o - \rho_i) = \frac{g h p}{R} (1/T_o - 1/T_i)

    Parameters
    ----------
    height : float or array
        Height above the neutral level, h; below it negative. [m]
    outdoor_temperature : float or array
        Absolute outdoor temperature, T_o. [K]
    indoor_temperature : float or array
        Absolute indoor temperature, T_i. [K]
    pressure : float or array, optional
        Absolute pressure, p. [Pa]

    Returns
    -------
    pressure_difference : float or array
        Inside minus outside at that height. [Pa]

    Raises
    ------
    InputError
        If a temperature or the pressure is not above zero.

    Notes
    -----
    Valid: dry air and one indoor temperature; vapour changes it by less than 3 % of the difference at 20 degC.
    Departs from the source: not at all.
    Checked against: check values, airflow section 2 and section 11 (E4).
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE2017] docs/references.md, chapter 16.

    Examples
    --------
    >>> print(f"{stack_pressure(1.0, 273.15, 293.15):.3f} Pa")
    0.865 Pa
    """
    require_positive(outdoor_temperature=outdoor_temperature, indoor_temperature=indoor_temperature, pressure=pressure)
    lighter = 1.0 / outdoor_temperature - 1.0 / indoor_temperature
    return GRAVITY * height * pressure / DRY_AIR_CONSTANT * lighter


def hydrostatic_gradient(air_density: Number) -> Number:
    r"""Return how fast the pressure of still air falls with height.

    .. math:: dp/dz = \rho g

    Parameters
    ----------
    air_density : float or array
        Density of the air, rho. [kg/m3]

    Returns
    -------
    pressure_gradient : float or array
        Fall of pressure per metre of height. [Pa/m]

    Notes
    -----
    Valid: heights of a house.
    Departs from the source: not at all.
    Checked against: the 12 Pa/m and 3.6 Pa/ft of BSI075, read.
    NaN in, NaN out.

    References
    ----------
    .. [BSI075] docs/references.md.

    Examples
    --------
    >>> print(f"{hydrostatic_gradient(1.204):.1f} Pa/m")
    11.8 Pa/m
    """
    return GRAVITY * air_density
