"""What a bypass cleaner does in each state of blower and cleaner: flow, own air taken in again, clean air."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import sqrt

from airtally.estimates import Basis, Estimate
from airtally.network.ducts.hookup_loop import (
    GEOMETRY,
    LoopFlow,
    LoopNumbers,
    loop_flow_off,
    loop_flow_on,
    meeting_with,
)
from airtally.network.ducts.hookup_parts import BOX_SHARE, STOPPED_BLOWER, Hookup, TrunkState
from airtally.network.spread import spread
from airtally.physics.ducts.sections import round_duct_area
from airtally.physics.filters.loop import TapOrder, loop_clean_air_rate, loop_recirculation

BLOWER_OFF = "blower off"


@dataclass(frozen=True, slots=True, kw_only=True)
class LoopState:
    """The loop in one state, both taps on the return.

    Attributes
    ----------
    name : str
        Blower speed, or ``blower off``.
    is_blower_on : bool
    loop_flow : Estimate
        Through the cleaner: as measured where it was, else as computed. [m3/s]
    computed_flow : Estimate
        Where the cleaner's fan meets its loop. [m3/s]
    velocity : Estimate
        In the loop's duct. [m/s]
    trunk_flow : Estimate
        That the trunk brings to the taps. [m3/s]
    between_taps : Estimate
        In the trunk between the taps, along the trunk; below zero the air runs back there. [m3/s]
    recirculated : Estimate
        Own air in the cleaner's intake. [-]
    clean_air : Estimate
        Clean air delivered. [m3/s]
    after_re_entry : Estimate or None
        Concentration after the re-entry over that before the take-off; None with the blower off. [-]
    lent : Estimate
        Pressure that the stretch between the taps lends the loop while it runs; below zero it opposes. [Pa]
    stretch_change : Estimate
        Change of what that stretch takes from the blower because the loop runs. [Pa]
    """

    name: str
    is_blower_on: bool
    loop_flow: Estimate
    computed_flow: Estimate
    velocity: Estimate
    trunk_flow: Estimate
    between_taps: Estimate
    recirculated: Estimate
    clean_air: Estimate
    after_re_entry: Estimate | None
    lent: Estimate
    stretch_change: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyState:
    """The loop in one state with its discharge in the supply plenum instead.

    ``loop_flow`` [m3/s]: below zero air is driven back through the cleaner. ``against`` [Pa]: what its fan works
    against besides its own ducts. ``says`` is what the state amounts to, in words.
    """

    name: str
    loop_flow: Estimate
    against: Estimate
    clean_air: Estimate
    recirculated: Estimate
    says: str


def return_states(hookup: Hookup, numbers: LoopNumbers) -> tuple[LoopState, ...]:
    """Return the loop at each blower speed, then with the blower off."""
    states = [_state_on(hookup, state, numbers) for state in hookup.states]
    return (*states, _state_off(hookup, hookup.states[0], numbers))


def governing_flow(hookup: Hookup, state: TrunkState, numbers: LoopNumbers) -> LoopFlow:
    """Return the loop's flow at one blower speed: measured where it was, else where fan and loop meet."""
    return _known(state.measured_loop_flow, loop_flow_on(hookup, state, numbers))[1]


def _known(measured: Estimate | None, met: LoopFlow) -> tuple[Estimate, LoopFlow]:
    """Return the computed flow, and the flow to go on with: the measured one in its place where there is one."""
    computed = spread(met.flow, *met.inputs, unit="m3/s", source="cleaner's fan against its loop")
    if measured is None:
        return computed, met
    return computed, LoopFlow(
        inputs=(*met.inputs, measured),
        flow=lambda *all_of: all_of[-1],
        trunk_flow=lambda through, *all_of: met.trunk_flow(through, *all_of[:-1]),
        between=lambda *all_of: met.between(*all_of[:-1]),
    )


def _state_on(hookup: Hookup, state: TrunkState, numbers: LoopNumbers) -> LoopState:
    met = loop_flow_on(hookup, state, numbers)
    return _state(hookup, numbers, met, state.name, state.measured_loop_flow, state.flow)


def _state_off(hookup: Hookup, state: TrunkState, numbers: LoopNumbers) -> LoopState:
    met = loop_flow_off(hookup, state, numbers)
    return _state(hookup, numbers, met, BLOWER_OFF, hookup.measured_off_flow, None)


def _state(
    hookup: Hookup,
    numbers: LoopNumbers,
    met: LoopFlow,
    name: str,
    measured: Estimate | None,
    brought: Estimate | None,
) -> LoopState:
    """Return one state; ``brought`` is the trunk's flow with the blower on, None with it off. [m3/s]"""
    is_blower_on = brought is not None
    computed, known = _known(measured, met)
    order = hookup.trunk.order if is_blower_on else TapOrder.TAKE_OFF_FIRST
    said = f"both taps on the return, {name}"

    def trunk(*all_of: float) -> float:
        return known.trunk_flow(known.flow(*all_of), *all_of)

    def recirculated(*all_of: float) -> float:
        *rest, own_air = all_of
        share = float(loop_recirculation(max(trunk(*rest), 0.0), max(known.flow(*rest), 1e-9), order))
        return share + (1.0 - share) * own_air

    def clean_air(*all_of: float) -> float:
        *rest, own_air, efficiency = all_of
        return float(loop_clean_air_rate(known.flow(*rest), efficiency, recirculated(*rest, own_air)))

    area = float(round_duct_area(hookup.loop.diameter))
    loop_flow = spread(known.flow, *known.inputs, unit="m3/s", source=computed.source if measured is None else said)
    if measured is not None:
        loop_flow = measured
    own, efficiency = hookup.own_air, hookup.efficiency
    after = None
    if is_blower_on:
        after = spread(
            lambda *all_of: max(1.0 - clean_air(*all_of) / trunk(*all_of[:-2]), 0.0),
            *known.inputs, own, efficiency, unit="-", source="mixing behind the re-entry",
        )  # fmt: skip
    sign = 1.0 if order is TapOrder.RETURN_FIRST else -1.0

    def stretch(*all_of: float) -> float:
        full = all_of[len(numbers.inputs) + 1]
        ratio = (trunk(*all_of) + sign * known.flow(*all_of)) / full
        return known.between(*all_of) * ratio * abs(ratio)

    def change(*all_of: float) -> float:
        return stretch(*all_of) - (known.between(*all_of) if is_blower_on else 0.0)

    return LoopState(
        name=name,
        is_blower_on=is_blower_on,
        loop_flow=loop_flow,
        computed_flow=computed,
        velocity=spread(lambda q: q / area, loop_flow, unit="m/s", source="flow over area of the loop's duct"),
        trunk_flow=spread(trunk, *known.inputs, unit="m3/s", source=said) if brought is None else brought,
        between_taps=spread(
            lambda *all_of: trunk(*all_of) + sign * known.flow(*all_of), *known.inputs, unit="m3/s", source=said
        ),
        recirculated=spread(recirculated, *known.inputs, own, unit="-", source=said),
        clean_air=spread(clean_air, *known.inputs, own, efficiency, unit="m3/s", source=said),
        after_re_entry=after,
        lent=spread(
            lambda *all_of: -sign * stretch(*all_of), *known.inputs, unit="Pa", source="between the taps, loop running"
        ),
        stretch_change=spread(change, *known.inputs, unit="Pa", source=said),
    )


def supply_states(hookup: Hookup, numbers: LoopNumbers) -> tuple[SupplyState, ...]:
    """Return the loop with its discharge in the supply plenum: blower on, cleaner stopped, blower off.

    Empty where supply static or the static at the take-off was not read: then nothing is said about it.
    """
    found: list[SupplyState] = []
    for state in hookup.states:
        if state.supply_static is None or state.take_off_static is None:
            continue
        found.append(_against_static(hookup, state, numbers))
        found.append(_open_bypass(state, numbers))
        if state is hookup.states[0] and state.total_static is not None:
            found.append(_supply_blower_off(hookup, state, numbers))
    return tuple(found)


def _sides(state: TrunkState) -> tuple[Estimate, Estimate]:
    if state.supply_static is None or state.take_off_static is None:
        raise AssertionError("callers ask first")
    return state.supply_static, state.take_off_static


def _against(state: TrunkState) -> Estimate:
    return spread(
        lambda supply, suction: supply + suction,
        *_sides(state),
        unit="Pa",
        source="supply static plus suction at the take-off",
    )


def _against_static(hookup: Hookup, state: TrunkState, numbers: LoopNumbers) -> SupplyState:
    """Return the state with both fans on; a backdraft damper is not in it, so the flow may be below zero."""
    count = len(numbers.inputs)

    def flow(*all_of: float) -> float:
        parts, (supply, suction) = all_of[:count], all_of[count:]
        geometry, fan = parts[:GEOMETRY], numbers.curve(*parts[GEOMETRY:])
        return meeting_with(fan, lambda q: numbers.loss(q, *geometry) + supply + suction, 0.1)

    inputs = (*numbers.inputs, *_sides(state))
    through = spread(flow, *inputs, unit="m3/s", source=f"supply-side discharge, {state.name}")
    clean = spread(
        lambda *all_of: max(flow(*all_of[:-1]), 0.0) * all_of[-1],
        *inputs, hookup.efficiency, unit="m3/s", source=through.source,
    )  # fmt: skip
    clean = replace(clean, low=max(clean.low, 0.0))  # the ends of the inputs stop at no clean air; their sum must too
    says = "the cleaner's fan works against the blower's static"
    if through.high <= 0.0:
        says = "the cleaner's fan cannot push against the blower's static: air is driven back through it"
    elif through.low <= 0.0:
        says = "the cleaner's fan may not overcome the blower's static"
    return SupplyState(
        name=state.name, loop_flow=through, against=_against(state), clean_air=clean, recirculated=_zero(), says=says
    )


def _open_bypass(state: TrunkState, numbers: LoopNumbers) -> SupplyState:
    """Return the state with the blower on and the cleaner stopped, no damper: supply air runs back to the return."""
    count = len(numbers.inputs)
    free_flow = _free_flow(numbers)

    def flow(*all_of: float) -> float:
        parts, (supply, suction, box) = all_of[:count], all_of[count:]
        geometry, fan = parts[:GEOMETRY], numbers.curve(*parts[GEOMETRY:])
        at_rest = box * max(fan.pressure_at(0.0), 0.0) / free_flow**2
        driven = _Driven(pressure=supply + suction)
        return -meeting_with(driven, lambda q: numbers.loss(q, *geometry) + at_rest * q * abs(q), 0.1)

    through = spread(
        flow,
        *numbers.inputs,
        *_sides(state),
        BOX_SHARE,
        unit="m3/s",
        source=f"cleaner stopped, no damper, {state.name}",
    )
    return SupplyState(
        name=f"{state.name}, cleaner stopped", loop_flow=through, against=_against(state), clean_air=_zero("m3/s"),
        recirculated=_zero(), says="an open bypass: supply air runs back to the return unless a backdraft damper shuts",
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Driven:
    """A pressure that does not depend on the flow. [Pa]"""

    pressure: float

    def pressure_at(self, flow: float) -> float:
        """Return the pressure [Pa]; ``flow`` [m3/s] does not matter."""
        return self.pressure + 0.0 * flow


def _supply_blower_off(hookup: Hookup, state: TrunkState, numbers: LoopNumbers) -> SupplyState:
    """Return the state with the blower off and the cleaner on: registers, or back through the stopped blower."""
    count = len(numbers.inputs)
    whole = state.total_static or _zero("Pa")
    drop = state.filter_drop or _zero("Pa")

    def house_share(supply: float, suction: float, total_static: float, filter_drop: float, stopped: float) -> float:
        way_back = filter_drop + stopped * total_static
        return 1.0 / (1.0 + sqrt(max(supply + suction, 0.0) / way_back)) if way_back > 0.0 else 0.0

    def flow(*all_of: float) -> float:
        parts, (trunk, supply, suction, *rest) = all_of[:count], all_of[count:]
        geometry, fan = parts[:GEOMETRY], numbers.curve(*parts[GEOMETRY:])
        share = house_share(supply, suction, *rest)
        square = (supply + suction) * (share / trunk) ** 2
        return meeting_with(fan, lambda q: numbers.loss(q, *geometry) + square * q * abs(q), 0.1)

    def recirculated(*all_of: float) -> float:
        return 1.0 - house_share(*all_of[count + 1 :])

    inputs = (*numbers.inputs, state.flow, *_sides(state), whole, drop, STOPPED_BLOWER)
    said = "supply-side discharge, blower off"
    clean = spread(
        lambda *all_of: float(
            loop_clean_air_rate(max(flow(*all_of[:-1]), 0.0), all_of[-1], recirculated(*all_of[:-1]))
        ),
        *inputs, hookup.efficiency, unit="m3/s", source=said,
    )  # fmt: skip
    return SupplyState(
        name=BLOWER_OFF,
        loop_flow=spread(flow, *inputs, unit="m3/s", source=said),
        against=_zero("Pa"),
        clean_air=clean,
        recirculated=spread(recirculated, *inputs, unit="-", source=said),
        says="part goes to the registers, part back through the stopped blower and its filter to the take-off",
    )


def _free_flow(numbers: LoopNumbers) -> float:
    """Return the flow at which the cleaner's fan gives no pressure. [m3/s]"""
    fan = numbers.curve(*(one.value for one in numbers.inputs[GEOMETRY:]))
    return meeting_with(fan, lambda q: 1e-9 * q, 0.1)


def _zero(unit: str = "-") -> Estimate:
    return Estimate(value=0.0, low=0.0, high=0.0, unit=unit, basis=Basis.COMPUTED, source="none by definition")


def wanted_loop_flow(clean_air: float, efficiency: float, own_air: float) -> float:
    """Return the loop's flow [m3/s] that delivers a clean-air rate [m3/s], ``own_air`` taken in again [-].

    The inverse of :func:`airtally.physics.filters.loop.loop_clean_air_rate`; the trunk must carry at least as much.
    """
    return clean_air * (1.0 - own_air * (1.0 - efficiency)) / (efficiency * (1.0 - own_air))
