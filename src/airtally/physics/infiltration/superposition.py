"""Infiltration beside running fans: how the flows add, what comes through cracks."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from airtally.arrays import Number
from airtally.physics.guards import require_not_negative


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
