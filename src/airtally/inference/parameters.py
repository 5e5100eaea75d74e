"""What may be learnt about a house: each parameter with its prior, on a logarithmic scale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameter:
    """One positive unknown with a log-normal prior.

    Attributes
    ----------
    name : str
        Stable name, such as ``settling_off`` or ``filter/four-inch``.
    centre : float
        Median of the prior, in ``unit``.
    spread : float
        Standard deviation of the prior's logarithm. [-]
    unit : str
        Unit of the value in the kernel's terms (ug/m3, hours).
    source : str
        Where the prior comes from.
    is_learnt : bool
        False for what these readings cannot inform: it keeps its prior and only widens the answer.
    ceiling : float
        Largest value allowed (1 for efficiencies).
    """

    name: str
    centre: float
    spread: float
    unit: str
    source: str
    is_learnt: bool = True
    ceiling: float = np.inf


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
        centre = np.array([np.log(p.centre) for p in self.parameters])
        spread = np.array([p.spread for p in self.parameters])
        ceiling = np.array([p.ceiling for p in self.parameters])
        table = np.minimum(np.exp(centre + spread * np.atleast_2d(whitened)), ceiling)
        return Values(names=self.names, table=np.asarray(table))
