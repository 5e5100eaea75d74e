"""The pressure that unbalanced flows make in the house, in closed form for one zone.

The solved network answers for a surveyed house; this serves a single flow in a house of which only the leakage is known.
"""

from __future__ import annotations

from dataclasses import dataclass

from airtally.estimates import Estimate
from airtally.network.spread import spread, total
from airtally.physics.leaks.imbalance import pressure_from_imbalance

CLOSED_FORM_SPREAD = 0.5
"""Half width of a computed house pressure as a share of it, unless measured; common practice, no source. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedFlow:
    """A flow between house and outdoors. ``flow`` [m3/s] is positive into the house, negative out of it."""

    name: str
    flow: Estimate
    is_fire: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class HousePressure:
    """House minus outdoors in one state; below zero the house is under suction.

    Attributes
    ----------
    state : str
        What runs, in words.
    pressure : Estimate
        Change from the baseline with every fan off; stack and wind come on top. [Pa]
    flows : tuple of NamedFlow
        What makes it.
    has_fire_lit : bool
        Whether an open fire is among the flows.
    method : str
        ``measured`` or the formula used.
    """

    state: str
    pressure: Estimate
    flows: tuple[NamedFlow, ...]
    has_fire_lit: bool = False
    method: str = "one zone, power law"


def house_pressure(
    state: str,
    flows: tuple[NamedFlow, ...],
    flow_at_50: Estimate,
    exponent: Estimate,
    *,
    method_share: float = CLOSED_FORM_SPREAD,
) -> HousePressure:
    """Return the pressure of a house from its leakage and its unbalanced flows.

    Parameters
    ----------
    state : str
        What runs, in words.
    flows : tuple of NamedFlow
        Positive into the house. [m3/s]
    flow_at_50, exponent : Estimate
        Envelope leakage at 50 Pa [m3/s] and its exponent [-].
    method_share : float, optional
        Half width that the one-zone formula itself adds, as a share of the pressure. [-]

    Returns
    -------
    pressure : HousePressure
        Change from the baseline, signed. [Pa]

    Raises
    ------
    InputError
        If leakage or exponent is not above zero.

    Notes
    -----
    Valid: doors open, no stack, no wind. A closed appliance room can be far below the house.
    Checked against: worked example E11 and the trade's depressurisation table.
    """
    unbalanced = total(tuple(one.flow for one in flows), unit="m3/s", source=", ".join(one.name for one in flows))
    pressure = spread(
        lambda flow, leakage, n: float(pressure_from_imbalance(flow, leakage, n)),
        unbalanced,
        flow_at_50,
        exponent,
        unit="Pa",
        source=f"unbalanced flow over house leakage, +-{method_share:.0%} for the one-zone formula",
        method_share=method_share,
    )
    return HousePressure(state=state, pressure=pressure, flows=flows, has_fire_lit=any(one.is_fire for one in flows))
