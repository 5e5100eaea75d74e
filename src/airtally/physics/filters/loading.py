"""Loading of a filter: dust it holds, drop by dust and by fan hours, hours until a change."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.guards import require_fraction, require_not_negative
from airtally.physics.ranges import DefaultRange

_INCH_OF_WATER_PER_100_HOURS = 249.08891 / (100.0 * 3600.0)
DUST_HOLDING = {
    "1 inch pleated": DefaultRange(
        low=0.020, value=0.040, high=0.060, unit="kg", source="synthetic test dust, soft, from memory"
    ),
    "4 to 5 inch pleated": DefaultRange(
        low=0.100, value=0.200, high=0.300, unit="kg", source="synthetic test dust, soft, from memory"
    ),
}
"""Dust on a filter at its final resistance, as tested; house dust is not test dust. [kg]"""
DROP_RISES = {
    "1 inch pleated": DefaultRange(
        low=0.008 * _INCH_OF_WATER_PER_100_HOURS,
        value=0.03 * _INCH_OF_WATER_PER_100_HOURS,
        high=0.15 * _INCH_OF_WATER_PER_100_HOURS,
        unit="Pa/s",
        source="LBNL6144E: flow lost per mass of air at low, medium, high loading, read; as pressure on a quadratic fan",
    ),
    "4 to 5 inch pleated": DefaultRange(
        low=0.005 * _INCH_OF_WATER_PER_100_HOURS,
        value=0.02 * _INCH_OF_WATER_PER_100_HOURS,
        high=0.08 * _INCH_OF_WATER_PER_100_HOURS,
        unit="Pa/s",
        source="LBNL6144E as above, read; 0.01 to 0.03 inH2O per 100 fan hours in dusty homes from memory",
    ),
}
"""Rise of a filter's pressure drop at unchanged flow, per time the fan runs. [Pa/s]; readings go before it"""


def final_resistance(clean_drop: Number, least_final: Number) -> Number:
    r"""Return the pressure drop at which the filter test calls a filter loaded.

    .. math:: \Delta p_f = \max(\Delta p_{f,0}, 2 \, \Delta p_0)

    Parameters
    ----------
    clean_drop : float or array
        Pressure drop of the clean filter at the test flow, dp0. [Pa]
    least_final : float or array
        Least final resistance of its class, as in the MERV table, dpf0. [Pa]

    Returns
    -------
    pressure_drop : float or array
        Final resistance, dpf. [Pa]

    Raises
    ------
    InputError
        If a pressure is below zero.

    Notes
    -----
    Valid: the test; a house should change its filter long before, when the static pressure says so.
    Departs from the source: not at all.
    Checked against: MERV-old table and its rule of twice the initial drop, read.
    NaN in, NaN out.

    References
    ----------
    .. [MERV-old] docs/references.md.

    Examples
    --------
    >>> print(f"{final_resistance(67.0, 348.72):.1f} Pa")
    348.7 Pa
    """
    require_not_negative(clean_drop=clean_drop, least_final=least_final)
    final: Number = np.maximum(least_final, 2.0 * clean_drop)
    return final


def drop_by_dust(
    clean_drop: Number, dust_mass: Number, final_drop: Number, dust_holding: Number, loading_exponent: Number = 1.0
) -> Number:
    r"""Return a filter's pressure drop once it holds an amount of dust.

    .. math:: \Delta p = \Delta p_0 + (\Delta p_f - \Delta p_0) (m/M)^k

    Parameters
    ----------
    clean_drop : float or array
        Pressure drop of the clean filter, dp0. [Pa]
    dust_mass : float or array
        Dust on the filter, see captured_mass, m. [kg]
    final_drop : float or array
        Pressure drop of the test at its end, at the same flow, dpf. [Pa]
    dust_holding : float or array
        Dust that the filter held then, M; see DUST_HOLDING. [kg]
    loading_exponent : float or array, optional
        k: 1 rises evenly, up to 2 late. [-]

    Returns
    -------
    pressure_drop : float or array
        Pressure drop at the same flow. [Pa]

    Raises
    ------
    InputError
        If a holding or an exponent is not above zero, or a mass below zero.

    Notes
    -----
    Valid: an order of magnitude. Synthetic dust is not house dust, and PM2.5 is a small part of what a filter weighs:
    with the mass of PM2.5 alone the rise is understated. A drop measured at a known flow goes before it.
    Departs from the source: the line between its two printed ends is ours.
    Checked against: its two ends, clean and final resistance of MERV-old, read.
    NaN in, NaN out.

    References
    ----------
    .. [MERV-guide] docs/references.md, on what dust holding does not say.
    .. [MERV-old] docs/references.md, final resistances.

    Examples
    --------
    >>> print(f"{drop_by_dust(40.0, 0.010, 348.72, 0.040):.0f} Pa")
    117 Pa
    """
    require_positive(dust_holding=dust_holding, loading_exponent=loading_exponent)
    require_not_negative(dust_mass=dust_mass)
    drop: Number = clean_drop + (final_drop - clean_drop) * (dust_mass / dust_holding) ** loading_exponent
    return drop


def drop_by_hours(clean_drop: Number, fan_time: Number, drop_rise: Number) -> Number:
    r"""Return a filter's pressure drop after the fan has run for a time.

    .. math:: \Delta p = \Delta p_0 + s \, t

    Parameters
    ----------
    clean_drop : float or array
        Pressure drop of the clean filter, dp0. [Pa]
    fan_time : float or array
        Time the fan ran since the filter was new, t. [s]
    drop_rise : float or array
        Rise per running time at the same flow, s; see DROP_RISES. [Pa/s]

    Returns
    -------
    pressure_drop : float or array
        Pressure drop at the same flow. [Pa]

    Raises
    ------
    InputError
        If a time or a rise is below zero.

    Notes
    -----
    Valid: the first few hundred hours; a filter near its end rises faster.
    Departs from the source: the loss of flow that was published is turned into pressure on a quadratic fan.
    Checked against: LBNL6144E, flow lost by a split-capacitor blower per million kilograms of air, read, in the tests.
    NaN in, NaN out.

    References
    ----------
    .. [LBNL6144E] docs/references.md, as implemented in a public source file.

    Examples
    --------
    >>> rise = DROP_RISES["4 to 5 inch pleated"].value
    >>> print(f"{drop_by_hours(37.0, 1000 * 3600.0, rise):.0f} Pa")
    87 Pa
    """
    require_not_negative(fan_time=fan_time, drop_rise=drop_rise)
    return clean_drop + drop_rise * fan_time


def hours_to_drop(clean_drop: Number, drop_limit: Number, drop_rise: Number) -> Number:
    r"""Return how long the fan may run until a filter takes a given pressure.

    .. math:: t = (\Delta p_{max} - \Delta p_0) / s

    Parameters
    ----------
    clean_drop : float or array
        Pressure drop of the clean filter, dp0. [Pa]
    drop_limit : float or array
        Pressure drop that the blower's budget leaves for the filter, dpmax. [Pa]
    drop_rise : float or array
        Rise per running time at the same flow, s; see DROP_RISES. [Pa/s]

    Returns
    -------
    duration : float or array
        Time the fan may run; zero when the clean filter takes the limit already. [s]

    Raises
    ------
    InputError
        If a rise is not above zero.

    Notes
    -----
    Valid: as drop_by_hours, which it inverts.
    Departs from the source: as drop_by_hours.
    Checked against: drop_by_hours backwards; the three months that a 1 inch filter is printed for, common practice.
    NaN in, NaN out.

    References
    ----------
    .. [LBNL6144E] docs/references.md, as implemented in a public source file.
    .. [CommonPractice] docs/references.md.

    Examples
    --------
    >>> rise = DROP_RISES["1 inch pleated"].value
    >>> print(f"{hours_to_drop(50.0, 100.0, rise) / 3600:.0f} h")
    669 h
    """
    require_positive(drop_rise=drop_rise)
    time: Number = np.maximum(0.0, (drop_limit - clean_drop) / drop_rise)
    return time


def captured_mass(efficiency: Number, mass_concentration: Number, flow: Number, duration: Number) -> Number:
    r"""Return what a filter has collected.

    .. math:: m = \eta \, C \, Q \, t

    Parameters
    ----------
    efficiency : float or array
        Single-pass efficiency by mass, eta. [-]
    mass_concentration : float or array
        Mean concentration upstream while the fan runs, C. [kg/m3]
    flow : float or array
        Flow through the filter, Q. [m3/s]
    duration : float or array
        Time the fan ran, t. [s]

    Returns
    -------
    mass : float or array
        Mass on the filter, m. [kg]

    Raises
    ------
    InputError
        If an efficiency lies outside 0 to 1.

    Notes
    -----
    Valid: the sizes the concentration counts; coarse dust, which no PM2.5 sensor sees, is most of a filter's weight.
    Departs from the source: not at all.
    Checked against: check values, particles section 9, example 10.
    NaN in, NaN out.

    References
    ----------
    .. [MERV-guide] docs/references.md, on what dust holding does not say.

    Examples
    --------
    >>> print(f"{captured_mass(0.85, 20e-9, 2000 / 3600, 2000 * 3600.0) * 1000:.1f} g")
    68.0 g
    """
    require_fraction(efficiency=efficiency)
    return efficiency * mass_concentration * flow * duration
