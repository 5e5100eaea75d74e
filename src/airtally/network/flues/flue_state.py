"""House pressure at a hearth while flows come and go: the fire's own draw, an exhaust off, supply air on.

Flows add, pressures do not. What a state has beyond its named flows (duct leaks, a shut door, a reading that names no
flow) is therefore carried as the flow that would make it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import copysign, hypot

import numpy as np

from airtally.arrays import Floats
from airtally.errors import InputError
from airtally.estimates import Basis, Estimate
from airtally.network.conditioning_root import crossing
from airtally.network.home.house_pressure import HousePressure, NamedFlow, house_pressure
from airtally.network.spread import default, total

STAND_IN = "what else runs"
CLOSE_ENOUGH = 0.1
"""Difference up to which a state's flows are taken as making its pressure. [Pa]"""
NEARLY_STRAIGHT = 0.65
"""Power of a house's pressure that goes nearly straight with flow: the usual exponent of envelopes. [-]"""
MOST_FLOW = 20.0
"""Largest flow that may stand in. [m3/s]"""

PressureOf = Callable[[tuple[NamedFlow, ...]], Estimate]
"""From the flows between house and outdoors to the change of the house pressure they make. [Pa]"""
PressureLaw = PressureOf | Mapping[str, PressureOf]
"""One law for every state, or one a state by its words, as a solved network with other doors and handler has."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowState:
    """A state of the house of which flows can be changed.

    Attributes
    ----------
    case : HousePressure
        As computed or measured.
    pressure_of : callable or None
        Its law; None where nothing can be changed.
    flows : tuple of NamedFlow
        The case's own, and what stands in for the rest.
    """

    case: HousePressure
    pressure_of: PressureOf | None
    flows: tuple[NamedFlow, ...]

    @property
    def has_fire_in_reading(self) -> bool:
        """Return whether a measured pressure holds a fire that is no flow of its own."""
        return self.case.has_fire_lit and not any(one.is_fire for one in self.case.flows)

    def pressure(self, flows: tuple[NamedFlow, ...]) -> Estimate:
        """Return the change of the house pressure with other flows. [Pa]"""
        if self.pressure_of is None or flows == self.case.flows:
            return self.case.pressure
        return moved(self.case.pressure, _made(self.pressure_of, self.flows), _made(self.pressure_of, flows))

    def after(self, start: Estimate, before: tuple[NamedFlow, ...], then: tuple[NamedFlow, ...]) -> Estimate:
        """Return a pressure after flows were changed, each end with its own step: deep suction gains most. [Pa]"""
        if self.pressure_of is None:
            return start
        return moved(start, _made(self.pressure_of, before), _made(self.pressure_of, then))

    def step(self, before: tuple[NamedFlow, ...], then: tuple[NamedFlow, ...]) -> Estimate:
        """Return what changing flows does to the house pressure; doubts common to both cancel. [Pa]"""
        return self.after(default(0.0, 0.0, 0.0, "Pa", "nothing changed"), before, then)


def one_zone(flow_at_50: Estimate, exponent: Estimate) -> PressureOf:
    """Return the closed form of the house pressure.

    Parameters
    ----------
    flow_at_50, exponent : Estimate
        Envelope leakage at 50 Pa [m3/s] and its exponent [-].
    """
    return lambda flows: house_pressure("flows", flows, flow_at_50, exponent).pressure


def tabled_law(grid: Floats, asked: tuple[Estimate, ...]) -> PressureOf:
    """Return a pressure law read off the answers of a slow one, such as a solved network, at a few net flows.

    Between them pressure to the power of :data:`NEARLY_STRAIGHT` is taken as straight; the doubt of the flows is added
    to that of the house in quadrature.

    Parameters
    ----------
    grid : array
        Net flows into the house, rising; negative out of it. [m3/s]
    asked : tuple of Estimate
        The change of its pressure at each. [Pa]

    Raises
    ------
    InputError
        By the law, if a net flow lies outside the grid.

    Notes
    -----
    Checked against: the closed form of one zone: 0.5 % at an exponent of 0.65, 2 % or 0.02 Pa from 0.55 to 0.75.
    """
    curves = [_straightened(np.array([getattr(one, end) for one in asked])) for end in ("value", "low", "high")]
    level = min(one.level for one in asked)
    least, most = float(grid[0]), float(grid[-1])

    def read(flow: float) -> tuple[float, float, float]:
        if not least <= flow <= most:
            raise InputError(f"net flow must lie within {least:g} and {most:g} m3/s; given {flow:g}")
        value, low, high = (float(np.interp(flow, grid, curve)) for curve in curves)
        return _bent(value), _bent(low), _bent(high)

    def law(flows: tuple[NamedFlow, ...]) -> Estimate:
        net = total(tuple(one.flow for one in flows), unit="m3/s", source=", ".join(one.name for one in flows))
        value, low, high = read(net.value)
        less, more = (read(max(least, min(most, end)))[0] for end in (net.low, net.high))
        return Estimate(
            value=value, low=value - hypot(value - min(low, value), value - less),
            high=value + hypot(max(high, value) - value, more - value), unit="Pa", basis=Basis.COMPUTED,
            source=f"{asked[0].source}; {net.source}", level=min(level, net.level),
        )  # fmt: skip

    return law


def _straightened(pressure: Floats) -> Floats:
    return np.asarray(np.sign(pressure) * np.abs(pressure) ** NEARLY_STRAIGHT)


def _bent(root: float) -> float:
    return copysign(abs(root) ** (1.0 / NEARLY_STRAIGHT), root)


def flow_state(case: HousePressure, law: PressureLaw | None) -> FlowState:
    """Return a state of the house whose flows can be changed.

    Parameters
    ----------
    case : HousePressure
        As computed or measured.
    law : callable or mapping, optional
        House pressure from flows; a state that a mapping does not name is not changed.

    Raises
    ------
    InputError
        If no flow up to 20 m3/s makes the state's pressure.
    """
    pressure_of = law.get(case.state) if isinstance(law, Mapping) else law
    if pressure_of is None:
        return FlowState(case=case, pressure_of=None, flows=case.flows)
    flows = case.flows
    if abs(_made(pressure_of, flows).value - case.pressure.value) > CLOSE_ENOUGH:
        flows = (*flows, standing_in(case.pressure, pressure_of, flows))
    return FlowState(case=case, pressure_of=pressure_of, flows=flows)


def standing_in(pressure: Estimate, pressure_of: PressureOf, flows: tuple[NamedFlow, ...] = ()) -> NamedFlow:
    """Return the unbalanced flow with which flows make a change of the house pressure.

    Raises
    ------
    InputError
        If no flow up to 20 m3/s makes it.
    """

    def over(flow: float) -> float:
        return pressure_of((*flows, _stand_in(flow, pressure))).value - pressure.value

    sign = 1.0 if over(0.0) < 0.0 else -1.0
    most = 0.01
    while sign * over(sign * most) < 0.0:
        most *= 2.0
        if most > MOST_FLOW:
            raise InputError(f"no flow up to {MOST_FLOW:g} m3/s makes {pressure.value:g} Pa in this house")
    low, high = sorted((0.0, sign * most))
    return _stand_in(crossing(over, low, high, 1e-7), pressure)


def _stand_in(flow: float, pressure: Estimate) -> NamedFlow:
    one = Estimate(
        value=flow, low=flow, high=flow, unit="m3/s", basis=Basis.COMPUTED, source=f"flow that makes: {pressure.source}"
    )
    return NamedFlow(name=STAND_IN, flow=one)


def moved(start: Estimate, before: Estimate, after: Estimate) -> Estimate:
    """Return an estimate moved by the step from one to another; low goes with low, high with high.

    The two ends of the step share their doubts (the same house, the same formula), so that they are not added.
    """
    ends = [
        s + a - b
        for s, a, b in zip(
            (start.value, start.low, start.high),
            (after.value, after.low, after.high),
            (before.value, before.low, before.high),
            strict=True,
        )
    ]
    return Estimate(
        value=ends[0], low=min(ends), high=max(ends), unit=start.unit, basis=Basis.COMPUTED,
        source=after.source or start.source, level=min(start.level, after.level),
    )  # fmt: skip


def _made(pressure_of: PressureOf, flows: tuple[NamedFlow, ...]) -> Estimate:
    return pressure_of(flows) if flows else default(0.0, 0.0, 0.0, "Pa", "nothing runs")
