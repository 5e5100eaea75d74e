"""Decay of particles in a room: half life, level after a time, rate from two levels."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive


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
