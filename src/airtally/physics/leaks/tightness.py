"""Tightness of a house: leakage area, normalised leakage, air changes at 50 Pa."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.constants import TRADE_DENSITY
from airtally.physics.guards import require_not_negative
from airtally.physics.leaks.power_law import DEFAULT_LEAKAGE_EXPONENT

LARGE_HOUSE = 1600.0 * 0.3048**2
"""Floor area above which the table of normalised leakage by age has its second row. [m2], Persily2006, read"""
YEARS_OF_CHANGE = (1940, 1970, 1990)
"""First years of the later columns of that table. [year], Persily2006, read"""
NORMALISED_LEAKAGE_BY_AGE = ((1.29, 1.03, 0.65, 0.31), (0.58, 0.49, 0.36, 0.24))
"""Normalised leakage of houses up to and above LARGE_HOUSE, by year built. [-], Persily2006, read"""
REFERENCE_HEIGHT = 2.5
"""Height of the one-storey house that normalised leakage refers to. [m], ASHRAE62.2-2019, read"""


def effective_leakage_area(
    flow_at_50: Number,
    leakage_exponent: Number = DEFAULT_LEAKAGE_EXPONENT,
    air_density: Number = TRADE_DENSITY,
    reference_pressure: float = 4.0,
) -> Number:
    r"""Return the sharp hole that would leak as much as the envelope at the reference pressure.

    .. math:: A_L = Q_{50} \, (p_r / 50)^n \sqrt{\rho / (2 p_r)}

    Parameters
    ----------
    flow_at_50 : float or array
        Envelope leakage at 50 Pa, Q50. [m3/s]
    leakage_exponent : float or array, optional
        Exponent of the envelope, n. [-]
    air_density : float or array, optional
        Density of the air, rho. [kg/m3]
    reference_pressure : float, optional
        Pressure at which hole and house agree, p_r. [Pa]

    Returns
    -------
    leakage_area : float or array
        Effective leakage area with a discharge coefficient of 1, A_L. [m2]

    Raises
    ------
    InputError
        If an exponent, density or pressure is not above zero.

    Notes
    -----
    Valid: reference pressure 4 Pa and discharge coefficient 1; other standards use 10 Pa and 0.6.
    Departs from the source: not at all.
    Checked against: check values, airflow sections 1 and 11 (E1); the 0.052 of NREL-SWS, read.
    NaN in, NaN out.

    References
    ----------
    .. [ASTM-E779] docs/references.md.
    .. [NREL-SWS] docs/references.md.

    Examples
    --------
    >>> print(f"{effective_leakage_area(0.70792) * 1e4:.0f} cm2")
    531 cm2
    """
    require_positive(leakage_exponent=leakage_exponent, air_density=air_density, reference_pressure=reference_pressure)
    area: Number = (
        flow_at_50 * (reference_pressure / 50.0) ** leakage_exponent * np.sqrt(air_density / (2.0 * reference_pressure))
    )
    return area


def normalised_leakage(leakage_area: Number, floor_area: Number, height: Number) -> Number:
    r"""Return the leakage area for the size and height of the house.

    .. math:: NL = 1000 \, (A_L / A_f) \, (H / 2.5)^{0.4}

    Parameters
    ----------
    leakage_area : float or array
        Effective leakage area at 4 Pa, A_L. [m2]
    floor_area : float or array
        Conditioned floor area, A_f. [m2]
    height : float or array
        Lowest floor to highest ceiling, H. [m]

    Returns
    -------
    normalised_leakage : float or array
        Normalised leakage, NL. [-]

    Raises
    ------
    InputError
        If a floor area or a height is not above zero.

    Notes
    -----
    Valid: houses of one to three storeys.
    Departs from the source: not at all.
    Checked against: check values, airflow section 11, E2.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE62.2-2019] docs/references.md, section 4, as quoted in a public source file.

    Examples
    --------
    >>> print(f"{normalised_leakage(0.05309, 185.806, 4.99872):.3f}")
    0.377
    """
    require_positive(floor_area=floor_area, height=height)
    leakage: Number = 1000.0 * leakage_area / floor_area * (height / REFERENCE_HEIGHT) ** 0.4
    return leakage


def default_normalised_leakage(year_built: Number, floor_area: Number) -> Number:
    """Return the normalised leakage that houses of an age and size were found to have.

    Parameters
    ----------
    year_built : float or array
        Calendar year the house was built. [year]
    floor_area : float or array
        Conditioned floor area. [m2]

    Returns
    -------
    normalised_leakage : float or array
        NL of the table. [-]

    Raises
    ------
    InputError
        If a floor area is not above zero.

    Notes
    -----
    Valid: United States houses as they were found, before any tightening; single houses lie a factor of two either
    way. It stands in for a door-fan test that was not made and is never a measurement.
    Departs from the source: not at all; a house built in 1940 counts with those up to 1969.
    Checked against: both rows of Persily2006 as quoted, read.
    NaN in, NaN out.

    References
    ----------
    .. [Persily2006] docs/references.md.

    Examples
    --------
    >>> print(default_normalised_leakage(1955, 120.0))
    1.03
    """
    require_positive(floor_area=floor_area)
    year, area = np.asarray(year_built, dtype=float), np.asarray(floor_area, dtype=float)
    column = np.searchsorted(np.array(YEARS_OF_CHANGE, dtype=float), year, side="right")
    found = np.array(NORMALISED_LEAKAGE_BY_AGE)[(area > LARGE_HOUSE).astype(int), np.minimum(column, 3)]
    leakage: Number = np.where(np.isnan(year) | np.isnan(area), np.nan, found)[()]
    return leakage


def flow_at_50_from_normalised(
    normalised_leakage: Number,
    floor_area: Number,
    height: Number,
    leakage_exponent: Number = DEFAULT_LEAKAGE_EXPONENT,
    air_density: Number = TRADE_DENSITY,
) -> Number:
    r"""Return the door-fan flow that a normalised leakage stands for.

    .. math:: Q_{50} = \frac{NL \, A_f}{1000 \, (H/2.5)^{0.4}} \left(\frac{50}{4}\right)^n \sqrt{8/\rho}

    Parameters
    ----------
    normalised_leakage : float or array
        Normalised leakage, NL. [-]
    floor_area : float or array
        Conditioned floor area, A_f. [m2]
    height : float or array
        Lowest floor to highest ceiling, H. [m]
    leakage_exponent : float or array, optional
        Exponent of the envelope, n. [-]
    air_density : float or array, optional
        Density of the air, rho. [kg/m3]

    Returns
    -------
    flow_at_50 : float or array
        Envelope leakage at 50 Pa. [m3/s]

    Raises
    ------
    InputError
        If a height, exponent or density is not above zero or a leakage below zero.

    Notes
    -----
    Valid: as normalised_leakage, which it inverts.
    Departs from the source: solved for the flow.
    Checked against: check values, airflow section 11, E2 backwards; the 0.052 of NREL-SWS, read, backwards.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE62.2-2019] docs/references.md, section 4, as quoted in a public source file.
    .. [NREL-SWS] docs/references.md.

    Examples
    --------
    >>> print(f"{flow_at_50_from_normalised(0.377, 185.806, 4.99872):.3f}")
    0.708
    """
    require_not_negative(normalised_leakage=normalised_leakage)
    require_positive(height=height, leakage_exponent=leakage_exponent, air_density=air_density)
    area = normalised_leakage * floor_area / (1000.0 * (height / REFERENCE_HEIGHT) ** 0.4)
    flow: Number = area * (50.0 / 4.0) ** leakage_exponent * np.sqrt(8.0 / air_density)
    return flow


def air_changes_at_50(flow_at_50: Number, volume: Number) -> Number:
    r"""Return how often the house's air is exchanged at 50 Pa.

    .. math:: n_{50} = Q_{50} / V

    Parameters
    ----------
    flow_at_50 : float or array
        Envelope leakage at 50 Pa, Q50. [m3/s]
    volume : float or array
        Conditioned volume, V. [m3]

    Returns
    -------
    air_change_rate : float or array
        Air changes at 50 Pa. [1/s]

    Raises
    ------
    InputError
        If a volume is not above zero.

    Notes
    -----
    Valid: always; it is a definition.
    Departs from the source: per second, not per hour.
    Checked against: check values, airflow section 11, E1.
    NaN in, NaN out.

    References
    ----------
    .. [ASTM-E779] docs/references.md.

    Examples
    --------
    >>> print(f"{air_changes_at_50(0.70792, 453.07) * 3600:.2f}")
    5.62
    """
    require_positive(volume=volume)
    return flow_at_50 / volume
