"""The gates that stand before every form: leave and call, or do not put the house under pressure."""

from __future__ import annotations

from airtally.safety.parts import BlockedForm, GateAnswer, Grade, SafetyFinding, Standing, Topic
from airtally.safety.recognise import is_cleared
from airtally.safety.states import in_order
from airtally.visits.kinds import GATES, READING_KINDS
from airtally.visits.parts import Answer, Doors, Visit

LEAVE = frozenset({"alarm_sounding", "gas_smell", "symptoms_clear_outdoors"})
"""Gates that end the visit."""
EVERY_FORM = ("every form",)
WORST_CASE_FORM = "worst-case depressurisation"
PRESSURE_FORMS = ("blower door", WORST_CASE_FORM, "pressure pan")
DUCT_FORMS = ("duct leakage test", "duct sealing")
FAN_RULE_FORM = "fan rule"
EXHAUST_FORM = "proposal that raises exhaust or takes relief air away"
"""Blocked by open findings, not by gates."""
FORMS: dict[str, tuple[str, ...]] = {
    "alarm_sounding": EVERY_FORM,
    "gas_smell": EVERY_FORM,
    "symptoms_clear_outdoors": EVERY_FORM,
    "fire_or_ash_within_24_h": PRESSURE_FORMS,
    "vermiculite": PRESSURE_FORMS,
    "suspect_wrap": (*PRESSURE_FORMS, *DUCT_FORMS),
}
"""Forms that a gate blocks while its answer is yes or unknown."""
DO: dict[str, str] = {
    "alarm_sounding": "Everyone out. Call the emergency service from outdoors.",
    "gas_smell": "Everyone out, touch no switch. Call the gas utility from outdoors.",
    "symptoms_clear_outdoors": "Everyone out. Call the emergency service from outdoors.",
    "fire_or_ash_within_24_h": "Wait until the fire is out and the ash has been cold for 24 hours.",
    "vermiculite": "Leave it alone, take it for asbestos, refer it to a licensed firm. No suction on the house.",
    "suspect_wrap": "Leave it alone, have a licensed firm sample it. No pressure on house or ducts, no duct work.",
}
KEYS_OF_FORMS: dict[str, tuple[str, ...]] = {
    "blower door": ("cfm50",),
    WORST_CASE_FORM: ("worst_case_pressure_change",),
    "pressure pan": ("pressure_pan",),
    "duct leakage test": ("cfm25_total", "cfm25_outside", "cfm25_return", "cfm25_supply"),
    "duct sealing": (),
}
"""Reading keys that a form holds."""
WORST_CASE_KEYS = frozenset({"spillage_time", "draft", "zone_pressure", "zone_pressure_change"})
"""Readings that belong to the worst-case form when the doors stood in the worst case."""
MATERIALS = frozenset({"vermiculite", "suspect_wrap"})
"""Gates on a matter that stays until others have worked on it."""
STILL_READ = frozenset({"co_ambient"})
"""What may be read on the way out."""
MOST_NAMED = 6


def gate_answers(visits: tuple[Visit, ...]) -> tuple[GateAnswer, ...]:
    """Return the newest visit's answer to each gate; without a visit every gate is unknown."""
    latest = max(visits, key=lambda visit: visit.time, default=None)
    return tuple(
        GateAnswer(
            gate=gate,
            question=question,
            answer=latest.gate(gate) if latest is not None else Answer.UNKNOWN,
            visit=latest.id if latest is not None else "",
        )
        for gate, question in GATES.items()
    )


def blocked_forms(answers: tuple[GateAnswer, ...], visits: tuple[Visit, ...] = ()) -> tuple[BlockedForm, ...]:
    """Return the forms that the answers block: yes blocks, and so does unknown.

    A material once found blocks until others' work on it is recorded and a later visit answers no.
    """
    blocked = []
    for answer in answers:
        found_before = (
            answer.gate in MATERIALS and was_found(visits, answer.gate) and not is_cleared(visits, answer.gate)
        )
        if answer.answer is Answer.NO and not found_before:
            continue
        said = "yes" if answer.answer is Answer.YES else "not answered"
        if answer.answer is Answer.NO:
            said = "found on an earlier visit, and no licensed firm's work is recorded"
        must_leave = answer.gate in LEAVE
        do = DO[answer.gate] if answer.answer is Answer.YES or not must_leave else "Ask before anything else is done."
        lifted = "the gate answered no on the day of the test"
        if must_leave and answer.answer is Answer.YES:
            lifted = "the emergency service or utility clears the house, then the gate is asked again"
        elif found_before or (answer.gate in MATERIALS and answer.answer is Answer.YES):
            lifted = "the licensed firm's work recorded as done, and the gate answered no on a later visit"
        blocked += [
            BlockedForm(form=form, because=f"{answer.question}: {said}", do=do, lifted_by=lifted)
            for form in FORMS[answer.gate]
        ]
    return tuple(blocked)


def was_found(visits: tuple[Visit, ...], gate: str) -> bool:
    """Return whether any visit answered a gate yes."""
    return any(visit.gate(gate) is Answer.YES for visit in visits)


def gate_findings(visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return what the gates found: leave and call, gates nobody asked, and readings taken although blocked."""
    found: list[SafetyFinding] = []
    for answer in gate_answers(visits):
        if answer.gate in LEAVE and visits:
            found += _emergency(visits, answer)
    found += _gas_leak(visits)
    for visit in visits:
        found += _filled_although_blocked(visit, visits)
    return tuple(found)


def _emergency(visits: tuple[Visit, ...], answer: GateAnswer) -> list[SafetyFinding]:
    """Return an emergency of the newest visit that answered yes; done once others cleared it and a later visit says no."""
    yes = [visit for visit in in_order(visits) if visit.gate(answer.gate) is Answer.YES]
    if not yes:
        return [_not_asked(answer)] if answer.answer is Answer.UNKNOWN else []
    is_now = answer.answer is Answer.YES
    cleared = is_cleared(visits, answer.gate)
    standing = Standing.OPEN if is_now else (Standing.DONE if cleared else Standing.UNKNOWN)
    said = {
        Standing.OPEN: "",
        Standing.UNKNOWN: " Nobody recorded who cleared it.",
        Standing.DONE: " It was cleared, and a later visit answered no.",
    }[standing]
    newest = in_order(visits)[-1]
    return [
        SafetyFinding(
            id=f"safety-emergency:{answer.gate}",
            code="safety-emergency",
            title=answer.question[0].upper() + answer.question[1:],
            sentence=f"The visit {yes[-1].id} found: {answer.question}.{said}",
            grade=Grade.STOP,
            standing=standing,
            place="house",
            action=DO[answer.gate] if is_now else "Record who cleared it and what was found, then ask again.",
            lifted_by="the house cleared by the emergency service or utility, recorded as done, and a later visit that "
            "answers no",
            start=yes[-1].time,
            done_on=newest.time if standing is Standing.DONE else None,
            done_by=newest.by if standing is Standing.DONE else "",
            topic=Topic.CARBON_MONOXIDE,
        )
    ]


def _not_asked(answer: GateAnswer) -> SafetyFinding:
    return SafetyFinding(
        id=f"safety-gate-not-asked:{answer.gate}",
        code="safety-gate-not-asked",
        title=f"Not asked: {answer.question}",
        sentence=f"The visit {answer.visit} holds no answer to: {answer.question}.",
        grade=Grade.RESTRICT,
        standing=Standing.UNKNOWN,
        place="house",
        action="Ask it before anything else is done.",
        lifted_by=f"{answer.gate} answered no",
        topic=Topic.CARBON_MONOXIDE,
    )


def _gas_leak(visits: tuple[Visit, ...]) -> list[SafetyFinding]:
    """Return a leak that the sniffer found on the newest visit that looked."""
    looked = [visit for visit in in_order(visits) if visit.check("gas_leak_found") is not Answer.UNKNOWN]
    if not looked or looked[-1].check("gas_leak_found") is Answer.NO:
        return []
    return [
        SafetyFinding(
            id="safety-emergency:gas_leak_found",
            code="safety-emergency",
            title="A gas leak was found",
            sentence=f"The visit {looked[-1].id} found a gas leak with the sniffer on {{start}}.",
            grade=Grade.STOP,
            standing=Standing.OPEN,
            place="house",
            start=looked[-1].time,
            action=DO["gas_smell"],
            lifted_by="gas_leak_found answered no on a later visit, after the utility or a licensed person repaired it",
            topic=Topic.COMBUSTION,
        )
    ]


def is_in_form(key: str, doors: Doors, form: str) -> bool:
    """Return whether a reading of a key, taken with the doors so, belongs to a form that gates block."""
    if form == EVERY_FORM[0]:
        return key not in STILL_READ and not READING_KINDS[key].is_fixed
    worst = form == WORST_CASE_FORM and doors is Doors.WORST_CASE
    return key in KEYS_OF_FORMS[form] or (worst and key in WORST_CASE_KEYS)


def _filled_although_blocked(visit: Visit, visits: tuple[Visit, ...]) -> list[SafetyFinding]:
    """Return a finding for each gate of a visit whose blocked forms were filled in all the same."""
    found = []
    for gate in GATES:
        if visit.gate(gate) is Answer.NO:
            continue
        taken = [
            reading.key
            for reading in visit.readings
            if reading.estimate is not None
            and any(is_in_form(reading.key, reading.state.doors, form) for form in FORMS[gate])
        ]
        if not taken:
            continue
        names = sorted(set(taken))
        shown = ", ".join(names[:MOST_NAMED])
        more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
        is_yes = visit.gate(gate) is Answer.YES
        is_done = gate in MATERIALS and is_cleared(visits, gate)
        answer = "was answered yes" if is_yes else "was not answered"
        found.append(
            SafetyFinding(
                id=f"safety-blocked-form-filled:{visit.id}:{gate}",
                code="safety-blocked-form-filled",
                title="A blocked form was filled in",
                sentence=f"On the visit {visit.id} the gate '{GATES[gate]}' {answer}, and measured all the same: "
                f"{shown}{more}.",
                grade=Grade.REFER if gate in MATERIALS and is_yes else Grade.NOTE,
                standing=Standing.DONE if is_done else Standing.OPEN,
                place="house",
                action="Ask what was done, and answer the gate before the next test. " + DO[gate],
                lifted_by="a licensed firm's word on what the suction may have loosened" if gate in MATERIALS else "",
                topic=Topic.HAZARDOUS_MATERIALS if gate in MATERIALS else Topic.COMBUSTION,
                start=visit.time,
            )
        )
    return found
