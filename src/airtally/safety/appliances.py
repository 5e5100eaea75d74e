"""What the gauges say about each appliance: spillage, flue CO, draft, heat rise, cooling airflow, static, returns."""

from __future__ import annotations

from math import inf

from airtally.estimates import Basis, Estimate
from airtally.house.parts import Affects, Appliance, House
from airtally.limits import Basis as LimitBasis
from airtally.limits import Limit, Sense, limits_on
from airtally.network import static_budget
from airtally.safety.parts import Grade, LimitComparison, SafetyFinding, Standing, Topic
from airtally.safety.places import appliances_now, can_spill, is_fire, named
from airtally.safety.standards import (
    COOLING_AIRFLOW_LIMITS,
    FLUE_CO_LEVELS,
    RETURN_DISTANCE_LIMIT,
    SPILLAGE_LIMITS,
    compare,
    compare_all,
    compare_level,
)
from airtally.safety.words import DEGREE_STEP
from airtally.visits.parts import HandlerMode, Reading, VentStart, Visit

CHANGES_PRESSURE = frozenset(
    {
        Affects.ENVELOPE,
        Affects.RETURN_LEAK,
        Affects.EXHAUST,
        Affects.VENTILATION,
        Affects.CLEANER,
        Affects.APPLIANCE,
    }
)
"""Works after which spillage has to be tested again."""


def appliance_findings(house: House, visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return what was measured, or not tested, at every appliance and at the air handler."""
    found: list[SafetyFinding] = []
    for appliance in appliances_now(house):
        if can_spill(appliance):
            found += _spillage(house, visits, appliance)
        found += _flue(visits, appliance)
        found += _draft(visits, appliance)
    found += _heat_rise(visits)
    found += _cooling(visits)
    found += _static(visits)
    found += _return_distance(visits)
    return tuple(found)


def readings_of(visits: tuple[Visit, ...], key: str, place: str | None = None) -> list[tuple[Visit, Reading]]:
    """Return the measured readings of a key with their visits, oldest first."""
    found = [(visit, reading) for visit in visits for reading in visit.find(key, place) if reading.estimate is not None]
    return sorted(found, key=lambda pair: pair[1].time)


def spillage_limits(vent: VentStart) -> tuple[Limit, ...]:
    """Return the spillage limits that speak about a start; an unrecorded vent is held against all."""
    if vent is VentStart.WARM:
        return tuple(one for one in SPILLAGE_LIMITS if one.applies_to == "warm vent")
    return SPILLAGE_LIMITS  # editions differ on the cold vent: the stricter governs, both show


def _spillage(house: House, visits: tuple[Visit, ...], appliance: Appliance) -> list[SafetyFinding]:
    tests = [pair for pair in readings_of(visits, "spillage_time", appliance.id) if pair[1].time >= appliance.since]
    works = _last_work(house)
    if not tests or tests[-1][1].time < works:
        return [_spillage_not_tested(appliance, tests, works), *_spillage_history(appliance, tests, is_stale=True)]
    return _spillage_history(appliance, tests, is_stale=False)


def _spillage_history(
    appliance: Appliance, tests: list[tuple[Visit, Reading]], *, is_stale: bool
) -> list[SafetyFinding]:
    """Return the newest failed or doubtful test; done if a later one passed and nothing changed since."""
    judged = []
    for visit, reading in tests:
        if reading.estimate is None:
            continue
        held = compare_all(reading.estimate, spillage_limits(reading.state.vent), "spillage time")
        judged.append((visit, reading, held, next((one.is_crossed for one in held if one.governs), None)))
    worst = next((one for one in reversed(judged) if one[3] is not False), None)
    if worst is None:
        return []
    visit, reading, held, crossed = worst
    is_done = judged[-1][3] is False and not is_stale
    last = judged[-1][0]
    title = "spilled longer than the limit" if crossed else "spilled for about the limit: too close to call"
    return [
        SafetyFinding(
            id=f"safety-spillage:{appliance.id}",
            code="safety-spillage",
            title=f"The {named(appliance)} {title}",
            sentence=f"On {{start}} the {named(appliance)} spilled for {{time}}, vent {reading.state.vent.value}. "
            "Spillage counts whatever the pressure was.",
            figures=(("time", held[0].value),),
            grade=Grade.STOP if crossed else Grade.RESTRICT,
            standing=Standing.DONE if is_done else Standing.OPEN,
            place=appliance.id,
            start=reading.time,
            limits=held,
            evidence=tuple(word for word in (reading.note, f"visit {visit.id}") if word),
            action="A qualified person corrects vent, pressure or appliance before it is used; then test again.",
            lifted_by=f"spillage_time at {appliance.id} within the governing limit, worst case, after the last change",
            done_on=last.time if is_done else None,
            done_by=last.by if is_done else "",
            topic=Topic.COMBUSTION,
        )
    ]


def _spillage_not_tested(appliance: Appliance, tests: list[tuple[Visit, Reading]], works: float) -> SafetyFinding:
    after_works = works > -inf
    said = "was not tested for spillage since pressures were last changed" if tests else "was never tested for spillage"
    return SafetyFinding(
        id=f"safety-spillage-not-tested:{appliance.id}",
        code="safety-spillage-not-tested",
        title=f"Spillage of the {named(appliance)} not tested",
        sentence=f"The {named(appliance)} {said}." + (" The change was on {start}." if after_works else ""),
        grade=Grade.STOP if after_works else Grade.RESTRICT,
        standing=Standing.UNKNOWN,
        place=appliance.id,
        start=works if after_works else None,
        action="Test it in the worst state of doors and fans, smallest appliance first.",
        lifted_by=f"spillage_time at {appliance.id}",
        topic=Topic.COMBUSTION,
    )


def _last_work(house: House) -> float:
    """Return when pressures were last changed [s], minus infinity if never."""
    times = [
        change.ends if change.ends is not None else change.time
        for change in house.changes
        if CHANGES_PRESSURE & set(change.affects)
    ]
    return max(times, default=-inf)


def _flue(visits: tuple[Visit, ...], appliance: Appliance) -> list[SafetyFinding]:
    tests = readings_of(visits, "co_flue", appliance.id)
    if not tests or tests[-1][1].estimate is None:
        return []
    _, reading = tests[-1]
    value = tests[-1][1].estimate
    held = tuple(compare_level(value, level, "flue, undiluted") for level in FLUE_CO_LEVELS)
    reached = [level for level in FLUE_CO_LEVELS if level.lower <= value.value < level.upper]
    if not reached:
        return []
    stop = reached[0].key == "flue-co-stop"
    return [
        SafetyFinding(
            id=f"safety-co-flue:{appliance.id}",
            code="safety-co-flue",
            title=f"CO in the flue of the {named(appliance)}",
            sentence=f"The flue of the {named(appliance)} held {{co}} of CO, air-free, on {{start}}.",
            figures=(("co", value),),
            grade=Grade.STOP if stop else Grade.RESTRICT,
            standing=Standing.OPEN,
            place=appliance.id,
            start=reading.time,
            limits=held,
            action=reached[0].consequence[0].upper() + reached[0].consequence[1:] + ".",
            lifted_by=f"co_flue at {appliance.id} below the levels",
            topic=Topic.COMBUSTION,
        )
    ]


def _draft(visits: tuple[Visit, ...], appliance: Appliance) -> list[SafetyFinding]:
    """Return a finding where a flue pushed, or a stove pulled less than its makers ask; values are negative pulls."""
    tests = readings_of(visits, "draft", appliance.id)
    if not tests or tests[-1][1].estimate is None:
        return []
    reading, value = tests[-1][1], tests[-1][1].estimate
    pull = Estimate(
        value=-value.value, low=-value.high, high=-value.low, unit="Pa", basis=Basis.MEASURED, source=value.source
    )
    held: tuple[LimitComparison, ...] = ()
    if is_fire(appliance):
        held = compare_all(pull, [one for one in limits_on("stove draft") if one.sense is Sense.AT_LEAST], "draft")
    pushes = value.low > 0.0 or (value.value >= 0.0)
    weak = any(one.governs and one.is_crossed for one in held)
    if not pushes and not weak:
        return []
    return [
        SafetyFinding(
            id=f"safety-draft:{appliance.id}",
            code="safety-draft",
            title=f"The flue of the {named(appliance)} " + ("does not pull" if pushes else "pulls too little"),
            sentence=f"The flue of the {named(appliance)} was read at {{draft}} on {{start}}; below zero pulls.",
            figures=(("draft", value),),
            grade=Grade.STOP if pushes else Grade.RESTRICT,
            standing=Standing.OPEN,
            place=appliance.id,
            start=reading.time,
            limits=held,
            action="A chimney or venting professional looks at it before it is used again.",
            lifted_by=f"draft at {appliance.id} within the maker's range",
            topic=Topic.COMBUSTION,
        )
    ]


def _heat_rise(visits: tuple[Visit, ...]) -> list[SafetyFinding]:
    rises = readings_of(visits, "heat_rise")
    low, high = readings_of(visits, "plate_rise_low"), readings_of(visits, "plate_rise_high")
    if not rises or not high:
        return []
    plate = [(Sense.AT_MOST, high[-1][1])] + ([(Sense.AT_LEAST, low[-1][1])] if low else [])
    judged = []
    for visit, reading in rises:
        value = reading.estimate
        if value is None:
            continue
        held = tuple(compare(value, _plate_limit(one, sense), "heat rise", governs=True) for sense, one in plate)
        judged.append((visit, reading, value, held))

    def outside(held: tuple[LimitComparison, ...], value: Estimate) -> bool:
        return any(one.is_crossed for one in held) or any(
            one.is_crossed is None and not _within(value.value, one, sense)
            for one, (sense, _) in zip(held, plate, strict=True)
        )

    worst = next((one for one in reversed(judged) if outside(one[3], one[2])), None)
    if worst is None:
        return []
    visit, reading, value, held = worst
    is_done = not outside(judged[-1][3], judged[-1][2])
    return [
        SafetyFinding(
            id="safety-heat-rise:air handler",
            code="safety-heat-rise",
            title="Heat rise outside the plate",
            sentence="Heat rise was {rise} on {start}; the plate of the machine governs.",
            figures=(("rise", _as_step(value)),),
            grade=Grade.RESTRICT,
            standing=Standing.DONE if is_done else Standing.OPEN,
            place="air handler",
            start=reading.time,
            limits=held,
            evidence=(f"visit {visit.id}",),
            action="A licensed technician sets airflow and firing rate. Fit no denser filter before that.",
            lifted_by="heat_rise within the plate at heating speed",
            done_on=judged[-1][0].time if is_done else None,
            done_by=judged[-1][0].by if is_done else "",
            topic=Topic.COMBUSTION,
        )
    ]


def _within(value: float, one: LimitComparison, sense: Sense) -> bool:
    return value <= one.limit if sense is Sense.AT_MOST else value >= one.limit


def _plate_limit(reading: Reading, sense: Sense) -> Limit:
    value = reading.estimate.value if reading.estimate is not None else float("nan")
    return Limit(
        key="plate-heat-rise", quantity="heat rise", value=value, unit="K", printed=reading.as_written or "plate",
        sense=sense, edition="rating plate of the machine", jurisdiction="maker's instructions", source="plate",
        basis=LimitBasis.READ,
    )  # fmt: skip


def _as_step(value: Estimate) -> Estimate:
    return Estimate(
        value=value.value, low=value.low, high=value.high, unit=DEGREE_STEP, basis=value.basis, source=value.source,
        level=value.level,
    )  # fmt: skip


def _cooling(visits: tuple[Visit, ...]) -> list[SafetyFinding]:
    flows = [pair for pair in readings_of(visits, "airflow") if pair[1].state.air_handler is HandlerMode.COOLING]
    capacity = readings_of(visits, "cooling_capacity")
    if not flows or not capacity:
        return []
    flow, size = flows[-1][1].estimate, capacity[-1][1].estimate
    if flow is None or size is None or size.value <= 0.0:
        return []
    per_watt = Estimate(
        value=flow.value / size.value, low=flow.low / size.high, high=flow.high / max(size.low, 1e-9),
        unit="m3/s per W", basis=Basis.COMPUTED, source="airflow in cooling over capacity",
    )  # fmt: skip
    held = compare_all(per_watt, COOLING_AIRFLOW_LIMITS, "cooling airflow per capacity")
    if not any(per_watt.value < one.limit for one in held):
        return []
    altered = any(per_watt.value < one.limit for one in held if "altered" in one.edition)
    return [
        SafetyFinding(
            id="safety-cooling-airflow:air handler",
            code="safety-cooling-airflow",
            title="Low airflow in cooling",
            sentence="Airflow in cooling is {flow}; too little air over a coil can freeze it.",
            figures=(("flow", per_watt),),
            grade=Grade.RESTRICT if altered else Grade.NOTE,
            standing=Standing.OPEN,
            place="air handler",
            start=flows[-1][1].time,
            limits=held,
            action="Find where the pressure goes before any denser filter is fitted; refrigerant work is for certified "
            "technicians.",
            lifted_by="airflow at cooling speed",
            topic=Topic.REFRIGERANT,
        )
    ]


def _static(visits: tuple[Visit, ...]) -> list[SafetyFinding]:
    for visit in sorted(visits, key=lambda one: one.time, reverse=True):
        budget = static_budget(visit)
        total = budget.total
        if not isinstance(total, Estimate):
            continue
        rated = next((r for _, r in reversed(readings_of(visits, "rated_static"))), None)
        limits = list(limits_on("total external static pressure"))
        if rated is not None and rated.estimate is not None:
            limits = [_rated_limit(rated)]
        held = compare_all(total, limits, "total external static")
        if not any(one.is_crossed for one in held if one.governs):
            return []
        return [
            SafetyFinding(
                id="safety-static:air handler",
                code="safety-static",
                title="External static above the plate",
                sentence="Total external static was {static} at heating speed on {start}.",
                figures=(("static", total),),
                grade=Grade.NOTE,
                standing=Standing.OPEN,
                place="air handler",
                start=visit.time,
                limits=held,
                action="Add return or filter area before anything that resists more.",
                lifted_by="tesp at heating speed",
                topic=Topic.PERMITS,
            )
        ]
    return []


def _rated_limit(reading: Reading) -> Limit:
    value = reading.estimate.value if reading.estimate is not None else float("nan")
    return Limit(
        key="plate-static", quantity="total external static pressure", value=value, unit="Pa",
        printed=reading.as_written or "plate", sense=Sense.AT_MOST, edition="rating plate of the machine",
        jurisdiction="maker's instructions", source="plate", basis=LimitBasis.READ,
    )  # fmt: skip


def _return_distance(visits: tuple[Visit, ...]) -> list[SafetyFinding]:
    found = []
    for place in sorted({reading.place for _, reading in readings_of(visits, "return_distance")}):
        visit, reading = readings_of(visits, "return_distance", place)[-1]
        if reading.estimate is None:
            continue
        held = compare(reading.estimate, RETURN_DISTANCE_LIMIT, "return inlet to firebox or draft hood", governs=True)
        if held.is_crossed is False:
            continue
        found.append(
            SafetyFinding(
                id=f"safety-return-near-appliance:{place}",
                code="safety-return-near-appliance",
                title=f"A return inlet near a hearth or draft hood in {place}",
                sentence=f"A return inlet in {place} is {{distance}} from a firebox or draft hood.",
                figures=(("distance", reading.estimate),),
                grade=Grade.RESTRICT,
                standing=Standing.OPEN,
                place=place,
                start=visit.time,
                limits=(held,),
                action="Move or close the inlet and give the air another way back; then test spillage again.",
                lifted_by=f"return_distance at {place}",
                topic=Topic.PERMITS,
            )
        )
    return found
