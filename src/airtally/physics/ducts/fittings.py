"""Bends, entries, branches and compressed flex: what a duct loses beyond straight friction."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Number
from airtally.errors import require_positive
from airtally.physics.guards import require_fraction

LOSS_COEFFICIENTS = {
    "smooth 90 degree bend, r/D 0.75": 0.49,
    "smooth 90 degree bend, r/D 1": 0.34,
    "smooth 90 degree bend, r/D 1.5": 0.24,
    "smooth 90 degree bend, r/D 2": 0.22,
    "sharp flush entry": 0.5,
    "bellmouth entry": 0.03,
    "exit": 1.0,
    "90 degree tee, branch": 1.0,
    "45 degree wye, branch": 0.5,
}
"""Velocity pressures lost. [-]; bends from the library Fluids at a friction factor of 0.02, the rest from memory"""


def velocity_pressure(velocity: Number, air_density: Number) -> Number:
    r"""Return the pressure that moving air makes when it is stopped.

    .. math:: p_v = \rho v^2 / 2

    Parameters
    ----------
    velocity : float or array
        Mean velocity in the duct, v. [m/s]
    air_density : float or array
        Density of the air, rho. [kg/m3]

    Returns
    -------
    velocity_pressure : float or array
        Velocity pressure, p_v. [Pa]

    Notes
    -----
    Valid: speeds far below that of sound. The trade's 4005 is this at 1.204 kg/m3; at 1500 m it is 4384.
    Departs from the source: SI and explicit density instead of the rounded constant.
    Checked against: the 4005 of DuctChapter, read; check values, airflow section 3.
    NaN in, NaN out.

    References
    ----------
    .. [DuctChapter] docs/references.md.

    Examples
    --------
    >>> print(f"{velocity_pressure(5.08, 1.2014):.1f} Pa")
    15.5 Pa
    """
    return 0.5 * air_density * velocity**2


def fitting_pressure_drop(loss_coefficient: Number, velocity: Number, air_density: Number) -> Number:
    r"""Return the pressure that a fitting takes.

    .. math:: \Delta p = C \, \rho v^2 / 2

    Parameters
    ----------
    loss_coefficient : float or array
        Velocity pressures lost, C; see LOSS_COEFFICIENTS. [-]
    velocity : float or array
        Mean velocity in the section the coefficient refers to. [m/s]
    air_density : float or array
        Density of the air. [kg/m3]

    Returns
    -------
    pressure_drop : float or array
        Loss of total pressure. [Pa]

    Notes
    -----
    Valid: fittings a few diameters apart; closer ones lose more or less than their sum.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3, worked example of the 8 in run.
    NaN in, NaN out.

    References
    ----------
    .. [DuctChapter] docs/references.md.

    Examples
    --------
    >>> print(f"{fitting_pressure_drop(1.0, 5.08, 1.2014):.1f} Pa")
    15.5 Pa
    """
    return loss_coefficient * velocity_pressure(velocity, air_density)


def equivalent_length(loss_coefficient: Number, diameter: Number, friction_factor: Number) -> Number:
    r"""Return the straight duct that loses as much as a fitting.

    .. math:: L = C D / f

    Parameters
    ----------
    loss_coefficient : float or array
        Velocity pressures lost, C. [-]
    diameter : float or array
        Inside diameter, D. [m]
    friction_factor : float or array
        Darcy friction factor, f. [-]

    Returns
    -------
    length : float or array
        Equivalent length, L. [m]

    Raises
    ------
    InputError
        If a friction factor is not above zero.

    Notes
    -----
    Valid: near the flow that the friction factor was taken at.
    Departs from the source: not at all.
    Checked against: check values, airflow section 3 (29.6 ft).
    NaN in, NaN out.

    References
    ----------
    .. [DuctChapter] docs/references.md.

    Examples
    --------
    >>> print(f"{equivalent_length(1.0, 0.2032, 0.0225):.2f} m")
    9.03 m
    """
    require_positive(friction_factor=friction_factor)
    return loss_coefficient * diameter / friction_factor


def flex_compression_factor(compression: Number, diameter: Number) -> Number:
    r"""Return how many times more pressure a compressed flex takes than a stretched one.

    .. math:: PDCF = 1 + 58 \, r_c \, e^{-0.126 D}, \quad D \text{ in inches}

    Parameters
    ----------
    compression : float or array
        Missing length over stretched length, r_c. [-]
    diameter : float or array
        Inside diameter, D. [m]

    Returns
    -------
    compression_factor : float or array
        Multiplier of the stretched duct's pressure drop. [-]

    Raises
    ------
    InputError
        If a compression lies outside 0 to 1 or a diameter is not above zero.

    Notes
    -----
    Valid: 6 to 10 in and up to 30 %; beyond, extrapolated and nothing is raised.
    Departs from the source: diameter in metres, the exponent converted.
    Checked against: the factor 4 and nearly 10 of Abushakra2004, read; formula from memory.
    NaN in, NaN out.

    References
    ----------
    .. [Abushakra2004] docs/references.md.

    Examples
    --------
    >>> print(f"{flex_compression_factor(0.15, 0.2032):.2f}")
    4.18
    """
    require_fraction(compression=compression)
    require_positive(diameter=diameter)
    factor: Number = 1.0 + 58.0 * compression * np.exp(-0.126 * diameter / 0.0254)
    return factor
