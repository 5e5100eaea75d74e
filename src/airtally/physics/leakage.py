"""Leaks: the power law, leakage areas, air changes at 50 Pa, and the pressure that unbalanced flow makes."""

from __future__ import annotations

from math import sqrt

import numpy as np

from airtally.arrays import Floats, Number
from airtally.errors import InputError, require_positive
from airtally.physics.air import TRADE_DENSITY
from airtally.physics.guards import require_not_negative

DEFAULT_LEAKAGE_EXPONENT = 0.65
"""Exponent of house envelopes when none was measured. [-], Gowri2009, read"""
DUCT_LEAKAGE_EXPONENT = 0.6
"""Exponent of duct leaks when none was measured. [-], from memory"""
LARGE_HOUSE = 1600.0 * 0.3048**2
"""Floor area above which the table of normalised leakage by age has its second row. [m2], Persily2006, read"""
YEARS_OF_CHANGE = (1940, 1970, 1990)
"""First years of the later columns of that table. [year], Persily2006, read"""
NORMALISED_LEAKAGE_BY_AGE = ((1.29, 1.03, 0.65, 0.31), (0.58, 0.49, 0.36, 0.24))
"""Normalised leakage of houses up to and above LARGE_HOUSE, by year built. [-], Persily2006, read"""
REFERENCE_HEIGHT = 2.5
"""Height of the one-storey house that normalised leakage refers to. [m], ASHRAE62.2-2019, read"""


def leakage_flow(leakage_coefficient: Number, pressure_difference: Number, leakage_exponent: Number) -> Number:
    r"""Return the air that a leak passes at a pressure difference.

    .. math:: Q = C \, \mathrm{sign}(\Delta p) \, |\Delta p|^n

    Parameters
    ----------
    leakage_coefficient : float or array
        Flow at 1 Pa, C. [m3/(s Pa^n)]
    pressure_difference : float or array
        Pressure of the first-named side minus the second, dp. [Pa]
    leakage_exponent : float or array
        Exponent of the power law, n; 0.5 orifice, 1 long crack. [-]

    Returns
    -------
    flow : float or array
        Volume flow, with the sign of the pressure difference. [m3/s]

    Raises
    ------
    InputError
        If an exponent is not above zero.

    Notes
    -----
    Valid: the range of pressures the coefficient was measured in; below 1 Pa the true flow is nearer to linear.
    Departs from the source: takes either sign of pressure.
    Checked against: check values, airflow section 11, E1 and E6.
    NaN in, NaN out.

    References
    ----------
    .. [PowerLaw] docs/references.md.

    Examples
    --------
    >>> print(f"{leakage_flow(0.0557, 50.0, 0.65):.3f}")
    0.708
    """
    require_positive(leakage_exponent=leakage_exponent)
    flow: Number = leakage_coefficient * np.sign(pressure_difference) * np.abs(pressure_difference) ** leakage_exponent
    return flow


def leakage_coefficient(flow: Number, pressure_difference: Number, leakage_exponent: Number) -> Number:
    r"""Return the flow at 1 Pa from one measured point.

    .. math:: C = Q / \Delta p^n

    Parameters
    ----------
    flow : float or array
        Volume flow at the test pressure, Q. [m3/s]
    pressure_difference : float or array
        Test pressure as a magnitude, dp. [Pa]
    leakage_exponent : float or array
        Exponent of the power law, n. [-]

    Returns
    -------
    leakage_coefficient : float or array
        Flow at 1 Pa, C. [m3/(s Pa^n)]

    Raises
    ------
    InputError
        If a pressure or an exponent is not above zero.

    Notes
    -----
    Valid: one point needs an assumed exponent; an error of 0.05 in it moves the flow at 4 Pa by 13 %.
    Departs from the source: not at all.
    Checked against: check values, airflow section 11, E1.
    NaN in, NaN out.

    References
    ----------
    .. [PowerLaw] docs/references.md.

    Examples
    --------
    >>> print(f"{leakage_coefficient(0.708, 50.0, 0.65):.4f}")
    0.0557
    """
    require_positive(pressure_difference=pressure_difference, leakage_exponent=leakage_exponent)
    coefficient: Number = flow / pressure_difference**leakage_exponent
    return coefficient


def power_law_of_points(pressure_differences: Floats, flows: Floats) -> tuple[float, float]:
    r"""Return flow at 1 Pa and exponent of the power law through the points of a door-fan test.

    The straight line of least squares through :math:`\ln Q = \ln C + n \ln \Delta p`.

    Parameters
    ----------
    pressure_differences : array
        Pressures of the stations as magnitudes, two different ones at least. [Pa]
    flows : array
        Fan flows at the stations. [m3/s]

    Returns
    -------
    law : tuple of float
        Leakage coefficient, C, and exponent, n, in this order. [m3/(s Pa^n) and -]

    Raises
    ------
    InputError
        If the series differ in length, a value is not above zero or fewer than two pressures differ.

    Notes
    -----
    Valid: stations from about 5 to 50 Pa. An exponent outside 0.5 to 1 is returned as it is: the test is then doubtful.
    Departs from the source: every station weighs the same.
    Checked against: scipy.stats.linregress; points made from E1 of check values, airflow section 11.
    NaN in, NaN out.

    References
    ----------
    .. [PowerLaw] docs/references.md, range of n and stations.
    .. [ASTM-E779] docs/references.md, the regression, from memory.

    Examples
    --------
    >>> coefficient, exponent = power_law_of_points(np.array([10.0, 50.0]), np.array([0.2487, 0.7079]))
    >>> print(f"{coefficient:.4f} {exponent:.2f}")
    0.0557 0.65
    """
    pressures = np.atleast_1d(np.asarray(pressure_differences, dtype=float))
    measured = np.atleast_1d(np.asarray(flows, dtype=float))
    if pressures.shape != measured.shape or np.unique(pressures).size < 2:
        raise InputError(
            f"power_law_of_points needs as many flows as pressures and two pressures; given {pressures.size} pressures "
            f"({np.unique(pressures).size} different) and {measured.size} flows"
        )
    require_positive(pressure_differences=pressures, flows=measured)
    x, y = np.log(pressures), np.log(measured)
    away = x - x.mean()
    exponent = float(np.sum(away * y) / np.sum(away**2))
    return float(np.exp(y.mean() - exponent * x.mean())), exponent


def flow_at_pressure(
    flow: Number, reference_pressure: Number, pressure_difference: Number, leakage_exponent: Number
) -> Number:
    r"""Return a leak's flow at another pressure than the one it was tested at.

    .. math:: Q_2 = Q_1 (\Delta p_2 / \Delta p_1)^n

    Parameters
    ----------
    flow : float or array
        Volume flow at the test pressure, Q1. [m3/s]
    reference_pressure : float or array
        Test pressure, dp1. [Pa]
    pressure_difference : float or array
        Pressure wanted, as a magnitude, dp2. [Pa]
    leakage_exponent : float or array
        Exponent of the power law, n. [-]

    Returns
    -------
    flow : float or array
        Volume flow at the pressure wanted, Q2. [m3/s]

    Raises
    ------
    InputError
        If a pressure or an exponent is not above zero.

    Notes
    -----
    Valid: near the range of the test; from 50 to 4 Pa the exponent carries most of the doubt.
    Departs from the source: not at all.
    Checked against: check values, airflow sections 1, 5 and 11; the field pair of FSEC138.
    NaN in, NaN out.

    References
    ----------
    .. [PowerLaw] docs/references.md.
    .. [FSEC138] docs/references.md, measured duct leaks at 25 Pa and in operation.

    Examples
    --------
    >>> print(f"{flow_at_pressure(100.0, 25.0, 50.0, 0.6):.1f}")
    151.6
    """
    require_positive(
        reference_pressure=reference_pressure,
        pressure_difference=pressure_difference,
        leakage_exponent=leakage_exponent,
    )
    scaled: Number = flow * (pressure_difference / reference_pressure) ** leakage_exponent
    return scaled


def pressure_across(flow: Number, leakage_coefficient: Number, leakage_exponent: Number) -> Number:
    r"""Return the pressure difference that drives a flow through a leak.

    .. math:: \Delta p = \mathrm{sign}(Q) \, (|Q| / C)^{1/n}

    Parameters
    ----------
    flow : float or array
        Volume flow from the first-named side to the second, Q. [m3/s]
    leakage_coefficient : float or array
        Flow at 1 Pa, C. [m3/(s Pa^n)]
    leakage_exponent : float or array
        Exponent of the power law, n. [-]

    Returns
    -------
    pressure_difference : float or array
        Pressure of the first-named side minus the second. [Pa]

    Raises
    ------
    InputError
        If a coefficient or an exponent is not above zero.

    Notes
    -----
    Valid: as leakage_flow, of which it is the inverse.
    Departs from the source: takes either sign of flow.
    Checked against: check values, airflow section 11, E6.
    NaN in, NaN out.

    References
    ----------
    .. [PowerLaw] docs/references.md.

    Examples
    --------
    >>> print(f"{pressure_across(-0.0472, 0.0420, 0.65):.2f}")
    -1.20
    """
    require_positive(leakage_coefficient=leakage_coefficient, leakage_exponent=leakage_exponent)
    pressure: Number = np.sign(flow) * (np.abs(flow) / leakage_coefficient) ** (1.0 / leakage_exponent)
    return pressure


def pressure_from_imbalance(
    unbalanced_flow: Number, flow_at_50: Number, leakage_exponent: Number = DEFAULT_LEAKAGE_EXPONENT
) -> Number:
    r"""Return the house pressure that fans make when they blow in more or less than they take out.

    .. math:: \Delta p = 50 \, \mathrm{sign}(Q) \, (|Q| / Q_{50})^{1/n}

    Parameters
    ----------
    unbalanced_flow : float or array
        Supplied minus exhausted flow, Q; an exhaust fan alone is negative. [m3/s]
    flow_at_50 : float or array
        Envelope leakage at 50 Pa, Q50. [m3/s]
    leakage_exponent : float or array, optional
        Exponent of the envelope, n. [-]

    Returns
    -------
    pressure_difference : float or array
        House minus outdoors; below zero when the house is under suction. [Pa]

    Raises
    ------
    InputError
        If a leakage or an exponent is not above zero.

    Notes
    -----
    Valid: still air and no stack effect: it is a change from the baseline, not the pressure at the floor.
    Departs from the source: signed.
    Checked against: check values, airflow sections 5, 6 and 11 (E11).
    NaN in, NaN out.

    References
    ----------
    .. [PowerLaw] docs/references.md.

    Examples
    --------
    >>> print(f"{pressure_from_imbalance(-250.0, 1000.0):.2f} Pa")
    -5.93 Pa
    """
    require_positive(flow_at_50=flow_at_50, leakage_exponent=leakage_exponent)
    pressure: Number = (
        50.0 * np.sign(unbalanced_flow) * (np.abs(unbalanced_flow) / flow_at_50) ** (1.0 / leakage_exponent)
    )
    return pressure


def least_flow_at_50(
    exhaust_flow: Number, pressure_limit: Number, leakage_exponent: Number = DEFAULT_LEAKAGE_EXPONENT
) -> Number:
    r"""Return the leakage a house must have for an exhaust not to exceed a suction limit.

    .. math:: Q_{50} = Q_{ex} \, (50 / |\Delta p|)^n

    Parameters
    ----------
    exhaust_flow : float or array
        Net exhausted flow as a magnitude, Qex. [m3/s]
    pressure_limit : float or array
        House pressure not to fall below, a negative number. [Pa]
    leakage_exponent : float or array, optional
        Exponent of the envelope, n. [-]

    Returns
    -------
    flow_at_50 : float or array
        Least envelope leakage at 50 Pa. [m3/s]

    Raises
    ------
    InputError
        If a limit is not below zero or an exponent not above zero.

    Notes
    -----
    Valid: still air; the suction of the stack effect comes on top.
    Departs from the source: the limit keeps its printed minus sign.
    Checked against: check values, airflow sections 6 and 11 (E11).
    NaN in, NaN out.

    References
    ----------
    .. [PowerLaw] docs/references.md.

    Examples
    --------
    >>> print(f"{least_flow_at_50(300.0, -5.0):.0f}")
    1340
    """
    suction = -np.asarray(pressure_limit, dtype=float)
    require_positive(suction_limit=suction, leakage_exponent=leakage_exponent)
    flow: Number = exhaust_flow * (50.0 / suction) ** leakage_exponent
    return flow


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


def series_leakage_coefficient(
    first_coefficient: Number, second_coefficient: Number, leakage_exponent: Number
) -> Number:
    r"""Return the leak that two leaks one behind the other make.

    .. math:: C = (C_1^{-1/n} + C_2^{-1/n})^{-n}

    Parameters
    ----------
    first_coefficient : float or array
        Flow of the first leak at 1 Pa, C1. [m3/(s Pa^n)]
    second_coefficient : float or array
        Flow of the second leak at 1 Pa, C2. [m3/(s Pa^n)]
    leakage_exponent : float or array
        Exponent that both share, n. [-]

    Returns
    -------
    leakage_coefficient : float or array
        Flow of the pair at 1 Pa over both, C. [m3/(s Pa^n)]

    Raises
    ------
    InputError
        If a coefficient or an exponent is not above zero.

    Notes
    -----
    Valid: one exponent for both and no other opening between them; else use the network.
    Departs from the source: not at all.
    Checked against: check values, airflow section 11, E6.
    NaN in, NaN out.

    References
    ----------
    .. [PowerLaw] docs/references.md.

    Examples
    --------
    >>> print(f"{series_leakage_coefficient(200.0, 30.0, 0.65):.2f}")
    28.99
    """
    require_positive(
        first_coefficient=first_coefficient,
        second_coefficient=second_coefficient,
        leakage_exponent=leakage_exponent,
    )
    inverse = -1.0 / leakage_exponent
    coefficient: Number = (first_coefficient**inverse + second_coefficient**inverse) ** -leakage_exponent
    return coefficient


def parallel_leakage_coefficient(first_coefficient: Number, second_coefficient: Number) -> Number:
    r"""Return the leak that two leaks side by side make.

    .. math:: C = C_1 + C_2

    Parameters
    ----------
    first_coefficient : float or array
        Flow of the first leak at 1 Pa, C1. [m3/(s Pa^n)]
    second_coefficient : float or array
        Flow of the second leak at 1 Pa, C2. [m3/(s Pa^n)]

    Returns
    -------
    leakage_coefficient : float or array
        Flow of both at 1 Pa, C. [m3/(s Pa^n)]

    Notes
    -----
    Valid: both leaks see the same pressure and share one exponent.
    Departs from the source: not at all.
    Checked against: check values, airflow section 11, E6.
    NaN in, NaN out.

    References
    ----------
    .. [PowerLaw] docs/references.md.

    Examples
    --------
    >>> print(f"{parallel_leakage_coefficient(60.0, 28.992):.3f}")
    88.992
    """
    return first_coefficient + second_coefficient


def orifice_flow(
    area: Number, pressure_difference: Number, air_density: Number, discharge_coefficient: Number = 0.6
) -> Number:
    r"""Return the air that a sharp-edged hole passes.

    .. math:: Q = C_d A \, \mathrm{sign}(\Delta p) \sqrt{2 |\Delta p| / \rho}

    Parameters
    ----------
    area : float or array
        Area of the hole, A. [m2]
    pressure_difference : float or array
        Pressure of the first-named side minus the second, dp. [Pa]
    air_density : float or array
        Density of the air that flows through, rho. [kg/m3]
    discharge_coefficient : float or array, optional
        Contraction and friction together, C_d. [-]

    Returns
    -------
    flow : float or array
        Volume flow, with the sign of the pressure difference. [m3/s]

    Raises
    ------
    InputError
        If a density is not above zero.

    Notes
    -----
    Valid: turbulent flow through a thin plate; in narrow cracks it gives too much.
    Departs from the source: signed.
    Checked against: check values, airflow section 11, E4.
    NaN in, NaN out.

    References
    ----------
    .. [ASHRAE2017] docs/references.md, chapter 16.

    Examples
    --------
    >>> print(f"{orifice_flow(0.02, 2.0852, 1.2923):.5f}")
    0.02156
    """
    require_positive(air_density=air_density)
    speed: Number = np.sqrt(np.abs(pressure_difference) / air_density)
    flow: Number = sqrt(2.0) * discharge_coefficient * area * np.sign(pressure_difference) * speed
    return flow
