"""Particles in a room: settling, what gets in, steady level, decay, events, default rates by size class."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import InputError, require_positive
from airtally.physics.air import GRAVITY
from airtally.physics.guards import require_fraction, require_not_negative
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
PENETRATION = (
    DefaultRange(low=0.34, value=0.78, high=1.0, unit="-", source="IAQHandbook2021, Farhoodi2025, read"),
    DefaultRange(low=0.3, value=0.7, high=1.0, unit="-", source="Williams2003 0.72 from memory"),
    DefaultRange(low=0.2, value=0.5, high=0.9, unit="-", source="Thatcher2003: falls from 1 to 0.3 at 10 um, read"),
)
"""Share of outdoor particles that comes through the envelope, by size class."""


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


def half_life(loss_rate: Number) -> Number:
    r"""Return the time in which a decaying level halves.

    .. math:: t_{1/2} = \ln 2 / \lambda

    Parameters
    ----------
    loss_rate : float or array
        All removal together, lambda. [1/s]

    Returns
    -------
    duration : float or array
        Half-life. [s]

    Raises
    ------
    InputError
        If a loss rate is not above zero.

    Notes
    -----
    Valid: decay toward zero; with outdoor air above zero the excess halves.
    Departs from the source: not at all.
    Checked against: check values, particles section 9, example 9.
    NaN in, NaN out.

    References
    ----------
    .. [Wallace2013] docs/references.md, the rate.

    Examples
    --------
    >>> print(f"{half_life(1.08 / 3600) / 60:.1f} min")
    38.5 min
    """
    require_positive(loss_rate=loss_rate)
    return 0.6931471805599453 / loss_rate


def decayed_concentration(
    mass_concentration: Number, steady_concentration: Number, loss_rate: Number, duration: Number
) -> Number:
    r"""Return the level some time after a start, on its way to the steady level.

    .. math:: C(t) = C_s + (C_0 - C_s) e^{-\lambda t}

    Parameters
    ----------
    mass_concentration : float or array
        Level at the start, C0. [kg/m3]
    steady_concentration : float or array
        Level it tends to, C_s. [kg/m3]
    loss_rate : float or array
        All removal together, lambda. [1/s]
    duration : float or array
        Time since the start, t. [s]

    Returns
    -------
    mass_concentration : float or array
        Level then. [kg/m3]

    Notes
    -----
    Valid: constant rates and sources meanwhile.
    Departs from the source: not at all.
    Checked against: check values, particles section 9, example 9; small time steps in the tests.
    NaN in, NaN out.

    References
    ----------
    .. [IAQHandbook2021] docs/references.md.

    Examples
    --------
    >>> print(f"{decayed_concentration(140.9, 0.0, 1.08 / 3600, 3600.0):.1f}")
    47.8
    """
    level: Number = steady_concentration + (mass_concentration - steady_concentration) * np.exp(-loss_rate * duration)
    return level


def decay_rate(first_concentration: Number, second_concentration: Number, duration: Number) -> Number:
    r"""Return the loss rate from two readings of a decay toward zero.

    .. math:: \lambda = \ln(C_1/C_2) / t

    Parameters
    ----------
    first_concentration : float or array
        Earlier level above background, C1. [kg/m3]
    second_concentration : float or array
        Later level above background, C2. [kg/m3]
    duration : float or array
        Time between, t. [s]

    Returns
    -------
    loss_rate : float or array
        lambda. [1/s]

    Raises
    ------
    InputError
        If a level or a time is not above zero.

    Notes
    -----
    Valid: background taken off and the room mixed; for a whole record fit the line instead.
    Departs from the source: not at all.
    Checked against: decayed_concentration, of which it is the inverse.
    NaN in, NaN out.

    References
    ----------
    .. [CADR-metrics] docs/references.md.

    Examples
    --------
    >>> print(f"{decay_rate(140.9, 47.85, 3600.0) * 3600:.2f}")
    1.08
    """
    require_positive(
        first_concentration=first_concentration, second_concentration=second_concentration, duration=duration
    )
    rate: Number = np.log(first_concentration / second_concentration) / duration
    return rate


def event_peak(emission_rate: Number, duration: Number, volume: Number, loss_rate: Number) -> Number:
    r"""Return what a source adds to a room by the moment it stops.

    .. math:: \Delta C = \frac{E}{V \lambda} (1 - e^{-\lambda t})

    Parameters
    ----------
    emission_rate : float or array
        Strength of the source, E. [kg/s]
    duration : float or array
        Time it ran, t. [s]
    volume : float or array
        Volume it mixed into, V. [m3]
    loss_rate : float or array
        All removal together, lambda; zero gives the level without loss. [1/s]

    Returns
    -------
    mass_concentration : float or array
        Rise at the end of the event. [kg/m3]

    Raises
    ------
    InputError
        If a volume is not above zero or a loss rate below zero.

    Notes
    -----
    Valid: mixed at once; near the stove the peak is several times higher.
    Departs from the source: written so that a zero loss rate is allowed.
    Checked against: check values, particles section 9, example 9.
    NaN in, NaN out.

    References
    ----------
    .. [He2004] docs/references.md, emission rates.
    .. [Wallace2013] docs/references.md, loss rate.

    Examples
    --------
    >>> print(f"{event_peak(2.68e-6 / 60, 900.0, 250.0, 1.08 / 3600) * 1e9:.1f}")
    140.9
    """
    require_positive(volume=volume)
    require_not_negative(loss_rate=loss_rate)
    spent = np.asarray(loss_rate * duration, dtype=float)
    # without any loss the quotient is one: nothing was spent
    kept = np.divide(-np.expm1(-spent), spent, out=np.ones_like(spent), where=spent != 0.0)
    rise: Number = (emission_rate * duration / volume * kept)[()]
    return rise


def event_exposure(emission_rate: Number, duration: Number, volume: Number, loss_rate: Number) -> Number:
    r"""Return the whole exposure a source leaves in a room, until it has died away.

    .. math:: \int \Delta C \, dt = E t / (V \lambda)

    Parameters
    ----------
    emission_rate : float or array
        Strength of the source, E. [kg/s]
    duration : float or array
        Time it ran, t. [s]
    volume : float or array
        Volume it mixed into, V. [m3]
    loss_rate : float or array
        All removal together, lambda. [1/s]

    Returns
    -------
    exposure : float or array
        Concentration summed over time. [kg s/m3]

    Raises
    ------
    InputError
        If a volume or a loss rate is not above zero.

    Notes
    -----
    Valid: constant loss rate until the level is back.
    Departs from the source: derived here.
    Checked against: check values, particles section 9, example 9; a numerical sum in the tests.
    NaN in, NaN out.

    References
    ----------
    .. [He2004] docs/references.md, emission rates.

    Examples
    --------
    >>> print(f"{event_exposure(2.68e-6 / 60, 900.0, 250.0, 1.08 / 3600) * 1e9 / 3600:.1f} ug h/m3")
    148.9 ug h/m3
    """
    require_positive(volume=volume, loss_rate=loss_rate)
    return emission_rate * duration / (volume * loss_rate)


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
