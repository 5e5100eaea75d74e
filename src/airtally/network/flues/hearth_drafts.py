"""The draft of every fire and burner of a surveyed house: by state and stage, by weather, and what moves it most."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from airtally.errors import Problem, Severity
from airtally.estimates import Basis, Estimate
from airtally.house.parts import House
from airtally.house.passages import SurveyedFlue
from airtally.network.flues.flue import Firing, Flue, Surroundings, counted_losses, opening_flow, surveyed_flue
from airtally.network.flues.flue_changes import SUPPLY_TRIED, DraftAnswer, draft_answer
from airtally.network.flues.flue_draft import (
    DraftCourse,
    FlueDraft,
    StageDraft,
    draft_course,
    draft_in_state,
)
from airtally.network.flues.flue_state import PressureOf
from airtally.network.flues.flue_survey import Hearth, draft_conflict, flue_surroundings, hearths
from airtally.network.flues.hearth_law import hearth_case
from airtally.network.home.calibrate import Calibrated
from airtally.network.home.from_survey import LATEST, exhaust_flows, newest, present
from airtally.network.home.gauges import state_of
from airtally.network.home.house_network import AirState, fires_of
from airtally.network.home.house_pressure import HousePressure
from airtally.network.home.pressures import WorstState, state_words
from airtally.network.seasons import MILD_DAY
from airtally.network.spread import default, total
from airtally.visits.parts import Reading, Visit

STILL = "every fan off"
COURSE_POINTS = 41
AFTER_BURN = 2.5
"""Times the fire's own time of dying for which its course is drawn. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherDraft:
    """The weakest stage of the worst state in another weather. ``outdoor_temperature`` absolute [K]."""

    weather: str
    outdoor_temperature: Estimate
    stage: StageDraft


@dataclass(frozen=True, slots=True, kw_only=True)
class HearthDraft:
    """The draft of one fire or burner.

    Attributes
    ----------
    hearth : Hearth
    answer : DraftAnswer
        By state and stage in the weather that was read or of a season, and the single changes.
    weathers : tuple of WeatherDraft
        The worst state's weakest stage on a mild and a cold day.
    course : DraftCourse
        Along a burn in the worst state.
    """

    hearth: Hearth
    answer: DraftAnswer
    weathers: tuple[WeatherDraft, ...]
    course: DraftCourse


def hearth_drafts(
    house: House,
    visits: tuple[Visit, ...],
    calibrated: Calibrated | None,
    worst: tuple[WorstState, ...] = (),
    *,
    tested: frozenset[str] = frozenset(),
    time: float = LATEST,
) -> tuple[tuple[HearthDraft, ...], tuple[Problem, ...]]:
    """Return the draft of every natural-draft fire of a house, and what was missing or disagrees.

    Parameters
    ----------
    house, visits
        As read.
    calibrated : Calibrated or None
        The house's network; without it every fan is taken as off.
    worst : tuple of WorstState
        Worst states of the rooms in which something burns.
    tested : frozenset of str
        Ids of fires and appliances that were tested burning; of the others it is said that they were not.
    time : float, optional
        When. [s, POSIX UTC]
    """
    found: list[HearthDraft] = []
    problems: list[Problem] = []
    surveyed = present(house.flues, time)
    served: set[str] = set()
    for hearth in hearths(house, time):
        own = _flue_of(house, hearth, surveyed)
        flue, missing = _flue(hearth, own, visits, time)
        problems += missing
        if own is not None:
            served.add(own.id)
        if flue is None:
            continue
        is_tested = bool({hearth.name, hearth.appliance} & tested)
        one = _Asked(house=house, visits=visits, calibrated=calibrated, hearth=hearth, flue=flue, own=own, time=time)
        draft, more = _draft(one, worst, is_tested=is_tested)
        found.append(draft)
        problems += more
    problems += [_unused(one) for one in surveyed if one.id not in served]
    return tuple(found), tuple(problems)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """One hearth with all that its draft follows from."""

    house: House
    visits: tuple[Visit, ...]
    calibrated: Calibrated | None
    hearth: Hearth
    flue: Flue
    own: SurveyedFlue | None
    time: float

    @property
    def network(self) -> Calibrated | None:
        """Return the house's network, None where it has none or the hearth stands outside its rooms."""
        if self.calibrated is None:
            return None
        rooms = {zone.id for zone in self.calibrated.network.layout.inside}
        return self.calibrated if self.hearth.zone in rooms else None

    def around(self, outdoor_temperature: Estimate | None = None) -> tuple[Surroundings, tuple[Problem, ...]]:
        """Return what the flue stands in, in the weather that was read or in another. [K]"""
        return flue_surroundings(
            self.house, self.visits, self.hearth.zone, self.time, outdoor_temperature=outdoor_temperature,
            hearth_height=self.own.hearth_height if self.own is not None else None,
        )  # fmt: skip

    def case(self, calibrated: Calibrated, name: str, state: AirState) -> tuple[HousePressure, PressureOf]:
        """Return a state of the house at this hearth, its own fire still out, and its law."""
        running, _ = exhaust_flows(self.house, self.visits, self.time)
        return hearth_case(
            calibrated, self.hearth.zone, name, state, running, fire=self.hearth.name,
            most=1.5 * self.flue.burning_flow.high,
        )  # fmt: skip


def _flue_of(house: House, hearth: Hearth, surveyed: tuple[SurveyedFlue, ...]) -> SurveyedFlue | None:
    """Return the flue of a hearth: its own entry, else that of the appliance it shares a flue with."""
    shares = next((one.shares_flue_with for one in house.appliances if one.id == hearth.appliance), None)
    for name in (hearth.appliance, hearth.name, shares):
        for one in surveyed:
            if name and one.serves == name:
                return one
    return None


def _flue(
    hearth: Hearth, own: SurveyedFlue | None, visits: tuple[Visit, ...], time: float
) -> tuple[Flue | None, tuple[Problem, ...]]:
    """Return the flue that a draft is computed with, None without an entry in the survey."""
    burning_flow, problems = _burning_flow(hearth, own)
    if own is None:
        flue, more = surveyed_flue(name=hearth.name, firing=hearth.firing, height=None, width=None)
        return flue, problems + more
    height = total((own.height, own.rise), unit="m", source=f"{own.height.source}; rise: {own.rise.source}")
    flue, more = surveyed_flue(
        name=hearth.name, firing=hearth.firing, height=height, width=own.width, depth=own.depth, wall=own.wall,
        place=own.place, burning_flow=burning_flow,
    )  # fmt: skip
    if flue is None:
        raise AssertionError("a surveyed flue has its sizes")
    if own.bends is not None:
        flue = replace(flue, loss_coefficient=counted_losses(hearth.firing, own.bends))
    if own.burn_time is not None:
        flue = replace(flue, burn_time=own.burn_time)
    gas = newest(visits, "flue_temperature", time=time, place=hearth.appliance)
    if gas is not None and gas.estimate is not None and hearth.firing is Firing.CLOSED_STOVE:
        flue = replace(flue, burning_temperature=gas.estimate)
    return replace(flue, wanted_draft=own.wanted_draft), problems + more


def _burning_flow(hearth: Hearth, own: SurveyedFlue | None) -> tuple[Estimate | None, tuple[Problem, ...]]:
    """Return the air that a fire draws, as surveyed, else by its opening; and a Problem where the two disagree. [m3/s]"""
    surveyed = hearth.burning_flow
    if own is None or own.opening is None:
        return surveyed, ()
    by_opening = opening_flow(own.opening)
    if surveyed is None or surveyed.basis is Basis.DEFAULT:
        return by_opening, ()
    if surveyed.low <= by_opening.high and by_opening.low <= surveyed.high:
        return surveyed, ()
    return surveyed, (
        Problem(
            code="network-fire-flow-disagrees",
            where=f"survey.toml, flue[{own.id}].opening against exhaust {hearth.name}",
            found=f"{surveyed.value * 3600:.0f} m3/h surveyed, {by_opening.value * 3600:.0f} m3/h by the opening: "
            f"{abs(by_opening.value / surveyed.value - 1.0):.0%} apart",
            wanted="a flow that the opening can draw",
            remedy="The exhaust's flow is used; check it and the opening's two measures.",
            severity=Severity.NOTE,
        ),
    )


def _draft(asked: _Asked, worst: tuple[WorstState, ...], *, is_tested: bool) -> tuple[HearthDraft, tuple[Problem, ...]]:
    around, problems = asked.around()
    cases = _cases(asked, worst)
    laws = {case.state: law for case, law in cases}
    states = tuple(case for case, _ in cases)
    answer = draft_answer(
        asked.flue,
        around,
        states,
        pressure_of=laws or None,
        is_burn_logged=is_tested,
        supply_flow=_supply_tried(asked.house),
    )
    deepest = next((case for case in states if case.state == answer.worst.state), None)
    draft = HearthDraft(
        hearth=asked.hearth,
        answer=answer,
        weathers=_weathers(asked, answer, deepest, laws, is_tested=is_tested),
        course=draft_course(asked.flue, around, answer.worst, _course_times(asked.flue)),
    )
    return draft, problems + _conflicts(asked)


def _cases(asked: _Asked, worst: tuple[WorstState, ...]) -> list[tuple[HousePressure, PressureOf]]:
    """Return the states of the house that a hearth is asked in: at rest, its room's worst states, doors open and all fans."""
    calibrated = asked.network
    if calibrated is None:
        return []
    layout = calibrated.network.layout
    fires = fires_of(layout)
    fans = frozenset(one.id for one in layout.exhausts) - fires
    states = {f"{STILL}, doors open": AirState()}
    if fans:
        states["every exhaust fan, doors open"] = AirState(exhausts=fans)
    for one in worst:
        if one.zone == asked.hearth.zone:
            lit = one.state.exhausts & fires - {asked.hearth.name}
            state = replace(one.state, exhausts=(one.state.exhausts - fires) | lit)
            states.setdefault(state_words(state, one.zone, fires), state)
    return [asked.case(calibrated, name, state) for name, state in states.items()]


def _supply_tried(house: House) -> Estimate:
    """Return the supply air that is tried: that of the survey's own measure, else a usual one. [m3/s]"""
    for measure in house.measures:
        flow = dict(measure.settings).get("flow")
        if measure.kind == "supply ventilation" and isinstance(flow, float):
            return default(flow, flow, flow, "m3/s", f"{measure.name}, tried")
    return SUPPLY_TRIED


def _weathers(
    asked: _Asked, answer: DraftAnswer, deepest: HousePressure | None, laws: dict[str, PressureOf], *, is_tested: bool
) -> tuple[WeatherDraft, ...]:
    """Return the worst state's weakest stage on a mild day and on the place's cold day, each with its own stack."""
    stage = answer.worst.weakest.stage
    climate = asked.house.climate
    days = [("on a mild day", MILD_DAY)]
    if climate is not None and climate.design_temperature is not None:
        days.append(("on the place's cold day", climate.design_temperature))
    found = []
    for words, outside in days:
        around, _ = asked.around(outside)
        state = _at_rest() if deepest is None else deepest
        draft = draft_in_state(asked.flue, around, state, pressure_of=laws or None, is_burn_logged=is_tested)
        found.append(WeatherDraft(weather=words, outdoor_temperature=outside, stage=draft.at(stage)))
    return tuple(found)


def _at_rest() -> HousePressure:
    return HousePressure(
        state=STILL, pressure=default(0.0, 0.0, 0.0, "Pa", "nothing runs"), flows=(), method="baseline"
    )


def _course_times(flue: Flue) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.linspace(0.0, flue.burn_time.value + AFTER_BURN * flue.dying_time.value, COURSE_POINTS)


def _conflicts(asked: _Asked) -> tuple[Problem, ...]:
    """Return where drafts that were read and the estimate in the same state and weather do not meet."""
    since = asked.own.since if asked.own is not None else float("-inf")
    return tuple(
        problem
        for visit in asked.visits
        for reading in visit.find("draft", asked.hearth.appliance)
        if reading.estimate is not None and since <= reading.time <= asked.time
        for problem in draft_conflict(
            _as_read(asked, reading), reading, is_burner=asked.hearth.firing is Firing.DRAFT_HOOD
        )
    )


def _as_read(asked: _Asked, reading: Reading) -> FlueDraft:
    """Return the draft in the state of the house and the weather in which one was read."""
    around, _ = asked.around(reading.state.outdoor_temperature)
    calibrated = asked.network
    if calibrated is None:
        return draft_in_state(asked.flue, around, _at_rest())
    read = state_of(calibrated.network, reading.state)
    # weather and stack are in what the flue stands in: the law is a change from the house at rest
    state = AirState(handler=read.handler, shut=read.shut, exhausts=read.exhausts)
    case, law = asked.case(calibrated, "as read", state)
    return draft_in_state(asked.flue, around, case, pressure_of=law)


def _unused(flue: SurveyedFlue) -> Problem:
    return Problem(
        code="network-flue-unused",
        where=f"survey.toml, flue[{flue.id}]",
        found=f"nothing that draws by warmth is left below it: {flue.serves}",
        wanted="an appliance or open fire that is still there",
        remedy="Date its end (until), or correct what it serves.",
        severity=Severity.NOTE,
    )
