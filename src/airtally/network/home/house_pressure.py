"""The pressure that unbalanced flows make in the house, in closed form for one zone.

The next floor of this room is a network solved node by node; it will return the same nouns.
"""

from __future__ import annotations

from dataclasses import dataclass

from airtally.estimates import Estimate
from airtally.network.spread import spread, total
from airtally.physics.leakage import parallel_leakage_coefficient, pressure_from_imbalance, series_leakage_coefficient

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


@dataclass(frozen=True, slots=True, kw_only=True)
class BufferedPressure:
    """House and buffer zone under an unbalanced flow, by numbers.

    Attributes
    ----------
    house, zone : float
        Pressures against outdoors. [Pa]
    flow_through_zone, direct_flow : float
        Air that enters through the zone and past it; negative leaves. [m3/s]
    """

    house: float
    zone: float
    flow_through_zone: float
    direct_flow: float

    @property
    def share_through_zone(self) -> float:
        """Return the part of the incoming air that comes through the zone [-]."""
        whole = self.flow_through_zone + self.direct_flow
        return self.flow_through_zone / whole if whole else float("nan")


def buffered_house_pressure(
    unbalanced_flow: float,
    direct_coefficient: float,
    outer_coefficient: float,
    inner_coefficient: float,
    exponent: float,
) -> BufferedPressure:
    """Return the pressures of a house that leaks directly and through one buffer zone (crawlspace, attic, garage).

    Parameters
    ----------
    unbalanced_flow : float
        Supplied minus exhausted; an exhaust fan is negative. [m3/s]
    direct_coefficient, outer_coefficient, inner_coefficient : float
        Leaks house-outdoors, zone-outdoors, house-zone. [m3/(s Pa^n)]
    exponent : float
        One exponent for all three. [-]

    Raises
    ------
    InputError
        If a coefficient or the exponent is not above zero.

    Notes
    -----
    Valid: no stack, no wind, one exponent; the network that follows drops all three.
    Checked against: worked example E6 (hand network, analytic).
    """
    series = float(series_leakage_coefficient(outer_coefficient, inner_coefficient, exponent))
    whole = float(parallel_leakage_coefficient(direct_coefficient, series))
    flow_at_50 = whole * 50.0**exponent
    house = float(pressure_from_imbalance(unbalanced_flow, flow_at_50, exponent))
    through = -unbalanced_flow * series / whole
    zone = float(pressure_from_imbalance(-through, outer_coefficient * 50.0**exponent, exponent))
    return BufferedPressure(
        house=house, zone=zone, flow_through_zone=through, direct_flow=-unbalanced_flow * direct_coefficient / whole
    )
