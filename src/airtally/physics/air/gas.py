"""Air as a gas: viscosity, mean free path, share of another gas in it."""

from __future__ import annotations

from math import pi

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.constants import DRY_AIR_CONSTANT, STANDARD_PRESSURE

MOLAR_GAS_CONSTANT = 8.314462618
"""Molar gas constant. [J/(mol K)], exact since 2019"""


def air_viscosity(temperature: Number) -> Number:
    r"""Return the dynamic viscosity of air.

    .. math:: \mu = 1.458 \cdot 10^{-6} \, T^{1.5} / (T + 110.4)

    Parameters
    ----------
    temperature : float or array
        Absolute temperature of the air, T. [K]

    Returns
    -------
    air_viscosity : float or array
        Dynamic viscosity, mu. [Pa s]

    Raises
    ------
    InputError
        If a temperature is not above zero.

    Notes
    -----
    Valid: 100 to 1900 K, within 2 %; humidity lowers it by less than 1 % and is left out.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3 (the 1.82e-5 of the 8 inch table).
    NaN in, NaN out.

    References
    ----------
    .. [USSA1976] docs/references.md, eq. 51.

    Examples
    --------
    >>> print(f"{air_viscosity(293.15):.3e}")
    1.813e-05
    """
    require_positive(temperature=temperature)
    air_viscosity: Number = 1.458e-6 * temperature**1.5 / (temperature + 110.4)
    return air_viscosity


def mean_free_path(temperature: Number, pressure: Number = STANDARD_PRESSURE) -> Number:
    r"""Return how far an air molecule flies between two collisions.

    .. math:: \lambda = \frac{\mu}{p} \sqrt{\frac{\pi R T}{2}}

    Parameters
    ----------
    temperature : float or array
        Absolute temperature of the air, T. [K]
    pressure : float or array, optional
        Absolute pressure, p. [Pa]

    Returns
    -------
    mean_free_path : float or array
        Mean free path, lambda. [m]

    Raises
    ------
    InputError
        If a temperature or a pressure is not above zero.

    Notes
    -----
    Valid: perfect gas, so every condition of a house.
    Departs from the source: not at all.
    Checked against: the 0.066 um of UFAerosol, read.
    NaN in, NaN out.

    References
    ----------
    .. [UFAerosol] docs/references.md, section 6.

    Examples
    --------
    >>> print(f"{mean_free_path(293.15) * 1e9:.0f} nm")
    65 nm
    """
    require_positive(temperature=temperature, pressure=pressure)
    path: Number = air_viscosity(temperature) / pressure * np.sqrt(0.5 * pi * DRY_AIR_CONSTANT * temperature)
    return path


def gas_mole_fraction(
    mass_concentration: Number,
    molar_mass: Number,
    temperature: Number = 298.15,
    pressure: Number = STANDARD_PRESSURE,
) -> Number:
    r"""Return the mole fraction that a mass of gas in a cubic metre of air stands for.

    .. math:: x = \frac{c \, R_m \, T}{M \, p}

    Parameters
    ----------
    mass_concentration : float or array
        Mass of the gas per volume of air, c. [kg/m3]
    molar_mass : float or array
        Molar mass of the gas, M; carbon monoxide 0.02801. [kg/mol]
    temperature : float or array, optional
        Absolute temperature the concentration refers to, T; 25 degC by default. [K]
    pressure : float or array, optional
        Absolute pressure, p. [Pa]

    Returns
    -------
    mole_fraction : float or array
        Moles of gas per mole of air, x. [mol/mol]

    Raises
    ------
    InputError
        If a molar mass, temperature or pressure is not above zero.

    Notes
    -----
    Valid: perfect gas. Published tables round: WHO prints 90 ppm where this gives 87.3.
    Departs from the source: not at all.
    Checked against: check values, particles section 9, spare values for carbon monoxide.
    NaN in, NaN out.

    References
    ----------
    .. [WHO2010] docs/references.md, the mass figures that are converted.

    Examples
    --------
    >>> print(f"{gas_mole_fraction(100e-6, 0.02801) * 1e6:.1f} ppm")
    87.3 ppm
    """
    require_positive(molar_mass=molar_mass, temperature=temperature, pressure=pressure)
    return mass_concentration * MOLAR_GAS_CONSTANT * temperature / (molar_mass * pressure)
