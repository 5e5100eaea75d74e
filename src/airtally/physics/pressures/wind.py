"""Wind on a house: terrain, shelter, wall and roof coefficients."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from airtally.arrays import Number
from airtally.errors import InputError, require_positive
from airtally.physics.guards import require_not_negative
from airtally.physics.ranges import DefaultRange

SHELTER_FACTORS = {1: 1.0, 2: 0.9, 3: 0.7, 4: 0.5, 5: 0.3}
"""Wind at the wall over wind in the open, by shelter class. [-]; WalkerWilson1998 as quoted in a public manual, read"""
MAST_HEIGHT = 10.0
"""Height of a weather station's wind sensor. [m]; common practice of meteorology, WindProfile, read"""
ROOF_PRESSURE_COEFFICIENTS = {
    "pitch under 10 degrees": DefaultRange(
        low=-0.6, value=-0.5, high=-0.4, unit="-", source="SwamiChandra1987, exposed low-rise, side ratio 1, read"
    ),
    "pitch 11 to 30 degrees": DefaultRange(
        low=-0.6, value=-0.5, high=-0.4, unit="-", source="SwamiChandra1987, exposed low-rise, side ratio 1, read"
    ),
}
"""Surface-averaged C_p of a low-rise roof over all wind angles: always suction. [-]"""


class Terrain(StrEnum):
    """What the wind blows over on its way to the house."""

    OCEAN = "ocean or bayou"
    FLAT = "flat, open country"
    WOODED = "rough, wooded country or suburb"
    CITY = "towns and cities"


WIND_PROFILES = {
    Terrain.OCEAN: (210.0, 0.10),
    Terrain.FLAT: (270.0, 0.14),
    Terrain.WOODED: (370.0, 0.22),
    Terrain.CITY: (460.0, 0.33),
}
"""Thickness of the layer that the ground slows [m] and exponent of its profile [-]; WindProfile, read"""


def wind_pressure(wind_speed: Number, air_density: Number, pressure_coefficient: Number = 1.0) -> Number:
    r"""Return the pressure of wind on a surface.

    .. math:: p = C_p \, \rho U^2 / 2

    Parameters
    ----------
    wind_speed : float or array
        Speed at the height of the wall, undisturbed, U. [m/s]
    air_density : float or array
        Density of the air, rho. [kg/m3]
    pressure_coefficient : float or array, optional
        C_p of the surface; 1 gives the velocity pressure itself. [-]

    Returns
    -------
    pressure_difference : float or array
        Surface minus undisturbed pressure. [Pa]

    Notes
    -----
    Valid: the wind at eave height; station wind must first be brought to the site.
    Departs from the source: not at all.
    Checked against: check values, airflow section 2.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE2017] docs/references.md, chapter 24.

    Examples
    --------
    >>> print(f"{wind_pressure(5.0, 1.204):.2f} Pa")
    15.05 Pa
    """
    return 0.5 * pressure_coefficient * air_density * wind_speed**2


def site_wind_speed(
    wind_speed: Number,
    height: Number,
    terrain: Terrain,
    station_terrain: Terrain = Terrain.FLAT,
    station_height: Number = MAST_HEIGHT,
) -> Number:
    r"""Return the wind at a height over the house's terrain from the wind at a weather station.

    .. math:: U = U_m (\delta_m/z_m)^{\alpha_m} (z/\delta)^{\alpha}

    Parameters
    ----------
    wind_speed : float or array
        Wind speed at the station's mast, U_m. [m/s]
    height : float or array
        Height above ground at the house, as of the eaves, z. [m]
    terrain : Terrain
        What lies around the house. [-]
    station_terrain : Terrain, optional
        What lies around the station; airfields are flat and open. [-]
    station_height : float or array, optional
        Height of the wind sensor, z_m. [m]

    Returns
    -------
    wind_speed : float or array
        Undisturbed wind speed at that height; shelter by near obstacles comes on top. [m/s]

    Raises
    ------
    InputError
        If a height is not above zero or a wind speed below zero.

    Notes
    -----
    Valid: mean winds over even terrain for some 500 m upwind; below the tops of trees and houses it is a convention.
    Departs from the source: not at all.
    Checked against: the handbook's example, 10 mph to 7.9 mph at 50 ft in a suburb, from memory; within 10 % the
    0.48 that LBNL5795E takes for a low house, read.
    NaN in, NaN out.

    References
    ----------
    .. [WindProfile] docs/references.md, equation and table.
    .. [ASHRAE2017] docs/references.md, chapter 24.

    Examples
    --------
    >>> print(f"{site_wind_speed(4.0, 5.0, Terrain.WOODED):.2f} m/s")
    2.46 m/s
    """
    require_not_negative(wind_speed=wind_speed)
    require_positive(height=height, station_height=station_height)
    layer, exponent = WIND_PROFILES[terrain]
    station_layer, station_exponent = WIND_PROFILES[station_terrain]
    aloft: Number = wind_speed * (station_layer / station_height) ** station_exponent
    speed: Number = aloft * (height / layer) ** exponent
    return speed


def shelter_factor(shelter_class: int) -> float:
    """Return how much of the open wind reaches the walls behind near obstacles.

    Parameters
    ----------
    shelter_class : int
        1 no obstacle, 2 few, 3 moderate, 4 suburb, 5 heavy shelter. [-]

    Returns
    -------
    shelter_factor : float
        Wind speed at the walls over the undisturbed one. [-]

    Raises
    ------
    InputError
        If the shelter class is not 1 to 5.

    Notes
    -----
    Valid: obstacles within two building heights; it lowers speed, so pressure falls with its square.
    Departs from the source: not at all.
    Checked against: WalkerWilson1998 as quoted, read; the wind coefficients of the basic model, whose roots fall
    by shelter class in the same order.
    NaN in, NaN out: the class is a whole number, so none can come in.

    References
    ----------
    .. [WalkerWilson1998] docs/references.md.

    Examples
    --------
    >>> print(shelter_factor(4))
    0.5
    """
    if shelter_class not in SHELTER_FACTORS:
        raise InputError(f"shelter_class must be 1 to 5; given {shelter_class}")
    return SHELTER_FACTORS[shelter_class]


def wall_pressure_coefficient(wind_angle: Number, side_ratio: Number = 1.0) -> Number:
    r"""Return the mean wind pressure coefficient of a low-rise wall.

    .. math::
        C_p = 0.6 \ln[1.248 - 0.703 s_{1/2} - 1.175 s^2 + 0.131 \sin^3(2 \alpha G)
        + 0.769 c_{1/2} + 0.07 G^2 s_{1/2}^2 + 0.717 c_{1/2}^2], \quad G = \ln(\text{side ratio})

    Parameters
    ----------
    wind_angle : float or array
        Angle between wind and the wall's outward normal, alpha; 0 blows at the wall. [rad]
    side_ratio : float or array, optional
        Length of this wall over that of the adjacent wall. [-]

    Returns
    -------
    pressure_coefficient : float or array
        Surface-averaged C_p. [-]

    Raises
    ------
    InputError
        If a side ratio is not above zero.

    Notes
    -----
    Valid: low-rise rectangular buildings, angle 0 to 180 degrees either way; single points on a wall differ widely.
    Departs from the source: the value at 0 is not normalised away, so it is 0.603 and not 0.6.
    Checked against: the seven square-plan values of SwamiChandra1987, read.
    NaN in, NaN out.

    References
    ----------
    .. [SwamiChandra1987] docs/references.md, values read, formula from memory.

    Examples
    --------
    >>> print(f"{wall_pressure_coefficient(0.0):.3f}")
    0.603
    """
    require_positive(side_ratio=side_ratio)
    angle = np.abs(wind_angle)
    ratio = np.log(side_ratio)
    half_sine, half_cosine = np.sin(angle / 2.0), np.cos(angle / 2.0)
    inner = 1.248 - 0.703 * half_sine - 1.175 * np.sin(angle) ** 2 + 0.131 * np.sin(2.0 * angle * ratio) ** 3
    inner = inner + 0.769 * half_cosine + 0.07 * (ratio * half_sine) ** 2 + 0.717 * half_cosine**2
    coefficient: Number = 0.6 * np.log(inner)
    return coefficient
