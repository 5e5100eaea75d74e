"""The design of a bypass cleaner's hookup: flows by state, pressure lost part by part, duct size, interlock, doubts."""

from __future__ import annotations

from dataclasses import dataclass, replace

from airtally.errors import Problem, Severity
from airtally.estimates import Basis, Estimate
from airtally.network.ducts.blower import OperatingPoint, Resistance, assumed_words, settle
from airtally.network.ducts.fan_curves import flow_words
from airtally.network.ducts.hookup_loop import (
    LoopNumbers,
    LossPart,
    loop_flow_on,
    loop_numbers,
    loss_parts,
)
from airtally.network.ducts.hookup_parts import (
    CLOSE_TAPS,
    STOPPED_BLOWER,
    TRADE_DIAMETERS,
    Hookup,
    TrunkState,
    cleaner_curve_inputs,
    size_words,
)
from airtally.network.ducts.hookup_states import (
    BLOWER_OFF,
    LoopState,
    SupplyState,
    governing_flow,
    return_states,
    supply_states,
    wanted_loop_flow,
)
from airtally.network.spread import spread, total
from airtally.physics.ducts.sections import round_duct_area
from airtally.physics.filters.loop import TapOrder

QUIET_VELOCITY = 4.572
"""900 ft/min: faster air in a branch is often heard. [m/s]; common practice, no source"""

ORDER_AND_DISTANCE = (
    "Take-off upstream, re-entry downstream toward the blower, as far apart as the trunk allows. No published distance "
    "was found: this is common practice, and the cleaner's installation instructions govern."
)
CAUTIONS = (
    "Wiring of fan and interlock: by licensed people, after local code; never through a limit, door or flame switch.",
    "No tap in the zone of a vented appliance, in a garage or a crawlspace. No drilling near a coil or refrigerant line.",
    "Suspect wrap, tape or insulation on old ducts: do not disturb; have it tested first.",
    "Static, airflow, heat rise, house pressure and combustion tests are repeated after the work, in the same states.",
)
"""Usual cautions of this work; local code and the makers' instructions govern."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DuctSize:
    """What one duct size would do. ``diameter`` [m], ``loop_flow`` [m3/s], ``velocity`` [m/s].

    ``holds`` the wanted flow: yes, no, or None where the interval leaves it open or nothing was wanted.
    """

    diameter: float
    loop_flow: Estimate
    velocity: Estimate
    holds: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Interlock:
    """What must switch the cleaner. ``own_air_off`` [-] and ``clean_air_off`` [m3/s] say why.

    ``trial`` names, for each mode, whether the cleaner must run, to be tried at test-out.
    """

    says: str
    own_air_off: Estimate
    clean_air_off: Estimate
    trial: tuple[tuple[str, bool], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HookupDesign:
    """A bypass cleaner's hookup, worked out.

    Attributes
    ----------
    hookup : Hookup
        What was put in.
    states : tuple of LoopState
        Both taps on the return: each blower speed, then the blower off.
    parts : tuple of LossPart
        Pressure lost in the loop at the design speed and its flow there, part by part. [Pa]
    loss, lent : Estimate
        Their sum, and what the trunk lends between the taps with the loop running; the cleaner's fan gives the
        difference. [Pa]
    sizes : tuple of DuctSize
        Loop flow by trade size at the design speed.
    wanted_flow : Estimate or None
        Loop flow that the wanted clean air needs. [m3/s]
    smallest : DuctSize or None
        Smallest size whose middle value holds the wanted flow.
    smallest_sure : DuctSize or None
        Smallest size whose low end holds it too.
    supply : tuple of SupplyState
        The same cleaner with its discharge in the supply plenum; empty where the statics were not read.
    trunk_effect : OperatingPoint or Problem or None
        What the loop changes at the blower at the design speed; None without a blower.
    tap_distance_diameters : Estimate or None
        Distance between the taps in trunk diameters. [-]
    interlock : Interlock
    order_and_distance : str
    not_measured, assumed : tuple of str
        Readings that would narrow the numbers; numbers taken from defaults, with their source.
    cautions : tuple of str
    problems : tuple of Problem
    """

    hookup: Hookup
    states: tuple[LoopState, ...]
    parts: tuple[LossPart, ...]
    loss: Estimate
    lent: Estimate
    sizes: tuple[DuctSize, ...]
    wanted_flow: Estimate | None
    smallest: DuctSize | None
    smallest_sure: DuctSize | None
    supply: tuple[SupplyState, ...]
    trunk_effect: OperatingPoint | Problem | None
    tap_distance_diameters: Estimate | None
    interlock: Interlock
    not_measured: tuple[str, ...]
    assumed: tuple[str, ...]
    problems: tuple[Problem, ...]
    order_and_distance: str = ORDER_AND_DISTANCE
    cautions: tuple[str, ...] = CAUTIONS

    @property
    def design(self) -> LoopState:
        """The loop at the speed it is designed for."""
        return self.states[0]

    @property
    def blower_off(self) -> LoopState:
        """The loop with the blower off."""
        return self.states[-1]


def design_hookup(hookup: Hookup) -> HookupDesign:
    """Return a bypass cleaner's hookup worked out, every number with its interval.

    Raises
    ------
    InputError
        If the cleaner has neither a usable fan table nor a flow.

    Notes
    -----
    Valid: round duct, turbulent flow, square-law house, blower flow that the loop does not change to first order (the
    change itself is in ``trunk_effect``); velocity pressure between trunk and loop is in the coefficients only.
    Checked against: the 8 inch run of the trade check values, the derived tables of recirculated share and clean
    air (E9), the library fluids; a solved two-branch loop written out in the tests.
    """
    numbers = loop_numbers(hookup)
    first = hookup.states[0]
    met = governing_flow(hookup, first, numbers)
    states = return_states(hookup, numbers)
    parts = loss_parts(hookup, numbers, met)
    wanted = _wanted(hookup)
    sizes = tuple(_size(hookup, first, diameter, wanted) for diameter in TRADE_DIAMETERS)
    _, _, problems = cleaner_curve_inputs(hookup.cleaner)
    design = HookupDesign(
        hookup=hookup,
        states=states,
        parts=parts,
        loss=total(tuple(part.pressure for part in parts), unit="Pa", source="loop, part by part"),
        lent=states[0].lent,
        sizes=sizes,
        wanted_flow=wanted,
        smallest=next((one for one in sizes if wanted and one.loop_flow.value >= wanted.value), None),
        smallest_sure=next((one for one in sizes if one.holds), None),
        supply=supply_states(hookup, numbers),
        trunk_effect=_trunk_effect(first, states[0]),
        tap_distance_diameters=_apart(hookup),
        interlock=_interlock(states[-1]),
        not_measured=not_measured(hookup),
        assumed=_assumed(hookup, numbers),
        problems=problems,
    )
    return replace(design, problems=(*problems, *_problems(design)))


def design_words(design: HookupDesign) -> tuple[str, ...]:
    """Return what a design says, in sentences: interlock, duct size, speed of the air, sensor, supply side, taps."""
    off = design.blower_off
    found = [
        f"With the blower off {_share(off.recirculated)} of the cleaner's air is its own again. {design.interlock.says}"
    ]
    if design.wanted_flow is not None:
        found.append(_size_words(design))
    if design.design.velocity.high > QUIET_VELOCITY:
        found.append(
            "The air in the loop may be heard: above 900 ft/min (4.6 m/s) it often is (common practice, no source)."
        )
    after = design.design.after_re_entry
    if after is not None:
        found.append(
            f"While the cleaner runs, a sensor behind its re-entry reads {_share(after)} of one ahead of its take-off; "
            "a threshold set there moves when the cleaner switches."
        )
    for side in design.supply:
        found.append(f"Discharge in the supply plenum instead, {side.name}: {side.says}.")
    found.append(design.order_and_distance)
    return tuple(found)


def _share(number: Estimate) -> str:
    return f"{number.value:.0%} ({number.low:.0%} to {number.high:.0%})"


def _size_words(design: HookupDesign) -> str:
    sure, middle = design.smallest_sure, design.smallest
    if sure is None and middle is None:
        return "No duct size lets this cleaner move the wanted flow."
    if sure is None and middle is not None:
        return f"A {size_words(middle.diameter)} may hold the wanted flow; no size does for certain."
    if sure is not None and middle is not None and middle.diameter < sure.diameter:
        return (
            f"The smallest round duct that holds the wanted flow for certain is the {size_words(sure.diameter)}; "
            f"the {size_words(middle.diameter)} may do."
        )
    return (
        f"The smallest round duct that holds the wanted flow is the {size_words((sure or design.sizes[-1]).diameter)}."
    )


def _wanted(hookup: Hookup) -> Estimate | None:
    if hookup.wanted_clean_air is None:
        return None
    return spread(
        wanted_loop_flow, hookup.wanted_clean_air, hookup.efficiency, hookup.own_air, unit="m3/s",
        source="wanted clean air over efficiency and own air",
    )  # fmt: skip


def _size(hookup: Hookup, state: TrunkState, diameter: float, wanted: Estimate | None) -> DuctSize:
    other = replace(hookup, loop=replace(hookup.loop, diameter=diameter))
    met = loop_flow_on(other, state, loop_numbers(other))
    flow = spread(met.flow, *met.inputs, unit="m3/s", source=f"cleaner's fan against a loop of {diameter:.3f} m")
    area = float(round_duct_area(diameter))
    holds = None
    if wanted is not None:
        holds = True if flow.low >= wanted.value else False if flow.high < wanted.value else None
    velocity = spread(lambda q: q / area, flow, unit="m/s", source="flow over area")
    return DuctSize(diameter=diameter, loop_flow=flow, velocity=velocity, holds=holds)


def _trunk_effect(state: TrunkState, found: LoopState) -> OperatingPoint | Problem | None:
    """Return where the blower settles with the loop running: the stretch between the taps carries another flow."""
    if state.blower is None:
        return None
    return settle(state.blower, Resistance(name="loop beside the trunk", square=found.stretch_change.value))


def _apart(hookup: Hookup) -> Estimate | None:
    if hookup.trunk.tap_distance is None:
        return None
    diameter = hookup.trunk.diameter
    return spread(
        lambda d: d / diameter, hookup.trunk.tap_distance, unit="-", source="tap distance over trunk diameter"
    )


def _interlock(off: LoopState) -> Interlock:
    return Interlock(
        says="The cleaner runs only while the blower runs: with the blower off its air mostly goes round in the duct.",
        own_air_off=off.recirculated,
        clean_air_off=off.clean_air,
        trial=(("heating", True), ("cooling", True), ("fan only", True), ("off", False)),
    )


def not_measured(hookup: Hookup) -> tuple[str, ...]:
    """Return the readings that were not taken and would narrow the hookup's numbers, most telling first."""
    trunk, loop = hookup.trunk, hookup.loop
    missing = []
    if all(state.measured_loop_flow is None for state in hookup.states):
        missing.append("the cleaner's flow as installed, at each blower speed")
    if hookup.cleaner.table is None:
        missing.append("the fan table of the cleaner: its curve is drawn from its two ends")
    for state in hookup.states:
        lacking = [
            name
            for name, one in (
                ("static at the take-off", state.take_off_static),
                ("static at the re-entry", state.re_entry_static),
                ("supply static", state.supply_static),
                ("total external static", state.total_static),
            )
            if one is None or one.basis is not Basis.MEASURED
        ]
        if lacking:
            missing.append(f"{', '.join(lacking)} at {state.name}")
    if hookup.mixed_back is None:
        missing.append("own air taken in again (a tracer or smoke at the re-entry shows it)")
    for name, one in (
        ("straight duct before the take-off", trunk.straight_before),
        ("distance between the taps", trunk.tap_distance),
        ("distance from the re-entry to the filter", trunk.straight_after),
    ):
        if one is None:
            missing.append(name)
    if trunk.is_assumed:
        missing.append("the section of the return trunk at the taps: a usual one is taken")
    if loop.is_proposed:
        missing.append("the loop itself, length and fittings: a usual one is taken")
    if loop.flex_length is not None and loop.flex_compression is None:
        missing.append("compression of the flex")
    missing.append("how a stopped blower and its cabinet resist: no published figure was found")
    return tuple(missing)


def _assumed(hookup: Hookup, numbers: LoopNumbers) -> tuple[str, ...]:
    names = ("rigid length", "flex length", "flex compression", "loss coefficients", "friction")
    own = dict(zip(names, numbers.inputs, strict=False))
    for one in hookup.loop.fittings:
        own[one.name] = one.coefficient
    fan = (
        {"cleaner's free flow": hookup.cleaner.free_flow, "cleaner's shut-off": hookup.cleaner.shut_off,
         "shape of the cleaner's curve": hookup.cleaner.shape}
        if hookup.cleaner.table is None else {"cleaner's table": numbers.inputs[-1]}
    )  # fmt: skip
    rest = {
        "efficiency": hookup.efficiency,
        "own air by mixing": hookup.own_air,
        "stopped blower": STOPPED_BLOWER,
        "clean air wanted": hookup.wanted_clean_air,
    }
    return assumed_words({**own, **fan, **rest})


def _problems(design: HookupDesign) -> tuple[Problem, ...]:
    """Return what is wrong with a hookup as put in, worst first."""
    found = []
    hookup = design.hookup
    where = f"hookup of {hookup.cleaner.name}"
    if hookup.trunk.order is TapOrder.RETURN_FIRST:
        found.append(_taps_reversed(where, design))
    if design.design.loop_flow.low <= 0.0:
        found.append(_no_flow(where, design))
    if design.wanted_flow is not None and design.smallest is None:
        found.append(_short(where, design))
    apart = design.tap_distance_diameters
    if apart is not None and apart.value < CLOSE_TAPS:
        found.append(_close(where, apart))
    for state in design.states:
        if not state.loop_flow.meets(state.computed_flow):
            found.append(_flow_disagrees(where, state))
    return tuple(found)


def _taps_reversed(where: str, design: HookupDesign) -> Problem:
    return Problem(
        code="network-hookup-taps-reversed",
        where=where,
        found=f"re-entry upstream of the take-off: {design.design.recirculated.value:.0%} of the cleaner's air is its own",
        wanted="take-off upstream, re-entry downstream",
        remedy="Exchange the two collars.",
    )


def _no_flow(where: str, design: HookupDesign) -> Problem:
    return Problem(
        code="network-hookup-no-flow",
        where=where,
        found=f"a loop flow that may be nothing ({flow_words(design.design.loop_flow.low)} at the low end)",
        wanted="a cleaner's fan that overcomes its loop at every speed",
        remedy="Measure the statics at both taps, shorten the loop or take a larger duct.",
    )


def _short(where: str, design: HookupDesign) -> Problem:
    wanted = design.wanted_flow.value if design.wanted_flow is not None else 0.0
    most = max(design.sizes, key=lambda one: one.loop_flow.value)
    return Problem(
        code="network-hookup-flow-short",
        where=where,
        found=f"at most {flow_words(most.loop_flow.value)}, in a {size_words(most.diameter)}; {flow_words(wanted)} is wanted",
        wanted="a duct size at which the cleaner moves the wanted flow",
        remedy="Shorten the loop, take fewer or wider bends, or a cleaner with more fan; or ask for less.",
    )


def _close(where: str, apart: Estimate) -> Problem:
    return Problem(
        code="network-hookup-taps-close",
        where=where,
        found=f"taps {apart.value:.1f} trunk diameters apart",
        wanted=f"at least {CLOSE_TAPS:g}, a judgement; the cleaner's instructions govern",
        remedy="Move the take-off upstream; own air taken in again is given a wide interval until then.",
        severity=Severity.NOTE,
    )


def _flow_disagrees(where: str, state: LoopState) -> Problem:
    apart = state.loop_flow.value / state.computed_flow.value - 1.0 if state.computed_flow.value else 0.0
    return Problem(
        code="network-hookup-flow-disagrees",
        where=f"{where}, {state.name}",
        found=f"{flow_words(state.loop_flow.value)} measured, {flow_words(state.computed_flow.value)} from fan and loop: {apart:+.0%}",
        wanted="a measured flow within the interval of the computed one",
        remedy="The measured flow is used. Check for a crushed or compressed duct, a shut damper or a loaded filter.",
    )


__all__ = [
    "BLOWER_OFF", "CAUTIONS", "ORDER_AND_DISTANCE", "QUIET_VELOCITY", "DuctSize", "HookupDesign", "Interlock",
    "design_hookup", "design_words", "not_measured",
]  # fmt: skip
