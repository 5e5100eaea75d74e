"""Air that comes in by itself: the stack-and-wind model, weather factors, ventilation standards, superposition."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from airtally.arrays import Floats, Number
from airtally.errors import InputError, require_positive
from airtally.limits.tables import VentilationEdition, ventilation_rate
from airtally.physics.air import TRADE_DENSITY
from airtally.physics.guards import require_fraction, require_not_negative
from airtally.physics.leakage import REFERENCE_HEIGHT

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
WEATHER_FACTORS = {
    702730: 0.71 / 3600.0,
    703165: 0.80 / 3600.0,
    722020: 0.41 / 3600.0,
    722190: 0.46 / 3600.0,
    722780: 0.43 / 3600.0,
    723170: 0.43 / 3600.0,
    725090: 0.66 / 3600.0,
    725300: 0.60 / 3600.0,
    725650: 0.59 / 3600.0,
    726580: 0.63 / 3600.0,
    726980: 0.52 / 3600.0,
    727850: 0.64 / 3600.0,
    727930: 0.56 / 3600.0,
}
"""Published weather factors of some stations by their WMO number. [1/s]; WSFTable, read. Others: weather_factor."""
LARGEST_CREDIT_OF_NEW_HOMES = 2.0 / 3.0
"""Share of Qtot that the 2013 edition lets infiltration take off in a new home. [-]; a public source file, read"""
SHORT_FORM_FACTOR = 0.052 * 3600.0
"""The published 0.052 with the weather factor per second instead of per hour. [s], NREL-SWS, read"""


class Superposition(StrEnum):
    """How a fan's flow and the air that comes in by itself add up; the rules differ by up to 14 %."""

    QUADRATURE = "quadrature"
    """Root of the sum of squares for the unbalanced part (ASHRAE2017 chapter 16, from memory)."""
    FAN_CREDIT = "fan credit of the 2019 standard"
    """The credit rule of ASHRAE62.2-2019 solved for the total."""
    HALF_THE_FAN = "half the fan"
    """A fan gives up to infiltration half of its unbalanced flow until it takes all (Palmiter and Bond 1991, from memory)."""
    ADDITION = "addition"
    """Plain sum; right for balanced fans only."""


class PrintedUnits(StrEnum):
    """Which printed coefficients of a ventilation standard are meant: the two sets differ by about 1.4 %."""

    INCH_POUND = "inch-pound"
    SI = "SI"


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


def weather_factor(outdoor_temperature: Floats, wind_speed: Floats, indoor_temperature: float = 295.15) -> float:
    r"""Return the weather-and-shielding factor of a place from its hourly weather.

    A reference house is ventilated by the weather; the mean turnover time of its air, tau, gives

    .. math:: wsf = \frac{A_f / A_L}{1000 \, \bar\tau}

    Parameters
    ----------
    outdoor_temperature : array
        Absolute outdoor temperature of each hour. [K]
    wind_speed : array
        Wind speed at the station in each hour. [m/s]
    indoor_temperature : float, optional
        Absolute indoor temperature. [K]

    Returns
    -------
    weather_factor : float
        wsf, per unit of normalised leakage. [1/s]

    Raises
    ------
    InputError
        If the two series differ in length or are empty.

    Notes
    -----
    Valid: a whole year of hours; a season gives that season's factor.
    Departs from the source: the first turnover time is the steady one of the first hour.
    Checked against: the published 0.80 and 0.43 of two stations whose typical year is open data; check values,
    airflow section 1, constant weather gives 0.815 per hour.
    NaN in, NaN out.

    References
    ----------
    .. [LBNL5795E] docs/references.md, as implemented in a public source file.

    Examples
    --------
    >>> print(f"{weather_factor(np.full(48, 275.15), np.full(48, 4.0)) * 3600:.3f}")
    0.815
    """
    temperature = np.atleast_1d(np.asarray(outdoor_temperature, dtype=float))
    wind = np.atleast_1d(np.asarray(wind_speed, dtype=float))
    if temperature.size == 0 or temperature.shape != wind.shape:
        raise InputError(f"weather_factor needs two series of one length; given {temperature.size} and {wind.size}")
    leakage_area, floor_area, exponent = 0.074, 185.0, 0.67
    coefficient = leakage_area * np.sqrt(2.0 / TRADE_DENSITY) * 4.0 ** (0.5 - exponent)
    flow = power_law_infiltration(coefficient, exponent, indoor_temperature - temperature, np.maximum(wind, 1.0))
    changes = np.asarray(flow) * 3600.0 / (REFERENCE_HEIGHT * floor_area)  # per hour, the step of the method
    kept = np.exp(-changes)
    turnover = 1.0 / changes[0]
    total = 0.0
    for change, share in zip(changes, kept, strict=True):
        turnover = (1.0 - share) / change + turnover * share
        total += turnover
    mean_turnover = total / changes.size * 3600.0
    return float(floor_area / leakage_area / (1000.0 * mean_turnover))


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


def total_ventilation(
    floor_area: Number,
    bedrooms: Number,
    edition: VentilationEdition = VentilationEdition.E2019,
    printed_units: PrintedUnits = PrintedUnits.INCH_POUND,
) -> Number:
    r"""Return the total ventilation that an edition of the standard asks for.

    .. math:: Q_{tot} = a A_f + b (N_{br} + 1)

    Parameters
    ----------
    floor_area : float or array
        Conditioned floor area, A_f. [m2]
    bedrooms : float or array
        Number of bedrooms, N_br; less than 1 counts as 1. [-]
    edition : VentilationEdition, optional
        Edition whose coefficients apply. [-]
    printed_units : PrintedUnits, optional
        Whose rounding applies; the two differ by about 1.4 %. [-]

    Returns
    -------
    flow : float or array
        Qtot; in the 2010 edition the fan flow itself, its infiltration credit being built in. [m3/s]

    Notes
    -----
    Valid: dwellings; the authority having jurisdiction says which edition holds.
    Departs from the source: not at all.
    Checked against: the table of TX-Mech, read; check values, airflow section 11, E2.
    NaN in, NaN out.

    References
    ----------
    .. [TX-Mech] docs/references.md, table 4.1a.
    .. [ASHRAE62.2-2019] docs/references.md, eq. 4-1.
    .. [ASHRAE62.2-2010] docs/references.md.

    Examples
    --------
    >>> print(f"{total_ventilation(185.806, 3) * 1000:.1f} L/s")
    42.5 L/s
    """
    rate = ventilation_rate(edition)
    if printed_units == PrintedUnits.SI:
        per_area, per_person = rate.per_area_si, rate.per_person_si
    else:
        per_area, per_person = rate.per_area_ip, rate.per_person_ip
    people: Number = np.maximum(bedrooms, 1.0) + 1.0
    return per_area * floor_area + per_person * people


def required_fan_flow(
    total_flow: Number,
    infiltration: Number,
    is_balanced: bool,
    exterior_share: Number = 1.0,
    edition: VentilationEdition = VentilationEdition.E2019,
    is_existing_home: bool = True,
) -> Number:
    r"""Return the fan flow left to provide after the credit for air that comes in by itself.

    .. math:: Q_{fan} = Q_{tot} - \varphi \, Q_{inf} A_{ext}, \quad \varphi = 1 \text{ or } Q_{inf}/Q_{tot}

    Parameters
    ----------
    total_flow : float or array
        Qtot. [m3/s]
    infiltration : float or array
        Effective infiltration, Qinf. [m3/s]
    is_balanced : bool
        Whether supply and exhaust fans match; else the 2019 edition lowers the credit. [-]
    exterior_share : float or array, optional
        Share of the envelope that faces outdoors, A_ext; 1 for a detached house. [-]
    edition : VentilationEdition, optional
        Edition whose credit applies. [-]
    is_existing_home : bool, optional
        Whether the house stood before the work; the 2013 edition caps the credit of a new one at two thirds. [-]

    Returns
    -------
    flow : float or array
        Fan flow to provide, not below zero. [m3/s]

    Raises
    ------
    InputError
        If the total is not above zero or a share lies outside 0 to 1.

    Notes
    -----
    Valid: dwellings; whether editions after 2013 keep its cap for new homes is to be looked up, so it is not applied there.
    Departs from the source: never below zero, phi never above 1; the 2010 edition returns the total, its credit being built in.
    Checked against: check values, airflow section 11, E2.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE62.2-2019] docs/references.md, eqs. 4-1b, 4-2, 4-3 as quoted in a public source file.
    .. [NREL-SWS] docs/references.md, full credit of the 2013 edition and its limit for new homes.

    Examples
    --------
    >>> print(f"{required_fan_flow(90.0, 57.64, False):.1f}")
    53.1
    """
    require_positive(total_flow=total_flow)
    require_fraction(exterior_share=exterior_share)
    credit_rule = ventilation_rate(edition).credit
    credit: Number
    if credit_rule == "built in":
        credit = 0.0 * infiltration * exterior_share
    elif credit_rule == "by balance" and not is_balanced:
        credit = np.minimum(infiltration / total_flow, 1.0) * infiltration * exterior_share
    else:
        credit = infiltration * exterior_share
    if credit_rule == "in full" and not is_existing_home:
        credit = np.minimum(credit, LARGEST_CREDIT_OF_NEW_HOMES * total_flow)
    flow: Number = np.maximum(total_flow - credit, 0.0)
    return flow


def combined_ventilation(
    balanced_flow: Number, unbalanced_flow: Number, infiltration: Number, rule: Superposition
) -> Number:
    r"""Return the outdoor air that fans and infiltration bring together, by a named rule.

    Quadrature is :math:`Q_b + \sqrt{Q_u^2 + Q_i^2}`, the fan credit
    :math:`Q_b + (Q_u + \sqrt{Q_u^2 + 4 Q_i^2})/2`, half the fan :math:`Q_b + \max(Q_i + Q_u/2, Q_u)`,
    addition the plain sum.

    Parameters
    ----------
    balanced_flow : float or array
        Fan flow matched by an equal one the other way, Q_b. [m3/s]
    unbalanced_flow : float or array
        Fan flow without a match, as a magnitude, Q_u. [m3/s]
    infiltration : float or array
        Infiltration with the fans off, Q_i. [m3/s]
    rule : Superposition
        Which rule; it must be named wherever the number is shown. [-]

    Returns
    -------
    flow : float or array
        Outdoor air in total. [m3/s]

    Raises
    ------
    InputError
        If a flow is below zero.

    Notes
    -----
    Valid: a rough rule; at 50 and 50 the two unbalanced rules differ by 14 %. A solved network replaces both.
    Departs from the source: the fan credit is solved for the total.
    Checked against: check values, airflow section 1, table of superposition.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE2017] docs/references.md, chapter 16, from memory.
    .. [ASHRAE62.2-2019] docs/references.md, eq. 4-2.

    Examples
    --------
    >>> print(f"{combined_ventilation(0.0, 50.0, 50.0, Superposition.QUADRATURE):.1f}")
    70.7
    """
    require_not_negative(balanced_flow=balanced_flow, unbalanced_flow=unbalanced_flow, infiltration=infiltration)
    total: Number
    if rule == Superposition.QUADRATURE:
        total = balanced_flow + np.hypot(unbalanced_flow, infiltration)
    elif rule == Superposition.FAN_CREDIT:
        total = balanced_flow + 0.5 * (unbalanced_flow + np.hypot(unbalanced_flow, 2.0 * infiltration))
    elif rule == Superposition.HALF_THE_FAN:
        total = balanced_flow + np.maximum(infiltration + 0.5 * unbalanced_flow, unbalanced_flow)
    else:
        total = balanced_flow + unbalanced_flow + infiltration
    return total


def through_cracks(infiltration: Number, unbalanced_flow: Number) -> Number:
    r"""Return what comes in through the leaks of a house while fans push or draw air one way.

    :math:`\max(Q_i - Q_u/2,\ -Q_u,\ 0)`: supply air and leak air of a return keep out half their flow until
    nothing comes in, an exhaust fan draws in half its flow more until all that comes in is its own.

    Parameters
    ----------
    infiltration : float or array
        Infiltration with the fans off, Q_i. [m3/s]
    unbalanced_flow : float or array
        Air that fans bring from outside less what they take out, Q_u. [m3/s]

    Returns
    -------
    flow : float or array
        Outdoor air through the leaks, the fans' own air not counted. [m3/s]

    Raises
    ------
    InputError
        If the natural infiltration is below zero.

    Notes
    -----
    Valid: leaks in one zone, spread over the height; linear in the fan between its two ends. It lies between
    quadrature and the fan credit: at 50 and 50 they give 70.7, 75 and 80.9 in total. A solved network replaces it.
    Departs from the source: the sign of the fan's flow is kept, so that one formula serves supplies and exhausts.
    Checked against: the same total as half the fan of :func:`combined_ventilation`.
    NaN in, NaN out.

    References
    ----------
    .. [PALMITER1991] docs/references.md, from memory.

    Examples
    --------
    >>> print(f"{through_cracks(50.0, 50.0):.0f} {through_cracks(50.0, -50.0):.0f} {through_cracks(50.0, 120.0):.0f}")
    25 75 0
    """
    require_not_negative(infiltration=infiltration)
    extra = np.asarray(unbalanced_flow)
    flow: Number = np.maximum(np.maximum(infiltration - 0.5 * extra, -extra), 0.0)
    return flow
