"""Available draft of a flue by stage of its fire, against the pressure of the house: an estimate with its band.

It is no permission and no time for which a fire may burn; until a whole burn was logged it stays untested.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from airtally.arrays import Floats, Number
from airtally.errors import InputError
from airtally.estimates import Estimate
from airtally.network.flues.flue import Firing, Flue, Surroundings
from airtally.network.flues.flue_model import (
    Band,
    Inputs,
    Points,
    after_share,
    estimate_at,
    flue_gas,
    inputs_of,
    spread_over,
)
from airtally.network.flues.flue_state import FlowState, PressureLaw, flow_state
from airtally.network.home.house_pressure import HousePressure, NamedFlow
from airtally.network.solver.graph import OUTDOORS, Link, Resistance
from airtally.network.spread import default, spread, total
from airtally.physics.flues.draft import least_gas_vent_draft

JUDGED = "warmth, flow, losses and time constants of the fire are judgement unless measured"
NOT_TESTED = "not tested with a fire"
LOGGED = "tested with a fire; an estimate beside that reading"


class Stage(StrEnum):
    """Where the fire is; each is a share of its warmth, so that no clock time is promised."""

    IDLE = "cold, before lighting"
    LIGHTING = "lighting: a tenth of the warmth, wall cold"
    STEADY = "steady burn"
    DIE_DOWN = "dying: a third of the warmth left"
    EMBERS = "embers: a tenth of the warmth left"


LIT = (Stage.LIGHTING, Stage.STEADY, Stage.DIE_DOWN, Stage.EMBERS)


class Reach(StrEnum):
    """Where a margin lies with its whole band."""

    BELOW = "below what is needed over its whole band"
    UNDECIDED = "its band holds what is needed: not decided"
    ABOVE = "above what is needed over its whole band"


STOVE_DRAFT = default(
    12.0, 7.5, 18.0, "Pa",
    "three stove manuals: 12 to 18 Pa; 10 to 20 Pa warm; 7.5 to 15 Pa and never over 20 Pa [StoveManuals]; the "
    "stove's own manual governs",
)  # fmt: skip
"""Draft that closed stoves ask for at full fire. [Pa]"""
STOVE_DRAFT_MOST = 20.0
"""Draft that none of three stove manuals allows to be passed. [Pa]; StoveManuals, read"""
NOTHING_MORE = default(0.0, 0.0, 0.0, "Pa", "at or below zero the flue cannot carry the smoke away")

EVIDENCE: dict[Firing, tuple[str, ...]] = {
    Firing.OPEN_FIREPLACE: (
        "At about 5 Pa of house suction a chimney may reverse as a fire dies; near 30 Pa even a hot one can "
        "(housing research, 04-121, August 2004).",
        "In a laboratory open fires spilled at roughly 10 Pa of suction at die-down (masonry heater trade letters, "
        "as reported).",
        "Outdoor combustion air did not keep open fires from spilling at 10 Pa (housing study of 1989, as reported).",
    ),
    Firing.CLOSED_STOVE: (
        "Stove manuals ask for 12 to 18 Pa at full fire and allow no more than 20 Pa; the stove's own manual governs.",
        "At about 5 Pa of house suction a chimney may reverse as a fire dies; near 30 Pa even a hot one can "
        "(housing research, 04-121, August 2004).",
    ),
    Firing.DRAFT_HOOD: (
        "At about 5 Pa of house suction a chimney may reverse in the off cycle (housing research, 04-121, August 2004).",
        "Spillage after light-up is the test that later standards lean on; draft alone clears nothing.",
    ),
}
"""What is published, to be shown beside the estimate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnDraft:
    """What the flue does by itself at one stage, the house left out.

    Attributes
    ----------
    stage : Stage
        Where the fire is.
    flue_temperature : Estimate
        Absolute mean temperature of the gas over the height. [K]
    flow : Estimate
        Room air that the fire draws or needs. [m3/s]
    theoretical, losses : Estimate
        Pull of the column, and what friction, bends, throat and cap take. [Pa]
    net : Estimate
        Their difference, dependence between the two kept. [Pa]
    """

    stage: Stage
    flue_temperature: Estimate
    flow: Estimate
    theoretical: Estimate
    losses: Estimate
    net: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class StageDraft:
    """Draft at one stage in one house state.

    Attributes
    ----------
    own : OwnDraft
        Pull and losses of the flue.
    house_pressure : Estimate
        House minus outdoors at the hearth, baseline and this fire's own draw included. [Pa]
    available : Estimate
        Pull less losses plus house pressure plus wind: at or below zero the flue does not carry its flow and spills. [Pa]
    before_reversal : Estimate
        The same with nothing flowing and so nothing lost: at or below zero the flue reverses. [Pa]
    needed : Estimate
        What the appliance asks for. [Pa]
    margin : Estimate
        Available less needed. [Pa]
    reach : Reach
        Where the margin lies with its band.
    note : str
        What the figures alone do not say.
    """

    own: OwnDraft
    house_pressure: Estimate
    available: Estimate
    before_reversal: Estimate
    needed: Estimate
    margin: Estimate
    reach: Reach
    note: str = ""

    @property
    def stage(self) -> Stage:
        """Return where the fire is."""
        return self.own.stage


@dataclass(frozen=True, slots=True, kw_only=True)
class FlueDraft:
    """Draft of one flue by stage in one state of the house.

    ``standing`` says whether a burn was logged: it stands beside every figure shown.
    """

    flue: str
    state: str
    stages: tuple[StageDraft, ...]
    standing: str

    def at(self, stage: Stage) -> StageDraft:
        """Return one stage."""
        return next(one for one in self.stages if one.stage is stage)

    @property
    def weakest(self) -> StageDraft:
        """Return the lit stage with the least margin."""
        return min((one for one in self.stages if one.stage in LIT), key=lambda one: one.margin.value)


def stage_points(values: Inputs) -> tuple[Floats, Floats]:
    """Return seconds burnt and seconds dying of every stage, in the order of :class:`Stage`."""
    lighting, _ = after_share(values, 0.1)
    _, third = after_share(values, 1.0 / 3.0)
    _, tenth = after_share(values, 0.1)
    burnt = values["burn_time"]
    return _along(0.0, lighting, burnt, burnt, burnt), _along(0.0, 0.0, 0.0, third, tenth)


def _along(*points: Number) -> Floats:
    """Return points side by side: shape (points,) of numbers, (M, points) of columns."""
    return np.concatenate(np.broadcast_arrays(*(np.atleast_1d(one) for one in points)), axis=-1)


def own_drafts(flue: Flue, around: Surroundings) -> tuple[OwnDraft, ...]:
    """Return pull and losses of a flue at every stage of its fire, the house left out.

    Parameters
    ----------
    flue, around
        The flue and what it stands in; their intervals are carried.

    Raises
    ------
    InputError
        As :func:`airtally.network.flues.flue_model.flue_gas`.
    """
    inputs = inputs_of(flue, around)

    def figures(values: Inputs) -> Floats:
        gas = flue_gas(flue, around, values, stage_points)
        return np.stack((gas.temperature, gas.flow, gas.pull, gas.losses, gas.pull - gas.losses))

    band = spread_over(figures, inputs)
    said = f"column of gas that cools along {flue.height.value:.1f} m of flue; {JUDGED}"
    level = min(one.level for one in inputs.values())

    def at(row: int, stage: int, unit: str = "Pa") -> Estimate:
        return estimate_at(band, (row, stage), unit, said, level)

    return tuple(
        OwnDraft(
            stage=stage, flue_temperature=at(0, index, "K"), flow=at(1, index, "m3/s"), theoretical=at(2, index),
            losses=at(3, index), net=at(4, index),
        )
        for index, stage in enumerate(Stage)
    )  # fmt: skip


def flue_link(flue: Flue, around: Surroundings, stage: Stage, *, room: str, height: float = 0.0) -> Link:
    """Return a flue with an open damper as a path of air of a solved network, at the middle values of a stage.

    Parameters
    ----------
    flue, around, stage
        Which flue, in what, and where its fire is; the gas is as warm as the model's own flow makes it.
    room : str
        Node at its foot.
    height : float, optional
        Of the foot above the network's height 0. [m]

    Notes
    -----
    Valid: while it draws; a flow the other way would cool the flue, which is not in it.
    Checked against: the closed form of one zone.
    """
    values = {name: one.value for name, one in inputs_of(flue, around).items()}
    gas = flue_gas(flue, around, values, stage_points)
    index = list(Stage).index(stage)
    return Link(
        name=flue.name, start=room, end=OUTDOORS, law=Resistance(linear=0.0, square=float(gas.resistance[index])),
        height=height, lift=float(gas.pull[index]) + around.wind.value,
    )  # fmt: skip


def draft_in_state(
    flue: Flue,
    around: Surroundings,
    case: HousePressure,
    *,
    pressure_of: PressureLaw | None = None,
    is_burn_logged: bool = False,
    own: tuple[OwnDraft, ...] | None = None,
) -> FlueDraft:
    """Return the draft of a flue by stage while the house is in a state.

    Parameters
    ----------
    flue, around
        The flue and what it stands in.
    case : HousePressure
        Change of the house pressure from its baseline, with the flows that make it.
    pressure_of : callable or mapping, optional
        House pressure from flows, one law or one a state; with it the fire's own draw follows the stage. Without it
        one pressure stands for all stages.
    is_burn_logged : bool
        Whether a whole burn, die-down included, was logged in this house.
    own : tuple of OwnDraft, optional
        From :func:`own_drafts`, if at hand.

    Notes
    -----
    Valid: as an estimate. Draft falls one for one with house suction. Wind only as its default band.
    """
    drafts = own or own_drafts(flue, around)
    state = flow_state(case, pressure_of)
    stages = []
    for draft in drafts:
        change = state.pressure(with_fire(flue, draft, state, state.flows))
        pressure = total((change, around.baseline), unit="Pa", source=f"{case.state}; {around.baseline.source}")
        stages.append(against(flue, around, draft, pressure))
    standing = LOGGED if is_burn_logged else NOT_TESTED
    return FlueDraft(flue=flue.name, state=case.state, stages=tuple(stages), standing=standing)


def with_fire(flue: Flue, draft: OwnDraft, state: FlowState, flows: tuple[NamedFlow, ...]) -> tuple[NamedFlow, ...]:
    """Return flows with this fire's draw at a stage in place of the one they hold; idle it draws nothing."""
    if state.has_fire_in_reading:
        return flows
    others = tuple(one for one in flows if one.name != flue.name)
    if draft.stage is Stage.IDLE:
        return others
    drawn = draft.flow
    out = Estimate(
        value=-drawn.value, low=-drawn.high, high=-drawn.low, unit="m3/s", basis=drawn.basis, source=drawn.source
    )
    return (*others, NamedFlow(name=flue.name, flow=out, is_fire=True))


def against(flue: Flue, around: Surroundings, draft: OwnDraft, pressure: Estimate) -> StageDraft:
    """Return the draft at a stage against a house pressure at the hearth, baseline included. [Pa]"""
    available = total(
        (draft.net, pressure, around.wind),
        unit="Pa",
        source=f"{draft.net.source}; {pressure.source}; {around.wind.source}",
    )
    pull = total((draft.theoretical, pressure, around.wind), unit="Pa", source=available.source)
    needed = _needed(flue, around, draft.stage)
    margin = spread(
        lambda got, want: got - want, available, needed, unit="Pa", source=f"available less: {needed.source}"
    )
    note = ""
    if flue.firing is Firing.CLOSED_STOVE and draft.stage is Stage.STEADY and available.high > STOVE_DRAFT_MOST:
        note = "the upper end passes 20 Pa, more than any of three stove manuals allows: the fire may run away"
    return StageDraft(
        own=draft, house_pressure=pressure, available=available, before_reversal=pull, needed=needed, margin=margin, reach=reach(margin),
        note=note,
    )  # fmt: skip


def _needed(flue: Flue, around: Surroundings, stage: Stage) -> Estimate:
    if stage is not Stage.STEADY or flue.firing is Firing.OPEN_FIREPLACE:
        return NOTHING_MORE
    if flue.wanted_draft is not None:
        return flue.wanted_draft
    if flue.firing is Firing.CLOSED_STOVE:
        return STOVE_DRAFT
    return spread(
        lambda outside: -float(least_gas_vent_draft(outside)), around.outdoor_temperature, unit="Pa",
        source="least draft of a gas vent by outdoor temperature, older audit standard [BPI2005], from memory",
    )  # fmt: skip


def reach(margin: Estimate) -> Reach:
    """Return where a margin lies with its whole band."""
    if margin.high <= 0.0:
        return Reach.BELOW
    return Reach.ABOVE if margin.low > 0.0 else Reach.UNDECIDED


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftCourse:
    """Draft along one burn, for a drawing.

    Attributes
    ----------
    time : array
        Since lighting. [s]
    burning_until : float
        When nothing is put on any more. [s]
    flue_temperature : array
        Mean over the height. [K]
    available : Band
        With the house state's pressure. [Pa]
    standing : str
        Whether a burn was logged.
    """

    time: Floats
    burning_until: float
    flue_temperature: Floats
    available: Band
    standing: str


def draft_course(flue: Flue, around: Surroundings, state: FlueDraft, time: Floats) -> DraftCourse:
    """Return the draft along a burn in a state of the house.

    Parameters
    ----------
    flue, around
        The flue and what it stands in.
    state : FlueDraft
        From :func:`draft_in_state`; the house pressure follows the fire's draw between embers and steady burn.
    time : array
        Since lighting, rising. [s]

    Raises
    ------
    InputError
        If a time lies before lighting.
    """
    if np.any(time < 0.0):
        raise InputError(f"time must not lie before lighting; the lowest given is {np.min(time):g} s")
    burning_until = flue.burn_time.value

    def points(values: Inputs) -> tuple[Floats, Floats]:
        del values  # the drawing keeps one clock; the stages carry the doubt about it
        return np.minimum(time, burning_until), np.maximum(time - burning_until, 0.0)

    inputs = inputs_of(flue, around)
    gas = flue_gas(flue, around, {name: one.value for name, one in inputs.items()}, points)
    net = _net_band(flue, around, inputs, points)
    pressures = sorted((one.own.flow.value, one.house_pressure) for one in state.stages if one.stage in LIT)
    flows = [flow for flow, _ in pressures]
    house = [np.interp(gas.flow, flows, [(one.value, one.low, one.high)[k] for _, one in pressures]) for k in range(3)]
    value = net.value + house[0] + around.wind.value
    down = np.sqrt((net.value - net.low) ** 2 + (house[0] - house[1]) ** 2 + (around.wind.value - around.wind.low) ** 2)
    up = np.sqrt((net.high - net.value) ** 2 + (house[2] - house[0]) ** 2 + (around.wind.high - around.wind.value) ** 2)
    return DraftCourse(
        time=time, burning_until=burning_until, flue_temperature=gas.temperature,
        available=Band(value=value, low=value - down, high=value + up), standing=state.standing,
    )  # fmt: skip


def _net_band(flue: Flue, around: Surroundings, inputs: dict[str, Estimate], points: Points) -> Band:
    def net(values: Inputs) -> Floats:
        gas = flue_gas(flue, around, values, points)
        return gas.pull - gas.losses

    return spread_over(net, inputs)
