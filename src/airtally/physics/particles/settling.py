"""Settling of particles: slip, speed, default rates by size class."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import InputError, require_positive
from airtally.physics.constants import GRAVITY
from airtally.physics.ranges import DefaultRange

FAN_ON_DEPOSITION = 2.0
"""Times the settling rate with the central fan on. [-]; HowardReed2003, read ('about double' below 5 um)"""
_PER_HOUR = 1.0 / 3600.0
DEPOSITION_RATES = (
    DefaultRange(
        low=0.1 * _PER_HOUR,
        value=0.2 * _PER_HOUR,
        high=0.4 * _PER_HOUR,
        unit="1/s",
        source="band from memory; HowardReed2003 0.3 per hour at 0.3-0.5 um read; Thatcher2003 0.1 read",
    ),
    DefaultRange(
        low=0.2 * _PER_HOUR,
        value=0.5 * _PER_HOUR,
        high=1.2 * _PER_HOUR,
        unit="1/s",
        source="Thatcher1995 0.46 per hour at 1-5 um from memory; Wallace2013 total decay 1.08 read as ceiling",
    ),
    DefaultRange(
        low=0.7 * _PER_HOUR,
        value=1.5 * _PER_HOUR,
        high=5.0 * _PER_HOUR,
        unit="1/s",
        source="Thatcher1995 1.36 per hour at 5-10 um from memory; Thatcher2003 5 at 10 um read",
    ),
)
"""Settling on surfaces with the fan off, by size class 0.3-1, 1-3, 3-10 um."""


def slip_correction(diameter: Number, mean_free_path: Number) -> Number:
    r"""Return how much more easily a small sphere moves because air is made of molecules.

    .. math:: C_c = 1 + \frac{2\lambda}{d} [1.257 + 0.4 e^{-0.55 d/\lambda}]

    Parameters
    ----------
    diameter : float or array
        Physical diameter of the sphere, d. [m]
    mean_free_path : float or array
        Mean free path of air, lambda. [m]

    Returns
    -------
    slip_correction : float or array
        Cunningham factor, C_c. [-]

    Raises
    ------
    InputError
        If a diameter or a path is not above zero.

    Notes
    -----
    Valid: any size; constants measured for oil drops, other solids differ by 1 to 2 %.
    Departs from the source: not at all.
    Checked against: UFAerosol, 1 um, read (1.15, and 1.17 by this formula).
    NaN in, NaN out.

    References
    ----------
    .. [Davies1945] docs/references.md, constants read.

    Examples
    --------
    >>> print(f"{slip_correction(1e-6, 66e-9):.3f}")
    1.166
    """
    require_positive(diameter=diameter, mean_free_path=mean_free_path)
    ratio = 2.0 * mean_free_path / diameter
    factor: Number = 1.0 + ratio * (1.257 + 0.4 * np.exp(-1.1 / ratio))
    return factor


def settling_velocity(
    diameter: Number, particle_density: Number, air_viscosity: Number, slip_correction: Number = 1.0
) -> Number:
    r"""Return the speed at which a small sphere falls through still air.

    .. math:: v = \frac{\rho_p \, d^2 \, g \, C_c}{18 \, \mu}

    Parameters
    ----------
    diameter : float or array
        Physical diameter of the sphere, d. [m]
    particle_density : float or array
        Density of the sphere's material, rho_p. [kg/m3]
    air_viscosity : float or array
        Dynamic viscosity of the air, mu. [Pa s]
    slip_correction : float or array, optional
        Cunningham factor, C_c; 1 means no slip. [-]

    Returns
    -------
    velocity : float or array
        Terminal speed, positive downward. [m/s]

    Raises
    ------
    InputError
        If a diameter, a density or a viscosity is not above zero.

    Notes
    -----
    Valid: particle Reynolds number below 1 (about 80 um of water); beyond, the speed is too high.
    Departs from the source: the density of air is left out.
    Checked against: Hinds1999 from memory: 1 um 3.48e-5, 10 um 3.06e-3 m/s; fluids' Stokes terminal velocity.
    NaN in, NaN out.

    References
    ----------
    .. [Hinds1999] docs/references.md, eq. 3.21, from memory.

    Examples
    --------
    >>> print(f"{settling_velocity(10e-6, 1000.0, 1.81e-5):.2e}")
    3.01e-03
    """
    require_positive(diameter=diameter, particle_density=particle_density, air_viscosity=air_viscosity)
    return slip_correction * particle_density * diameter**2 * GRAVITY / (18.0 * air_viscosity)


def default_deposition(size_class: int, fan_is_on: bool) -> DefaultRange:
    """Return the literature's settling rate for a size class, with the range to start a fit from.

    Parameters
    ----------
    size_class : int
        0 for 0.3-1 um, 1 for 1-3 um, 2 for 3-10 um. [-]
    fan_is_on : bool
        Whether the central fan stirs the air: about twice the rate. [-]

    Returns
    -------
    deposition_rate : DefaultRange
        Ends and middle. [1/s]

    Raises
    ------
    InputError
        If the size class is not 0, 1 or 2.

    Notes
    -----
    Valid: furnished rooms; furnishing and air speed each move it by a factor of up to 2.6.
    Departs from the source: with the fan on the middle doubles and the ends take 1.3 and 2.4 (Thatcher2002), by which
    the coarse upper end gains more than the 2 per hour of HowardReed2003.
    Checked against: 'about double' of HowardReed2003, read.
    NaN in, NaN out.

    References
    ----------
    .. [HowardReed2003] docs/references.md.
    .. [Thatcher2002] docs/references.md.

    Examples
    --------
    >>> print(f"{default_deposition(0, False).value * 3600:.1f} to {default_deposition(0, True).value * 3600:.1f}")
    0.2 to 0.4
    """
    if size_class not in (0, 1, 2):
        raise InputError(f"size_class must be 0, 1 or 2; given {size_class}")
    still = DEPOSITION_RATES[size_class]
    if not fan_is_on:
        return still
    return DefaultRange(
        low=1.3 * still.low,
        value=FAN_ON_DEPOSITION * still.value,
        high=2.4 * still.high,
        unit=still.unit,
        source=f"{still.source}; fan on: HowardReed2003 and Thatcher2002, read",
    )
