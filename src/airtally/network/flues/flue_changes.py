"""Which single change moves the draft most: every change is replayed through the same model, none is read off a table."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from airtally.arrays import Floats
from airtally.errors import Problem
from airtally.estimates import Estimate
from airtally.house.passages import FlueWall
from airtally.network.flues.flue import (
    ROUGHNESS,
    WALL_LOSS,
    WALL_TIME,
    Firing,
    Flue,
    Surroundings,
)
from airtally.network.flues.flue_draft import (
    EVIDENCE,
    LIT,
    LOGGED,
    NOT_TESTED,
    FlueDraft,
    Reach,
    Stage,
    StageDraft,
    against,
    draft_in_state,
    own_drafts,
    stage_points,
    with_fire,
)
from airtally.network.flues.flue_model import Inputs, estimate_at, flue_gas, inputs_of, spread_over
from airtally.network.flues.flue_state import STAND_IN, FlowState, PressureLaw, flow_state
from airtally.network.home.house_pressure import HousePressure, NamedFlow
from airtally.network.spread import default


class ChangeKind(StrEnum):
    """What is changed, one thing at a time."""

    EXHAUST_OFF = "one exhaust off"
    EXHAUSTS_OFF = "every fan off"
    SUPPLY_AIR = "supply or make-up air"
    HOUSE_LEVEL = "house level with outdoors"
    HOTTER_FLUE = "hotter flue gas"
    INSULATED = "insulation or liner"
    TALLER = "taller flue"


OF_THE_FLUE = (ChangeKind.HOTTER_FLUE, ChangeKind.INSULATED, ChangeKind.TALLER)
SUPPLY_NAME = "supply air"
SUPPLY_TRIED = default(0.0283, 0.0283, 0.0283, "m3/s", "60 cfm of supply air, tried")
WARMER_TRIED = 50.0
"""Warmer gas at the foot of the flue, tried. [K]"""
TALLER_TRIED = 1.0
"""More height, tried. [m]"""
INSULATED_AS = {
    FlueWall.MASONRY: FlueWall.LINED_MASONRY,
    FlueWall.SINGLE_METAL: FlueWall.INSULATED_METAL,
    FlueWall.UNKNOWN: FlueWall.LINED_MASONRY,
}
"""What a wall becomes with insulation; the section is kept, although a liner mostly narrows it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftChange:
    """One change replayed.

    Attributes
    ----------
    kind : ChangeKind
        What was changed.
    name : str
        In words, with the size that was tried.
    stage : Stage
        The stage it was replayed at.
    gain : Estimate
        Available draft with less without; doubts common to both cancel. [Pa]
    available : Estimate
        Available draft with the change. [Pa]
    margin : Estimate
        Over what is needed, with the change. [Pa]
    reach : Reach
        Where that margin lies.
    caution : str
        What the change does beside.
    """

    kind: ChangeKind
    name: str
    stage: Stage
    gain: Estimate
    available: Estimate
    margin: Estimate
    reach: Reach
    caution: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftAnswer:
    """How near a flue is to trouble, over the states of the house.

    Attributes
    ----------
    flue : Flue
        As computed with.
    states : tuple of FlueDraft
        One a state of the house, the least margin first.
    changes : tuple of DraftChange
        Single changes in the first state at every lit stage, the largest gain first.
    is_burn_logged : bool
        Whether a whole burn was logged.
    standing : str
        What must stand beside every figure.
    evidence : tuple of str
        What is published about such flues.
    problems : tuple of Problem
        What was missing.
    """

    flue: Flue
    states: tuple[FlueDraft, ...]
    changes: tuple[DraftChange, ...]
    is_burn_logged: bool
    standing: str
    evidence: tuple[str, ...]
    problems: tuple[Problem, ...] = ()

    @property
    def worst(self) -> FlueDraft:
        """Return the state with the least margin."""
        return self.states[0]

    def changes_at(self, stage: Stage) -> tuple[DraftChange, ...]:
        """Return the changes at one stage, the largest gain first."""
        return tuple(one for one in self.changes if one.stage is stage)

    @property
    def most(self) -> DraftChange | None:
        """Return the change that moves the draft most where it is weakest.

        The house level with outdoors is the bound of all changes of the house; it counts only where none was replayed.
        """
        found = self.changes_at(self.worst.weakest.stage)
        things = [one for one in found if one.kind is not ChangeKind.HOUSE_LEVEL]
        has_house = any(one.kind not in OF_THE_FLUE for one in things)
        return next(iter(things if has_house else found), None)


def draft_answer(
    flue: Flue,
    around: Surroundings,
    cases: tuple[HousePressure, ...],
    *,
    pressure_of: PressureLaw | None = None,
    is_burn_logged: bool = False,
    supply_flow: Estimate = SUPPLY_TRIED,
    problems: tuple[Problem, ...] = (),
) -> DraftAnswer:
    """Return the draft of a flue in every state of the house and the single changes in the worst of them.

    Parameters
    ----------
    flue, around
        The flue and what it stands in.
    cases : tuple of HousePressure
        States of the house at the hearth's own place, such as the worst cases of its zone; with none, the house at
        its baseline. A worst case that was measured in another room says nothing about this flue.
    pressure_of : callable or mapping, optional
        House pressure from flows, closed form or solved network, one law or one a state by its words; without it no
        house change is replayed.
    is_burn_logged : bool
        Whether a whole burn, die-down included, was logged.
    supply_flow : Estimate, optional
        Supply or make-up air that is tried. [m3/s]
    problems : tuple of Problem
        Carried along.
    """
    own = own_drafts(flue, around)
    still = HousePressure(
        state="every fan off", pressure=default(0.0, 0.0, 0.0, "Pa", "nothing runs"), flows=(), method="baseline"
    )
    states = [
        draft_in_state(flue, around, case, pressure_of=pressure_of, is_burn_logged=is_burn_logged, own=own)
        for case in cases or (still,)
    ]
    paired = sorted(zip(states, cases or (still,), strict=True), key=lambda pair: pair[0].weakest.margin.value)
    worst, case = paired[0]
    changes = (
        *_house_changes(flue, around, flow_state(case, pressure_of), worst, supply_flow),
        *_flue_changes(flue, around, worst),
    )
    return DraftAnswer(
        flue=flue,
        states=tuple(state for state, _ in paired),
        changes=tuple(sorted(changes, key=lambda one: -one.gain.value)),
        is_burn_logged=is_burn_logged,
        standing=LOGGED if is_burn_logged else NOT_TESTED,
        evidence=EVIDENCE[flue.firing],
        problems=problems,
    )


def _house_changes(
    flue: Flue,
    around: Surroundings,
    state: FlowState,
    worst: FlueDraft,
    supply_flow: Estimate,
) -> tuple[DraftChange, ...]:
    lit = [stage for stage in worst.stages if stage.stage in LIT]
    found = [_level(flue, around, stage) for stage in lit]
    if state.pressure_of is None:
        return tuple(found)
    for kind, name, flows, caution in _tried_in_house(state, supply_flow):
        for before in lit:
            now = with_fire(flue, before.own, state, state.flows)
            then = with_fire(flue, before.own, state, flows)
            gain = replace(state.step(now, then), source=f"replayed: {name}; low with low, high with high")
            pressure = state.after(before.house_pressure, now, then)
            after = against(flue, around, before.own, pressure)
            found.append(_change(kind, name, gain, after, caution))
    return tuple(found)


def _tried_in_house(
    state: FlowState, supply_flow: Estimate
) -> list[tuple[ChangeKind, str, tuple[NamedFlow, ...], str]]:
    """Return kind, words, flows with the change, and what it does beside."""
    fans = [one for one in state.flows if one.flow.value < 0.0 and not one.is_fire and one.name != STAND_IN]
    tried: list[tuple[ChangeKind, str, tuple[NamedFlow, ...], str]] = [
        (ChangeKind.EXHAUST_OFF, f"{fan.name} off", tuple(one for one in state.flows if one is not fan), "")
        for fan in fans
    ]
    if len(fans) > 1:
        rest = tuple(one for one in state.flows if one not in fans)
        tried.append((ChangeKind.EXHAUSTS_OFF, "every exhaust fan off", rest, ""))
    supply = NamedFlow(name=SUPPLY_NAME, flow=supply_flow)
    caution = "it must run whenever the exhausts do, brings outdoor air to be warmed and filtered, and was not tested"
    return [*tried, (ChangeKind.SUPPLY_AIR, supply_flow.source, (*state.flows, supply), caution)]


def _change(kind: ChangeKind, name: str, gain: Estimate, after: StageDraft, caution: str) -> DraftChange:
    return DraftChange(
        kind=kind, name=name, stage=after.stage, gain=gain, available=after.available, margin=after.margin,
        reach=after.reach, caution=caution,
    )  # fmt: skip


def _level(flue: Flue, around: Surroundings, before: StageDraft) -> DraftChange:
    """Return what the house held level with outdoors at the hearth would give: all that a house can be to blame for."""
    level = default(0.0, 0.0, 0.0, "Pa", "house level with outdoors at the hearth")
    pressure = before.house_pressure
    gain = replace(pressure, value=-pressure.value, low=-pressure.high, high=-pressure.low, source=level.source)
    after = against(flue, around, before.own, level)
    caution = "the bound of what fans off and make-up air can do together"
    return _change(ChangeKind.HOUSE_LEVEL, level.source, gain, after, caution)


def _flue_changes(flue: Flue, around: Surroundings, worst: FlueDraft) -> tuple[DraftChange, ...]:
    tried = [
        (
            ChangeKind.HOTTER_FLUE, f"gas {WARMER_TRIED:g} K warmer at the foot of the flue",
            replace(flue, burning_temperature=_more(flue.burning_temperature, WARMER_TRIED)),
            "less dilution air (doors, a smaller opening) warms the gas; a hotter fire is no remedy",
        ),
        (
            ChangeKind.TALLER, f"{TALLER_TRIED:g} m more height",
            replace(flue, height=_more(flue.height, TALLER_TRIED)),
            "height is for a chimney professional and the code to settle",
        ),
    ]  # fmt: skip
    if flue.wall in INSULATED_AS:
        wall = INSULATED_AS[flue.wall]
        insulated = replace(
            flue, wall=wall, wall_loss=WALL_LOSS[wall], wall_time=WALL_TIME[wall], roughness=ROUGHNESS[wall]
        )
        below = "opening" if flue.firing is Firing.OPEN_FIREPLACE else "appliance"
        said = f"a liner narrows the flue: its section must still suit the {below}"
        tried.append((ChangeKind.INSULATED, f"{wall.value}, section kept", insulated, said))
    return tuple(
        change
        for kind, name, other, caution in tried
        for change in _flue_change(kind, name, flue, other, around, worst, caution)
    )


def _more(one: Estimate, step: float) -> Estimate:
    return replace(one, value=one.value + step, low=one.low + step, high=one.high + step)


def _flue_change(
    kind: ChangeKind, name: str, flue: Flue, other: Flue, around: Surroundings, worst: FlueDraft, caution: str
) -> tuple[DraftChange, ...]:
    """Replay with another flue; what both flues share moves together, so that only what differs stays in doubt."""
    mine, theirs = inputs_of(flue, around), inputs_of(other, around)
    steps = {
        key: theirs[key].value - mine[key].value
        for key in mine
        if (theirs[key].high - theirs[key].value, theirs[key].value - theirs[key].low)
        == (mine[key].high - mine[key].value, mine[key].value - mine[key].low)
    }
    apart = {f"other {key}": one for key, one in theirs.items() if key not in steps}

    def gained(values: Inputs) -> Floats:
        changed = {key: values[key] + steps[key] if key in steps else values[f"other {key}"] for key in mine}
        now = flue_gas(flue, around, {key: values[key] for key in mine}, stage_points)
        then = flue_gas(other, around, changed, stage_points)
        difference: Floats = (then.pull - then.losses) - (now.pull - now.losses)
        return difference

    band = spread_over(gained, mine | apart, keeps_sign=True)
    found = []
    for index, (before, own) in enumerate(zip(worst.stages, own_drafts(other, around), strict=True)):
        if before.stage not in LIT:
            continue
        after = against(other, around, own, before.house_pressure)
        gain = estimate_at(band, (index,), "Pa", f"replayed: {name}", before.available.level)
        found.append(_change(kind, name, gain, after, caution))
    return tuple(found)
