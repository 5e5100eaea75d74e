"""Moist air: pressure with altitude, vapour, density, enthalpy."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.constants import DRY_AIR_CONSTANT, STANDARD_PRESSURE
from airtally.physics.guards import require_fraction, require_not_negative

VAPOUR_RATIO = 0.621945
"""Molar mass of water over that of dry air. [-], ASHRAE2017, chapter 1"""
VAPOUR_HEAT_CAPACITY = 1860.0
"""Heat capacity of water vapour. [J/(kg K)], ASHRAE2017, chapter 1, eq. 30"""
HEAT_OF_EVAPORATION = 2.501e6
"""Heat that evaporates water at 0 degC. [J/kg], ASHRAE2017, chapter 1, eq. 30"""


def pressure_at_altitude(altitude: Number) -> Number:
    r"""Return the pressure of the standard atmosphere at a height above the sea.

    .. math:: p = 101325 \, (1 - 2.25577 \cdot 10^{-5} z)^{5.2559}

    Parameters
    ----------
    altitude : float or array
        Height above sea level, z. [m]

    Returns
    -------
    pressure : float or array
        Absolute pressure of outdoor air. [Pa]

    Notes
    -----
    Valid: -5000 to 11000 m; above that the pressure returned is too low. Weather moves it by about 3 %.
    Departs from the source: not at all.
    Checked against: psychrolib and check values, airflow section 10 (1500 m).
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE2017] docs/references.md, chapter 1, eq. 3.

    Examples
    --------
    >>> print(f"{pressure_at_altitude(1500.0):.0f}")
    84556
    """
    pressure: Number = STANDARD_PRESSURE * (1.0 - 2.25577e-5 * altitude) ** 5.2559
    return pressure


def saturation_pressure(temperature: Number) -> Number:
    r"""Return the pressure of water vapour over water, or over ice below the triple point.

    .. math:: \ln p_{ws} = C_1/T + C_2 + C_3 T + C_4 T^2 + C_5 T^3 + C_6 T^4 + C_7 \ln T

    Parameters
    ----------
    temperature : float or array
        Absolute temperature of the air, T. [K]

    Returns
    -------
    vapour_pressure : float or array
        Saturation pressure, p_ws. [Pa]

    Raises
    ------
    InputError
        If a temperature is not above zero.

    Notes
    -----
    Valid: 173 to 473 K; outside the value drifts and nothing is raised.
    Departs from the source: not at all.
    Checked against: psychrolib and check values, airflow section 10.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE2017] docs/references.md, chapter 1, eqs. 5 and 6.

    Examples
    --------
    >>> print(f"{saturation_pressure(293.15):.1f}")
    2338.8
    """
    require_positive(temperature=temperature)
    t = np.asarray(temperature, dtype=float)
    over_ice = (
        -5674.5359 / t + 6.3925247 + t * (-9.677843e-3 + t * (6.2215701e-7 + t * (2.0747825e-9 + t * -9.484024e-13)))
    )
    over_ice = over_ice + 4.1635019 * np.log(t)
    over_water = -5800.2206 / t + 1.3914993 + t * (-4.8640239e-2 + t * (4.1764768e-5 + t * -1.4452093e-8))
    over_water = over_water + 6.5459673 * np.log(t)
    vapour_pressure: Number = np.exp(np.where(t < 273.16, over_ice, over_water))[()]
    return vapour_pressure


COLDEST_DEW = 173.15
"""Coldest dew point that the saturation formula reaches. [K], ASHRAE2017, chapter 1, eq. 5"""
HALVINGS = 50
"""Of the span in which the dew point is looked for: more than double precision resolves. [-]"""


def dew_point(temperature: Number, relative_humidity: Number) -> Number:
    r"""Return the temperature at which air's water begins to settle on a surface.

    .. math:: p_{ws}(T_d) = \varphi \, p_{ws}(T)

    Parameters
    ----------
    temperature : float or array
        Absolute temperature of the air, T. [K]
    relative_humidity : float or array
        Vapour pressure over saturation pressure, phi. [-]

    Returns
    -------
    dew_point : float or array
        Absolute, T_d; frost point below the triple point. [K]

    Raises
    ------
    InputError
        If a humidity lies outside 0 to 1 or a temperature is not above zero.

    Notes
    -----
    Valid: 173 to 473 K; drier air is given 173.15 K. The span is halved until nothing is left of it.
    Departs from the source: inverts its saturation formula instead of its fitted inverse.
    Checked against: psychrolib and check values, airflow section 10.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE2017] docs/references.md, chapter 1, eqs. 5 and 6.

    Examples
    --------
    >>> print(f"{dew_point(298.15, 0.5):.2f}")
    287.01
    """
    require_fraction(relative_humidity=relative_humidity)
    wanted = np.asarray(relative_humidity * saturation_pressure(temperature))
    high = np.asarray(temperature + 0.0 * wanted, dtype=float)
    low = np.minimum(COLDEST_DEW, high)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        is_above = saturation_pressure(middle) > wanted
        low, high = np.where(is_above, low, middle), np.where(is_above, middle, high)
    found: Number = (0.5 * (low + high) + 0.0 * wanted)[()]
    return found


def humidity_ratio(temperature: Number, relative_humidity: Number, pressure: Number = STANDARD_PRESSURE) -> Number:
    r"""Return the mass of water that a kilogram of dry air carries.

    .. math:: W = 0.621945 \, p_w / (p - p_w), \quad p_w = \varphi \, p_{ws}(T)

    Parameters
    ----------
    temperature : float or array
        Absolute temperature of the air, T. [K]
    relative_humidity : float or array
        Vapour pressure over saturation pressure, phi. [-]
    pressure : float or array, optional
        Absolute pressure, p. [Pa]

    Returns
    -------
    humidity_ratio : float or array
        Water per dry air, W. [kg/kg]

    Raises
    ------
    InputError
        If a humidity lies outside 0 to 1 or a temperature or pressure is not above zero.

    Notes
    -----
    Valid: 173 to 473 K and vapour pressure well below the total; nearer to it the value grows without bound.
    Departs from the source: not at all.
    Checked against: psychrolib and check values, airflow section 10.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE2017] docs/references.md, chapter 1, eq. 20.

    Examples
    --------
    >>> print(f"{humidity_ratio(293.15, 0.5):.5f}")
    0.00726
    """
    require_positive(pressure=pressure)
    require_fraction(relative_humidity=relative_humidity)
    vapour_pressure = relative_humidity * saturation_pressure(temperature)
    return VAPOUR_RATIO * vapour_pressure / (pressure - vapour_pressure)


def air_density(temperature: Number, relative_humidity: Number = 0.0, pressure: Number = STANDARD_PRESSURE) -> Number:
    r"""Return the mass of a cubic metre of moist air.

    .. math:: \rho = \frac{p \, (1 + W)}{R \, T \, (1 + W / 0.621945)}

    Parameters
    ----------
    temperature : float or array
        Absolute temperature of the air, T. [K]
    relative_humidity : float or array, optional
        Vapour pressure over saturation pressure; 0 means dry. [-]
    pressure : float or array, optional
        Absolute pressure, p; see pressure_at_altitude. [Pa]

    Returns
    -------
    density : float or array
        Total mass per volume, dry air and vapour. [kg/m3]

    Raises
    ------
    InputError
        If a humidity lies outside 0 to 1 or a temperature or pressure is not above zero.

    Notes
    -----
    Valid: the perfect-gas range, 233 to 333 K; the error there is below 0.1 %.
    Departs from the source: not at all.
    Checked against: psychrolib and check values, airflow section 10.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE2017] docs/references.md, chapter 1, eqs. 26 and 28.

    Examples
    --------
    >>> print(f"{air_density(293.15, 0.5):.4f}")
    1.1989
    """
    ratio = humidity_ratio(temperature, relative_humidity, pressure)
    return pressure * (1.0 + ratio) / (DRY_AIR_CONSTANT * temperature * (1.0 + ratio / VAPOUR_RATIO))


def moist_air_enthalpy(temperature: Number, humidity_ratio: Number) -> Number:
    r"""Return the heat that moist air holds per kilogram of its dry air, sensible and latent.

    .. math:: h = 1006 \, t + W \, (2.501 \cdot 10^6 + 1860 \, t), \quad t = T - 273.15

    Parameters
    ----------
    temperature : float or array
        Absolute temperature of the air, T. [K]
    humidity_ratio : float or array
        Water per dry air, W. [kg/kg]

    Returns
    -------
    enthalpy : float or array
        Enthalpy per dry air, h; zero for dry air at 0 degC. [J/kg]

    Raises
    ------
    InputError
        If a temperature is not above zero or a humidity ratio below zero.

    Notes
    -----
    Valid: 233 to 333 K, perfect gas. A difference of two states is what conditioning pays; one state alone is not.
    Departs from the source: not at all; the inch-pound tables of the trade start at 0 degF, so only differences agree.
    Checked against: psychrolib and check values, airflow section 10, both columns.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE2017] docs/references.md, chapter 1, eq. 30.

    Examples
    --------
    >>> print(f"{moist_air_enthalpy(293.15, 0.0072617) / 1000:.2f} kJ/kg")
    38.55 kJ/kg
    """
    require_positive(temperature=temperature)
    require_not_negative(humidity_ratio=humidity_ratio)
    celsius = temperature - 273.15
    return 1006.0 * celsius + humidity_ratio * (HEAT_OF_EVAPORATION + VAPOUR_HEAT_CAPACITY * celsius)
