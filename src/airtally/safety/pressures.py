"""Depressurisation of appliance zones and hearths against every programme's limit; the stricter governs, all show."""

from __future__ import annotations

from airtally.house.burners import can_spill, is_fire
from airtally.house.parts import Appliance, ExhaustKind, House
from airtally.house.suction_limits import FIRE_KIND, QUANTITY, pressure_limits
from airtally.limits import Limit, limits_on
from airtally.network import HousePressure, present
from airtally.readings.log import Log
from airtally.safety.burns import Burn, burns_of
from airtally.safety.compare import Judged, compare_by_kind, editions_in_words, judge, newest_doubt
from airtally.safety.parts import Grade, LimitComparison, SafetyFinding, Standing, Topic
from airtally.safety.places import appliances_now, named, zone_of
from airtally.safety.states import in_order, is_worst_state, last_change
from airtally.visits.parts import Reading, Visit

MEASURED_KEYS = ("worst_case_pressure_change", "zone_pressure_change")


def pressure_findings(
    house: House, visits: tuple[Visit, ...], log: Log, cases: tuple[HousePressure, ...]
) -> tuple[SafetyFinding, ...]:
    """Return depressurisation by measurement, by calculation and in the log, and what was not tested with a fire."""
    appliances = appliances_now(house)
    works = last_change(house)
    found: list[SafetyFinding] = []
    for appliance in appliances:
        limits = pressure_limits(appliance, appliances)
        if not limits:
            continue
        history = _readings_of_zone(visits, appliance.zone)
        hard = [pair for pair in _worst_states(house, visits, appliance.zone) if pair[1].time >= works]
        found += _measured(house, appliance, history, limits)
        if can_spill(appliance) and not hard:
            found.append(_not_tested(appliance, cases, limits, history, works))
    found += fire_findings(house, visits, cases, log, appliances)
    return tuple(found)


def fire_findings(
    house: House,
    visits: tuple[Visit, ...],
    cases: tuple[HousePressure, ...],
    log: Log,
    appliances: tuple[Appliance, ...],
) -> tuple[SafetyFinding, ...]:
    """Return what is known about burning a fire: pressures logged with a fire lit, or that nobody tested it."""
    hearths = [one for one in appliances if is_fire(one)]
    opens = [one for one in present(house.exhausts) if one.kind is ExhaustKind.FIREPLACE]
    if not hearths and not opens:
        return ()
    place = hearths[0].zone if hearths else opens[0].zone
    limits = {one.key: one for one in limits_on(QUANTITY, applies_to=FIRE_KIND)}
    for appliance in appliances:
        limits |= {one.key: one for one in pressure_limits(appliance, appliances) if can_spill(appliance)}
    burns = burns_of(house, visits, log)
    if not burns:
        return (_not_tested_with_fire(place, cases, tuple(limits.values())),)
    deepest = min(burns, key=lambda burn: burn.change.value)
    held = compare_by_kind(
        deepest.change, limits.values(), f"deepest 10 minutes with a fire lit, {deepest.change.source}"
    )
    crossed = any(one.governs and one.is_crossed for one in held)
    return (
        SafetyFinding(
            id=f"safety-fire-logged:{deepest.placement}",
            code="safety-fire-logged",
            title="Pressure with a fire lit",
            sentence=_burn_words(house, deepest) + f"; fires logged: {len(burns)}." + editions_in_words(held),
            figures=(
                ("change", deepest.change),
                *((("read", deepest.as_read),) if deepest.as_read is not None else ()),
            ),
            grade=Grade.STOP if crossed and any(can_spill(one) for one in appliances) else Grade.RESTRICT,
            standing=Standing.OPEN,
            place=place,
            start=deepest.start,
            limits=held,
            evidence=tuple(case.state for case in cases if case.has_fire_lit)[:2],
            action="Run no large exhaust with a fire lit. A chimney professional and a test with the exhausts on; the "
            "standard worst-case test shuts the fireplace and does not see this.",
            lifted_by="a logged fire, light-up to die-down, exhausts in use, within the limits and CO flat",
            topic=Topic.COMBUSTION,
        ),
    )


def _burn_words(house: House, burn: Burn) -> str:
    place = zone_of(house, burn.placement)
    if burn.as_read is None:
        return f"Through a whole fire {place} was logged on a visit: {{change}} at its deepest, baseline subtracted, on {{start}}"
    return (
        f"With a fire in the diary the log at {place} went to {{change}} from the day's median ({{read}} as read, stack "
        "and wind included) at {start}"
    )


def _readings_of_zone(visits: tuple[Visit, ...], zone: str) -> list[tuple[Visit, Reading]]:
    """Return what visits read of a zone (or the house) against outdoors, oldest first, the deepest of one time last."""
    found = [
        (reading.time, -reading.estimate.value, visit, reading)
        for visit in in_order(visits)
        for key in MEASURED_KEYS
        for reading in visit.find(key)
        if reading.estimate is not None and reading.place in (zone, "house") and reading.reference == "outdoors"
    ]
    return [(visit, reading) for _, _, visit, reading in sorted(found, key=lambda one: one[:2])]


def _worst_states(house: House, visits: tuple[Visit, ...], zone: str) -> list[tuple[Visit, Reading]]:
    """Return the readings of a zone itself against outdoors in its worst state, oldest first."""
    return [
        (visit, reading)
        for visit in in_order(visits)
        for reading in visit.readings
        if reading.place == zone and reading.reference == "outdoors" and _is_worst(reading, house)
    ]


def _is_worst(reading: Reading, house: House) -> bool:
    is_worst = reading.key == "worst_case_pressure_change" or (
        reading.key == "zone_pressure_change" and is_worst_state(reading.state, house)
    )
    return is_worst and reading.estimate is not None


def _measured(
    house: House, appliance: Appliance, history: list[tuple[Visit, Reading]], limits: tuple[Limit, ...]
) -> tuple[SafetyFinding, ...]:
    """Return the newest reading beyond its limit or too close to it; a later worst case within it makes it done.

    A reading in an easier state raises a finding and never lifts one. Works after the lifting reading are another
    finding: the worst case was not measured since.
    """
    judged = judge(history, lambda reading, value: compare_by_kind(value, limits, f"{reading.key} at {reading.place}"))
    doubt, lifting = newest_doubt(
        judged, lambda later, _: later.reading.place == appliance.zone and _is_worst(later.reading, house)
    )
    return () if doubt is None else (_depressurised(appliance, doubt, lifting),)


def _depressurised(appliance: Appliance, doubt: Judged, lifting: Judged | None) -> SafetyFinding:
    reading = doubt.reading
    title = "goes below a published limit" if doubt.crossed else "lies too close to a published limit to call"
    return SafetyFinding(
        id=f"safety-depressurisation:{appliance.id}",
        code="safety-depressurisation",
        title=f"{reading.place} {title}: {named(appliance)}",
        sentence=f"{reading.place} was measured at {{change}} against outdoors, baseline subtracted, on {{start}}."
        + editions_in_words(doubt.limits),
        figures=(("change", doubt.value),),
        grade=Grade.STOP if doubt.crossed and not is_fire(appliance) else Grade.RESTRICT,
        standing=Standing.DONE if lifting is not None else Standing.OPEN,
        place=appliance.zone,
        start=reading.time,
        limits=doubt.limits,
        evidence=(f"as written: {reading.as_written}",) if reading.as_written else (),
        action="Lower the exhaust, add supply or make-up air, or change the appliance; then measure again. A "
        "qualified person decides whether the appliance may be used.",
        lifted_by=f"worst_case_pressure_change at {appliance.zone} within the governing limit, and spillage time",
        done_on=lifting.visit.time if lifting is not None else None,
        done_by=lifting.visit.by if lifting is not None else "",
        topic=Topic.COMBUSTION,
    )


def _not_tested(
    appliance: Appliance,
    cases: tuple[HousePressure, ...],
    limits: tuple[Limit, ...],
    history: list[tuple[Visit, Reading]],
    works: float,
) -> SafetyFinding:
    computed = next((one for one in cases if one.method != "measured" and not one.has_fire_lit), None)
    stale = [reading for _, reading in history if reading.key == "worst_case_pressure_change" and reading.time < works]
    said = "Nobody measured its worst case."
    if stale:
        said = "Its worst case was not measured since works that change pressures ended."
    elif history:
        said = "It was read in an easier state only, which clears nothing."
    held: tuple[LimitComparison, ...] = ()
    if computed is not None:
        held = compare_by_kind(computed.pressure, limits, f"computed, {computed.state}")
        said += f" Computed for {computed.state}: {{change}}; a calculation lifts nothing." + editions_in_words(held)
    return SafetyFinding(
        id=f"safety-depressurisation-not-tested:{appliance.id}",
        code="safety-depressurisation-not-tested",
        title=f"Worst case not measured in {appliance.zone}: {named(appliance)}",
        sentence=f"{appliance.zone} holds a {named(appliance)}. " + said,
        figures=(("change", computed.pressure),) if computed is not None else (),
        grade=Grade.RESTRICT,
        standing=Standing.UNKNOWN,
        place=appliance.zone,
        limits=held,
        action="Measure the worst case with the exhausts on and watch for spillage.",
        lifted_by=f"worst_case_pressure_change at {appliance.zone}"
        + (", after the last change" if works > float("-inf") else ""),
        topic=Topic.COMBUSTION,
    )


def _not_tested_with_fire(place: str, cases: tuple[HousePressure, ...], limits: tuple[Limit, ...]) -> SafetyFinding:
    computed = next((one for one in cases if one.has_fire_lit and len(one.flows) > 1), None)
    held = compare_by_kind(computed.pressure, limits, f"computed, {computed.state}") if computed is not None else ()
    said = f" Computed for {computed.state}: {{change}}, as an estimate." if computed is not None else ""
    return SafetyFinding(
        id=f"safety-not-tested-with-fire:{place}",
        code="safety-not-tested-with-fire",
        title="Not tested with a fire",
        sentence=f"There is a hearth in {place}. The standard worst-case test shuts it, and no burn was logged."
        + said
        + editions_in_words(held),
        figures=(("change", computed.pressure),) if computed is not None else (),
        grade=Grade.RESTRICT,
        standing=Standing.UNKNOWN,
        place=place,
        limits=held,
        action="Run no large exhaust with a fire lit. Log pressure and CO through a whole fire, die-down included.",
        lifted_by="a logged fire from light-up to die-down with the exhausts in use",
        topic=Topic.COMBUSTION,
    )
