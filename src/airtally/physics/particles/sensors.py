"""What humidity does to an optical particle reading, and the published corrections for it."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import InputError, require_positive
from airtally.physics.guards import require_fraction, require_not_negative

MICROGRAM = 1e-9
"""One microgram per cubic metre. [kg/m3], exact"""


def _linear_correction(raw: Number, relative_humidity: Number) -> Number:
    """Return the linear correction before clipping; both in micrograms, humidity as a fraction."""
    return 0.524 * raw - 8.62 * relative_humidity + 5.75


def corrected_linear(raw_concentration: Number, relative_humidity: Number) -> Number:
    r"""Return a low-cost sensor's PM2.5 after the correction fitted over the United States.

    .. math:: PM = 0.524 x - 0.0862 \, RH + 5.75 \quad (\mathrm{\mu g/m^3}, RH \text{ in } \%)

    Parameters
    ----------
    raw_concentration : float or array
        Mass the sensor reports without correction, x. [kg/m3]
    relative_humidity : float or array
        Humidity at the sensor. [-]

    Returns
    -------
    mass_concentration : float or array
        Corrected PM2.5, not below zero. [kg/m3]

    Raises
    ------
    InputError
        If a humidity lies outside 0 to 1.

    Notes
    -----
    Valid: daily outdoor means of one sensor type below about 50 ug/m3. Indoors it is an assumption, and its
    offset makes clean air read 2.3 at 40 %: compare before and after by the same correction.
    Departs from the source: clipped at zero.
    Checked against: Barkjohn2021 as implemented in SmokeForm, read; check values, particles section 9, example 8.
    NaN in, NaN out.

    References
    ----------
    .. [Barkjohn2021] docs/references.md.
    .. [SmokeForm] docs/references.md, coefficients.

    Examples
    --------
    >>> print(f"{corrected_linear(20e-9, 0.5) * 1e9:.2f}")
    11.92
    """
    require_fraction(relative_humidity=relative_humidity)
    corrected: Number = np.maximum(0.0, _linear_correction(raw_concentration / MICROGRAM, relative_humidity))
    return corrected * MICROGRAM


def corrected_smoke(raw_concentration: Number, relative_humidity: Number) -> Number:
    r"""Return a low-cost sensor's PM2.5 after the correction extended to thick smoke.

    Below 30 the linear form; 30 to 50 a blend into slope 0.786; 50 to 210 that slope; 210 to 260 a blend into
    :math:`2.966 + 0.69 x + 8.84 \cdot 10^{-4} x^2`, which holds from 260 on, without humidity.

    Parameters
    ----------
    raw_concentration : float or array
        Mass the sensor reports without correction, x. [kg/m3]
    relative_humidity : float or array
        Humidity at the sensor. [-]

    Returns
    -------
    mass_concentration : float or array
        Corrected PM2.5, not below zero. [kg/m3]

    Raises
    ------
    InputError
        If a humidity lies outside 0 to 1.

    Notes
    -----
    Valid: outdoor wood smoke to about 300 ug/m3, one sensor type; beyond, extrapolated.
    Departs from the source: clipped at zero.
    Checked against: SmokeForm, read; continuity at 30, 50, 210 and 260; check values, particles section 9, example 8.
    NaN in, NaN out.

    References
    ----------
    .. [SmokeForm] docs/references.md.

    Examples
    --------
    >>> print(f"{corrected_smoke(235e-9, 0.5) * 1e9:.2f}")
    200.04
    """
    require_fraction(relative_humidity=relative_humidity)
    raw = np.asarray(raw_concentration, dtype=float) / MICROGRAM
    humidity = np.asarray(relative_humidity, dtype=float)
    first = np.clip(raw / 20.0 - 1.5, 0.0, 1.0)
    slope = 0.786 * first + 0.524 * (1.0 - first)
    below = slope * raw - 8.62 * humidity + 5.75
    above = 2.966 + 0.69 * raw + 8.84e-4 * raw**2 + 0.0 * humidity  # the last term lets a missing humidity show
    second = np.clip(raw / 50.0 - 4.2, 0.0, 1.0)
    corrected: Number = np.maximum(0.0, above * second + below * (1.0 - second))[()]
    return corrected * MICROGRAM


def corrected_by_humidity(raw_concentration: Number, relative_humidity: Number) -> Number:
    r"""Return a low-cost sensor's PM2.5 after the correction by humidity growth alone.

    .. math:: PM = x / [1 + 0.24 / (100/RH - 1)], \quad RH \text{ held within } 30 \text{ to } 70\,\%

    Parameters
    ----------
    raw_concentration : float or array
        Mass the sensor reports without correction, x. [kg/m3]
    relative_humidity : float or array
        Humidity at the sensor. [-]

    Returns
    -------
    mass_concentration : float or array
        Corrected PM2.5. [kg/m3]

    Raises
    ------
    InputError
        If a humidity lies outside 0 to 1.

    Notes
    -----
    Valid: outdoor hourly and daily means; no offset, so ratios before and after are kept at equal humidity.
    Departs from the source: not at all.
    Checked against: Nilson2022, read; check values, particles section 9, example 8.
    NaN in, NaN out.

    References
    ----------
    .. [Nilson2022] docs/references.md.

    Examples
    --------
    >>> print(f"{corrected_by_humidity(50e-9, 0.6) * 1e9:.2f}")
    36.76
    """
    require_fraction(relative_humidity=relative_humidity)
    humidity = np.clip(relative_humidity, 0.3, 0.7)
    corrected: Number = raw_concentration / (1.0 + 0.24 / (1.0 / humidity - 1.0))
    return corrected


def _require_below_saturation(relative_humidity: Number) -> None:
    """Refuse humidity at or above saturation, where growth has no bound."""
    require_fraction(relative_humidity=relative_humidity)
    if np.any(np.asarray(relative_humidity) >= 1.0):
        raise InputError("relative_humidity must be below 1: growth has no bound at saturation")


def growth_factor(hygroscopicity: Number, relative_humidity: Number) -> Number:
    r"""Return how much a particle's diameter grows in damp air.

    .. math:: GF = [1 + \kappa \, a_w/(1 - a_w)]^{1/3}

    Parameters
    ----------
    hygroscopicity : float or array
        kappa of the material; smoke 0.02 to 0.3, sea salt about 1. [-]
    relative_humidity : float or array
        Water activity, a_w. [-]

    Returns
    -------
    growth_factor : float or array
        Wet over dry diameter. [-]

    Raises
    ------
    InputError
        If a humidity is not from 0 to below 1 or a hygroscopicity below zero.

    Notes
    -----
    Valid: above 0.1 um, where curvature does not matter; salts also show hysteresis.
    Departs from the source: not at all.
    Checked against: check values, particles section 9, spare values.
    NaN in, NaN out.

    References
    ----------
    .. [Petters2007] docs/references.md, from memory.

    Examples
    --------
    >>> print(f"{growth_factor(0.3, 0.85):.4f}")
    1.3925
    """
    _require_below_saturation(relative_humidity)
    require_not_negative(hygroscopicity=hygroscopicity)
    factor: Number = (1.0 + hygroscopicity * relative_humidity / (1.0 - relative_humidity)) ** (1.0 / 3.0)
    return factor


def wet_mass_ratio(hygroscopicity: Number, relative_humidity: Number, particle_density: Number = 1650.0) -> Number:
    r"""Return how much heavier a particle is in damp air than dry.

    .. math:: m_w/m_d = 1 + \frac{\rho_w}{\rho_p} \frac{\kappa}{1/a_w - 1}

    Parameters
    ----------
    hygroscopicity : float or array
        kappa of the material. [-]
    relative_humidity : float or array
        Water activity, a_w; above zero. [-]
    particle_density : float or array, optional
        Density of the dry material, rho_p. [kg/m3]

    Returns
    -------
    mass_ratio : float or array
        Wet over dry mass. [-]

    Raises
    ------
    InputError
        If a humidity is not above 0 and below 1, a density not above zero or a hygroscopicity below zero.

    Notes
    -----
    Valid: as growth_factor.
    Departs from the source: not at all.
    Checked against: kappa 0.40 at 1650 kg/m3 is the 0.24 of Nilson2022, check values, particles section 5.
    NaN in, NaN out.

    References
    ----------
    .. [Petters2007] docs/references.md, from memory.
    .. [Nilson2022] docs/references.md.

    Examples
    --------
    >>> print(f"{wet_mass_ratio(0.396, 0.6):.2f}")
    1.36
    """
    _require_below_saturation(relative_humidity)
    require_not_negative(hygroscopicity=hygroscopicity)
    require_positive(relative_humidity=relative_humidity, particle_density=particle_density)
    return 1.0 + 1000.0 / particle_density * hygroscopicity / (1.0 / relative_humidity - 1.0)
