"""The account that must close: what came in by path, what was emitted, what each sink took, what is stored."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from airtally.arrays import Floats
from airtally.tally.coefficients import SINKS, Coefficients


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """Amounts over the whole run, per zone; leading axes as in the run that made it (D, or N and D).

    Amounts are concentration times m3: kg for particles, m3 of gas where CO2 is given in mol/mol.
    stored = sum of inlets + emitted + transported - sum of removed, in every zone; transport sums to
    zero over the zones.
    """

    inlets: Floats
    """(..., C, P, Z) brought into the rooms by each inlet path."""
    emitted: Floats
    """(..., C, Z) released indoors."""
    removed: Floats
    """(..., C, K, Z) taken by each sink."""
    transported: Floats
    """(..., C, Z) net from other zones, through doors and ducts."""
    stored: Floats
    """(..., C, Z) end less start."""
    path_names: tuple[str, ...]
    """(P,) names of the inlet paths."""
    sink_names: tuple[str, ...] = SINKS
    """(K,) names of the sinks."""

    def imbalance(self) -> Floats:
        """Return the gap of the account over all that moved, per zone (..., C, Z), in [-]."""
        gap = self.inlets.sum(axis=-2) + self.emitted + self.transported - self.removed.sum(axis=-2) - self.stored
        moved = self.inlets.sum(axis=-2) + self.emitted + self.removed.sum(axis=-2)
        moved = moved + np.abs(self.stored) + np.abs(self.transported)
        return np.asarray(np.abs(gap) / np.where(moved == 0.0, 1.0, moved))


def account_of(
    law: Coefficients, *, integrals: Floats, driver_seconds: Floats, emitted: Floats, stored: Floats
) -> Account:
    """Return the account from integrals by state.

    Parameters
    ----------
    law : Coefficients
        Law of the states that were visited.
    integrals : array (..., D, S, C, Z)
        Concentration integrated over the time in each state. [kg s/m3]
    driver_seconds : array (..., D, S, C, R)
        Drivers integrated over the time in each state. [kg s/m3]
    emitted, stored : array (..., D, C, Z)
        Released, and end less start. [kg]
    """
    volume = law.volume[:, None, :]
    per_path = driver_seconds[..., law.path_driver]
    inlets = np.einsum("dscpz,...dscp->...dcpz", law.gains, per_path, optimize=True) * volume[..., None, :]
    removed = np.einsum("dsckz,...dscz->...dckz", law.sinks, integrals, optimize=True) * volume[..., None, :]
    moved = np.einsum("dsczy,...dscy->...dcz", law.rate, integrals, optimize=True) * volume
    return Account(
        inlets=inlets,
        emitted=emitted,
        removed=removed,
        transported=moved + removed.sum(axis=-2),
        stored=stored,
        path_names=law.path_names,
    )
