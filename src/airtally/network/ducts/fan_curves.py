"""Fan curves: from a table, from one measured point and a motor kind, from a rating; fan laws; where fan meets system."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from math import isfinite, nan
from typing import Protocol

import numpy as np

from airtally.arrays import Number
from airtally.errors import Problem, Severity, require_positive
from airtally.estimates import Estimate
from airtally.network.spread import default
from airtally.physics.constants import STANDARD_AIR_DENSITY
from airtally.physics.fans.power import (
    FIELD_SPECIFIC_POWER,
    SPLIT_CAPACITOR_EXPONENT,
    constant_flow_power,
    split_capacitor_power,
)


class MotorKind(StrEnum):
    """How a blower's motor answers to more resistance."""

    PSC = "PSC"
    """Permanent split capacitor: one speed a tap, the flow falls."""
    ECM = "ECM"
    """Electronically commutated, set to hold its flow until its power limit."""
    UNKNOWN = "unknown"


PSC_SHUT_OFF_RATIO = default(
    2.0, 1.4, 3.0, "-", "default for a PSC blower: shut-off over measured static; judgement, no fan table was given"
)
"""A falling quadratic through the measured point; 1.4 stands for a blower that is already near stall. [-]"""
HELD_FLOW_DROOP = default(
    0.03, 0.0, 0.10, "-", "default for a motor that holds its flow: share it loses per measured static added; judgement"
)
"""A control holds within a few per cent (from memory). [-]"""
POWER_LIMIT_RATIO = default(
    1.4, 1.0, 2.5, "-", "default: most power of the motor over what it draws now; judgement, the plate was not read"
)
"""1 is a motor already at its limit, where the flow is no longer held. [-]"""
RATED_CURVE_SHAPE = default(1.5, 1.0, 2.0, "-", "default: exponent of a fan curve known by two ends only; judgement")
"""A straight line is 1, a falling parabola 2. [-]"""

PSC_POWER_EXPONENT = default(
    SPLIT_CAPACITOR_EXPONENT,
    0.4,
    1.0,
    "-",
    "default: power of a PSC blower falls with its flow, LBNL6144E; interval: judgement",
)
"""W over measured W = (Q over measured Q) to this; three published pairs give 0.56. [-]"""
ECM_POWER_EXPONENT = default(
    0.65, 0.4, 1.0, "-", "default: power of an ECM rises with static, sign as in LBNL6144E; size: judgement"
)
"""At held flow W over measured W = (p over measured p) to this. [-]; 1 would be air power at one efficiency"""


def _per_flow(name: str) -> Estimate:
    known = FIELD_SPECIFIC_POWER[name]
    return default(known.value, known.low, known.high, "J/m3", f"default: {name} blowers as found; {known.source}")


PSC_POWER_PER_FLOW = _per_flow("split capacitor")
ECM_POWER_PER_FLOW = _per_flow("electronically commutated")
POWER_PER_FLOW = {
    MotorKind.PSC: PSC_POWER_PER_FLOW,
    MotorKind.ECM: ECM_POWER_PER_FLOW,
    MotorKind.UNKNOWN: default(
        0.5 * (PSC_POWER_PER_FLOW.value + ECM_POWER_PER_FLOW.value), ECM_POWER_PER_FLOW.low, PSC_POWER_PER_FLOW.high,
        "J/m3", "default: blowers of either motor as found; LBNL-Blower and HomeEnergyPros, read",
    ),
}  # fmt: skip
"""Electric power over flow where nobody measured it. [W s/m3]"""


class FanCurve(Protocol):
    """Pressure that a fan makes, by flow, at one speed and density."""

    def pressure_at(self, flow: float) -> float:
        """Return the pressure rise [Pa] at a flow [m3/s]; it never rises with the flow."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class FallingQuadratic:
    """A fan through one point: p = P (r - (r - 1) (Q/Qm)^2). ``flow`` [m3/s], ``pressure`` [Pa]."""

    flow: float
    pressure: float
    shut_off_ratio: float

    def pressure_at(self, flow: float) -> float:
        """Return the pressure rise [Pa] at a flow [m3/s]."""
        ratio = self.shut_off_ratio
        return self.pressure * (ratio - (ratio - 1.0) * (flow / self.flow) ** 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldFlow:
    """A motor that holds its flow until its power limit, then gives the power it has, then runs at its top speed.

    ``flow`` [m3/s] and ``pressure`` [Pa] as measured; ``droop`` share of flow lost per measured pressure added [-];
    ``limit_ratio`` pressure at the power limit over the measured one [-].
    """

    flow: float
    pressure: float
    droop: float
    limit_ratio: float

    def pressure_at(self, flow: float) -> float:
        """Return the pressure rise [Pa] at a flow [m3/s]."""
        droop = max(self.droop, 1e-3)  # a curve that stands upright has no pressure of its own
        limit = max(self.limit_ratio, 1.0)
        flow_at_limit = self.flow * (1.0 - droop * (limit - 1.0))
        if flow >= flow_at_limit:
            return self.pressure * (1.0 + (1.0 - flow / self.flow) / droop)
        ratio = flow / flow_at_limit
        top_speed = 2.0 - ratio**2
        held_power = 1.0 / ratio if ratio > 0.0 else top_speed
        return self.pressure * limit * min(held_power, top_speed)


@dataclass(frozen=True, slots=True, kw_only=True)
class RatedFan:
    """A fan known by its two ends: p = p0 (1 - (Q/Q0)^m). ``free_flow`` [m3/s], ``shut_off`` [Pa], ``shape`` m [-]."""

    free_flow: float
    shut_off: float
    shape: float

    def pressure_at(self, flow: float) -> float:
        """Return the pressure rise [Pa] at a flow [m3/s]; odd in the flow below zero, so that it keeps falling."""
        ratio = flow / self.free_flow
        share = abs(ratio) ** self.shape
        return self.shut_off * (1.0 - (float(share) if ratio >= 0.0 else -float(share)))


@dataclass(frozen=True, slots=True, kw_only=True)
class TableCurve:
    """A fan table, straight between its points. ``flows`` rise [m3/s], ``pressures`` fall [Pa].

    Attributes
    ----------
    density : float
        Density the pressures are for. [kg/m3]
    altered : tuple of (float, float)
        Spans of flow in which a humped table was made to fall. [m3/s]
    printed : tuple of float
        Pressures as printed, hump included. [Pa]
    """

    name: str
    flows: tuple[float, ...]
    pressures: tuple[float, ...]
    printed: tuple[float, ...]
    density: float = STANDARD_AIR_DENSITY
    altered: tuple[tuple[float, float], ...] = ()

    def pressure_at(self, flow: float) -> float:
        """Return the pressure rise [Pa] at a flow [m3/s]; past the ends the last slope goes on, for intervals only."""
        flows, pressures = self.flows, self.pressures
        if flows[0] <= flow <= flows[-1]:
            return float(np.interp(flow, flows, pressures))
        near, far = (0, 1) if flow < flows[0] else (-1, -2)
        slope = (pressures[near] - pressures[far]) / (flows[near] - flows[far])
        return pressures[near] + min(slope, 0.0) * (flow - flows[near])

    def is_altered_at(self, flow: float) -> bool:
        """Return whether a flow [m3/s] lies where the printed table was changed."""
        return any(low <= flow < high for low, high in self.altered)


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaledCurve:
    """A curve at another speed and density by the fan laws: flow as speed, pressure as its square and as density."""

    curve: FanCurve
    speed_ratio: float = 1.0
    density_ratio: float = 1.0

    def pressure_at(self, flow: float) -> float:
        """Return the pressure rise [Pa] at a flow [m3/s]."""
        return self.speed_ratio**2 * self.density_ratio * self.curve.pressure_at(flow / self.speed_ratio)


@dataclass(frozen=True, slots=True, kw_only=True)
class FanTable:
    """A fan table as printed: pairs of flow [m3/s] and static [Pa] at one speed, and the density they are for [kg/m3]."""

    name: str
    points: tuple[tuple[float, float], ...]
    density: float = STANDARD_AIR_DENSITY
    source: str = "fan table"


def flow_words(flow: float) -> str:
    """Return a flow [m3/s] as a message shows it."""
    return f"{flow * 1000.0:.0f} L/s ({flow * 60.0 / 0.3048**3:.0f} cfm)"


def at_speed(curve: FanCurve, speed_ratio: float) -> ScaledCurve:
    """Return a curve at another speed, ``speed_ratio`` new over old [-]; fan laws, from memory.

    Raises
    ------
    InputError
        If the ratio is not above zero.
    """
    require_positive(speed_ratio=speed_ratio)
    return ScaledCurve(curve=curve, speed_ratio=speed_ratio)


def at_density(curve: FanCurve, density_ratio: float) -> ScaledCurve:
    """Return a curve in other air, ``density_ratio`` new over old [-]: same flow, pressure with the density.

    Raises
    ------
    InputError
        If the ratio is not above zero.
    """
    require_positive(density_ratio=density_ratio)
    return ScaledCurve(curve=curve, density_ratio=density_ratio)


def curve_from_table(table: FanTable) -> tuple[TableCurve | None, tuple[Problem, ...]]:
    """Return a fan table as a curve that falls, None if it holds no curve, and what was found wrong with it.

    A hump (pressure that rises with flow, as forward-curved wheels show near stall) is levelled at its top over all
    smaller flows that print less; the span is kept on the curve, and an operating point in it is refused later.
    """
    points = sorted(table.points)
    flows = [flow for flow, _ in points]
    pressures = [pressure for _, pressure in points]
    bad = _fault_of(flows, pressures)
    if bad:
        return None, (_unusable(table, bad),)
    level = list(pressures)
    for index in range(len(level) - 2, -1, -1):
        level[index] = max(level[index], level[index + 1])
    altered = _altered_spans(flows, pressures, level)
    curve = TableCurve(
        name=table.name, flows=tuple(flows), pressures=tuple(level), printed=tuple(pressures), density=table.density,
        altered=altered,
    )  # fmt: skip
    return curve, tuple(_humped(table, span) for span in altered)


def _fault_of(flows: list[float], pressures: list[float]) -> str:
    if len(flows) < 2:
        return f"{len(flows)} pair of flow and static"
    if not all(isfinite(number) for number in (*flows, *pressures)):
        return "a pair with a number missing"
    if min(flows) < 0.0:
        return f"a flow below zero, {flow_words(min(flows))}"
    if any(second <= first for first, second in pairwise(flows)):
        return "one flow with two statics"
    if pressures[-1] >= max(pressures[:-1]):
        return "a static that does not fall to the highest flow"
    return ""


def _altered_spans(flows: list[float], printed: list[float], level: list[float]) -> tuple[tuple[float, float], ...]:
    """Return the spans of flow over which the levelled curve is not the printed one, each to the hump's top."""
    spans: list[tuple[float, float]] = []
    for index in range(len(flows) - 1):
        if level[index] > printed[index] or level[index + 1] > printed[index + 1]:
            low, high = flows[index], flows[index + 1]
            if spans and spans[-1][1] == low:
                spans[-1] = (spans[-1][0], high)
            else:
                spans.append((low, high))
    return tuple(spans)


def _unusable(table: FanTable, found: str) -> Problem:
    return Problem(
        code="network-fan-table-unusable",
        where=f"fan table {table.name}",
        found=found,
        wanted="two pairs or more of flow and static at one speed, static falling as flow rises",
        remedy="Copy the pairs again; until then the curve comes from the measured point and the motor kind.",
    )


def _humped(table: FanTable, span: tuple[float, float]) -> Problem:
    return Problem(
        code="network-fan-table-humped",
        where=f"fan table {table.name}",
        found=f"static rises with flow between {flow_words(span[0])} and {flow_words(span[1])}",
        wanted="a static that falls as flow rises",
        remedy="Check the pairs; if they stand, the blower is near stall there. The curve is levelled over that span, "
        "and no answer is given for a point in it.",
        severity=Severity.NOTE,
    )


def meeting_flow(curve: FanCurve, system: Callable[[float], float], guess: float) -> float:
    """Return the flow [m3/s] at which a fan gives what a system takes; NaN if they do not meet.

    Parameters
    ----------
    curve : FanCurve
    system : callable
        Pressure taken [Pa] at a flow [m3/s].
    guess : float
        A flow near the answer, above zero. [m3/s]

    Notes
    -----
    Root of the difference between 0 and the first flow at which it is below zero, by false position with halving
    (Illinois); to 1e-12 of the guess. Where fan and system touch at no flow above zero, NaN.
    """
    require_positive(guess=guess)

    def difference(flow: float) -> float:
        return curve.pressure_at(flow) - system(flow)

    low, high = 0.0, guess
    at_low, at_high = difference(low), difference(high)
    if not at_low > 0.0:
        return nan
    for _ in range(40):
        if at_high <= 0.0:
            break
        low, at_low = high, at_high
        high *= 1.5
        at_high = difference(high)
    else:
        return nan
    return falling_root(difference, (low, high), (at_low, at_high), 1e-12 * guess)


def falling_root(
    difference: Callable[[float], float], bracket: tuple[float, float], ends: tuple[float, float], tolerance: float
) -> float:
    """Return where a falling function crosses zero inside a bracket whose ends have been evaluated."""
    (low, high), (at_low, at_high) = bracket, ends
    side = 0
    for _ in range(200):
        if high - low <= tolerance or at_high == 0.0:
            break
        middle = (low * at_high - high * at_low) / (at_high - at_low)
        if side > 2 or side < -2 or not low < middle < high:  # one end stands still: halve the bracket instead
            middle, side = 0.5 * (low + high), 0
        at_middle = difference(middle)
        if at_middle > 0.0:
            low, at_low = middle, at_middle
            at_high, side = (0.5 * at_high if side > 0 else at_high), max(side, 0) + 1
        else:
            high, at_high = middle, at_middle
            at_low, side = (0.5 * at_low if side < 0 else at_low), min(side, 0) - 1
    return high if abs(at_high) <= abs(at_low) else low


def speed_through(curve: FanCurve, flow: float, pressure: float) -> float:
    """Return the speed ratio [-] at which the fan laws carry a curve through a measured point; NaN if none does.

    Sought between a half and the double of the curve's own speed.
    """

    def short(ratio: float) -> float:
        return pressure - ScaledCurve(curve=curve, speed_ratio=ratio).pressure_at(flow)

    ends = short(0.5), short(2.0)
    if not (ends[0] >= 0.0 >= ends[1]):
        return nan
    return falling_root(short, (0.5, 2.0), ends, 1e-12)


def flow_from_table(curve: TableCurve, static: float, density: float) -> float:
    """Return the flow [m3/s] that a table gives for a measured static [Pa] in air of a density [kg/m3].

    NaN past the table's ends or in a span that was levelled: a table read there gives no number.
    """
    pressure = static * curve.density / density
    if not curve.pressures[-1] <= pressure <= curve.pressures[0]:
        return nan
    flow = float(np.interp(-pressure, [-p for p in curve.pressures], curve.flows))
    return nan if curve.is_altered_at(flow) else flow


def fan_points(curve: FanCurve, highest_flow: float, count: int = 32) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return ``count`` flows [m3/s] from 0 to the highest and the pressures there [Pa], for a solved network."""
    flows = np.linspace(0.0, highest_flow, count)
    return tuple(map(float, flows)), tuple(curve.pressure_at(float(flow)) for flow in flows)


def power_ratio(motor: MotorKind, flow_ratio: Number, pressure_ratio: Number, exponent: Number) -> Number:
    """Return electric power over measured power [-] when flow and static move by the ratios given [-].

    A PSC blower unloads: its power falls with the flow. An ECM pays for static: power goes with the flow and rises
    with the pressure. ``exponent`` is the one of the motor kind.

    Raises
    ------
    InputError
        If a ratio is not above zero.
    """
    require_positive(flow_ratio=flow_ratio, pressure_ratio=pressure_ratio)
    if motor is MotorKind.ECM:
        held: Number = flow_ratio * constant_flow_power(1.0, pressure_ratio, exponent)
        return held
    return split_capacitor_power(1.0, flow_ratio, exponent)


def limit_pressure_ratio(power_limit_ratio: float, exponent: float) -> float:
    """Return the static over the measured one [-] at which a motor that holds its flow reaches its power limit."""
    return float(max(power_limit_ratio, 1.0) ** (1.0 / exponent))


def default_power(motor: MotorKind) -> Estimate:
    """Return the electric power over flow [J/m3] to assume where nobody measured it; its source is in it."""
    return POWER_PER_FLOW[motor]
