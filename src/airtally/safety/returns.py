"""Returns that draw from where they should not: a garage, an appliance's zone, the neighbourhood of a hearth."""

from __future__ import annotations

from airtally.estimates import Estimate
from airtally.house.burners import can_spill, is_fire
from airtally.house.parts import House, ReturnLeak, ZoneKind
from airtally.limits import limits_on
from airtally.network import present
from airtally.safety.compare import compare_all
from airtally.safety.parts import Grade, SafetyFinding, Standing, Topic
from airtally.safety.places import appliances_now
from airtally.safety.states import in_order, readings_of
from airtally.visits.parts import Answer, Reading, Visit

DISTANCE = "return inlet to firebox or draft hood"
CLOSED = "leakage at 25 Pa over handler flow"
"""Quantity of the limit below which a re-tested garage leak counts as closed."""


def return_findings(house: House, visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return garage air in a return, openings beside burners and hearths, and what nobody looked at."""
    return (
        *garage_findings(house, visits),
        *_return_distance(visits),
        *_in_appliance_zone(visits),
        *_not_looked_at(house, visits),
    )


def garage_findings(house: House, visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return garage air in a return as a CO finding, whatever the particles did when it was sealed.

    A leak that the works list says is sealed stays open until a later reading at the garage shows it closed.
    """
    garages = {zone.id for zone in house.zones if zone.kind is ZoneKind.GARAGE}
    leaks = house.air_handler.return_leaks if house.air_handler is not None else ()
    mine = [leak for leak in leaks if leak.zone in garages]
    seen = [(v, v.check("return_in_garage")) for v in sorted(visits, key=lambda one: one.time)]
    said_yes = [visit for visit, answer in seen if answer is Answer.YES]
    measured = [pair for zone in sorted(garages | {"garage"}) for pair in readings_of(visits, "cfm25_return", zone)]
    if not mine and not said_yes and not any(_is_leak(reading) for _, reading in measured):
        return ()
    return (_garage(house, mine, said_yes, measured),)


def _is_leak(reading: Reading) -> bool:
    return reading.estimate is not None and reading.estimate.low > 0.0


def _garage(
    house: House, leaks: list[ReturnLeak], said_yes: list[Visit], measured: list[tuple[Visit, Reading]]
) -> SafetyFinding:
    open_now = present(leaks)
    sealed_on = max((leak.until for leak in leaks if leak.until != float("inf")), default=None)
    newest = max(measured, key=lambda pair: pair[1].time, default=None)
    retested = newest is not None and (sealed_on is None or newest[1].time >= sealed_on) and not open_now
    share = share_of_handler(house, newest[1]) if newest is not None else None
    held = compare_all(share, limits_on(CLOSED), "leak at the garage over handler flow") if share is not None else ()
    is_done = bool(retested and held and all(one.is_crossed is False for one in held))
    standing = Standing.DONE if is_done else (Standing.OPEN if open_now or sealed_on is None else Standing.UNKNOWN)
    said = {
        Standing.OPEN: "It is open.",
        Standing.UNKNOWN: "The works list says that it was sealed; no reading at the garage shows it.",
        Standing.DONE: "A later reading at the garage shows it closed.",
    }[standing]
    figures: tuple[tuple[str, Estimate], ...] = ()
    here = (*leaks, *open_now)  # the leak that is there now; of leaks that all went, the last
    first = here[-1].fraction if here else None
    part = ""
    if first is not None:
        figures = (("share", first),)
        part = ", about {share} of the air handler's flow as surveyed"
    evidence = [f"survey: return leak {leak.id}" for leak in leaks]
    evidence += [f"seen on the visit {visit.id}" for visit in said_yes]
    evidence += [f"{reading.key} at {reading.place}: {reading.as_written}" for _, reading in measured]
    return SafetyFinding(
        id="safety-garage-return:garage",
        code="safety-garage-return",
        title="Garage air in the return",
        sentence=f"The return draws air from the garage{part}. An engine there puts CO into the rooms. {said} "
        "Particles say nothing about this.",
        figures=figures,
        grade=Grade.STOP,
        standing=standing,
        place="garage",
        start=sealed_on,
        limits=held,
        evidence=tuple(evidence),
        action="Seal the return in the garage, then measure. Until then run no engine in the garage, not even with its "
        "door open, and log CO at 1 ppm indoors.",
        lifted_by="cfm25_return at the garage, after sealing",
        done_on=newest[1].time if is_done and newest is not None else None,
        done_by=newest[0].by if is_done and newest is not None else "",
        topic=Topic.CARBON_MONOXIDE,
    )


def share_of_handler(house: House, reading: Reading) -> Estimate | None:
    """Return a CFM25 reading over the largest handler flow [-], None without a flow."""
    speeds = house.air_handler.speeds if house.air_handler is not None else ()
    largest = max((speed.flow.value for speed in speeds), default=0.0)
    leak = reading.estimate
    if leak is None or largest <= 0.0:
        return None
    return Estimate(
        value=leak.value / largest, low=leak.low / largest, high=leak.high / largest, unit="-", basis=leak.basis,
        source="cfm25_return over the largest flow of the air handler",
    )  # fmt: skip


def _return_distance(visits: tuple[Visit, ...]) -> list[SafetyFinding]:
    found = []
    for place in sorted({reading.place for _, reading in readings_of(visits, "return_distance")}):
        visit, reading = readings_of(visits, "return_distance", place)[-1]
        if reading.estimate is None:
            continue
        held = compare_all(reading.estimate, limits_on(DISTANCE), DISTANCE)
        if all(one.is_crossed is False for one in held):
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
                limits=held,
                action="Move or close the inlet and give the air another way back; then test spillage again.",
                lifted_by=f"return_distance at {place}",
                topic=Topic.PERMITS,
            )
        )
    return found


def _in_appliance_zone(visits: tuple[Visit, ...]) -> list[SafetyFinding]:
    visit, answer = newest_answer(visits, "return_in_appliance_zone")
    if visit is None or answer is not Answer.YES:
        return []
    return [
        SafetyFinding(
            id="safety-return-near-appliance:house",
            code="safety-return-near-appliance",
            title="A return opening in an appliance's zone",
            sentence=f"A return opening in an appliance's zone: visit {visit.id} on {{start}}.",
            grade=Grade.RESTRICT,
            standing=Standing.OPEN,
            place="house",
            start=visit.time,
            action="Close the opening and give the air another way back; then test spillage again.",
            lifted_by="return_in_appliance_zone answered no, and spillage_time",
            topic=Topic.COMBUSTION,
        )
    ]


def _not_looked_at(house: House, visits: tuple[Visit, ...]) -> list[SafetyFinding]:
    """Return which of the three kinds of place nobody looked into for return openings."""
    if house.air_handler is None or not visits:
        return []
    here = appliances_now(house)
    asked = []
    if any(zone.kind is ZoneKind.GARAGE for zone in house.zones):
        asked.append(("return_in_garage", "the garage"))
    if any(can_spill(one) for one in here):
        asked.append(("return_in_appliance_zone", "the zone of a vented appliance"))
    missing = [words for key, words in asked if newest_answer(visits, key)[0] is None]
    if any(is_fire(one) for one in here) and not readings_of(visits, "return_distance"):
        missing.append("the hearth (how far the nearest inlet is)")
    if not missing:
        return []
    return [
        SafetyFinding(
            id="safety-return-not-looked-at:house",
            code="safety-return-not-looked-at",
            title="Nobody looked for return openings",
            sentence="Nobody recorded whether a return opens beside or in: " + "; ".join(missing) + ".",
            grade=Grade.NOTE,
            standing=Standing.UNKNOWN,
            place="house",
            action="Follow every return to its end, cabinet seams and panned joists included.",
            lifted_by="return_in_garage, return_in_appliance_zone and return_distance",
            topic=Topic.CARBON_MONOXIDE,
        )
    ]


def newest_answer(visits: tuple[Visit, ...], name: str) -> tuple[Visit | None, Answer]:
    """Return the newest visit that answered a check with yes or no, and its answer."""
    for visit in reversed(in_order(visits)):
        if visit.check(name) is not Answer.UNKNOWN:
            return visit, visit.check(name)
    return None, Answer.UNKNOWN
