"""The appliance-zone test step by step: what comes first, what was done, and whether the order was kept."""

from __future__ import annotations

from airtally.house.burners import can_spill, flue_mates
from airtally.house.parts import Appliance, House
from airtally.safety.appliances import spillage_limits
from airtally.safety.compare import compare_by_kind, verdict_of
from airtally.safety.flues import firing_order, firing_order_words
from airtally.safety.parts import Grade, SafetyFinding, SequenceStep, Standing, StepState, Topic, ZoneSequence
from airtally.safety.places import appliances_now, named
from airtally.safety.states import in_order, is_worst_state
from airtally.visits.parts import Answer, Doors, Reading, Visit

KEYS = ("worst_case_pressure_change", "spillage_time", "draft", "co_flue")
"""Readings that make a visit one on which the zone was tested."""


def zone_sequences(house: House, visits: tuple[Visit, ...]) -> tuple[ZoneSequence, ...]:
    """Return the sequence of every zone that holds a vented appliance."""
    zones = dict.fromkeys(one.zone for one in appliances_now(house) if can_spill(one))
    return tuple(zone_sequence(house, visits, zone) for zone in zones)


def zone_sequence(house: House, visits: tuple[Visit, ...], zone: str) -> ZoneSequence:
    """Return the steps of an appliance zone's test with what the newest visit that tested it did.

    Common practice of audit programmes: ambient CO, venting looked over, baseline, exhausts on, doors set by smoke,
    air handler on if it makes it worse, net change; then the smallest appliance first: spillage, draft, CO in the flue
    at steady state; ambient CO again; all of it under natural conditions where the worst state fails.
    """
    ordered, unknown = firing_order(house, zone)
    vented = (*ordered, *unknown)
    names = {one.id for one in vented}
    tested = [
        visit
        for visit in in_order(visits)
        if any(r.estimate is not None and r.key in KEYS and r.place in (zone, *names) for r in visit.readings)
    ]
    visit = tested[-1] if tested else None
    fired = _fired(visit, names)
    steps = [
        *_before(house, visit, zone, fired),
        *(step for one in vented for step in _firing(house, visit, one, vented)),
        *_after(house, visit, zone, fired),
    ]
    return ZoneSequence(
        zone=zone,
        visit=visit.id if visit is not None else "",
        firing_order=tuple(one.id for one in ordered),
        order_not_known=tuple(one.id for one in unknown),
        steps=tuple(steps),
    )


def sequence_findings(house: House, sequences: tuple[ZoneSequence, ...]) -> tuple[SafetyFinding, ...]:
    """Return what was fired out of order, or in an order that nobody recorded."""
    found = []
    for one in sequences:
        states = {step.state for step in one.steps if step.key == "spillage_time"}
        is_wrong = StepState.OUT_OF_ORDER in states
        if not is_wrong and StepState.ORDER_NOT_RECORDED not in states:
            continue
        said = (
            "a larger appliance was fired before a smaller one, and a warm flue hides what the smaller one spills"
            if is_wrong
            else "which appliance was fired first was not recorded"
        )
        found.append(
            SafetyFinding(
                id=f"safety-firing-order:{one.zone}",
                code="safety-firing-order",
                title=f"Order of firing in {one.zone}",
                sentence=f"On the visit {one.visit} {said}.",
                grade=Grade.RESTRICT if is_wrong else Grade.NOTE,
                standing=Standing.OPEN if is_wrong else Standing.UNKNOWN,
                place=one.zone,
                action=firing_order_words(house, one.zone) or "Fire the smallest first.",
                lifted_by="spillage_time of every appliance there with its time, smallest first, from a cold flue",
                topic=Topic.COMBUSTION,
            )
        )
    return tuple(found)


def _fired(visit: Visit | None, names: set[str]) -> tuple[Reading, ...]:
    if visit is None:
        return ()
    return tuple(r for r in visit.find("spillage_time") if r.place in names and r.estimate is not None)


def _measured(visit: Visit | None, key: str, place: str) -> list[Reading]:
    return [] if visit is None else [r for r in visit.find(key, place) if r.estimate is not None]


def _step(what: str, key: str, place: str, *, is_done: bool) -> SequenceStep:
    return SequenceStep(
        what=what, key=key, place=place, state=StepState.DONE if is_done else StepState.NOT_DONE
    )  # fmt: skip


def _before(house: House, visit: Visit | None, zone: str, fired: tuple[Reading, ...]) -> list[SequenceStep]:
    """Return the steps before anything is fired."""
    first = min((one.time for one in fired), default=float("inf"))
    early = [one for one in _measured(visit, "co_ambient", zone) if one.time <= first]
    looked = visit is not None and visit.check("venting_inspected") is not Answer.UNKNOWN
    worst = _measured(visit, "worst_case_pressure_change", zone)
    hard = worst or [one for one in _measured(visit, "zone_pressure_change", zone) if is_worst_state(one.state, house)]
    return [
        _step("Read CO outdoors.", "co_ambient", "outdoors", is_done=bool(_measured(visit, "co_ambient", "outdoors"))),
        _step(
            f"Read CO in {zone} before anything fires; stop at the level of the strictest programme.",
            "co_ambient", zone, is_done=bool(early),
        ),
        _step("Look over vents, connectors and terminations.", "venting_inspected", zone, is_done=looked),
        _step(
            f"Read {zone} against outdoors with every fan off and doors open.",
            "baseline_pressure", zone, is_done=bool(_measured(visit, "baseline_pressure", zone)),
        ),
        _step(
            f"Dryer and exhausts on, each door set by smoke so that {zone} goes lowest, the air handler on only if it "
            "makes it lower; read the change from the baseline.",
            "worst_case_pressure_change", zone, is_done=bool(hard),
        ),
    ]  # fmt: skip


def _firing(
    house: House, visit: Visit | None, appliance: Appliance, vented: tuple[Appliance, ...]
) -> list[SequenceStep]:
    """Return the steps of one appliance, in the zone's order of firing."""
    name = named(appliance)
    spilled = _measured(visit, "spillage_time", appliance.id)
    state = StepState.NOT_DONE
    if spilled:
        state = _order_kept(house, visit, appliance, vented)
    return [
        SequenceStep(
            what=f"Fire the {name} and time the spillage.", key="spillage_time", place=appliance.id, state=state
        ),
        _step(
            f"Read the draft of the {name} after five minutes of firing.",
            "draft", appliance.id, is_done=bool(_measured(visit, "draft", appliance.id)),
        ),
        _step(
            f"Read CO in the undiluted flue of the {name} at steady state or after ten minutes.",
            "co_flue", appliance.id, is_done=bool(_measured(visit, "co_flue", appliance.id)),
        ),
    ]  # fmt: skip


def _order_kept(house: House, visit: Visit | None, appliance: Appliance, vented: tuple[Appliance, ...]) -> StepState:
    """Return whether an appliance was fired before every larger one that may share its flue."""
    mates = flue_mates(appliance, appliances_now(house))
    mine = min(one.time for one in _measured(visit, "spillage_time", appliance.id))
    state = StepState.DONE
    for other in vented:
        fired = _measured(visit, "spillage_time", other.id)
        if other.id == appliance.id or not fired or (mates is not None and other not in mates):
            continue
        theirs = min(one.time for one in fired)
        if appliance.output is None or other.output is None or mine == theirs:
            state = StepState.ORDER_NOT_RECORDED
        elif other.output.value > appliance.output.value and theirs < mine:
            return StepState.OUT_OF_ORDER
    return state


def _after(house: House, visit: Visit | None, zone: str, fired: tuple[Reading, ...]) -> list[SequenceStep]:
    """Return the steps after the last firing."""
    last = max((one.time for one in fired), default=float("inf"))
    late = [
        one
        for one in _measured(visit, "co_ambient", zone)
        if one.time > last or (one.time == last and is_worst_state(one.state, house))
    ]
    failed = [
        one
        for one in fired
        if one.estimate is not None
        and is_worst_state(one.state, house)
        and verdict_of(compare_by_kind(one.estimate, spillage_limits(one.state.vent), "")) is not False
    ]
    natural = [one for one in fired if one.state.doors is Doors.OPEN and one.state.exhausts_on == ()]
    repeat = StepState.NOT_NEEDED
    if failed:
        repeat = StepState.DONE if natural else StepState.NOT_DONE
    return [
        _step(f"Read CO in {zone} again while they fire.", "co_ambient", zone, is_done=bool(late)),
        SequenceStep(
            what="Where the worst state failed, repeat under natural conditions: exhausts off, doors open. A pass there "
            "tells where the fault lies and lifts nothing.",
            key="spillage_time",
            place=zone,
            state=repeat,
        ),
    ]
