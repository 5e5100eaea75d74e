"""After work on filter, return or cleaner: what has to be measured again, and what the sealing did to the blower."""

from __future__ import annotations

from airtally.estimates import Estimate
from airtally.house.burners import can_spill
from airtally.house.parts import Affects, ApplianceKind, Change, House
from airtally.safety.parts import Grade, SafetyFinding, Standing, Topic
from airtally.safety.places import appliances_now
from airtally.safety.states import CHANGES_AIRFLOW, is_worst_state, last_change, readings_of
from airtally.visits.pair import difference
from airtally.visits.parts import HandlerMode, Reading, Visit

SEALING = frozenset({Affects.RETURN_LEAK})
WORDS = {
    "tesp": "total external static",
    "airflow": "airflow",
    "heat_rise": "heat rise",
    "house_pressure_fan_on_minus_off": "which way duct leakage dominates (house pressure, fan on minus off)",
    "worst_case_pressure_change": "worst case of the appliance zone",
    "spillage_time": "spillage",
}
"""What is asked for, in words."""


def remeasure_findings(house: House, visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return what work on the air path leaves to be measured again, and a static or a dominance that it turned."""
    if house.air_handler is None:
        return ()
    return (*_not_remeasured(house, visits), *_static_rose(house, visits), *_dominance_turned(house, visits))


def keys_to_remeasure(house: House) -> tuple[tuple[str, float], ...]:
    """Return each reading that works made stale, with when they ended [s].

    Sealing a return, another filter and a cleaner move static, airflow and heat rise; sealing also moves the
    dominance of duct leakage and with it the appliance zone.
    """
    works, sealing = last_change(house, CHANGES_AIRFLOW), last_change(house, SEALING)
    keys: list[tuple[str, float]] = []
    if works > float("-inf"):
        keys += [("tesp", works), ("airflow", works)]
        if any(one.kind is ApplianceKind.FURNACE for one in appliances_now(house)):
            keys.append(("heat_rise", works))
    if sealing > float("-inf"):
        keys.append(("house_pressure_fan_on_minus_off", sealing))
        if any(can_spill(one) for one in appliances_now(house)):
            keys += [("worst_case_pressure_change", sealing), ("spillage_time", sealing)]
    return tuple(keys)


def _not_remeasured(house: House, visits: tuple[Visit, ...]) -> list[SafetyFinding]:
    stale = [
        (key, since)
        for key, since in keys_to_remeasure(house)
        if not any(reading.time >= since for _, reading in readings_of(visits, key))
    ]
    if not stale:
        return []
    newest = max(since for _, since in stale)
    change = _change_ending(house, newest)
    names = ", ".join(WORDS[key] for key, _ in stale)
    is_small = change is not None and not change.begins_phase and {since for _, since in stale} == {newest}
    return [
        SafetyFinding(
            id="safety-not-remeasured:air handler",
            code="safety-not-remeasured",
            title="Not measured again after work on the air path",
            sentence=f"Since {_named(change)} of {{start}} nobody measured again: {names}. Sealing a return alone raises "
            "the static and takes airflow away; the supply side may come to dominate.",
            grade=Grade.NOTE if is_small else Grade.RESTRICT,
            standing=Standing.UNKNOWN,
            place="air handler",
            start=newest,
            action="Measure again, in the states of before: " + names + ".",
            lifted_by=", ".join(key for key, _ in stale) + ", each after the work",
            topic=Topic.COMBUSTION,
        )
    ]


def _change_ending(house: House, time: float) -> Change | None:
    return next((one for one in house.changes if (one.ends if one.ends is not None else one.time) == time), None)


def _named(change: Change | None) -> str:
    return f"the work '{change.name}'" if change is not None and change.name else "the work"


def _at_mode(visits: tuple[Visit, ...], key: str, mode: HandlerMode) -> list[tuple[Visit, Reading]]:
    return [pair for pair in readings_of(visits, key) if pair[1].state.air_handler is mode]


def _across(
    visits: tuple[Visit, ...], key: str, mode: HandlerMode, begins: float, ends: float
) -> tuple[Estimate, Estimate, float] | None:
    """Return the last reading before works and the newest after them at one blower speed, and when the latter was."""
    pairs = _at_mode(visits, key, mode)
    before = [r for _, r in pairs if r.time <= begins and r.estimate is not None]
    after = [r for _, r in pairs if r.time >= ends and r.estimate is not None]
    if not before or not after or before[-1].estimate is None or after[-1].estimate is None:
        return None
    return before[-1].estimate, after[-1].estimate, after[-1].time


def _static_rose(house: House, visits: tuple[Visit, ...]) -> list[SafetyFinding]:
    """Return that the static is higher since a return was sealed, with what airflow did at the same speed."""
    ends = last_change(house, SEALING)
    change = _change_ending(house, ends)
    if change is None:
        return []
    found = []
    for mode in (HandlerMode.HEATING, HandlerMode.COOLING, HandlerMode.CIRCULATE):
        static = _across(visits, "tesp", mode, change.time, ends)
        if static is None or difference(static[1], static[0]).low <= 0.0:
            continue
        figures: tuple[tuple[str, Estimate], ...] = (("before", static[0]), ("after", static[1]))
        flow = _across(visits, "airflow", mode, change.time, ends)
        said = " What airflow did was not measured at both times."
        if flow is not None:
            figures += (("flow_before", flow[0]), ("flow_after", flow[1]))
            said = " Airflow went from {flow_before} to {flow_after}."
        found.append(
            SafetyFinding(
                id=f"safety-static-rose:{mode.value}",
                code="safety-static-rose",
                title="Static pressure rose with the sealing",
                sentence=f"At {mode.value} speed total external static went from {{before}} to {{after}} across the "
                f"sealing.{said} Fewer particles in the rooms say nothing about this.",
                figures=figures,
                grade=Grade.RESTRICT,
                standing=Standing.OPEN,
                place="air handler",
                start=static[2],
                action="Add return or filter area with the sealing. Then measure again total external static, airflow, "
                "heat rise, which way duct leakage dominates, and the appliance zone.",
                lifted_by=f"tesp at {mode.value} speed no higher than before the sealing, and heat_rise within the plate",
                topic=Topic.COMBUSTION,
            )
        )
    return found


def _dominance_turned(house: House, visits: tuple[Visit, ...]) -> list[SafetyFinding]:
    """Return that starting the air handler now draws the house down where it pushed it up before the sealing."""
    ends = last_change(house, SEALING)
    readings = [
        (visit, reading, reading.estimate)
        for visit, reading in readings_of(visits, "house_pressure_fan_on_minus_off")
        if reading.estimate is not None and reading.reference == "outdoors"
    ]
    before = [one for one in readings if one[1].time < ends and one[2].value > 0.0]
    after = [one for one in readings if one[1].time >= ends]
    if not before or not after or after[-1][2].value >= 0.0:
        return []
    visit, reading, value = after[-1]
    zones = {one.zone for one in appliances_now(house) if can_spill(one)}
    tested = {
        one.place
        for key in ("worst_case_pressure_change", "zone_pressure_change")
        for _, one in readings_of(visits, key)
        if one.time >= ends and (key == "worst_case_pressure_change" or is_worst_state(one.state, house))
    }
    is_done = zones <= tested
    clear = value.high < 0.0
    return [
        SafetyFinding(
            id="safety-dominance-turned:house",
            code="safety-dominance-turned",
            title="The air handler now draws the house down",
            sentence="Starting the air handler moved the house by {before} before the sealing and by {after} on {start}"
            + ("." if clear else "; the second is too near zero to call.")
            + " Supply leaks may dominate now.",
            figures=(("before", before[-1][2]), ("after", value)),
            grade=Grade.RESTRICT if clear and zones else Grade.NOTE,
            standing=Standing.DONE if is_done else Standing.OPEN,
            place="house",
            start=reading.time,
            evidence=(f"visit {visit.id}",),
            action="Seal the supply side too, and test the appliance zone with the air handler on.",
            lifted_by="worst_case_pressure_change of every appliance zone after the sealing",
            done_on=visit.time if is_done else None,
            done_by=visit.by if is_done else "",
            topic=Topic.COMBUSTION,
        )
    ]
