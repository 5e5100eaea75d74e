"""Duct leaks placed at the pressure they really work at, and which side dominates."""

from __future__ import annotations

from dataclasses import dataclass

from airtally.errors import Problem
from airtally.estimates import Estimate
from airtally.network.house_pressure import HousePressure, NamedFlow, house_pressure
from airtally.network.spread import default, spread
from airtally.physics.leakage import DUCT_LEAKAGE_EXPONENT, flow_at_pressure, leakage_coefficient, leakage_flow

TEST_PRESSURE = 25.0
"""Pressure of a duct leakage test. [Pa]"""
PLACE_OF_LEAKS = default(
    0.5, 0.2, 1.0, "-", "default: leaks work at half of the static at the equipment, a fifth to all of it"
)
"""Pressure at the leaks over the static at the equipment [-]. Judgement; a panned return at the cabinet is near 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeakShare:
    """A duct leak in operation.

    Attributes
    ----------
    side : str
        ``return`` or ``supply``.
    zone : str
        Where its air comes from or goes to.
    flow : Estimate
        In operation. [m3/s]
    fraction : Estimate
        Share of the air handler's flow; what the tally takes. [-]
    pressure : Estimate or None
        Magnitude of the pressure at the leak, None where only the survey's share is known. [Pa]
    method : str
        How it was found.
    """

    side: str
    zone: str
    flow: Estimate
    fraction: Estimate
    pressure: Estimate | None
    method: str


def leak_share(
    side: str, zone: str, flow_at_25: Estimate, pressure: Estimate, handler_flow: Estimate, method: str = "CFM25"
) -> LeakShare:
    """Return a leak measured at 25 Pa as it works at its own pressure, exponent 0.6.

    Parameters
    ----------
    side, zone : str
        ``return`` or ``supply``, and where the air comes from or goes to.
    flow_at_25 : Estimate
        Leakage at the test pressure. [m3/s]
    pressure : Estimate
        Magnitude of the pressure at the leak while the handler runs. [Pa]
    handler_flow : Estimate
        Air handler flow. [m3/s]

    Notes
    -----
    Valid: one pressure for all holes of a side. Checked against: 100 at 25 Pa is
    151.6 at 50 Pa; FSEC-RR-138-03 (88 at 25 Pa against 170 in operation, 13.4 % of 1269).
    """

    def in_operation(leak: float, at: float) -> float:
        return float(flow_at_pressure(leak, TEST_PRESSURE, max(at, 1e-6), DUCT_LEAKAGE_EXPONENT))

    said = f"{method}, at {pressure.value:.0f} Pa ({pressure.source})"
    flow = spread(in_operation, flow_at_25, pressure, unit="m3/s", source=said)
    raw = spread(
        lambda leak, at, whole: in_operation(leak, at) / whole,
        flow_at_25,
        pressure,
        handler_flow,
        unit="-",
        source=said,
    )
    fraction = Estimate(
        value=min(raw.value, 1.0), low=min(max(raw.low, 0.0), 1.0), high=min(raw.high, 1.0), unit="-",
        basis=raw.basis, source=raw.source, level=raw.level,
    )  # fmt: skip
    return LeakShare(side=side, zone=zone, flow=flow, fraction=fraction, pressure=pressure, method=method)


def pressure_at_leaks(static: Estimate, place: Estimate = PLACE_OF_LEAKS) -> Estimate:
    """Return the pressure at the leaks of one side from the static at the equipment [Pa]."""
    return spread(lambda p, share: p * share, static, place, unit="Pa", source=place.source)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeakSplit:
    """Return and supply leakage to outside at 25 Pa, parted by what the fan start does to the house [m3/s]."""

    return_at_25: Estimate
    supply_at_25: Estimate
    problems: tuple[Problem, ...] = ()


def split_by_dominance(
    outside_at_25: Estimate,
    pressure_change: Estimate,
    flow_at_50: Estimate,
    exponent: Estimate,
    return_pressure: Estimate,
    supply_pressure: Estimate,
) -> LeakSplit:
    """Return how duct leakage to outside is shared between return and supply.

    Two readings, two unknowns: the two sides add up to the leakage at 25 Pa, and in operation return minus supply
    leakage is the flow that makes the house pressure change when the fan starts (above zero: return leaks dominate).

    Parameters
    ----------
    outside_at_25 : Estimate
        Leakage to outside at 25 Pa. [m3/s]
    pressure_change : Estimate
        House pressure fan on minus fan off, signed. [Pa]
    flow_at_50, exponent : Estimate
        Envelope leakage [m3/s] and exponent [-].
    return_pressure, supply_pressure : Estimate
        Magnitude of the pressure at the leaks of each side. [Pa]

    Notes
    -----
    Valid: leaks outside the envelope only, doors open. A split outside 0 to 1 is moved to the nearest end and
    named as a conflict. Checked against: recovery of made-up leaks; ASHRAE Journal March 2005 on signs.
    """

    def return_part(leak: float, change: float, at_50: float, n: float, back: float, front: float) -> float:
        net = float(leakage_flow(float(leakage_coefficient(at_50, 50.0, n)), change, n))
        pull = (max(back, 1e-6) / TEST_PRESSURE) ** DUCT_LEAKAGE_EXPONENT
        push = (max(front, 1e-6) / TEST_PRESSURE) ** DUCT_LEAKAGE_EXPONENT
        found: float = (net + leak * push) / (pull + push)
        return found

    inputs = (outside_at_25, pressure_change, flow_at_50, exponent, return_pressure, supply_pressure)
    found = return_part(*(one.value for one in inputs))
    problems: tuple[Problem, ...] = ()
    if not 0.0 <= found <= outside_at_25.value:
        problems = (_leaks_disagree(found / outside_at_25.value, pressure_change),)

    def within(*values: float) -> float:
        return min(max(return_part(*values), 0.0), values[0])

    said = "duct leakage to outside and house pressure fan on minus off"
    return LeakSplit(
        return_at_25=_not_negative(spread(within, *inputs, unit="m3/s", source=said)),
        supply_at_25=_not_negative(spread(lambda *v: v[0] - within(*v), *inputs, unit="m3/s", source=said)),
        problems=problems,
    )


def _not_negative(found: Estimate) -> Estimate:
    return Estimate(
        value=found.value, low=min(max(found.low, 0.0), found.value), high=found.high, unit=found.unit,
        basis=found.basis, source=found.source, level=found.level,
    )  # fmt: skip


def _leaks_disagree(share: float, change: Estimate) -> Problem:
    return Problem(
        code="network-leaks-disagree",
        where="visits.toml, cfm25_outside against house_pressure_fan_on_minus_off",
        found=f"{change.value:+.1f} Pa at fan start needs a return side with {share:.0%} of the leakage to outside",
        wanted="a share between 0 and 100 %",
        remedy="Measure both again with doors open; wind and closed doors move the house pressure.",
    )


def leak_flows(leaks: tuple[LeakShare, ...]) -> tuple[NamedFlow, ...]:
    """Return duct leaks as flows between house and outdoors: return leaks push in, supply leaks pull out."""
    return tuple(
        NamedFlow(
            name=f"{leak.side} leak, {leak.zone}",
            flow=leak.flow
            if leak.side == "return"
            else spread(lambda q: -q, leak.flow, unit="m3/s", source=leak.flow.source),
        )
        for leak in leaks
    )


def pressure_after_sealing(
    leaks: tuple[LeakShare, ...], sealed: dict[str, float], flow_at_50: Estimate, exponent: Estimate
) -> tuple[HousePressure, HousePressure]:
    """Return the house pressure that the air handler makes before and after sealing part of each side.

    ``sealed`` gives the share of each side's leakage that is closed [-], as in ``{"return": 0.8}``. Sealing a
    dominant return leak can turn a house from above outdoors to below it.
    """
    before = leak_flows(leaks)
    after = tuple(
        NamedFlow(name=one.name, flow=_kept(one.flow, 1.0 - sealed.get(leak.side, 0.0)))
        for one, leak in zip(before, leaks, strict=True)
    )
    return (
        house_pressure("air handler, ducts as found", before, flow_at_50, exponent),
        house_pressure("air handler, ducts sealed", after, flow_at_50, exponent),
    )


def _kept(flow: Estimate, share: float) -> Estimate:
    return spread(lambda q: q * share, flow, unit="m3/s", source=f"{share:.0%} left after sealing")
