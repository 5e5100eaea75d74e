"""What may be learnt about a house from readings: each parameter with its prior, on a logarithmic scale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats

WIDEST_ODDS = 1.0
"""Largest prior standard deviation of the log odds of what has a ceiling; own choice. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameter:
    """One unknown: positive with a log-normal prior, or signed with a normal one.

    Attributes
    ----------
    name : str
        Stable name, such as ``settling_off`` or ``filter/four-inch``.
    centre : float
        Median of the prior, in ``unit``.
    spread : float
        Standard deviation of the prior's logarithm, or over ``centre`` where ``is_signed``. [-]
    unit : str
        Unit of the value in the kernel's terms (ug/m3, hours).
    source : str
        Where the prior comes from.
    is_learnt : bool
        False for what these readings cannot inform: it keeps its prior and only widens the answer.
    ceiling : float
        Largest value allowed (1 for efficiencies).
    is_signed : bool
        True for what a record is asked to prove: nothing at all, or the contrary, must be possible answers,
        or every comparison would find an effect.
    """

    name: str
    centre: float
    spread: float
    unit: str
    source: str
    is_learnt: bool = True
    ceiling: float = np.inf
    is_signed: bool = False

    def share_of_prior(self, value: Floats) -> float:
        """Return the spread of drawn values over the prior's. [-]"""
        scale = value / self.centre if self.is_signed else np.log(value)
        return float(np.std(scale) / self.spread)


@dataclass(frozen=True, slots=True, kw_only=True)
class Values:
    """N sets of parameter values by name; each array has shape (N,)."""

    names: tuple[str, ...]
    table: Floats
    """Shape (N, parameters), natural scale."""

    def __getitem__(self, name: str) -> Floats:
        """Return one parameter over all sets. Shape (N,)."""
        return np.asarray(self.table[:, self.names.index(name)])

    @property
    def count(self) -> int:
        """Return N."""
        return int(self.table.shape[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """All parameters of a fit, with the map between whitened coordinates and natural values."""

    parameters: tuple[Parameter, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Return the parameters' names in order."""
        return tuple(p.name for p in self.parameters)

    @property
    def learnt(self) -> tuple[int, ...]:
        """Return the positions of those that the readings may inform."""
        return tuple(i for i, p in enumerate(self.parameters) if p.is_learnt)

    def values(self, whitened: Floats) -> Values:
        """Return natural values for whitened coordinates (0 = prior median, 1 = one prior sd). Shape (N, parameters) in."""
        white = np.atleast_2d(whitened)
        table = np.empty(white.shape)
        for index, parameter in enumerate(self.parameters):
            table[:, index] = _natural(parameter, white[:, index])
        return Values(names=self.names, table=table)


def _natural(parameter: Parameter, white: Floats) -> Floats:
    """Return natural values; those with a ceiling bend towards it, with the same spread at the centre."""
    if parameter.is_signed:
        return np.asarray(parameter.centre * (1.0 + parameter.spread * white))
    if not np.isfinite(parameter.ceiling):
        return np.asarray(parameter.centre * np.exp(parameter.spread * white))
    share = min(parameter.centre / parameter.ceiling, 0.999)
    # Near the ceiling the same spread would be many units of log odds: a HEPA filter that catches a quarter.
    slope = min(parameter.spread / (1.0 - share), WIDEST_ODDS)
    odds = np.log(share / (1.0 - share)) + slope * white
    return np.asarray(parameter.ceiling / (1.0 + np.exp(-np.clip(odds, -60.0, 60.0))))
