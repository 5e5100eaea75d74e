"""The gates that stand before every form: leave and call, or do not put the house under pressure."""

from __future__ import annotations

from airtally.safety.parts import BlockedForm, GateAnswer, Grade, SafetyFinding, Standing, Topic
from airtally.visits.kinds import GATES
from airtally.visits.parts import Answer, Reading, Visit

LEAVE = frozenset({"alarm_sounding", "gas_smell", "symptoms_clear_outdoors"})
"""Gates that end the visit."""
EVERY_FORM = ("every form",)
PRESSURE_FORMS = ("blower door", "worst-case depressurisation", "pressure pan")
DUCT_FORMS = ("duct leakage test", "duct sealing")
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
    "vermiculite": "Leave it alone, treat it as asbestos, refer it to a licensed firm. No suction on the house.",
    "suspect_wrap": "Leave it alone, have a licensed firm sample it. No pressure on house or ducts, no duct work.",
}
KEYS_OF_FORMS: dict[str, tuple[str, ...]] = {
    "blower door": ("cfm50",),
    "worst-case depressurisation": ("worst_case_pressure_change",),
    "pressure pan": ("pressure_pan",),
    "duct leakage test": ("cfm25_total", "cfm25_outside", "cfm25_return", "cfm25_supply"),
    "duct sealing": (),
}
"""Reading keys that a form holds."""


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


def blocked_forms(answers: tuple[GateAnswer, ...]) -> tuple[BlockedForm, ...]:
    """Return the forms that the answers block: yes blocks, and so does unknown."""
    blocked = []
    for answer in answers:
        if answer.answer is Answer.NO:
            continue
        said = "yes" if answer.answer is Answer.YES else "not answered"
        must_leave = answer.gate in LEAVE
        do = DO[answer.gate] if answer.answer is Answer.YES or not must_leave else "Ask before anything else is done."
        blocked += [
            BlockedForm(
                form=form,
                because=f"{answer.question}: {said}",
                do=do,
                lifted_by="the emergency service or utility clears the house, then the gate is asked again"
                if must_leave and answer.answer is Answer.YES
                else "the gate answered no on the day of the test",
            )
            for form in FORMS[answer.gate]
        ]
    return tuple(blocked)


def gate_findings(visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return what the gates of the newest visit found, and readings taken although their form was blocked."""
    answers = gate_answers(visits)
    found = [
        SafetyFinding(
            id=f"safety-emergency:{answer.gate}",
            code="safety-emergency",
            title=answer.question[0].upper() + answer.question[1:],
            sentence=f"The visit {answer.visit} found: {answer.question}.",
            grade=Grade.STOP,
            standing=Standing.OPEN,
            place="house",
            action=DO[answer.gate],
            lifted_by="the house cleared by the emergency service or utility, and a later visit that answers no",
            topic=Topic.CARBON_MONOXIDE,
        )
        for answer in answers
        if answer.gate in LEAVE and answer.answer is Answer.YES
    ]
    for visit in visits:
        found += _filled_although_blocked(visit)
    return tuple(found)


def _filled_although_blocked(visit: Visit) -> list[SafetyFinding]:
    """Return a finding for each gate of a visit whose blocked forms were filled in all the same."""
    found = []
    for gate in GATES:
        if visit.gate(gate) is Answer.NO:
            continue
        forms = KEYS_OF_FORMS if FORMS[gate] == EVERY_FORM else {form: KEYS_OF_FORMS[form] for form in FORMS[gate]}
        taken: list[Reading] = [
            reading
            for keys in forms.values()
            for key in keys
            for reading in visit.find(key)
            if reading.estimate is not None
        ]
        if not taken:
            continue
        names = ", ".join(sorted({reading.key for reading in taken}))
        answer = "was answered yes" if visit.gate(gate) is Answer.YES else "was not answered"
        found.append(
            SafetyFinding(
                id=f"safety-blocked-form-filled:{visit.id}:{gate}",
                code="safety-blocked-form-filled",
                title="A blocked form was filled in",
                sentence=f"On the visit {visit.id} the gate '{GATES[gate]}' {answer}, and {names} was measured anyway.",
                grade=Grade.NOTE,
                standing=Standing.OPEN,
                place="house",
                action="Ask what was done, and answer the gate before the next test. " + DO[gate],
                topic=Topic.HAZARDOUS_MATERIALS if gate in ("vermiculite", "suspect_wrap") else Topic.COMBUSTION,
                start=visit.time,
            )
        )
    return found
