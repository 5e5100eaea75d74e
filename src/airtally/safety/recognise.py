"""What is recognised, left alone and referred: materials, radon, wiring, refrigerant, permits; soot, smoke, alarms."""

from __future__ import annotations

from dataclasses import dataclass

from airtally.house.burners import can_spill
from airtally.house.parts import ApplianceKind, House, Venting, ZoneKind
from airtally.limits import limits_on
from airtally.safety.flues import is_orphaned, solid_fuel_on_a_shared_flue
from airtally.safety.parts import Grade, SafetyFinding, Standing, Topic
from airtally.safety.places import appliances_now, named
from airtally.safety.returns import newest_answer
from airtally.safety.states import CHANGES_PRESSURE, in_order, last_change
from airtally.visits.parts import Answer, Visit


@dataclass(frozen=True, slots=True, kw_only=True)
class Recognised:
    """A thing that is others' work: what it is called, what to do, who does it, and its caution."""

    words: str
    action: str
    topic: Topic
    is_gate: bool = False
    """Whether it is asked as a gate, where unknown counts as yes does."""


MATERIALS: dict[str, Recognised] = {
    "vermiculite": Recognised(
        words="vermiculite",
        action="Take it for asbestos: leave it alone, refer to a licensed firm; no suction on the house.",
        topic=Topic.HAZARDOUS_MATERIALS,
        is_gate=True,
    ),
    "suspect_wrap": Recognised(
        words="suspect wrap",
        action="Leave it alone; a licensed firm samples it; no duct work and no pressure before that.",
        topic=Topic.HAZARDOUS_MATERIALS,
        is_gate=True,
    ),
    "mould_seen": Recognised(
        words="mould",
        action="Find the water first; leave the growth alone; refer larger areas to a licensed firm.",
        topic=Topic.HAZARDOUS_MATERIALS,
    ),
    "lead_paint_suspected": Recognised(
        words="lead paint",
        action="Disturb no paint; a certified firm tests it and does the work.",
        topic=Topic.HAZARDOUS_MATERIALS,
    ),
}
"""Materials that a visit recognises and never works on."""
OTHERS_WORK: dict[str, Recognised] = {
    "electrical_hazard_seen": Recognised(
        words="an electrical hazard",
        action="Touch nothing, cover nothing, blow no insulation over it; a licensed electrician looks at it first.",
        topic=Topic.ELECTRICITY,
    ),
    "refrigerant_leak_suspected": Recognised(
        words="a refrigerant leak or lines in the way",
        action="Drill, cut and open nothing near coil or lines; a certified technician looks at it first.",
        topic=Topic.REFRIGERANT,
    ),
}
"""Wiring and refrigerant in the way of the work: others do that."""


def recognised_findings(visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return what was recognised, with whether it was handed to others; an action alone never closes it."""
    return (
        *_recognised(visits, MATERIALS, "safety-hazardous-material"),
        *_recognised(visits, OTHERS_WORK, "safety-others-work"),
    )


def _recognised(visits: tuple[Visit, ...], matters: dict[str, Recognised], code: str) -> list[SafetyFinding]:
    found = []
    for name, matter in matters.items():
        answers = [(visit, _answer(visit, name)) for visit in in_order(visits)]
        yes = [visit for visit, answer in answers if answer is Answer.YES]
        unknown = [visit for visit, answer in answers if answer is Answer.UNKNOWN]
        if not yes and not (matter.is_gate and unknown and unknown[-1] is answers[-1][0]):
            continue
        actions = [one for visit in visits for one in visit.actions if one.about == name]
        handed = tuple(f"{one.status} by {one.by}" + (f": {one.note}" if one.note else "") for one in actions)
        cleared = is_cleared(visits, name)
        found.append(
            SafetyFinding(
                id=f"{code}:{name}",
                code=code,
                title=f"{matter.words[0].upper()}{matter.words[1:]}",
                sentence=f"The visit {yes[-1].id} found {matter.words}."
                if yes
                else f"Nobody answered whether there is {matter.words}; unknown blocks as yes does.",
                grade=Grade.REFER,
                standing=Standing.DONE if cleared else (Standing.OPEN if yes else Standing.UNKNOWN),
                place="house",
                start=(yes or unknown)[-1].time,
                evidence=handed,
                action=matter.action,
                lifted_by="the licensed firm's work recorded as done, and the question answered no on a later visit",
                done_on=answers[-1][0].time if cleared else None,
                done_by=answers[-1][0].by if cleared else "",
                topic=matter.topic,
            )
        )
    return found


def is_cleared(visits: tuple[Visit, ...], name: str) -> bool:
    """Return whether a matter once answered yes was worked on by others and answered no on a later visit."""
    answers = [(visit, _answer(visit, name)) for visit in in_order(visits)]
    yes = [visit for visit, answer in answers if answer is Answer.YES]
    done = any(one.about == name and one.status == "done" for visit in visits for one in visit.actions)
    return bool(yes) and answers[-1][1] is Answer.NO and done


def radon_findings(house: House, visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return radon where work moved pressures and no test is on file, or none since; nothing without such work."""
    works = last_change(house, CHANGES_PRESSURE)
    if works == float("-inf"):
        return ()
    tested = [visit for visit in in_order(visits) if visit.check("radon_tested") is Answer.YES]
    if tested and tested[-1].time >= works:
        return ()
    said = "the test on file is older than that" if tested else "no test is on file"
    levels = ", ".join(
        f"{one.printed} ({one.jurisdiction}, {one.edition}, {one.basis.value})" for one in limits_on("radon")
    )
    return (
        SafetyFinding(
            id="safety-radon:house",
            code="safety-radon",
            title="Radon not tested since pressures were changed",
            sentence=f"Work that ended on {{start}} moved pressures, and {said}. Such work can move radon either way. "
            f"Published levels: {levels}; lower levels still carry risk.",
            grade=Grade.REFER,
            standing=Standing.UNKNOWN,
            place="house",
            start=works,
            action="Test under closed-house conditions by the kit's instructions, now and before further work; certified "
            "people mitigate.",
            lifted_by="radon_tested answered yes on a visit after the work",
            topic=Topic.RADON,
        ),
    )


def permit_findings(house: House, visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return that work was done or is planned and nobody recorded whether it needs a permit."""
    if not (any(change.begins_phase for change in house.changes) or house.measures) or not visits:
        return ()
    visit, answer = newest_answer(visits, "permit_checked")
    if answer is Answer.YES:
        return ()
    missing = answer is Answer.NO
    return (
        SafetyFinding(
            id="safety-permit:house",
            code="safety-permit",
            title="Permit " + ("missing or not asked for" if missing else "not recorded"),
            sentence=f"The visit {visit.id} says that no permit was asked for or given."
            if missing and visit is not None
            else "Work is listed, and nobody recorded whether the authority having jurisdiction asks a permit for it.",
            grade=Grade.RESTRICT if missing else Grade.NOTE,
            standing=Standing.OPEN if missing else Standing.UNKNOWN,
            place="house",
            start=visit.time if visit is not None else None,
            action="Ask the authority having jurisdiction before gas, vent, wiring, refrigerant or duct work goes on.",
            lifted_by="permit_checked answered yes",
            topic=Topic.PERMITS,
        ),
    )


def check_findings(house: House, visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return what was seen on the newest visit that looked: soot, smoke, alarms; and fires on a gas flue."""
    found: list[SafetyFinding] = []
    for name, title in (("visible_soot", "Soot or scorching seen"), ("smoke_smell_from_fire", "Smoke in the room")):
        visit, answer = newest_answer(visits, name)
        if visit is not None and answer is Answer.YES:
            found.append(
                _seen(
                    "safety-soot", title, visit, Grade.STOP, Topic.COMBUSTION,
                    "Stop using the appliance until a qualified person has looked at it.",
                    f"{name} answered no on a later visit, and spillage_time",
                )
            )  # fmt: skip
    burns = bool(appliances_now(house)) or any(zone.kind is ZoneKind.GARAGE for zone in house.zones)
    visit, answer = newest_answer(visits, "co_alarms_present")
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
    return (*found, *_fire_on_a_gas_flue(house), *_left_alone(house), *_unvented(house))


def _fire_on_a_gas_flue(house: House) -> tuple[SafetyFinding, ...]:
    return tuple(
        SafetyFinding(
            id=f"safety-shared-flue:{fire.id}:{mate.id}",
            code="safety-shared-flue",
            title=f"A fire and a {mate.kind.value} on one flue",
            sentence=f"The survey puts the {named(fire)} and the {named(mate)} on one flue. Codes commonly forbid it "
            "(from memory; the local code governs).",
            grade=Grade.STOP,
            standing=Standing.OPEN,
            place=fire.zone,
            action="Use neither until a chimney professional and the authority having jurisdiction have looked at it.",
            lifted_by="a survey corrected after that inspection: shares_flue_with",
            topic=Topic.COMBUSTION,
        )
        for fire, mate in solid_fuel_on_a_shared_flue(house)
    )


def _unvented(house: House) -> tuple[SafetyFinding, ...]:
    """Return the heating appliances that put their exhaust into the room; a range is looked at through its hood."""
    return tuple(
        SafetyFinding(
            id=f"safety-unvented:{one.id}",
            code="safety-unvented",
            title=f"The {named(one)} puts its exhaust into {one.zone}",
            sentence=f"The {named(one)} has no flue: water, nitrogen dioxide and, where it burns badly, CO stay in the room. "
            "No spillage or draft test speaks about it.",
            grade=Grade.REFER,
            standing=Standing.OPEN,
            place=one.zone,
            action="Log CO at 1 ppm in that room; ask the authority having jurisdiction and a licensed person whether it may "
            "stay.",
            lifted_by="the appliance taken out or given a flue in the survey",
            topic=Topic.COMBUSTION,
        )
        for one in appliances_now(house)
        if one.venting is Venting.UNVENTED and one.kind is not ApplianceKind.RANGE
    )


def _left_alone(house: House) -> tuple[SafetyFinding, ...]:
    """Return the appliances left alone on a flue that they shared with one that was taken out."""
    return tuple(
        SafetyFinding(
            id=f"safety-orphaned-flue:{one.id}",
            code="safety-orphaned-flue",
            title=f"The {named(one)} is left alone on a shared flue",
            sentence=f"The {named(one)} shared its flue with an appliance that was taken out. A flue sized for two may pull "
            "too little or stay wet for one.",
            grade=Grade.REFER if one.venting is Venting.NATURAL_DRAFT else Grade.NOTE,
            standing=Standing.OPEN,
            place=one.id,
            action="A venting professional looks at the size of the flue and its connector; then test spillage and draft.",
            lifted_by="shares_flue_with corrected to none after that inspection, spillage_time and draft",
            topic=Topic.COMBUSTION,
        )
        for one in appliances_now(house)
        if can_spill(one) and is_orphaned(one, house)
    )


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
