"""Proposals: each measure with its place in the order, what it was checked against, and what it waits for."""

from __future__ import annotations

from dataclasses import dataclass, replace

from airtally.errors import Problem, Severity
from airtally.estimates import Estimate
from airtally.house.measure_kinds import measures_of
from airtally.house.parts import House, PricedMeasure
from airtally.limits import limits_on
from airtally.network.answers import PressureAnswers
from airtally.network.home.budget import SpeedBudget
from airtally.network.home.outlooks import RoomOutlook, ZoneOutlook
from airtally.proposals.measures import RETEST_AFTER_PRESSURE_WORK, Measure, measure_of
from airtally.proposals.waits import Wait, deepens_suction, waits_of, zone_comparison
from airtally.safety.compare import compare_all, verdict_of
from airtally.safety.parts import LimitComparison, SafetyVerdict
from airtally.safety.rooms import DOOR
from airtally.visits.parts import Visit

WITHIN, OVER, NOT_TESTED, CANNOT_TELL = "within limit", "over limit", "not tested", "cannot tell"
BY_PLATE = {"within": WITHIN, "above": OVER, "below": OVER, "cannot": CANNOT_TELL, "plate": NOT_TESTED}
"""First word of how a figure stands to a plate or a band, as an outcome."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One computed figure of a measure. ``outcome`` is how it stands to its limit; ``sentence`` what it is held against.

    A computed suction is at best ``not tested``: only a reading says that it is within a limit.
    """

    name: str
    number: Estimate
    outcome: str
    sentence: str = ""
    limit: LimitComparison | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A measure in its place. ``step`` counts from 1 in the order of doing; it is offered only where ``waits`` is empty."""

    measure: Measure
    step: int
    checks: tuple[Check, ...]
    waits: tuple[Wait, ...]


def propose(
    house: House, visits: tuple[Visit, ...], verdict: SafetyVerdict, answers: PressureAnswers
) -> tuple[tuple[Proposal, ...], tuple[Problem, ...]]:
    """Return every measure of the survey, or the usual ones, in the order of doing, and the lines that are no measure.

    No measure is left out because safety stands in its way: it is shown with what it waits for.
    """
    found: list[Proposal] = []
    problems: list[Problem] = []
    for priced in measures_of(house):
        measure = measure_of(house, priced)
        if isinstance(measure, str):
            problems.append(no_measure(priced, measure))
            continue
        if any(one.plan == priced.id and deepens_suction(one) for one in answers.zones):
            again = dict.fromkeys((*measure.must_retest, *RETEST_AFTER_PRESSURE_WORK))
            measure = replace(measure, must_retest=tuple(again))
        found.append(
            Proposal(
                measure=measure,
                step=len(found) + 1,
                checks=_checks(house, measure, answers),
                waits=waits_of(measure, house, visits, verdict, answers),
            )
        )
    return tuple(found), tuple(problems)


def no_measure(priced: PricedMeasure, found: str) -> Problem:
    """Return the note about a line of the survey that is no measure, or that cannot be replayed."""
    return Problem(
        code="measure-not-replayed",
        where=f"survey.toml, measure '{priced.id}'",
        found=found,
        wanted="a measure that changes this house",
        remedy="Change its kind, or keep it as a line without forecast.",
        severity=Severity.NOTE,
    )


def _checks(house: House, measure: Measure, answers: PressureAnswers) -> tuple[Check, ...]:
    """Return statics, airflow and heat rise at each speed, then house, rooms and appliance zones, all with the measure."""
    mine = measure.priced.id
    found: list[Check] = []
    for row in answers.budgets:
        found += _blower_checks(row) if row.plan == mine else []
    for rooms in answers.room_outlooks:
        found += _room_checks(rooms) if rooms.plan == mine else []
    for zone in answers.zones:
        found += _zone_checks(house, zone) if zone.plan == mine else []
    return tuple(found)


def _blower_checks(row: SpeedBudget) -> list[Check]:
    speed = row.mode.value
    over = NOT_TESTED
    if row.over_rated is not None:
        over = OVER if row.over_rated.low > 0.0 else (WITHIN if row.over_rated.high <= 0.0 else CANNOT_TELL)
    found = [
        Check(
            name=f"total external static, {speed}",
            number=row.static,
            outcome=over,
            sentence="against the plate of the machine" if row.over_rated is not None else "the plate was not read",
        ),
        Check(name=f"airflow, {speed}", number=row.flow, outcome=NOT_TESTED, sentence="to be measured after the work"),
    ]
    for name, number, said in (
        ("heat rise", row.heat_rise, row.rise_against_plate),
        ("airflow over cooling capacity", row.flow_per_capacity, row.flow_against_band),
    ):
        if number is not None:
            found.append(
                Check(name=f"{name}, {speed}", number=number, outcome=BY_PLATE[said.split()[0]], sentence=said)
            )
    return found


def _room_checks(rooms: RoomOutlook) -> list[Check]:
    """Return the house's lean and the shut room that lies furthest from the main body."""
    found = [
        Check(
            name="house against outdoors, air handler on, doors open",
            number=rooms.house,
            outcome=NOT_TESTED,
            sentence="below zero supply leaks dominate, above zero return leaks",
        )
    ]
    if rooms.rooms:
        room, pressure = max(rooms.rooms, key=lambda one: abs(one[1].value))
        held = compare_all(_size(pressure), limits_on(DOOR), DOOR)
        crossed = verdict_of(held)
        found.append(
            Check(
                name=f"{room} against the main body, its door shut",
                number=pressure,
                outcome=OVER if crossed else (CANNOT_TELL if crossed is None else NOT_TESTED),
                limit=next((one for one in held if one.governs), None),
            )
        )
    return found


def _size(pressure: Estimate) -> Estimate:
    """Return a pressure without its sign, the interval folded at zero."""
    low, high = sorted((abs(pressure.low), abs(pressure.high)))
    least = 0.0 if pressure.low < 0.0 < pressure.high else low
    return Estimate(
        value=abs(pressure.value),
        low=least,
        high=high,
        unit=pressure.unit,
        basis=pressure.basis,
        source=pressure.source,
    )


def _zone_checks(house: House, zone: ZoneOutlook) -> list[Check]:
    held = zone_comparison(house, zone)
    if held is None:
        return []
    return [
        Check(
            name=f"worst state of {zone.zone}{', a fire lit' if zone.with_fire else ''}",
            number=zone.pressure,
            outcome={True: OVER, None: CANNOT_TELL, False: NOT_TESTED}[held.is_crossed],
            sentence=zone.state,
            limit=held,
        )
    ]
