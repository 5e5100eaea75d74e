"""Carry intervals through a formula."""

from __future__ import annotations

from collections.abc import Callable
from math import inf, isnan, sqrt

from airtally.estimates import Basis, Estimate


def spread(
    formula: Callable[..., float],
    *inputs: Estimate,
    unit: str,
    source: str,
    method_share: float = 0.0,
    basis: Basis = Basis.COMPUTED,
) -> Estimate:
    """Return what a formula gives for estimates, with an interval.

    Each input is moved to its two ends alone while the others stay at their values; the moves of the result
    are added in quadrature, up and down apart. Right to first order for independent inputs; a formula that is
    not monotone inside an interval is not caught.

    Parameters
    ----------
    formula : callable
        Takes one number per input [SI], returns one number.
    inputs : Estimate
        Independent inputs.
    unit, source : str
        Of the result.
    method_share : float, optional
        Half width that the method itself adds, as a share of the result. [-]
    basis : Basis, optional
        Of the result.
    """
    value = float(formula(*(one.value for one in inputs)))
    down, up = (method_share * value) ** 2, (method_share * value) ** 2
    for index, one in enumerate(inputs):
        ends = [_moved(formula, inputs, index, end) - value for end in (one.low, one.high) if end != one.value]
        if not ends:
            continue
        down += min(0.0, *ends) ** 2
        up += max(0.0, *ends) ** 2
    low = value - sqrt(down)
    high = value + sqrt(up)
    return Estimate(
        value=value,
        low=-inf if isnan(low) and not isnan(value) else low,
        high=inf if isnan(high) and not isnan(value) else high,
        unit=unit,
        basis=basis,
        source=source,
        level=min((one.level for one in inputs), default=0.90),
    )


def _moved(formula: Callable[..., float], inputs: tuple[Estimate, ...], index: int, end: float) -> float:
    return float(formula(*(end if k == index else one.value for k, one in enumerate(inputs))))


def total(parts: tuple[Estimate, ...], *, unit: str, source: str) -> Estimate:
    """Return the sum of independent estimates; half-widths add in quadrature."""
    return spread(lambda *values: sum(values), *parts, unit=unit, source=source)


def default(value: float, low: float, high: float, unit: str, source: str) -> Estimate:
    """Return a number that was assumed, marked so."""
    return Estimate(value=value, low=low, high=high, unit=unit, basis=Basis.DEFAULT, source=source)
