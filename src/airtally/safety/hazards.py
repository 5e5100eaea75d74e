"""Garage air, CO found on a visit, and what is to be recognised, left alone and referred."""

from __future__ import annotations

from airtally.estimates import Basis, Estimate
from airtally.house.parts import House, ReturnLeak, ZoneKind
from airtally.limits import action_levels
from airtally.network import present
from airtally.safety.appliances import readings_of
from airtally.safety.parts import Grade, LimitComparison, SafetyFinding, Standing, Topic
from airtally.safety.places import appliances_now
from airtally.safety.standards import compare_level
from airtally.visits.parts import Answer, Reading, Visit

TIGHT_LEAK = 0.02
"""Share of the handler flow below which a re-tested garage leak counts as closed: the 2 % that a code asks of cabinets
(ASHRAE 193 test, as quoted by a state code). [-]"""
INDOOR_ABOVE_OUTDOOR = 3e-6
"""CO indoors above outdoors on one visit that is looked at. [mol/mol] Judgement."""

MATERIALS: dict[str, str] = {
    "vermiculite": "Treat it as asbestos: leave it alone, refer to a licensed firm; no suction on the house.",
    "suspect_wrap": "Leave it alone; a licensed firm samples it; no duct work and no pressure before that.",
    "mould_seen": "Find the water first; leave the growth alone; refer larger areas to a licensed firm.",
    "lead_paint_suspected": "Disturb no paint; a certified firm tests it and does the work.",
}
"""What to do about each material; never our own work."""


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
    share = _share(house, newest[1]) if newest is not None else None
    is_done = bool(retested and share is not None and share <= TIGHT_LEAK)
    standing = Standing.DONE if is_done else (Standing.OPEN if open_now or sealed_on is None else Standing.UNKNOWN)
    said = {
        Standing.OPEN: "It is open.",
        Standing.UNKNOWN: "The works list says that it was sealed; no reading at the garage shows it.",
        Standing.DONE: "A later reading at the garage shows it closed.",
    }[standing]
    figures: tuple[tuple[str, Estimate], ...] = ()
    first = leaks[0].fraction if leaks else None
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
        evidence=tuple(evidence),
        action="Seal the return in the garage, then measure. Until then run no engine in the garage, not even with its "
        "door open, and log CO at 1 ppm indoors.",
        lifted_by="cfm25_return at the garage, after sealing",
        done_on=newest[1].time if is_done and newest is not None else None,
        done_by=newest[0].by if is_done and newest is not None else "",
        topic=Topic.CARBON_MONOXIDE,
    )


def _share(house: House, reading: Reading) -> float | None:
    """Return a CFM25 reading over the largest handler flow [-], None without a flow."""
    speeds = house.air_handler.speeds if house.air_handler is not None else ()
    largest = max((speed.flow.value for speed in speeds), default=0.0)
    if reading.estimate is None or largest <= 0.0:
        return None
    return reading.estimate.value / largest


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
        is_done = judged[-1][3] is None
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
                action="Find the source before anything else; at 35 ppm and more leave and call.",
                lifted_by=f"co_ambient at {place} in the same state, and outdoors",
                done_on=judged[-1][0].time if is_done else None,
                done_by=judged[-1][0].by if is_done else "",
                topic=Topic.CARBON_MONOXIDE,
            )
        )
    return tuple(found)


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


def material_findings(visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return what was recognised, with whether it was handed to others; an action alone never closes it."""
    found = []
    for name, action in MATERIALS.items():
        answers = [(visit, _answer(visit, name)) for visit in sorted(visits, key=lambda one: one.time)]
        yes = [visit for visit, answer in answers if answer is Answer.YES]
        unknown = [visit for visit, answer in answers if answer is Answer.UNKNOWN]
        is_gate = name in ("vermiculite", "suspect_wrap")
        if not yes and not (is_gate and unknown and unknown[-1] is answers[-1][0]):
            continue
        actions = [one for visit in visits for one in visit.actions if one.about == name]
        handed = tuple(f"{one.status} by {one.by}" + (f": {one.note}" if one.note else "") for one in actions)
        words = name.replace("_", " ").removesuffix(" seen").removesuffix(" suspected")
        cleared = bool(yes) and answers[-1][1] is Answer.NO and any(one.status == "done" for one in actions)
        found.append(
            SafetyFinding(
                id=f"safety-hazardous-material:{name}",
                code="safety-hazardous-material",
                title=f"{words[0].upper()}{words[1:]}",
                sentence=f"The visit {yes[-1].id} found {words}."
                if yes
                else f"Nobody answered whether there is {words}; unknown blocks as yes does.",
                grade=Grade.REFER,
                standing=Standing.DONE if cleared else (Standing.OPEN if yes else Standing.UNKNOWN),
                place="house",
                start=(yes or unknown)[-1].time,
                evidence=handed,
                action=action,
                lifted_by="the licensed firm's work recorded as done, and the question answered no on a later visit",
                done_on=answers[-1][0].time if cleared else None,
                done_by=answers[-1][0].by if cleared else "",
                topic=Topic.HAZARDOUS_MATERIALS,
            )
        )
    return tuple(found)


def check_findings(house: House, visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return what was seen on the newest visit that looked: soot, smoke, returns beside appliances, alarms."""
    found: list[SafetyFinding] = []
    for name, title in (("visible_soot", "Soot or scorching seen"), ("smoke_smell_from_fire", "Smoke in the room")):
        visit, answer = _newest_answer(visits, name)
        if visit is not None and answer is Answer.YES:
            found.append(
                _seen(
                    "safety-soot", title, visit, Grade.STOP, Topic.COMBUSTION,
                    "Stop using the appliance until a qualified person has looked at it.",
                    f"{name} answered no on a later visit, and spillage_time",
                )
            )  # fmt: skip
    visit, answer = _newest_answer(visits, "return_in_appliance_zone")
    if visit is not None and answer is Answer.YES:
        found.append(
            _seen(
                "safety-return-near-appliance", "A return opening in an appliance's zone", visit, Grade.RESTRICT,
                Topic.COMBUSTION, "Close the opening and give the air another way back; then test spillage again.",
                "return_in_appliance_zone answered no, and spillage_time",
            )
        )  # fmt: skip
    burns = bool(appliances_now(house)) or any(zone.kind is ZoneKind.GARAGE for zone in house.zones)
    visit, answer = _newest_answer(visits, "co_alarms_present")
    if burns and visits and answer is not Answer.YES:
        title = "CO alarms missing or past their date" if answer is Answer.NO else "Nobody looked at the CO alarms"
        seen = visit if visit is not None else max(visits, key=lambda one: one.time)
        found.append(
            _seen(
                "safety-alarms", title, seen, Grade.RESTRICT, Topic.CARBON_MONOXIDE,
                "Fit listed CO alarms as local law asks, with their end date in view.",
                "co_alarms_present answered yes",
                Standing.OPEN if answer is Answer.NO else Standing.UNKNOWN,
            )
        )  # fmt: skip
    return tuple(found)


def _seen(
    code: str,
    title: str,
    visit: Visit,
    grade: Grade,
    topic: Topic,
    action: str,
    lifted_by: str,
    standing: Standing = Standing.OPEN,
) -> SafetyFinding:
    return SafetyFinding(
        id=f"{code}:{title.casefold().replace(' ', '-')}", code=code, title=title,
        sentence=f"{title}: visit {visit.id} on {{start}}.", grade=grade, standing=standing, place="house",
        start=visit.time, action=action, lifted_by=lifted_by, topic=topic,
    )  # fmt: skip


def _answer(visit: Visit, name: str) -> Answer:
    gates = dict(visit.gates)
    return gates[name] if name in gates else visit.check(name)


def _newest_answer(visits: tuple[Visit, ...], name: str) -> tuple[Visit | None, Answer]:
    """Return the newest visit that answered a check with yes or no, and its answer."""
    for visit in sorted(visits, key=lambda one: one.time, reverse=True):
        if visit.check(name) is not Answer.UNKNOWN:
            return visit, visit.check(name)
    return None, Answer.UNKNOWN
