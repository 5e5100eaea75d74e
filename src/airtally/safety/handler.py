"""What the gauges say about the air handler: heat rise, cooling airflow, external static, the cleaner's interlock."""

from __future__ import annotations

from airtally.estimates import Basis, Estimate
from airtally.house.parts import ApplianceKind, House, RunsWith
from airtally.limits import Basis as LimitBasis
from airtally.limits import Limit, Sense, limits_on
from airtally.network import present, static_budget
from airtally.safety.compare import compare, compare_all, editions_in_words
from airtally.safety.parts import Grade, LimitComparison, SafetyFinding, Standing, Topic
from airtally.safety.places import appliances_now
from airtally.safety.states import in_order, readings_of
from airtally.safety.words import DEGREE_STEP
from airtally.visits.parts import Answer, HandlerMode, Reading, Visit

COOLING = "cooling airflow per capacity"
FURNACES = frozenset({ApplianceKind.FURNACE})


def handler_findings(house: House, visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return what was measured, or not measured, at the air handler; empty where there is none."""
    if house.air_handler is None:
        return ()
    found = [*_heat_rise(visits), *_cooling(visits), *_static(house, visits), *_interlock(house, visits)]
    if visits and any(one.kind in FURNACES for one in appliances_now(house)):
        found += _heat_rise_not_tested(visits)
    return tuple(found)


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
        held = tuple(compare(value, plate_limit(one, sense), "heat rise", governs=True) for sense, one in plate)
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


def _heat_rise_not_tested(visits: tuple[Visit, ...]) -> list[SafetyFinding]:
    """Return that nobody measured the heat rise of a furnace, or that its plate was not read."""
    rises = readings_of(visits, "heat_rise")
    if rises and readings_of(visits, "plate_rise_high"):
        return []
    said = "its plate was not read, so it was held against nothing" if rises else "nobody measured it"
    return [
        SafetyFinding(
            id="safety-heat-rise-not-tested:air handler",
            code="safety-heat-rise-not-tested",
            title="Heat rise not held against the plate",
            sentence=f"The heat rise of the furnace is not known to be right: {said}.",
            grade=Grade.NOTE,
            standing=Standing.UNKNOWN,
            place="air handler",
            action="Read the plate, and measure supply minus return after ten minutes of steady firing.",
            lifted_by="heat_rise at heating speed, with plate_rise_low and plate_rise_high",
            topic=Topic.COMBUSTION,
        )
    ]


def _within(value: float, one: LimitComparison, sense: Sense) -> bool:
    return value <= one.limit if sense is Sense.AT_MOST else value >= one.limit


def plate_limit(reading: Reading, sense: Sense) -> Limit:
    """Return what the plate says about the heat rise, as a limit."""
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
    if not capacity:
        return []
    size = capacity[-1][1].estimate
    flow = flows[-1][1].estimate if flows else None
    if size is None or size.value <= 0.0:
        return []
    if flow is None:
        return [_cooling_not_tested()]
    per_watt = flow_per_capacity(flow, size)
    held = compare_all(per_watt, limits_on(COOLING), COOLING)
    if not any(per_watt.value < one.limit for one in held):
        return []
    altered = any(per_watt.value < one.limit for one in held if "altered" in one.edition)
    return [
        SafetyFinding(
            id="safety-cooling-airflow:air handler",
            code="safety-cooling-airflow",
            title="Low airflow in cooling",
            sentence="Airflow in cooling is {flow}; too little air over a coil can freeze it."
            + editions_in_words(held),
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


def flow_per_capacity(flow: Estimate, size: Estimate) -> Estimate:
    """Return airflow in cooling [m3/s] over the capacity on the plate [W]."""
    return Estimate(
        value=flow.value / size.value, low=flow.low / size.high, high=flow.high / max(size.low, 1e-9),
        unit="m3/s per W", basis=Basis.COMPUTED, source="airflow in cooling over capacity",
    )  # fmt: skip


def _cooling_not_tested() -> SafetyFinding:
    return SafetyFinding(
        id="safety-cooling-airflow-not-tested:air handler",
        code="safety-cooling-airflow-not-tested",
        title="Airflow in cooling not measured",
        sentence="The plate gives a cooling capacity, and nobody measured the airflow at cooling speed.",
        grade=Grade.NOTE,
        standing=Standing.UNKNOWN,
        place="air handler",
        action="Measure it with the blower at cooling speed and the coil wet or its loss allowed for.",
        lifted_by="airflow at cooling speed",
        topic=Topic.REFRIGERANT,
    )


def _static(house: House, visits: tuple[Visit, ...]) -> list[SafetyFinding]:
    """Return the newest external static of each blower speed that lies above the plate."""
    limits = static_limits(house, visits)
    found = []
    for mode in (HandlerMode.HEATING, HandlerMode.COOLING, HandlerMode.CIRCULATE):
        newest = None
        for visit in in_order(visits):
            total = static_budget(visit, mode).total
            newest = (visit, total) if isinstance(total, Estimate) else newest
        if newest is None:
            continue
        visit, total = newest
        held = compare_all(total, limits, "total external static")
        if not any(one.is_crossed for one in held if one.governs):
            continue
        found.append(
            SafetyFinding(
                id="safety-static:air handler" + ("" if mode is HandlerMode.HEATING else f", {mode.value}"),
                code="safety-static",
                title="External static above the plate",
                sentence=f"Total external static was {{static}} at {mode.value} speed on {{start}}.",
                figures=(("static", total),),
                grade=Grade.NOTE,
                standing=Standing.OPEN,
                place="air handler",
                start=visit.time,
                limits=held,
                action="Add return or filter area before anything that resists more.",
                lifted_by=f"tesp at {mode.value} speed",
                topic=Topic.PERMITS,
            )
        )
    return found


def static_limits(house: House, visits: tuple[Visit, ...]) -> tuple[Limit, ...]:
    """Return the plate as a visit or the survey has it, else what plates usually print."""
    newest = next((r for _, r in reversed(readings_of(visits, "rated_static"))), None)
    surveyed = house.air_handler.rated_static if house.air_handler is not None else None
    rated = newest.estimate if newest is not None else surveyed
    if rated is None or rated.basis is Basis.DEFAULT:
        return limits_on("total external static pressure")
    return (
        Limit(
            key="plate-static", quantity="total external static pressure", value=rated.value, unit="Pa",
            printed=(newest.as_written if newest is not None else "") or "plate", sense=Sense.AT_MOST,
            edition="rating plate of the machine", jurisdiction="maker's instructions", source="plate",
            basis=LimitBasis.READ,
        ),
    )  # fmt: skip


def _interlock(house: House, visits: tuple[Visit, ...]) -> list[SafetyFinding]:
    """Return that the interlock of a cleaner meant to run with the air handler fails, or was never tried."""
    bound = [one for one in present(house.cleaners) if one.runs_with is RunsWith.AIR_HANDLER and not one.is_portable]
    if not bound or not visits:
        return []
    since = max(one.since for one in bound)
    answers = [
        (visit, visit.check("interlock_works"))
        for visit in in_order(visits)
        if visit.time >= since and visit.check("interlock_works") is not Answer.UNKNOWN
    ]
    if answers and answers[-1][1] is Answer.YES:
        return []
    fails = bool(answers)
    return [
        SafetyFinding(
            id="safety-interlock:cleaner",
            code="safety-interlock",
            title="The cleaner's interlock " + ("does not work" if fails else "was not tried"),
            sentence="The cleaner is meant to run only with the air handler. With the handler still, a loop on one duct "
            "cleans its own air again and a loop from supply to return may push air the wrong way. "
            + ("On {start} the interlock failed." if fails else "Nobody tried it since the cleaner was fitted."),
            grade=Grade.RESTRICT,
            standing=Standing.OPEN if fails else Standing.UNKNOWN,
            place="cleaner",
            start=answers[-1][0].time if fails else None,
            action="Try it in heating, cooling, fan only and off, by the maker's instructions; wiring is for licensed "
            "people.",
            lifted_by="interlock_works answered yes on a later visit",
            topic=Topic.ELECTRICITY,
        )
    ]
