"""Steady balance of particles in a room: what gets in, what stays, what a measure takes away."""

from __future__ import annotations

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.guards import require_fraction, require_not_negative
from airtally.physics.ranges import DefaultRange

PENETRATION = (
    DefaultRange(low=0.34, value=0.78, high=1.0, unit="-", source="IAQHandbook2021, Farhoodi2025, read"),
    DefaultRange(low=0.3, value=0.7, high=1.0, unit="-", source="Williams2003 0.72 from memory"),
    DefaultRange(low=0.2, value=0.5, high=0.9, unit="-", source="Thatcher2003: falls from 1 to 0.3 at 10 um, read"),
)
"""Share of outdoor particles that comes through the envelope, by size class."""


def infiltration_factor(
    penetration: Number, air_change_rate: Number, deposition_rate: Number, filter_rate: Number = 0.0
) -> Number:
    r"""Return the steady indoor level over the outdoor level with no source indoors.

    .. math:: F = P a / (a + k + k_f)

    Parameters
    ----------
    penetration : float or array
        Share that comes through the envelope, P. [-]
    air_change_rate : float or array
        Outdoor air changes, a. [1/s]
    deposition_rate : float or array
        Settling on surfaces, k. [1/s]
    filter_rate : float or array, optional
        Clean air over volume, k_f. [1/s]

    Returns
    -------
    infiltration_factor : float or array
        F. [-]

    Raises
    ------
    InputError
        If a penetration lies outside 0 to 1, a rate is below zero or all are zero.

    Notes
    -----
    Valid: one mixed zone, steady; not the ratio of indoor to outdoor readings when anybody cooks.
    Departs from the source: not at all.
    Checked against: check values, particles section 9, example 3.
    NaN in, NaN out.

    References
    ----------
    .. [IAQHandbook2021] docs/references.md.

    Examples
    --------
    >>> print(f"{infiltration_factor(0.8, 0.5, 0.2):.3f}")
    0.571
    """
    require_fraction(penetration=penetration)
    require_not_negative(air_change_rate=air_change_rate, deposition_rate=deposition_rate, filter_rate=filter_rate)
    loss = air_change_rate + deposition_rate + filter_rate
    require_positive(total_loss_rate=loss)
    return penetration * air_change_rate / loss


def steady_concentration(
    inflow_concentration: Number, air_change_rate: Number, loss_rate: Number, emission_rate: Number, volume: Number
) -> Number:
    r"""Return the level a mixed room settles at.

    .. math:: C = (a C_{in} + E/V) / \lambda

    Parameters
    ----------
    inflow_concentration : float or array
        Concentration of the entering air after penetration, C_in. [kg/m3]
    air_change_rate : float or array
        Outdoor air changes, a. [1/s]
    loss_rate : float or array
        All removal together, air exchange included, lambda. [1/s]
    emission_rate : float or array
        Indoor source, E. [kg/s]
    volume : float or array
        Volume of the room, V. [m3]

    Returns
    -------
    mass_concentration : float or array
        Steady level, C. [kg/m3]

    Raises
    ------
    InputError
        If a loss rate or a volume is not above zero.

    Notes
    -----
    Valid: one mixed zone after several 1/lambda.
    Departs from the source: not at all.
    Checked against: infiltration_factor and event_exposure, in the tests.
    NaN in, NaN out.

    References
    ----------
    .. [IAQHandbook2021] docs/references.md.

    Examples
    --------
    >>> print(f"{steady_concentration(8e-9, 0.5 / 3600, 0.7 / 3600, 0.0, 300.0) * 1e9:.2f} ug/m3")
    5.71 ug/m3
    """
    require_positive(loss_rate=loss_rate, volume=volume)
    return (air_change_rate * inflow_concentration + emission_rate / volume) / loss_rate


def steady_reduction(loss_rate: Number, added_rate: Number) -> Number:
    r"""Return the fall of any steady level when a loss is added.

    .. math:: R = k_f / (\lambda + k_f)

    Parameters
    ----------
    loss_rate : float or array
        All removal without the measure, lambda. [1/s]
    added_rate : float or array
        Loss the measure adds, k_f. [1/s]

    Returns
    -------
    reduction : float or array
        Share by which the level falls. [-]

    Raises
    ------
    InputError
        If a loss rate is not above zero or an added rate below zero.

    Notes
    -----
    Valid: air exchange, penetration and emissions unchanged.
    Departs from the source: derived here.
    Checked against: check values, particles section 9, examples 5 and 6; the 25 to 50 % of HowardReed2003, read.
    NaN in, NaN out.

    References
    ----------
    .. [IAQHandbook2021] docs/references.md.
    .. [HowardReed2003] docs/references.md.

    Examples
    --------
    >>> print(f"{steady_reduction(0.7, 400 / 300):.3f}")
    0.656
    """
    require_positive(loss_rate=loss_rate)
    require_not_negative(added_rate=added_rate)
    return added_rate / (loss_rate + added_rate)


def added_rate_from_levels(level_before: Number, level_after: Number, loss_rate: Number) -> Number:
    r"""Return the loss that a measure must have added for a steady level to fall so far.

    .. math:: k_f = \lambda (C_0/C_1 - 1)

    Parameters
    ----------
    level_before : float or array
        Steady level or infiltration factor without the measure, C0. [-]
    level_after : float or array
        The same with it, C1. [-]
    loss_rate : float or array
        All removal without the measure, lambda. [1/s]

    Returns
    -------
    added_rate : float or array
        k_f; below zero when the level rose. [1/s]

    Raises
    ------
    InputError
        If a level is not above zero.

    Notes
    -----
    Valid: as steady_reduction, of which it is the inverse.
    Departs from the source: derived here.
    Checked against: check values, particles section 9, example 5.
    NaN in, NaN out.

    References
    ----------
    .. [Wheeler2014] docs/references.md, levels before and after, read.

    Examples
    --------
    >>> print(f"{added_rate_from_levels(0.56, 0.26, 0.70):.2f}")
    0.81
    """
    require_positive(level_before=level_before, level_after=level_after)
    return loss_rate * (level_before / level_after - 1.0)
