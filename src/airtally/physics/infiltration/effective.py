"""Effective infiltration of the ventilation standards, from leakage, height and weather."""

from __future__ import annotations

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.leaks.tightness import REFERENCE_HEIGHT

SHORT_FORM_FACTOR = 0.052 * 3600.0
"""The published 0.052 with the weather factor per second instead of per hour. [s], NREL-SWS, read"""


def storey_factor(height: Number) -> Number:
    r"""Return how much more a tall house exchanges than a one-storey house of the same leakage.

    .. math:: S = (H / 2.5)^{0.4}

    Parameters
    ----------
    height : float or array
        Lowest floor to highest ceiling, H. [m]

    Returns
    -------
    storey_factor : float or array
        S. [-]

    Raises
    ------
    InputError
        If a height is not above zero.

    Notes
    -----
    Valid: one to three storeys.
    Departs from the source: not at all.
    Checked against: the printed factors of NREL-SWS for 1 to 3 storeys, read.
    NaN in, NaN out.

    References
    ----------
    .. [NREL-SWS] docs/references.md, table of height factors.

    Examples
    --------
    >>> print(f"{storey_factor(5.0):.2f}")
    1.32
    """
    require_positive(height=height)
    factor: Number = (height / REFERENCE_HEIGHT) ** 0.4
    return factor


def effective_infiltration(normalised_leakage: Number, weather_factor: Number, floor_area: Number) -> Number:
    r"""Return the yearly effective infiltration of the ventilation standard.

    .. math:: Q_{inf} = NL \; wsf \; A_f \times 2.5\,\mathrm{m}

    Parameters
    ----------
    normalised_leakage : float or array
        NL. [-]
    weather_factor : float or array
        wsf of the weather station. [1/s]
    floor_area : float or array
        Conditioned floor area, A_f. [m2]

    Returns
    -------
    flow : float or array
        Effective infiltration, Qinf. [m3/s]

    Notes
    -----
    Valid: a year as a whole; no statement about one day.
    Departs from the source: the printed divisor 1.44 (or 7.3 in inch-pound) is written as the 2.5 m it stands for.
    Checked against: check values, airflow section 11, E2; the divisor 7.3 of TX-Mech, read.
    NaN in, NaN out.

    References
    ----------
    .. [TX-Mech] docs/references.md, the divisors.
    .. [ASHRAE62.2-2019] docs/references.md, section 4.

    Examples
    --------
    >>> print(f"{effective_infiltration(0.377, 0.56 / 3600, 185.8) * 1000:.1f} L/s")
    27.2 L/s
    """
    return normalised_leakage * weather_factor * floor_area * REFERENCE_HEIGHT


def effective_infiltration_from_50(flow_at_50: Number, weather_factor: Number, height: Number) -> Number:
    r"""Return the yearly effective infiltration straight from the door-fan flow.

    .. math:: Q_{inf} = 0.052 \, Q_{50} \, wsf \, (H / 2.5)^{0.4}

    Parameters
    ----------
    flow_at_50 : float or array
        Envelope leakage at 50 Pa, Q50: a flow, not air changes. [m3/s]
    weather_factor : float or array
        wsf of the weather station. [1/s]
    height : float or array
        Lowest floor to highest ceiling, H. [m]

    Returns
    -------
    flow : float or array
        Effective infiltration, Qinf. [m3/s]

    Raises
    ------
    InputError
        If a height is not above zero.

    Notes
    -----
    Valid: an exponent of 0.65, which the 0.052 takes for granted; the long chain differs by 0.4 %.
    Departs from the source: wsf per second, so the 0.052 becomes 187.2 s.
    Checked against: check values, airflow section 11, E2.
    NaN in, NaN out.

    References
    ----------
    .. [NREL-SWS] docs/references.md, read.

    Examples
    --------
    >>> print(f"{effective_infiltration_from_50(0.70792, 0.56 / 3600, 5.0) * 1000:.1f} L/s")
    27.2 L/s
    """
    return SHORT_FORM_FACTOR * flow_at_50 * weather_factor * storey_factor(height)


def infiltration_band(air_change_rate_at_50: Number) -> tuple[Number, Number, Number]:
    r"""Return the one-twentieth rule of thumb as a band: lower end, middle, upper end.

    .. math:: n \approx n_{50} / 20 \quad (\pm 50\,\%)

    Parameters
    ----------
    air_change_rate_at_50 : float or array
        Air changes at 50 Pa, n50. [1/s]

    Returns
    -------
    band : tuple of float or array
        Lower end, middle and upper end of natural air change. [1/s]

    Notes
    -----
    Valid: a sanity band only; climate, height and shelter move it by half either way.
    Departs from the source: the band is part of the answer.
    Checked against: the rule as READ in PassiveHouse.
    NaN in, NaN out.

    References
    ----------
    .. [PassiveHouse] docs/references.md.
    .. [Sherman1986] docs/references.md, history and basis.

    Examples
    --------
    >>> print(f"{infiltration_band(6.0)[1]:.2f}")
    0.30
    """
    middle = air_change_rate_at_50 / 20.0
    return 0.5 * middle, middle, 1.5 * middle
