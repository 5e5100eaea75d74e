"""Short indoor events: the peak they reach and the exposure they leave."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.guards import require_not_negative


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
