"""Filters and cleaners: efficiency by class, bypass, clean-air rate, bypass loops, drop at another flow."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from airtally.arrays import Number
from airtally.errors import InputError, require_positive
from airtally.limits.tables import MervEdition, merv_table
from airtally.physics.guards import require_fraction, require_not_negative

HEPA_EFFICIENCY = 0.9997
"""Least efficiency at 0.3 um that the name stands for in the United States. [-]; HEPA-definition, read"""
ROOM_RULE = 2.0 / 3.0 * 0.3048 / 60.0
"""Two thirds of a cfm per square foot. [m/s]; RoomRule, read"""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassEfficiency:
    """Single-pass efficiency in one size class as a rating leaves it open: ends and middle [-]."""

    low: float
    value: float
    high: float


class TapOrder(StrEnum):
    """Which of a bypass loop's two taps comes first along the trunk."""

    TAKE_OFF_FIRST = "take-off upstream"
    RETURN_FIRST = "re-entry upstream"


def merv_efficiency(
    merv: int, edition: MervEdition = MervEdition.CURRENT
) -> tuple[ClassEfficiency, ClassEfficiency, ClassEfficiency]:
    """Return what a MERV says, and leaves open, about efficiency in the three size classes.

    The lower end is the class's own minimum; the upper end the minimum of the next MERV that asks more, for a filter
    that met it would carry that rating; the middle lies between.

    Parameters
    ----------
    merv : int
        Rating, 5 to 16. [-]
    edition : MervEdition, optional
        Which table. [-]

    Returns
    -------
    efficiency : tuple of ClassEfficiency
        For 0.3-1, 1-3 and 3-10 um. [-]

    Raises
    ------
    InputError
        If the rating is not in the table.

    Notes
    -----
    Valid: the test's velocity and a filter without bypass. A rating is a minimum over a loading test; a charged
    medium may fall below it in use, a mechanical one rise above. For wood smoke use the first class.
    Departs from the source: the upper end and middle are ours.
    Checked against: MERV-old table, read; the 2017 table is from memory.
    NaN in, NaN out.

    References
    ----------
    .. [MERV-old] docs/references.md.
    .. [ASHRAE52.2-2017] docs/references.md.

    Examples
    --------
    >>> print(merv_efficiency(13)[0])
    ClassEfficiency(low=0.5, value=0.625, high=0.75)
    """
    rows = merv_table(edition)
    own = next((row for row in rows if row.merv == merv), None)
    if own is None:
        raise InputError(f"merv must be {rows[0].merv} to {rows[-1].merv}; given {merv}")
    found: list[ClassEfficiency] = []
    for size in range(3):
        low = own.minimum[size] or 0.0
        higher = [row.minimum[size] or 0.0 for row in rows if row.merv > merv]
        high = min((least for least in higher if least > low), default=1.0)
        found.append(ClassEfficiency(low=low, value=0.5 * (low + high), high=high))
    first, second, third = found
    return first, second, third


def efficiency_with_bypass(efficiency: Number, bypass_fraction: Number) -> Number:
    r"""Return the efficiency of a filter that lets some air pass around it.

    .. math:: \eta' = \eta \, (1 - b)

    Parameters
    ----------
    efficiency : float or array
        Single-pass efficiency of the medium, eta. [-]
    bypass_fraction : float or array
        Share of the air that goes around, b. [-]

    Returns
    -------
    efficiency : float or array
        Efficiency of filter and gaps together. [-]

    Raises
    ------
    InputError
        If an argument lies outside 0 to 1.

    Notes
    -----
    Valid: a bypass share that does not change with size or flow.
    Departs from the source: derived here.
    Checked against: mass balance of two streams, in the tests.
    NaN in, NaN out.

    References
    ----------
    .. [CommonPractice] docs/references.md.

    Examples
    --------
    >>> print(f"{efficiency_with_bypass(0.85, 0.1):.3f}")
    0.765
    """
    require_fraction(efficiency=efficiency, bypass_fraction=bypass_fraction)
    return efficiency * (1.0 - bypass_fraction)


def single_pass_efficiency(upstream_concentration: Number, downstream_concentration: Number) -> Number:
    r"""Return the share of particles that one pass takes out, from readings on both sides.

    .. math:: \eta = 1 - C_d / C_u

    Parameters
    ----------
    upstream_concentration : float or array
        Concentration before the filter, C_u. [kg/m3]
    downstream_concentration : float or array
        Concentration after it, C_d. [kg/m3]

    Returns
    -------
    efficiency : float or array
        Single-pass efficiency; below zero when more comes out than went in. [-]

    Raises
    ------
    InputError
        If an upstream concentration is not above zero.

    Notes
    -----
    Valid: both readings of the same air and the same sensor response; offsets bias it toward zero.
    Departs from the source: not at all.
    Checked against: its definition, in the tests.
    NaN in, NaN out.

    References
    ----------
    .. [MERV-old] docs/references.md.

    Examples
    --------
    >>> print(f"{single_pass_efficiency(20e-9, 3e-9):.2f}")
    0.85
    """
    require_positive(upstream_concentration=upstream_concentration)
    return 1.0 - downstream_concentration / upstream_concentration


def clean_air_rate(flow: Number, efficiency: Number, runtime_fraction: Number = 1.0) -> Number:
    r"""Return the flow of perfectly clean air that a filter amounts to.

    .. math:: Q_c = \eta \, Q \, r

    Parameters
    ----------
    flow : float or array
        Flow through the filter while it runs, Q. [m3/s]
    efficiency : float or array
        Single-pass efficiency including bypass, eta. [-]
    runtime_fraction : float or array, optional
        Share of time it runs, r. [-]

    Returns
    -------
    clean_air_rate : float or array
        Clean-air delivery. [m3/s]

    Raises
    ------
    InputError
        If a share lies outside 0 to 1.

    Notes
    -----
    Valid: mixed air; the mean over a cycle overstates the effect on peaks.
    Departs from the source: not at all.
    Checked against: check values, particles sections 2 and 9 (example 6).
    NaN in, NaN out.

    References
    ----------
    .. [CADR-metrics] docs/references.md.

    Examples
    --------
    >>> print(f"{clean_air_rate(0.5663, 0.625, 0.25):.4f}")
    0.0885
    """
    require_fraction(efficiency=efficiency, runtime_fraction=runtime_fraction)
    return flow * efficiency * runtime_fraction


def chamber_clean_air_rate(volume: Number, decay_rate: Number, natural_decay_rate: Number) -> Number:
    r"""Return a cleaner's clean-air rate from decays with and without it.

    .. math:: Q_c = V (k_e - k_n)

    Parameters
    ----------
    volume : float or array
        Volume of room or chamber, V. [m3]
    decay_rate : float or array
        Decay rate with the cleaner running, k_e. [1/s]
    natural_decay_rate : float or array
        Decay rate without it, k_n. [1/s]

    Returns
    -------
    clean_air_rate : float or array
        Clean-air delivery. [m3/s]

    Notes
    -----
    Valid: one well-mixed room, the same openings and fans in both runs.
    Departs from the source: not at all.
    Checked against: check values, particles section 9, example 7.
    NaN in, NaN out.

    References
    ----------
    .. [CADR-metrics] docs/references.md, method read, formula from memory.

    Examples
    --------
    >>> print(f"{chamber_clean_air_rate(28.54, 0.25 / 60, 0.01 / 60) * 3600:.0f} m3/h")
    411 m3/h
    """
    return volume * (decay_rate - natural_decay_rate)


def clean_air_for_floor_area(floor_area: Number) -> Number:
    r"""Return the clean-air rate that the two-thirds rule asks for a room.

    .. math:: Q_c[\mathrm{cfm}] = \tfrac23 A[\mathrm{ft^2}]

    Parameters
    ----------
    floor_area : float or array
        Floor area of the room, A. [m2]

    Returns
    -------
    clean_air_rate : float or array
        Clean-air delivery asked for. [m3/s]

    Notes
    -----
    Valid: 8 ft ceilings, where it makes 5 air changes an hour.
    Departs from the source: SI.
    Checked against: RoomRule, 120 ft2 to 80 cfm, read.
    NaN in, NaN out.

    References
    ----------
    .. [RoomRule] docs/references.md.

    Examples
    --------
    >>> print(f"{clean_air_for_floor_area(11.148):.5f}")
    0.03775
    """
    return ROOM_RULE * floor_area


def loop_recirculation(trunk_flow: Number, loop_flow: Number, order: TapOrder) -> Number:
    r"""Return how much of a bypass loop's intake is its own discharge.

    .. math:: r = \max(0, 1 - Q/q) \quad\text{or}\quad r = q/(Q + q)

    Parameters
    ----------
    trunk_flow : float or array
        Flow that the trunk brings to the taps, Q. [m3/s]
    loop_flow : float or array
        Flow of the loop's own fan, q. [m3/s]
    order : TapOrder
        Take-off upstream (first form) or re-entry upstream (second form, perfect mixing between the taps). [-]

    Returns
    -------
    recirculated_fraction : float or array
        r. [-]

    Raises
    ------
    InputError
        If a loop flow is not above zero or a trunk flow below zero.

    Notes
    -----
    Valid: both taps on one duct. With the air handler off the loop takes in only its own discharge.
    Departs from the source: derived here.
    Checked against: check values, airflow section 4.
    NaN in, NaN out.

    References
    ----------
    .. [CommonPractice] docs/references.md, no published measurement was found.

    Examples
    --------
    >>> print(f"{loop_recirculation(1200.0, 250.0, TapOrder.RETURN_FIRST):.3f}")
    0.172
    """
    require_positive(loop_flow=loop_flow)
    require_not_negative(trunk_flow=trunk_flow)
    if order == TapOrder.RETURN_FIRST:
        return loop_flow / (trunk_flow + loop_flow)
    fraction: Number = np.maximum(0.0, 1.0 - trunk_flow / loop_flow)
    return fraction


def loop_clean_air_rate(loop_flow: Number, efficiency: Number, recirculated_fraction: Number) -> Number:
    r"""Return the clean air a bypass loop gives when part of its intake is its own discharge.

    .. math:: Q_c = q \eta (1 - r) / [1 - r (1 - \eta)]

    Parameters
    ----------
    loop_flow : float or array
        Flow of the loop, q. [m3/s]
    efficiency : float or array
        Single-pass efficiency, eta. [-]
    recirculated_fraction : float or array
        Share of the intake that is its own discharge, r. [-]

    Returns
    -------
    clean_air_rate : float or array
        Clean air that reaches the house. [m3/s]

    Raises
    ------
    InputError
        If a share lies outside 0 to 1, or the share is 1 with an efficiency of 0.

    Notes
    -----
    Valid: steady state, mixed within the loop. At r = 1 it is zero.
    Departs from the source: derived here.
    Checked against: check values, airflow sections 4 and 11 (E9), particles section 2.
    NaN in, NaN out.

    References
    ----------
    .. [CommonPractice] docs/references.md.

    Examples
    --------
    >>> print(f"{loop_clean_air_rate(250.0, 0.9997, 0.3):.1f}")
    175.0
    """
    require_fraction(efficiency=efficiency, recirculated_fraction=recirculated_fraction)
    left = 1.0 - recirculated_fraction * (1.0 - efficiency)
    require_positive(air_that_leaves_the_loop=left)
    return loop_flow * efficiency * (1.0 - recirculated_fraction) / left


def series_clean_air_rate(
    trunk_flow: Number, loop_flow: Number, loop_efficiency: Number, filter_efficiency: Number
) -> Number:
    r"""Return the clean air of a bypass loop and a trunk filter one after the other.

    .. math:: Q_c = Q \, [1 - (1 - \eta_b q / Q)(1 - \eta_f)]

    Parameters
    ----------
    trunk_flow : float or array
        Flow in the trunk, Q. [m3/s]
    loop_flow : float or array
        Flow of the loop, not above the trunk's, q. [m3/s]
    loop_efficiency : float or array
        Single-pass efficiency of the loop's filter, eta_b. [-]
    filter_efficiency : float or array
        Single-pass efficiency of the trunk filter, eta_f. [-]

    Returns
    -------
    clean_air_rate : float or array
        Clean air of both together: less than their sum. [m3/s]

    Raises
    ------
    InputError
        If a share lies outside 0 to 1, a trunk flow is not above zero or the loop takes more than the trunk brings.

    Notes
    -----
    Valid: both on the trunk, air mixed between them, take-off upstream.
    Departs from the source: derived here.
    Checked against: check values, airflow sections 4 and 11 (E9).
    NaN in, NaN out.

    References
    ----------
    .. [CommonPractice] docs/references.md.

    Examples
    --------
    >>> print(f"{series_clean_air_rate(1200.0, 250.0, 1.0, 0.5):.0f}")
    725
    """
    require_positive(trunk_flow=trunk_flow)
    share = loop_flow / trunk_flow
    require_fraction(loop_share_of_trunk=share, loop_efficiency=loop_efficiency, filter_efficiency=filter_efficiency)
    return trunk_flow * (1.0 - (1.0 - loop_efficiency * share) * (1.0 - filter_efficiency))


def filter_pressure_drop(
    reference_drop: Number, reference_flow: Number, flow: Number, drop_exponent: Number = 1.0
) -> Number:
    r"""Return a filter's pressure drop at another flow than the one it is printed for.

    .. math:: \Delta p = \Delta p_0 (Q/Q_0)^m

    Parameters
    ----------
    reference_drop : float or array
        Pressure drop on the data sheet or measured, dp0. [Pa]
    reference_flow : float or array
        Flow (or face velocity, both alike) that belongs to it, Q0. [m3/s]
    flow : float or array
        Flow (or face velocity) wanted, Q. [m3/s]
    drop_exponent : float or array, optional
        m: 1 for the medium, to 1.5 with pleats, 2 for frame losses. [-]

    Returns
    -------
    pressure_drop : float or array
        Pressure drop at that flow. [Pa]

    Raises
    ------
    InputError
        If a reference flow is not above zero or a flow below zero.

    Notes
    -----
    Valid: one filter in one state of loading; products of one class differ by a factor of two or more.
    Departs from the source: not at all.
    Checked against: check values, particles section 9, example 10.
    NaN in, NaN out.

    References
    ----------
    .. [FilterBulletin2018] docs/references.md; exponents from memory.

    Examples
    --------
    >>> print(f"{filter_pressure_drop(24.9, 175.0, 350.0, 1.5):.1f} Pa")
    70.4 Pa
    """
    require_positive(reference_flow=reference_flow)
    require_not_negative(flow=flow)
    drop: Number = reference_drop * (flow / reference_flow) ** drop_exponent
    return drop


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
