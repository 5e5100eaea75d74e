"""What a measure waits for: blocked forms, suction beyond a limit, airflow outside the plate. Only a reading ends a wait."""

from __future__ import annotations

from dataclasses import dataclass

from airtally.estimates import Estimate
from airtally.house.burners import can_spill, is_fire
from airtally.house.measure_kinds import MeasureKind, takes_exhaust
from airtally.house.parts import Appliance, ExhaustKind, House
from airtally.house.suction_limits import FIRE_KIND, QUANTITY, pressure_limits
from airtally.limits import Limit, limits_on
from airtally.network import present
from airtally.network.answers import PressureAnswers
from airtally.network.home.outlooks import ZoneOutlook
from airtally.proposals.measures import RETEST_AFTER_PRESSURE_WORK, Measure
from airtally.safety.compare import compare_by_kind
from airtally.safety.gates import DUCT_FORMS, EVERY_FORM, EXHAUST_FORM, FAN_RULE_FORM, WORST_CASE_FORM
from airtally.safety.parts import LimitComparison, SafetyVerdict
from airtally.safety.places import appliances_now
from airtally.visits.parts import Visit

LEAST_STEP = 0.1
"""Suction below which nothing is said to deepen: what a gauge tells apart. [Pa]"""
LEAST_FALL = 0.005
"""Fall of the airflow below which nothing is said to fall. [-]"""
DUCT_WORK = frozenset(
    {MeasureKind.RETURN_SEALING, MeasureKind.BETTER_FILTER, MeasureKind.BYPASS_CLEANER, MeasureKind.IN_LINE_HEPA}
)
"""Measures whose work opens ducts or cabinet."""
RESISTS = frozenset({MeasureKind.RETURN_SEALING, MeasureKind.BETTER_FILTER, MeasureKind.IN_LINE_HEPA})
"""Measures that change what the blower meets."""
CAN_DEEPEN = RESISTS | {MeasureKind.SOURCE_CAPTURE, MeasureKind.CONTINUOUS_FAN}
"""Measures that can draw an appliance zone down further."""
AIRFLOW_FINDINGS = ("safety-heat-rise", "safety-cooling-airflow", "safety-static-rose")
"""Open findings under which nothing that may lower the airflow is offered."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """One thing that a measure waits for.

    Attributes
    ----------
    what : str
        What has to come first.
    because : str
        Why, in words without numbers.
    lifted_by : str
        The reading or answer that ends the wait.
    figures : tuple of (str, Estimate)
        Numbers behind it, in SI.
    limit : LimitComparison or None
        The published limit that governs.
    """

    what: str
    because: str
    lifted_by: str
    figures: tuple[tuple[str, Estimate], ...] = ()
    limit: LimitComparison | None = None


def waits_of(
    measure: Measure, house: House, visits: tuple[Visit, ...], verdict: SafetyVerdict, answers: PressureAnswers
) -> tuple[Wait, ...]:
    """Return everything that a measure waits for, what stops all work first; empty where nothing stands in its way.

    Parameters
    ----------
    measure : Measure
    house, visits
        As read.
    verdict : SafetyVerdict
        Its blocked forms and open findings.
    answers : PressureAnswers
        Zones and budgets with this measure; they add waits and never take one away.
    """
    zones = tuple(one for one in answers.zones if one.plan == measure.priced.id)
    return (
        *_emergencies(verdict),
        *_never_visited(visits),
        *_forms(verdict, _forms_of(measure, house, zones)),
        *_beyond_limit(house, zones),
        *_airflow(measure, verdict, answers),
        *_not_computed(measure, house, answers),
    )


def _emergencies(verdict: SafetyVerdict) -> list[Wait]:
    return [
        Wait(what="the emergency to be over", because=one.title, lifted_by=one.lifted_by)
        for one in verdict.find("safety-emergency")
        if one.is_open
    ]


def _never_visited(visits: tuple[Visit, ...]) -> list[Wait]:
    if visits:
        return []
    return [
        Wait(
            what="a first visit",
            because="The questions that stand before every form were never asked",
            lifted_by="every gate answered on a visit",
        )
    ]


def _forms_of(measure: Measure, house: House, zones: tuple[ZoneOutlook, ...]) -> tuple[str, ...]:
    """Return the forms that a measure needs: its work, the tests that must follow it, and what it does to exhaust."""
    needed = list(DUCT_FORMS) if measure.kind is MeasureKind.RETURN_SEALING else []
    if measure.kind in DUCT_WORK:
        needed.append(DUCT_FORMS[1])
    deepens = any(deepens_suction(one) for one in zones)
    moves_pressure = (
        deepens or measure.kind is MeasureKind.CONTINUOUS_FAN or RETEST_AFTER_PRESSURE_WORK[0] in measure.must_retest
    )
    if moves_pressure and _burners(house):
        needed.append(WORST_CASE_FORM)
    if measure.kind is MeasureKind.CONTINUOUS_FAN:
        needed.append(FAN_RULE_FORM)
    if takes_exhaust(measure.priced) or measure.kind is MeasureKind.RETURN_SEALING or deepens:
        needed.append(EXHAUST_FORM)
    return tuple(dict.fromkeys(needed))


def _forms(verdict: SafetyVerdict, needed: tuple[str, ...]) -> list[Wait]:
    """Return the blocked forms among those needed, one line for each reason."""
    by_reason: dict[tuple[str, str], list[str]] = {}
    for block in verdict.blocked_forms:
        if block.form in (*needed, *EVERY_FORM):
            by_reason.setdefault((block.because, block.lifted_by), []).append(block.form)
    return [
        Wait(what=f"a blocked form: {', '.join(dict.fromkeys(forms))}", because=because, lifted_by=lifted_by)
        for (because, lifted_by), forms in by_reason.items()
    ]


def deepens_suction(outlook: ZoneOutlook) -> bool:
    """Return whether a measure may draw a zone down further than it stands, by more than a gauge tells apart."""
    return outlook.added.low < -LEAST_STEP


def zone_comparison(house: House, outlook: ZoneOutlook) -> LimitComparison | None:
    """Return an appliance zone's computed suction held against the limit that governs there, None where none speaks.

    Without fires an open fireplace is shut and has no limit of its own.
    """
    appliances = appliances_now(house)
    limits: dict[str, Limit] = {}
    for appliance in appliances_now(house, outlook.zone):
        if outlook.with_fire or not is_fire(appliance):
            limits |= {one.key: one for one in pressure_limits(appliance, appliances)}
    hearths = {one.zone for one in present(house.exhausts) if one.kind is ExhaustKind.FIREPLACE}
    if outlook.with_fire and outlook.zone in hearths:
        limits |= {one.key: one for one in limits_on(QUANTITY, applies_to=FIRE_KIND)}
    held = compare_by_kind(outlook.pressure, limits.values(), f"{outlook.zone} against outdoors")
    return next((one for one in held if one.governs), None)


def _beyond_limit(house: House, zones: tuple[ZoneOutlook, ...]) -> list[Wait]:
    """Return a wait for each zone that a measure draws down further and that then does not surely stay within its limit.

    A zone that waits without a fire lit is not named again with one.
    """
    found = []
    named: set[str] = set()
    for outlook in zones:
        held = zone_comparison(house, outlook)
        if held is None or held.is_crossed is False or not deepens_suction(outlook) or outlook.zone in named:
            continue
        named.add(outlook.zone)
        lit = ", a fire lit," if outlook.with_fire else ""
        says = "lies beyond" if held.is_crossed else "may lie beyond"
        found.append(
            Wait(
                what=f"room in the worst case of {outlook.zone}{' with a fire' if outlook.with_fire else ''}",
                because=f"In its worst state{lit} {outlook.zone} {says} a published limit with this measure, and deeper than "
                "without it",
                lifted_by=_lifting(outlook),
                figures=(
                    ("with it, computed", outlook.pressure),
                    ("as found, computed", outlook.as_found),
                    ("what it adds, computed", outlook.added),
                ),
                limit=held,
            )
        )
    return found


def _lifting(outlook: ZoneOutlook) -> str:
    if outlook.with_fire:
        return (
            f"a logged fire in {outlook.zone}, light-up to die-down, exhausts in use, within the limit, after exhaust was "
            "lowered or make-up air added"
        )
    return (
        f"worst_case_pressure_change at {outlook.zone} after exhaust was lowered or make-up air added, so far within the "
        "limit that what this measure adds finds room"
    )


def _airflow(measure: Measure, verdict: SafetyVerdict, answers: PressureAnswers) -> list[Wait]:
    """Return a wait for each open airflow finding that a measure may make worse."""
    rows = [one for one in answers.budgets if one.plan == measure.priced.id]
    falls = [one for one in rows if one.flow_change.low < -LEAST_FALL]
    if not falls and (rows or measure.kind not in RESISTS):
        return []
    figures = tuple((f"change of the airflow, {one.mode.value}, computed", one.flow_change) for one in falls)
    return [
        Wait(
            what="airflow within the plate",
            because=f"{one.title}, and with this measure alone the airflow may fall further",
            lifted_by=one.lifted_by,
            figures=figures,
        )
        for code in AIRFLOW_FINDINGS
        for one in verdict.find(code)
        if one.is_open
    ]


def _not_computed(measure: Measure, house: House, answers: PressureAnswers) -> list[Wait]:
    zones = sorted({one.zone for one in _burners(house)})
    if answers.calibrated is not None or measure.kind not in CAN_DEEPEN or not zones:
        return []
    return [
        Wait(
            what="the house leakage",
            because="What it does to the pressure where something burns cannot be computed: nobody measured or estimated the "
            "house leakage",
            lifted_by=f"cfm50, and worst_case_pressure_change at {', '.join(zones)}",
        )
    ]


def _burners(house: House) -> list[Appliance]:
    return [one for one in appliances_now(house) if can_spill(one) or is_fire(one)]
