"""Where a rising function crosses zero, without loading a library of optimisers for it."""

from __future__ import annotations

from collections.abc import Callable

from airtally.errors import AirtallyError, InputError

MOST_STEPS = 200
"""False position settles in about ten, on a step in about fifty; beyond, the function is at fault."""


def crossing(function: Callable[[float], float], low: float, high: float, tolerance: float) -> float:
    """Return where a function that rises passes through zero between two ends, by false position.

    An end that stays twice has its value halved, so that the next step falls beyond the crossing (the Illinois rule).

    Parameters
    ----------
    function : callable
        Not above zero at ``low`` and not below it at ``high``.
    low, high, tolerance : float
        Bracket, and the width at which it is narrow enough; in the unit of the argument.

    Raises
    ------
    InputError
        If the ends do not hold a crossing.
    AirtallyError
        If the bracket does not close, as with NaN.

    Notes
    -----
    Checked against: scipy.optimize.brentq.
    """
    below, above = function(low), function(high)
    if below > 0.0 or above < 0.0:
        raise InputError(f"no crossing between {low:g} and {high:g}: the function goes from {below:g} to {above:g}")
    moved = 0
    for _ in range(MOST_STEPS):
        if below == 0.0 or above == 0.0 or high - low <= tolerance:
            break
        middle = low - below * (high - low) / (above - below)
        value = function(middle)
        if value != value:
            raise AirtallyError(f"the function has no number at {middle:g}")
        if value <= 0.0:
            low, below = middle, value
            above *= 0.5 if moved < 0 else 1.0
            moved = -1
        else:
            high, above = middle, value
            below *= 0.5 if moved > 0 else 1.0
            moved = 1
    else:
        raise AirtallyError(f"no crossing found between {low:g} and {high:g}")
    if below == 0.0:
        return low
    return high if above == 0.0 else low - below * (high - low) / (above - below)
