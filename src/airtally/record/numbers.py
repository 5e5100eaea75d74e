"""From draws in SI to one number of the record in field units."""

from __future__ import annotations

import numpy as np

from airtally.arrays import Floats
from airtally.estimates import Basis, Estimate
from airtally.record.documents import Document, quantity

UGM3 = 1e9
"""ug/m3 in a kg/m3."""
PER_HOUR = 3600.0
"""1/h in a 1/s, and m3/h in a m3/s."""
GRAMS_A_DAY = 86400.0 * 1e3
"""g/day in a kg/s."""


def from_draws(
    draws: Floats, *, unit: str, source: str, factor: float = 1.0, level: float = 0.90, basis: Basis = Basis.FITTED
) -> Document:
    """Return median and interval of draws as one number of the record.

    Parameters
    ----------
    draws : float64 array, shape (draws,)
        In SI.
    unit, source : str
        Field unit and where the number comes from.
    factor : float
        Field units in the SI unit.
    level : float
        Probability of the interval. [-]
    """
    values = np.asarray(draws, dtype=np.float64) * factor
    values = values[np.isfinite(values)]
    if values.size == 0:
        return quantity(None, unit=unit, source=source, basis=basis, level=level)
    tail = (1.0 - level) / 2.0
    low, middle, high = np.quantile(values, [tail, 0.5, 1.0 - tail])
    return quantity(float(middle), low=float(low), high=float(high), unit=unit, source=source, basis=basis, level=level)


def field(estimate: Estimate, unit: str, factor: float) -> Document:
    """Return an SI estimate as a number in a field unit. ``factor`` is field units in the SI unit."""
    return quantity(
        estimate.value * factor,
        low=estimate.low * factor,
        high=estimate.high * factor,
        unit=unit,
        basis=estimate.basis,
        source=estimate.source,
        level=estimate.level,
    )


def setting(value: float | None, unit: str, source: str, basis: Basis = Basis.SURVEYED) -> Document:
    """Return a setting or a count: a number without an interval."""
    return quantity(value, unit=unit, source=source, basis=basis)
