"""The safety verdict of a job: from survey, visits and log; never from a fit and never from particles."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from airtally.errors import AirtallyError
from airtally.house.burners import can_spill, is_fire
from airtally.house.parts import House
from airtally.network import HousePressure, worst_cases
from airtally.quantities import Quantity
from airtally.readings.log import Log
from airtally.safety.appliances import appliance_findings
from airtally.safety.carbon_monoxide import carbon_monoxide_findings
from airtally.safety.cautions import cautions_for
from airtally.safety.diary import diary_findings
from airtally.safety.gates import EXHAUST_FORM, FAN_RULE_FORM, blocked_forms, gate_answers, gate_findings
from airtally.safety.handler import handler_findings
from airtally.safety.leakage import leakage_findings
from airtally.safety.outages import outage_findings, safety_outages
from airtally.safety.parts import (
    BlockedForm,
    Grade,
    HandOver,
    SafetyFinding,
    SafetyVerdict,
    Standing,
    Topic,
)
from airtally.safety.places import appliances_now, is_outdoors
from airtally.safety.pressures import pressure_findings
from airtally.safety.recognise import check_findings, permit_findings, radon_findings, recognised_findings
from airtally.safety.remeasure import remeasure_findings
from airtally.safety.restrictions import restrictions
from airtally.safety.returns import return_findings
from airtally.safety.rooms import room_co_findings, room_findings
from airtally.safety.sequence import sequence_findings, zone_sequences
from airtally.safety.spill import spill_temperature_findings
from airtally.safety.states import is_worst_state, readings_of, stale_before
from airtally.visits.pair import NotRetested, pair_like_states
from airtally.visits.parts import Visit, VisitKind

AFTER = (VisitKind.TEST_OUT, VisitKind.RE_TEST)
SAFETY_KEYS = frozenset(
    {
        "worst_case_pressure_change",
        "burn_pressure_change",
        "zone_pressure_change",
        "zone_pressure",
        "house_pressure_fan_on_minus_off",
        "spillage_time",
        "draft",
        "co_ambient",
        "co_flue",
        "co_flue_as_measured",
        "heat_rise",
        "tesp",
        "airflow",
        "cfm25_return",
        "cfm25_outside",
    }
)
"""Readings whose missing re-test restricts the hand-over."""
FAN_RULE_WAITS_FOR = frozenset(
    {
        "safety-co-event",
        "safety-co-room",
        "safety-garage-return",
        "safety-spill-temperature",
        "safety-diary-alarm",
    }
)
"""Open findings that block a rule which starts the fan by particles."""
EXHAUST_WAITS_FOR = (
    "safety-depress",
    "safety-spill",
    "safety-fire-logged",
    "safety-not-tested-with-fire",
    "safety-draft",
    "safety-soot",
)
"""First words of the open findings that block what raises exhaust or takes relief air away."""
_GRADE_ORDER = {Grade.STOP: 0, Grade.RESTRICT: 1, Grade.REFER: 2, Grade.NOTE: 3}
_STANDING_ORDER = {Standing.OPEN: 0, Standing.UNKNOWN: 1, Standing.DONE: 2}
_CODE_ORDER = (
    "safety-emergency",
    "safety-diary-gas",
    "safety-co-event",
    "safety-co-room",
    "safety-garage-return",
    "safety-diary-alarm",
    "safety-spillage",
)


def assess(
    house: House, visits: tuple[Visit, ...], log: Log, cases: tuple[HousePressure, ...] | None = None
) -> SafetyVerdict:
    """Return what was found, what was not tested, what is blocked, and whether the job may be handed over.

    Parameters
    ----------
    house : House
        The survey; answers also without any visit or log.
    visits : tuple of Visit
        In any order; empty where none was recorded.
    log : Log
        Only CO, spill temperature, pressure and burner streams are read. Particles are never looked at.
    cases : tuple of HousePressure, optional
        Worst cases of the network where the caller has them already.

    Returns
    -------
    verdict : SafetyVerdict
        Findings with the gravest and still open ones first. A block is lifted by a reading only: what the works
        list says was done leaves a finding unknown.
    """
    answers = gate_answers(visits)
    outages = safety_outages(house, log)
    sequences = zone_sequences(house, visits)
    computed = _computed(house, visits) if cases is None else cases
    found = [
        *gate_findings(visits),
        *_lifted(house, visits, carbon_monoxide_findings(house, log) + spill_temperature_findings(house, log)),
        *diary_findings(house, visits, log),
        *room_findings(house, visits),
        *return_findings(house, visits),
        *appliance_findings(house, visits),
        *sequence_findings(house, sequences),
        *pressure_findings(house, visits, log, computed),
        *handler_findings(house, visits),
        *remeasure_findings(house, visits),
        *leakage_findings(house, visits),
        *outage_findings(house, outages),
        *recognised_findings(visits),
        *radon_findings(house, visits),
        *permit_findings(house, visits),
        *check_findings(house, visits),
        *_no_log(house, log),
    ]
    findings = tuple(sorted(found, key=_rank))
    lost = not_retested(visits, house)
    verdict, reasons = _verdict(house, visits, findings, lost)
    forms = blocked_forms(answers, visits) if visits else ()
    return SafetyVerdict(
        verdict=verdict,
        reasons=reasons,
        gates=answers,
        blocked_forms=(*forms, *_forms_blocked_by(findings)),
        findings=findings,
        restrictions=restrictions(house, findings),
        not_retested=lost,
        outages=outages,
        was_checked=_was_checked(visits, log),
        not_checked=tuple(f"{one.title}: {one.lifted_by}" for one in findings if one.standing is Standing.UNKNOWN),
        cautions=cautions_for(house),
        sequences=sequences,
    )


def _computed(house: House, visits: tuple[Visit, ...]) -> tuple[HousePressure, ...]:
    """Return the computed worst cases; none where the network refuses, for a calculation never decides here."""
    try:
        return worst_cases(house, visits)[0]
    except AirtallyError:
        return ()


def not_retested(visits: tuple[Visit, ...], house: House | None = None) -> tuple[NotRetested, ...]:
    """Return the readings of the first test-in that no later test-out or re-test repeated in a like state.

    Parameters
    ----------
    visits : tuple of Visit
        In any order.
    house : House, optional
        With it, a repetition from before the last works that move the reading does not count, and readings at
        appliances that were taken out are left out.
    """
    first = min((one for one in visits if one.kind is VisitKind.TEST_IN), key=lambda one: one.time, default=None)
    later = [one for one in visits if one.kind in AFTER and first is not None and one.time > first.time]
    if first is None or not later:
        return ()
    newest_first = sorted(later, key=lambda one: one.time, reverse=True)
    together = replace(newest_first[0], readings=tuple(r for one in newest_first for r in one.readings))
    lost = pair_like_states(first, together).not_retested
    if house is None:
        return lost
    gone = {one.id for one in house.appliances} - {one.id for one in appliances_now(house)}
    fresh = tuple(r for r in together.readings if r.place == "outdoors" or r.time >= stale_before(house, r.key))
    stale = {id(one.before) for one in lost}
    return tuple(
        one if id(one.before) in stale else replace(one, why="not since works that move it")
        for one in pair_like_states(first, replace(together, readings=fresh)).not_retested
        if one.place not in gone
    )


def _verdict(
    house: House, visits: tuple[Visit, ...], findings: tuple[SafetyFinding, ...], lost: tuple[NotRetested, ...]
) -> tuple[HandOver, tuple[str, ...]]:
    """Return the verdict and its reasons, the gravest first."""
    stops = [one for one in findings if one.grade is Grade.STOP and one.is_open]
    if stops:
        return HandOver.DO_NOT, tuple(_reason(one) for one in stops)
    tested = any(one.kind in AFTER and any(reading.estimate is not None for reading in one.readings) for one in visits)
    limits = [one for one in findings if one.grade in (Grade.RESTRICT, Grade.REFER) and one.is_open]
    untested = [one for one in lost if one.key in SAFETY_KEYS]
    if not tested:
        works = any(change.begins_phase for change in house.changes)
        if works and visits:
            return HandOver.DO_NOT, ("Work was done and no test-out is recorded.",)
        said = "No visit is recorded: gates, CO and combustion were not checked."
        if visits:
            said = "No test-out is recorded."
        if any(one.kind in AFTER for one in visits):
            said = "The test-out holds no reading."
        return HandOver.NOT_ASSESSED, (said, *(_reason(one) for one in limits))
    if limits or untested:
        again = tuple(f"{one.key} at {one.place} not re-tested: {one.why}." for one in untested)
        return HandOver.WITH_RESTRICTIONS, (*(_reason(one) for one in limits), *again)
    return HandOver.HAND_OVER, (
        "Nothing that was tested lies beyond the limits named, and nothing measured at test-in was left out. This "
        "speaks for the days and conditions of the tests only.",
    )


def _reason(finding: SafetyFinding) -> str:
    standing = "not tested" if finding.standing is Standing.UNKNOWN else "open"
    return f"{finding.title} ({standing}). Lifted by: {finding.lifted_by or 'a later reading'}."


def _rank(finding: SafetyFinding) -> tuple[object, ...]:
    order = _CODE_ORDER.index(finding.code) if finding.code in _CODE_ORDER else len(_CODE_ORDER)
    done = finding.standing is Standing.DONE
    peak = max((figure.value for _, figure in finding.figures if figure.unit == "mol/mol"), default=0.0)
    return done, _GRADE_ORDER[finding.grade], order, _STANDING_ORDER[finding.standing], -peak, finding.id


def _lifted(house: House, visits: tuple[Visit, ...], findings: tuple[SafetyFinding, ...]) -> tuple[SafetyFinding, ...]:
    """Return logged CO and spill events with those done that later readings cleared.

    An event is done when, after the last event in its zone, a visit read CO there in the worst state below every
    action level and every appliance there that can spill was tested and no longer does.
    """
    tests = appliance_findings(house, visits)
    spilling = {one.place for one in tests if one.code.startswith("safety-spillage") and one.is_open}
    gas = {one.place for one in room_co_findings(visits) if one.is_open}
    lifted = []
    for finding in findings:
        if finding.code == "safety-co-rises":
            lifted.append(_small_rises_lifted(finding, visits, gas))
            continue
        last = max(one.end or 0.0 for one in findings if one.place == finding.place)
        clearing = [
            visit
            for visit, reading in readings_of(visits, "co_ambient", finding.place)
            if reading.time > last and is_worst_state(reading.state, house)
        ]
        there = [one.id for one in appliances_now(house, finding.place) if can_spill(one)]
        tested = all(
            any(r.time > last and is_worst_state(r.state, house) for _, r in readings_of(visits, "spillage_time", name))
            for name in there
        )
        if clearing and tested and finding.place not in gas and not spilling & set(there):
            lifted.append(replace(finding, standing=Standing.DONE, done_on=clearing[-1].time, done_by=clearing[-1].by))
            continue
        changed = any(last < one.until < float("inf") for one in house.appliances)
        said = ("an appliance was changed since; no reading shows what that did",) if changed else ()
        lifted.append(replace(finding, evidence=(*finding.evidence, *said)))
    return tuple(lifted)


def _small_rises_lifted(finding: SafetyFinding, visits: tuple[Visit, ...], gas: set[str]) -> SafetyFinding:
    """Return small rises as done where a later visit read the zone and outdoors and found nothing between them."""
    for visit, reading in reversed(readings_of(visits, "co_ambient", finding.place)):
        outdoors = readings_of((visit,), "co_ambient", "outdoors")
        if reading.time > (finding.end or 0.0) and outdoors and finding.place not in gas:
            return replace(finding, standing=Standing.DONE, done_on=visit.time, done_by=visit.by)
    return finding


def _forms_blocked_by(findings: tuple[SafetyFinding, ...]) -> tuple[BlockedForm, ...]:
    """Return the forms that open findings block: the fan rule, and options that raise exhaust."""
    blocked = []
    gas = [one for one in findings if one.is_open and one.code in FAN_RULE_WAITS_FOR]
    if gas:
        blocked.append(
            BlockedForm(
                form=FAN_RULE_FORM,
                because=_joined(one.title for one in gas),
                do="Set no rule that starts the fan by particles while CO is open.",
                lifted_by=_joined(one.lifted_by for one in gas),
            )
        )
    pressure = [
        one
        for one in findings
        if one.is_open
        and one.topic is Topic.COMBUSTION
        and one.code.startswith(EXHAUST_WAITS_FOR)
        and one.grade is not Grade.NOTE
    ]
    if pressure:
        blocked.append(
            BlockedForm(
                form=EXHAUST_FORM,
                because=_joined(one.title for one in pressure),
                do="Test combustion first.",
                lifted_by=_joined(one.lifted_by for one in pressure),
            )
        )
    return tuple(blocked)


def _joined(texts: Iterable[str]) -> str:
    return "; ".join(dict.fromkeys(text for text in texts if text))


def _no_log(house: House, log: Log) -> tuple[SafetyFinding, ...]:
    burning = [one for one in appliances_now(house) if can_spill(one) or is_fire(one)]
    indoors = [one for one in log.find(Quantity.CO) if not is_outdoors(house, one.placement)]
    if not burning or indoors:
        return ()
    return (
        SafetyFinding(
            id="safety-no-co-log:house",
            code="safety-no-co-log",
            title="No low-level CO log",
            sentence="There are combustion appliances, and CO was not logged. An alarm is no CO measurement.",
            grade=Grade.RESTRICT,
            standing=Standing.UNKNOWN,
            place="house",
            action="Log CO at 1 ppm beside the appliances through the weather that brings fires.",
            lifted_by="a CO log beside the appliances",
            topic=Topic.CARBON_MONOXIDE,
        ),
    )


def _was_checked(visits: tuple[Visit, ...], log: Log) -> tuple[str, ...]:
    """Return in words what was looked at: logged hours of CO and spill, and readings by visit."""
    said = []
    for quantity in (Quantity.CO, Quantity.SPILL_TEMPERATURE, Quantity.PRESSURE_DIFFERENCE):
        for stream in log.find(quantity):
            time, _ = log.series(stream)
            if time.size:
                said.append(f"{stream.name}: {time.size} readings over {(time[-1] - time[0]) / 86400.0:.0f} days")
    for visit in sorted(visits, key=lambda one: one.time):
        count = sum(reading.estimate is not None for reading in visit.readings)
        said.append(f"visit {visit.id} ({visit.kind.value}): {count} readings")
    return tuple(said)
