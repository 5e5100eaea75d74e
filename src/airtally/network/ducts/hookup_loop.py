"""The loop of a bypass cleaner in numbers: what it loses part by part and where its fan meets it."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from math import exp, inf, isnan, log, sqrt

import numpy as np

from airtally.estimates import Basis, Estimate
from airtally.network.ducts.fan_curves import FanCurve, falling_root
from airtally.network.ducts.hookup_parts import (
    STOPPED_BLOWER,
    Hookup,
    LoopDuct,
    TrunkState,
    cleaner_curve,
    cleaner_curve_inputs,
    loss_coefficients,
)
from airtally.network.spread import default, spread
from airtally.physics.ducts.fittings import fitting_pressure_drop, flex_compression_factor, velocity_pressure
from airtally.physics.ducts.friction import friction_pressure_drop
from airtally.physics.ducts.sections import round_duct_area
from airtally.physics.filters.loop import TapOrder

FRICTION_SPREAD = 0.10
"""Half width of friction over itself: joints, real roughness. [-]; judgement"""
TRUNK_FITTINGS = default(
    1.5, 1.0, 4.0, "-", "default: pressure between the taps over straight friction there; judgement, not measured"
)
"""Where the statics at the taps were not read, friction of the stretch times this stands for them. [-]"""
TAP_DISTANCE = default(1.8, 0.6, 4.0, "m", "default: distance between the taps, not measured")
NOTHING = Estimate(value=0.0, low=0.0, high=0.0, unit="m", basis=Basis.COMPUTED, source="no flex in the loop")


@dataclass(frozen=True, slots=True, kw_only=True)
class LossPart:
    """One part of the loop with the pressure it loses at the loop's flow. ``pressure`` [Pa]."""

    name: str
    pressure: Estimate


def friction(flow: float, diameter: float, length: float, roughness: float, density: float, viscosity: float) -> float:
    """Return the pressure that straight duct takes [Pa], with the sign of the flow; 0 at no flow."""
    size = abs(flow)
    if size < 1e-9 or length <= 0.0:
        return 0.0
    loss = float(friction_pressure_drop(size, diameter, length, roughness, density, viscosity))
    return loss if flow > 0.0 else -loss


def loop_pressure(
    loop: LoopDuct,
    flow: float,
    lengths: tuple[float, float],
    compression: float,
    coefficients: float,
    density: float,
    viscosity: float,
) -> float:
    """Return what the loop's ducts and fittings take [Pa] at a flow [m3/s], with the flow's sign.

    Parameters
    ----------
    loop : LoopDuct
        Diameter and roughnesses.
    flow : float
        Through the loop. [m3/s]
    lengths : (float, float)
        Rigid and flex duct. [m]
    compression : float
        Of the flex. [-]
    coefficients : float
        Sum of the loss coefficients. [-]
    density, viscosity : float
        Of the air. [kg/m3], [Pa s]

    Notes
    -----
    Valid: resistances in series add; fittings close together lose more or less than their sum.
    Checked against: the 8 inch run of the trade check values (0.0905 inH2O at 250 cfm), the library fluids.
    """
    rigid = friction(flow, loop.diameter, lengths[0], loop.roughness, density, viscosity)
    flex = friction(flow, loop.diameter, lengths[1], loop.flex_roughness, density, viscosity)
    if flex:
        flex *= float(flex_compression_factor(min(max(compression, 0.0), 1.0), loop.diameter))
    velocity = flow / float(round_duct_area(loop.diameter))
    head = float(velocity_pressure(velocity, density))
    return rigid + flex + coefficients * (head if flow > 0.0 else -head)


@dataclass(frozen=True, slots=True, kw_only=True)
class FrictionTable:
    """Friction per metre of one duct at many flows, both as logarithms: a loop is solved some thousand times."""

    flows: tuple[float, ...]
    losses: tuple[float, ...]

    def at(self, flow: float) -> float:
        """Return the pressure per length [Pa/m] at a flow of 0 or more [m3/s], within 1e-4 of the formula."""
        if flow <= 1e-9:
            return 0.0
        place = log(flow)
        index = min(max(bisect_left(self.flows, place), 1), len(self.flows) - 1)
        low, high = self.flows[index - 1], self.flows[index]
        share = (place - low) / (high - low)
        return exp(self.losses[index - 1] + share * (self.losses[index] - self.losses[index - 1]))


def friction_table(diameter: float, roughness: float, density: float, viscosity: float) -> FrictionTable:
    """Return friction per metre of a round duct from 0.1 L/s to 3 m3/s; past the ends the last power law goes on."""
    flows = np.geomspace(1e-4, 3.0, 241)
    losses = np.asarray(friction_pressure_drop(flows, diameter, 1.0, roughness, density, viscosity))
    return FrictionTable(flows=tuple(np.log(flows).tolist()), losses=tuple(np.log(losses).tolist()))


@dataclass(frozen=True, slots=True, kw_only=True)
class LoopNumbers:
    """The uncertain numbers of a loop in the order in which its formulas take them, and the formulas.

    ``inputs`` are: rigid length, flex length, compression, loss coefficients, a factor on friction, then the
    cleaner's own (see ``cleaner_curve_inputs``).
    """

    inputs: tuple[Estimate, ...]
    loss: Callable[..., float]
    """Pressure [Pa] from flow [m3/s] and the first five inputs."""
    curve: Callable[..., FanCurve]
    """Cleaner's curve from the inputs after the fifth."""


GEOMETRY = 5
"""How many of the inputs describe duct and fittings."""


def loop_numbers(hookup: Hookup) -> LoopNumbers:
    """Return the uncertain numbers of a hookup's loop and cleaner and the formulas that take them."""
    loop, density, viscosity = hookup.loop, hookup.density, hookup.viscosity
    cleaner, table, _ = cleaner_curve_inputs(hookup.cleaner)
    factor = default(1.0, 1.0 - FRICTION_SPREAD, 1.0 + FRICTION_SPREAD, "-", "friction of real duct over the formula's")
    flex = loop.flex_length or NOTHING
    compression = loop.flex_compression or default(
        0.15 if loop.flex_length else 0.0,
        0.0,
        0.30 if loop.flex_length else 0.0,
        "-",
        "default: compression of flex as found, not measured",
    )

    per_metre = tuple(
        friction_table(loop.diameter, roughness, density, viscosity)
        for roughness in (loop.roughness, loop.flex_roughness)
    )
    head = float(velocity_pressure(1.0 / round_duct_area(loop.diameter), density))

    @cache
    def squeezing(compression: float) -> float:
        return float(flex_compression_factor(min(max(compression, 0.0), 1.0), loop.diameter))

    def loss(flow: float, rigid: float, flexible: float, squeezed: float, fittings: float, share: float) -> float:
        size = abs(flow)
        straight = share * max(rigid, 0.0) * per_metre[0].at(size)
        if flexible > 0.0:
            straight += share * flexible * squeezing(squeezed) * per_metre[1].at(size)
        taken = straight + fittings * head * size * size
        return taken if flow > 0.0 else -taken

    def curve(*numbers: float) -> FanCurve:
        return cleaner_curve(table, density, *numbers)

    inputs = (loop.rigid_length, flex, compression, loss_coefficients(loop), factor, *cleaner)
    return LoopNumbers(inputs=inputs, loss=loss, curve=curve)


def meeting_with(curve: FanCurve, taken: Callable[[float], float], guess: float) -> float:
    """Return the flow [m3/s] where a fan gives what is taken; below zero where the air is driven back through it.

    ``guess`` is a flow above zero near the answer [m3/s]; the nearer, the fewer steps.
    """

    def difference(flow: float) -> float:
        return curve.pressure_at(flow) - taken(flow)

    at_guess = difference(guess)
    low, high, at_low, at_high = guess, guess, at_guess, at_guess
    step = 0.1 * guess
    for _ in range(60):
        if at_low >= 0.0 >= at_high:
            break
        if at_high > 0.0:
            low, at_low, high = high, at_high, high + step
            at_high = difference(high)
        else:
            high, at_high, low = low, at_low, low - step
            at_low = difference(low)
        step *= 2.0
    return falling_root(difference, (low, high), (at_low, at_high), 1e-9 * guess)


def tap_difference(hookup: Hookup, state: TrunkState) -> Estimate:
    """Return the pressure between the taps at a state's flow, cleaner off, first tap over second [Pa].

    From the statics at both where they were read; else straight friction of that stretch times a wide factor.
    """
    if state.take_off_static is not None and state.re_entry_static is not None:
        first, second = state.take_off_static, state.re_entry_static
        if hookup.trunk.order is TapOrder.RETURN_FIRST:
            first, second = second, first
        return spread(
            lambda near, far: max(far - near, 0.0), first, second, unit="Pa", source="statics at both taps, cleaner off"
        )
    trunk = hookup.trunk
    distance = trunk.tap_distance or TAP_DISTANCE

    def stretch(flow: float, length: float, factor: float) -> float:
        return factor * friction(flow, trunk.diameter, length, trunk.roughness, hookup.density, hookup.viscosity)

    return spread(
        stretch, state.flow, distance, TRUNK_FITTINGS, unit="Pa", source="friction between the taps, statics not read"
    )


def rest_over_stretch(total_static: float, between: float, stopped: float) -> float:
    """Return how the way through blower, supplies, rooms and grilles resists over the stretch between the taps [-].

    Square root of the ratio of pressures at one flow: ``total_static`` with a stopped blower's share ``stopped`` of
    it added, less the stretch itself; ``between`` the taps [Pa]. Infinite where nothing is lost between the taps.
    """
    if between <= 0.0:
        return inf
    return sqrt(max(total_static * (1.0 + stopped) - between, 0.0) / between)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoopFlow:
    """Where the cleaner's fan meets its loop in one state, as numbers that formulas go on with.

    ``inputs`` are the loop's, then ``between`` the taps [Pa] and ``trunk`` flow [m3/s] (blower on), or between,
    trunk flow, total static [Pa] and a stopped blower's share [-] (blower off).
    ``flow`` of the loop is a formula of them, ``trunk_flow`` of the loop's flow and them. [m3/s]
    """

    inputs: tuple[Estimate, ...]
    flow: Callable[..., float]
    trunk_flow: Callable[..., float]
    between: Callable[..., float]
    """Pressure between the taps with the cleaner off, of the inputs. [Pa]"""


def loop_flow_on(hookup: Hookup, state: TrunkState, numbers: LoopNumbers) -> LoopFlow:
    """Return the loop's flow with the blower on: the trunk keeps its flow, the stretch between the taps lends or takes.

    With the take-off upstream the stretch carries Q - q and drives the loop; reversed it carries Q + q and opposes.
    """
    is_reversed = hookup.trunk.order is TapOrder.RETURN_FIRST
    count = len(numbers.inputs)
    near = [_guess(numbers)]  # the middle's solution is where its neighbours start from

    @cache
    def flow(*all_of: float) -> float:
        parts, (between, trunk) = all_of[:count], all_of[count:]
        geometry, fan = parts[:GEOMETRY], numbers.curve(*parts[GEOMETRY:])

        def taken(through: float) -> float:
            stretch = (trunk + through if is_reversed else trunk - through) / trunk
            lent = between * stretch * abs(stretch)
            return numbers.loss(through, *geometry) + (lent if is_reversed else -lent)

        return meeting_with(fan, taken, near[-1])

    inputs = (*numbers.inputs, tap_difference(hookup, state), state.flow)
    near.append(max(flow(*(one.value for one in inputs)), 0.1 * near[0]))
    return LoopFlow(
        inputs=inputs, flow=flow, trunk_flow=lambda _, *all_of: all_of[count + 1], between=lambda *all_of: all_of[count]
    )


def loop_flow_off(hookup: Hookup, state: TrunkState, numbers: LoopNumbers) -> LoopFlow:
    """Return the loop's flow with the blower off: its air goes back through the stretch, or on through the house.

    Both ways lie between the same two taps, so their flows divide as the square roots of their resistances.
    """
    count = len(numbers.inputs)
    near = [_guess(numbers)]
    whole = state.total_static or default(
        150.0, 75.0, 300.0, "Pa", "default: total external static at this speed; not measured"
    )

    def house_share(between: float, total_static: float, stopped: float) -> float:
        return 1.0 / (1.0 + rest_over_stretch(total_static, between, stopped))

    @cache
    def flow(*all_of: float) -> float:
        parts, (between, trunk, total_static, stopped) = all_of[:count], all_of[count:]
        geometry, fan = parts[:GEOMETRY], numbers.curve(*parts[GEOMETRY:])
        back = 1.0 - house_share(between, total_static, stopped)

        def taken(through: float) -> float:
            stretch = back * through / trunk
            return numbers.loss(through, *geometry) + between * stretch * abs(stretch)

        return meeting_with(fan, taken, near[-1])

    def trunk_flow(through: float, *all_of: float) -> float:
        between, _, total_static, stopped = all_of[count:]
        return through * house_share(between, total_static, stopped)

    inputs = (*numbers.inputs, tap_difference(hookup, state), state.flow, whole, STOPPED_BLOWER)
    near.append(max(flow(*(one.value for one in inputs)), 0.1 * near[0]))
    return LoopFlow(inputs=inputs, flow=flow, trunk_flow=trunk_flow, between=lambda *all_of: all_of[count])


def _guess(numbers: LoopNumbers) -> float:
    """Return a flow to bracket from: a label's flow, or 0.1 m3/s for a cleaner known by its table. [m3/s]"""
    first = numbers.inputs[GEOMETRY]
    return first.value if first.unit == "m3/s" else 0.1


def loss_parts(hookup: Hookup, numbers: LoopNumbers, flow: LoopFlow) -> tuple[LossPart, ...]:
    """Return the pressure that each part of the loop loses at its flow in one state [Pa]."""
    loop, density, viscosity = hookup.loop, hookup.density, hookup.viscosity
    found = []
    for name, index, roughness in (("straight duct", 0, loop.roughness), ("flex duct", 1, loop.flex_roughness)):
        if numbers.inputs[index].high <= 0.0:
            continue

        def straight(*all_of: float, at: int = index, rough: float = roughness) -> float:
            length = max(all_of[at], 0.0) * all_of[4]
            squeezed = float(flex_compression_factor(all_of[2], loop.diameter)) if at == 1 else 1.0
            return squeezed * friction(flow.flow(*all_of), loop.diameter, length, rough, density, viscosity)

        pressure = _spread(straight, flow.inputs, "Pa", "friction, Colebrook")
        found.append(LossPart(name=name, pressure=replace(pressure, low=min(max(pressure.low, 0.0), pressure.value))))
    area = float(round_duct_area(loop.diameter))
    for one in loop.fittings:

        def fitted(*all_of: float, count: int = one.count) -> float:
            velocity = flow.flow(*all_of[:-1]) / area
            drop = count * float(fitting_pressure_drop(all_of[-1], velocity, density))
            return drop if velocity > 0.0 else -drop

        name = one.name if one.count == 1 else f"{one.count} x {one.name}"
        pressure = _spread(fitted, (*flow.inputs, one.coefficient), "Pa", one.coefficient.source)
        found.append(LossPart(name=name, pressure=pressure))
    return tuple(found)


def _spread(formula: Callable[..., float], inputs: tuple[Estimate, ...], unit: str, source: str) -> Estimate:
    found = spread(formula, *inputs, unit=unit, source=source)
    if isnan(found.value):  # a curve that met nothing says so by NaN; no interval hides it
        return Estimate(value=found.value, low=-inf, high=inf, unit=unit, basis=Basis.COMPUTED, source=source)
    return found
