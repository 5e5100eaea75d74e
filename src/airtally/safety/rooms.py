"""Room by room: CO as visits found it, pressures across closed doors, and rooms that nobody read."""

from __future__ import annotations

from airtally.estimates import Basis, Estimate
from airtally.house.burners import can_spill, is_fire
from airtally.house.parts import House, ZoneKind
from airtally.limits import action_levels, limits_on
from airtally.safety.compare import compare_all, compare_level
from airtally.safety.parts import Grade, LimitComparison, SafetyFinding, Standing, Topic
from airtally.safety.places import appliances_now
from airtally.safety.states import in_order, readings_of
from airtally.visits.parts import Doors, HandlerMode, Reading, Visit

INDOOR_ABOVE_OUTDOOR = 3e-6
"""CO indoors above outdoors on one visit that is looked at. [mol/mol] Judgement."""
DOOR = "pressure across a closed door"
INSIDE = (ZoneKind.ROOM, ZoneKind.BASEMENT)


def room_findings(house: House, visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return CO and closed-door pressures room by room, and the rooms in which neither was read."""
    return (*room_co_findings(visits), *_co_not_read(house, visits), *_closed_doors(house, visits))


def room_co_findings(visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return CO in rooms as visits found it, against the action levels and against outdoors of the same visit."""
    found = []
    places = sorted({reading.place for _, reading in readings_of(visits, "co_ambient")} - {"outdoors"})
    for place in places:
        judged = [
            (visit, reading, *_judged(visit, reading)) for visit, reading in readings_of(visits, "co_ambient", place)
        ]
        worst = next((one for one in reversed(judged) if one[3] is not None), None)
        if worst is None:
            continue
        visit, reading, held, grade = worst
        is_done = judged[-1][3] is None and judged[-1][1].time > reading.time
        outdoors = [r for _, r in readings_of((visit,), "co_ambient", "outdoors")]
        beside = " Outdoors it was {outdoors}." if outdoors else " Outdoors was not read."
        figures = [("co", held[0].value)]
        if outdoors and outdoors[-1].estimate is not None:
            figures.append(("outdoors", outdoors[-1].estimate))
        found.append(
            SafetyFinding(
                id=f"safety-co-room:{place}",
                code="safety-co-room",
                title=f"CO in {place}",
                sentence=f"On {{start}} the air of {place} held {{co}} of CO.{beside}",
                figures=tuple(figures),
                grade=grade or Grade.RESTRICT,
                standing=Standing.DONE if is_done else Standing.OPEN,
                place=place,
                start=reading.time,
                limits=held,
                evidence=(f"visit {visit.id}", reading.note) if reading.note else (f"visit {visit.id}",),
                action="Find the source before anything else. " + _at_once(held),
                lifted_by=f"co_ambient at {place} in the same state, and outdoors",
                done_on=judged[-1][0].time if is_done else None,
                done_by=judged[-1][0].by if is_done else "",
                topic=Topic.CARBON_MONOXIDE,
            )
        )
    return tuple(found)


def _at_once(held: tuple[LimitComparison, ...]) -> str:
    """Return what the programmes ask at the level reached, else from which level everybody leaves."""
    crossed = [one for one in held if one.is_crossed]
    if crossed:
        asked = dict.fromkeys(f"{one.what.partition(': ')[2]} ({one.edition}, {one.printed})" for one in crossed)
        return "Asked at this level: " + "; ".join(asked) + "."
    leave = min((one for one in action_levels() if "leave" in one.key), key=lambda one: one.lower)
    return f"At {leave.printed} everybody leaves and calls ({leave.edition})."


def _judged(visit: Visit, reading: Reading) -> tuple[tuple[LimitComparison, ...], Grade | None]:
    value = reading.estimate or _nothing()
    held = tuple(compare_level(value, level, "air of a room") for level in action_levels())
    if any(one.is_crossed for one in held):
        return held, Grade.STOP
    outdoors = [r.estimate for _, r in readings_of((visit,), "co_ambient", "outdoors") if r.estimate is not None]
    base = outdoors[-1].value if outdoors else 0.0
    return held, (Grade.RESTRICT if value.value - base >= INDOOR_ABOVE_OUTDOOR else None)


def _nothing() -> Estimate:
    nan = float("nan")
    return Estimate(value=nan, low=nan, high=nan, unit="mol/mol", basis=Basis.MEASURED, source="")


def _co_not_read(house: House, visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return the rooms, and outdoors, in which the newest visit that measured anything read no CO.

    A room with a burner or fire in it restricts; another room is only named.
    """
    measured = [one for one in in_order(visits) if any(reading.estimate is not None for reading in one.readings)]
    burning = {one.zone for one in appliances_now(house)}
    if not measured or not (burning or any(zone.kind is ZoneKind.GARAGE for zone in house.zones)):
        return ()
    visit = measured[-1]
    read = {reading.place for _, reading in readings_of((visit,), "co_ambient")}
    rooms = [zone.id for zone in house.zones if zone.kind in INSIDE and zone.id not in read]
    missing = (*([] if "outdoors" in read else ["outdoors"]), *rooms)
    if not missing:
        return ()
    grave = any(place in burning for place in missing)
    return (
        SafetyFinding(
            id="safety-co-room-not-read:house",
            code="safety-co-room-not-read",
            title="CO not read in every room",
            sentence=f"On {{start}} the visit {visit.id} read no CO at: {', '.join(missing)}.",
            grade=Grade.RESTRICT if grave else Grade.NOTE,
            standing=Standing.UNKNOWN,
            place="house",
            start=visit.time,
            action="Read CO outdoors, at the door, then room by room, and keep the meter on.",
            lifted_by="co_ambient at " + ", ".join(missing),
            topic=Topic.CARBON_MONOXIDE,
        ),
    )


def _closed_doors(house: House, visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return rooms that stand further off the main body, doors shut and air handler on, than the level of concern."""
    found = []
    seen = {
        (reading.place, reading.reference)
        for key in ("zone_pressure_change", "zone_pressure")
        for _, reading in readings_of(visits, key)
        if is_closed_door(reading)
    }
    for place, reference in sorted((a, b or "") for a, b in seen):
        pairs = [
            pair
            for key in ("zone_pressure_change", "zone_pressure")
            for pair in readings_of(visits, key, place)
            if pair[1].reference == reference and is_closed_door(pair[1])
        ]
        visit, reading = max(pairs, key=lambda pair: pair[1].time)
        if reading.estimate is None:
            continue
        held = compare_all(magnitude(reading.estimate), limits_on(DOOR), "across a closed door, either sign")
        if all(one.is_crossed is False for one in held):
            continue
        low = place if reading.estimate.value < 0.0 else reference
        burning = [one for one in appliances_now(house, low) if can_spill(one) or is_fire(one)]
        crossed = any(one.is_crossed for one in held)
        found.append(
            SafetyFinding(
                id=f"safety-closed-door:{place}:{reference}",
                code="safety-closed-door",
                title=f"Pressure between {place} and {reference} with doors shut"
                + ("" if crossed else ": too close to the level of concern to call"),
                sentence=f"With doors shut and the air handler on, {place} was read at {{change}} against {reference} on "
                f"{{start}}; {low} is the lower side."
                + (" A vented appliance or hearth stands there." if burning else ""),
                figures=(("change", reading.estimate),),
                grade=Grade.RESTRICT if burning and crossed else Grade.NOTE,
                standing=Standing.OPEN,
                place=low,
                start=reading.time,
                limits=held,
                evidence=(f"visit {visit.id}",),
                action="Give the air a way back: transfer grille, jump duct or undercut; then measure again.",
                lifted_by=f"zone_pressure_change at {place} against {reference}, doors closed, air handler on",
                topic=Topic.COMBUSTION if burning else Topic.PERMITS,
            )
        )
    return tuple(found)


def is_closed_door(reading: Reading) -> bool:
    """Return whether a pressure was read across a closed door with the air handler on."""
    running = reading.state.air_handler not in (HandlerMode.OFF, HandlerMode.UNKNOWN)
    return reading.state.doors is Doors.CLOSED and running and reading.reference not in (None, "outdoors")


def magnitude(value: Estimate) -> Estimate:
    """Return the size of a signed figure; an interval that holds zero begins at zero."""
    ends = sorted((abs(value.low), abs(value.high)))
    low = 0.0 if value.low <= 0.0 <= value.high else ends[0]
    return Estimate(
        value=abs(value.value), low=low, high=ends[1], unit=value.unit, basis=value.basis, source=value.source,
        level=value.level,
    )  # fmt: skip
