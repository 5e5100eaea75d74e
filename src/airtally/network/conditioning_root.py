"""Where a rising function crosses zero, without loading a library of optimisers for it."""

from __future__ import annotations

from collections.abc import Callable

from airtally.errors import AirtallyError, InputError

MOST_STEPS = 200
"""False position with halving settles in about ten; two hundred is a fault of the function."""


def crossing(function: Callable[[float], float], low: float, high: float, tolerance: float) -> float:
    """Return where a function that rises passes through zero between two ends, by false position with halving.

    Every third step halves the bracket, so that a function flat on one side settles too.

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
    for step in range(MOST_STEPS):
        if below == 0.0 or above == 0.0 or high - low <= tolerance:
            break
        middle = 0.5 * (low + high) if step % 3 == 2 else low - below * (high - low) / (above - below)
        value = function(middle)
        if value != value:
            raise AirtallyError(f"the function has no number at {middle:g}")
        if value <= 0.0:
            low, below = middle, value
            above = 0.5 * above
        else:
            high, above = middle, value
            below = 0.5 * below
    else:
        raise AirtallyError(f"no crossing found between {low:g} and {high:g}")
    if below == 0.0:
        return low
    return high if above == 0.0 else low - below * (high - low) / (above - below)
