"""Stack-and-wind model of infiltration, with a leakage area or with the power law."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import InputError, require_positive
from airtally.physics.guards import require_not_negative

STACK_COEFFICIENTS = (0.0145, 0.0290, 0.0435)
"""Cs for 1, 2, 3 storeys. [m2/(s2 K)]; ASHRAE2017 chapter 16, from memory (its L/s and cm2 figures times 100)"""
WIND_COEFFICIENTS = {
    1: (0.0319, 0.0420, 0.0494),
    2: (0.0246, 0.0325, 0.0382),
    3: (0.0174, 0.0231, 0.0271),
    4: (0.0104, 0.0137, 0.0161),
    5: (0.0032, 0.0042, 0.0049),
}
"""Cw by shelter class (1 open to 5 heavily sheltered) for 1, 2, 3 storeys. [-]; same source, from memory"""


def stack_coefficient(storeys: Number) -> Number:
    """Return the stack coefficient of the basic infiltration model.

    Parameters
    ----------
    storeys : float or array
        Height of the house in storeys, 1 to 3. [-]

    Returns
    -------
    stack_coefficient : float or array
        Cs. [m2/(s2 K)]

    Notes
    -----
    Valid: 1 to 3 storeys; outside, the nearest column is used.
    Departs from the source: half storeys are interpolated.
    Checked against: the inch-pound column of the same table, check values, airflow section 1.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE2017] docs/references.md, chapter 16, basic model; from memory.

    Examples
    --------
    >>> print(f"{stack_coefficient(1.5):.5f}")
    0.02175
    """
    coefficient: Number = np.interp(storeys, (1.0, 2.0, 3.0), STACK_COEFFICIENTS)
    return coefficient


def wind_coefficient(storeys: Number, shelter_class: int) -> Number:
    """Return the wind coefficient of the basic infiltration model.

    Parameters
    ----------
    storeys : float or array
        Height of the house in storeys, 1 to 3. [-]
    shelter_class : int
        1 no obstacle, 2 few, 3 moderate, 4 suburb, 5 heavy shelter. [-]

    Returns
    -------
    wind_coefficient : float or array
        Cw. [-]

    Raises
    ------
    InputError
        If the shelter class is not 1 to 5.

    Notes
    -----
    Valid: 1 to 3 storeys; outside, the nearest column is used.
    Departs from the source: half storeys are interpolated.
    Checked against: the inch-pound column of the same table, check values, airflow section 1.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE2017] docs/references.md, chapter 16, basic model; from memory.

    Examples
    --------
    >>> print(f"{wind_coefficient(2.0, 4):.4f}")
    0.0137
    """
    if shelter_class not in WIND_COEFFICIENTS:
        raise InputError(f"shelter_class must be 1 to 5; given {shelter_class}")
    coefficient: Number = np.interp(storeys, (1.0, 2.0, 3.0), WIND_COEFFICIENTS[shelter_class])
    return coefficient


def basic_infiltration(
    leakage_area: Number,
    temperature_difference: Number,
    wind_speed: Number,
    storeys: Number,
    shelter_class: int,
) -> Number:
    r"""Return the air that warmth and wind draw through the envelope.

    .. math:: Q = A_L \sqrt{C_s |\Delta T| + C_w U^2}

    Parameters
    ----------
    leakage_area : float or array
        Effective leakage area at 4 Pa, A_L. [m2]
    temperature_difference : float or array
        Indoor minus outdoor temperature, dT; the sign does not matter. [K]
    wind_speed : float or array
        Speed at the weather station's 10 m mast, U. [m/s]
    storeys : float or array
        Height of the house in storeys, 1 to 3. [-]
    shelter_class : int
        1 no obstacle to 5 heavy shelter. [-]

    Returns
    -------
    flow : float or array
        Outdoor air through the envelope. [m3/s]

    Raises
    ------
    InputError
        If an area or a wind speed is below zero or the shelter class unknown.

    Notes
    -----
    Valid: one well-mixed zone with its leaks spread out; single hours are good to about 40 %, seasons to 20 %.
    Departs from the source: half storeys are interpolated.
    Checked against: check values, airflow section 11, E3; the inch-pound form in the tests.
    NaN in, NaN out.

    References
    ----------
    .. [Sherman1980] docs/references.md, quadrature of stack and wind.
    .. [ASHRAE2017] docs/references.md, chapter 16; coefficients from memory.

    Examples
    --------
    >>> print(f"{basic_infiltration(0.0645, 20.0, 3.0, 2, 4) * 1000:.1f} L/s")
    54.1 L/s
    """
    require_not_negative(leakage_area=leakage_area, wind_speed=wind_speed)
    stack = stack_coefficient(storeys) * np.abs(temperature_difference)
    wind = wind_coefficient(storeys, shelter_class) * wind_speed**2
    flow: Number = leakage_area * np.sqrt(stack + wind)
    return flow


def power_law_infiltration(
    leakage_coefficient: Number,
    leakage_exponent: Number,
    temperature_difference: Number,
    wind_speed: Number,
    stack_factor: Number = 0.069,
    wind_factor: Number = 0.142,
    shelter_factor: Number = 0.7 * 0.48,
) -> Number:
    r"""Return the air drawn through the envelope by the power-law form of the stack-and-wind model.

    .. math:: Q = \sqrt{(C c_s |\Delta T|^n)^2 + (C c_w (s U)^{2n})^2}

    Parameters
    ----------
    leakage_coefficient : float or array
        Flow at 1 Pa, C. [m3/(s Pa^n)]
    leakage_exponent : float or array
        Exponent of the envelope, n. [-]
    temperature_difference : float or array
        Indoor minus outdoor temperature, dT; the sign does not matter. [K]
    wind_speed : float or array
        Speed at the weather station, U. [m/s]
    stack_factor : float or array, optional
        c_s; the default is the reference house of the weather factors. [Pa^n/K^n]
    wind_factor : float or array, optional
        c_w; the default is the same house. [Pa^n s^2n/m^2n]
    shelter_factor : float or array, optional
        Local shelter times the station-to-house wind ratio, s. [-]

    Returns
    -------
    flow : float or array
        Outdoor air through the envelope. [m3/s]

    Raises
    ------
    InputError
        If an exponent is not above zero or a wind speed below zero.

    Notes
    -----
    Valid: the default factors belong to one reference house (2.5 m, exponent 0.67).
    Departs from the source: the least wind of 1 m/s is left to the caller (weather_factor applies it).
    Checked against: check values, airflow section 1, constant weather 20 K and 4 m/s.
    NaN in, NaN out.

    References
    ----------
    .. [LBNL5795E] docs/references.md, as implemented in a public source file.

    Examples
    --------
    >>> print(f"{power_law_infiltration(0.0755, 0.67, 20.0, 4.0):.4f}")
    0.0419
    """
    require_positive(leakage_exponent=leakage_exponent)
    require_not_negative(wind_speed=wind_speed)
    stack: Number = stack_factor * np.abs(temperature_difference) ** leakage_exponent
    wind: Number = wind_factor * (shelter_factor * wind_speed) ** (2.0 * leakage_exponent)
    flow: Number = leakage_coefficient * np.hypot(stack, wind)
    return flow
