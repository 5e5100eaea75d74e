"""What the gauges say about each vented appliance and hearth: spillage, flue CO, draft, and what was not tested."""

from __future__ import annotations

from math import inf

from airtally.estimates import Basis, Estimate, Missing
from airtally.house.burners import can_spill, is_fire
from airtally.house.parts import Appliance, House, Venting
from airtally.limits import Limit, Sense, draft_lines, flue_action_levels, limits_on
from airtally.safety.compare import (
    Judged,
    compare_all,
    compare_by_kind,
    compare_level,
    editions_in_words,
    judge,
    newest_doubt,
)
from airtally.safety.flues import firing_order_words
from airtally.safety.parts import Grade, LimitComparison, SafetyFinding, Standing, Topic
from airtally.safety.places import appliances_now, named
from airtally.safety.states import is_as_hard, is_worst_state, last_change, readings_of
from airtally.visits.parts import Reading, VentStart, Visit

VENTS = {VentStart.WARM: ("warm vent",), VentStart.COLD: ("cold vent",)}
"""Kinds of the spillage limits for a start; a start that was not recorded is held against both."""


def appliance_findings(house: House, visits: tuple[Visit, ...]) -> tuple[SafetyFinding, ...]:
    """Return what was measured, or not tested, at every combustion appliance."""
    found: list[SafetyFinding] = []
    for appliance in appliances_now(house):
        if can_spill(appliance):
            found += _spillage(house, visits, appliance)
        found += _flue(visits, appliance)
        found += _draft(house, visits, appliance)
    return tuple(found)


def spillage_limits(vent: VentStart) -> tuple[Limit, ...]:
    """Return the spillage limits that speak about a start; an unrecorded vent is held against all."""
    kinds = VENTS.get(vent, ("warm vent", "cold vent"))
    return tuple(one for kind in kinds for one in limits_on("spillage time", applies_to=kind))


def _spillage(house: House, visits: tuple[Visit, ...], appliance: Appliance) -> list[SafetyFinding]:
    tests = [pair for pair in readings_of(visits, "spillage_time", appliance.id) if pair[1].time >= appliance.since]
    works = last_change(house)
    hard = [pair for pair in tests if is_worst_state(pair[1].state, house)]
    current = [pair for pair in hard if pair[1].time >= works]
    judged = judge(
        tests, lambda reading, value: compare_by_kind(value, spillage_limits(reading.state.vent), "spillage time")
    )
    found = [] if current else [_spillage_not_tested(house, appliance, tests, hard, works)]
    doubt, lifting = newest_doubt(
        judged,
        lambda later, before: (
            later.reading.time >= works and is_as_hard(later.reading.state, before.reading.state, house)
        ),
    )
    if doubt is not None:
        found.append(_spilled(appliance, doubt, lifting if current else None))
    return found


def _spilled(appliance: Appliance, doubt: Judged, lifting: Judged | None) -> SafetyFinding:
    """Return the newest failed or doubtful test; done if a later one in the worst state passed and nothing changed."""
    title = "spilled longer than the limit" if doubt.crossed else "spilled for about the limit: too close to call"
    return SafetyFinding(
        id=f"safety-spillage:{appliance.id}",
        code="safety-spillage",
        title=f"The {named(appliance)} {title}",
        sentence=f"On {{start}} the {named(appliance)} spilled for {{time}}, vent {doubt.reading.state.vent.value}. "
        "Spillage counts whatever the pressure was." + editions_in_words(doubt.limits),
        figures=(("time", doubt.value),),
        grade=Grade.STOP if doubt.crossed else Grade.RESTRICT,
        standing=Standing.DONE if lifting is not None else Standing.OPEN,
        place=appliance.id,
        start=doubt.reading.time,
        limits=doubt.limits,
        evidence=tuple(word for word in (doubt.reading.note, f"visit {doubt.visit.id}") if word),
        action="A qualified person corrects vent, pressure or appliance before it is used; then test again.",
        lifted_by=f"spillage_time at {appliance.id} within the governing limit, worst case, after the last change",
        done_on=lifting.visit.time if lifting is not None else None,
        done_by=lifting.visit.by if lifting is not None else "",
        topic=Topic.COMBUSTION,
    )


def _spillage_not_tested(
    house: House,
    appliance: Appliance,
    tests: list[tuple[Visit, Reading]],
    hard: list[tuple[Visit, Reading]],
    works: float,
) -> SafetyFinding:
    after_works = works > -inf
    said = "was never tested for spillage"
    if hard:
        said = "was not tested for spillage since pressures were last changed"
    elif tests:
        said = "was tested for spillage only in an easier state than the worst one, which clears nothing"
    return SafetyFinding(
        id=f"safety-spillage-not-tested:{appliance.id}",
        code="safety-spillage-not-tested",
        title=f"Spillage of the {named(appliance)} not tested",
        sentence=f"The {named(appliance)} {said}." + (" The change was on {start}." if after_works else ""),
        grade=Grade.STOP if after_works else Grade.RESTRICT,
        standing=Standing.UNKNOWN,
        place=appliance.id,
        start=works if after_works else None,
        action="Test it in the worst state of doors and fans. " + firing_order_words(house, appliance.zone),
        lifted_by=f"spillage_time at {appliance.id}, worst case",
        topic=Topic.COMBUSTION,
    )


def _flue(visits: tuple[Visit, ...], appliance: Appliance) -> list[SafetyFinding]:
    """Return CO in the flue against the levels, or that nobody measured it undiluted."""
    air_free = readings_of(visits, "co_flue", appliance.id)
    diluted = readings_of(visits, "co_flue_as_measured", appliance.id)
    tests = sorted((*air_free, *diluted), key=lambda pair: pair[1].time)
    found: list[SafetyFinding] = []
    if visits and can_spill(appliance) and not air_free:
        found.append(_flue_not_tested(appliance, is_diluted=bool(diluted)))

    judged = judge(tests, flue_held)
    worst = next((one for one in reversed(judged) if any(held.is_crossed for held in one.limits)), None)
    if worst is None:
        return found
    newest = next((one for one in reversed(judged) if one.reading.key == "co_flue"), None)
    is_done = newest is not None and newest.reading.time > worst.reading.time
    return [*found, _flue_found(appliance, worst, newest if is_done else None)]


def flue_held(reading: Reading, value: Estimate) -> tuple[LimitComparison, ...]:
    """Return CO in a flue held against the action levels."""
    what = "flue, undiluted" if reading.key == "co_flue" else "flue, as measured: no lower than this when undiluted"
    return tuple(compare_level(value, level, what) for level in flue_action_levels())


def _flue_found(appliance: Appliance, worst: Judged, lifting: Judged | None) -> SafetyFinding:
    reached = max(
        (level for level in flue_action_levels() if worst.value.value >= level.lower), key=lambda level: level.lower
    )
    kind = "undiluted" if worst.reading.key == "co_flue" else "as measured"
    return SafetyFinding(
        id=f"safety-co-flue:{appliance.id}",
        code="safety-co-flue",
        title=f"CO in the flue of the {named(appliance)}",
        sentence=f"The flue of the {named(appliance)} held {{co}} of CO, {kind}, on {{start}}.",
        figures=(("co", worst.value),),
        grade=Grade.RESTRICT if reached.key == "flue-co-raised" else Grade.STOP,
        standing=Standing.OPEN if lifting is None else Standing.DONE,
        place=appliance.id,
        start=worst.reading.time,
        limits=worst.limits,
        evidence=(f"visit {worst.visit.id}",),
        action=reached.consequence[0].upper() + reached.consequence[1:] + ".",
        lifted_by=f"co_flue at {appliance.id} below the levels",
        done_on=lifting.visit.time if lifting is not None else None,
        done_by=lifting.visit.by if lifting is not None else "",
        topic=Topic.COMBUSTION,
    )


def _flue_not_tested(appliance: Appliance, *, is_diluted: bool) -> SafetyFinding:
    said = "CO in it was read as measured only; diluted by room air it says less than it seems." if is_diluted else ""
    return SafetyFinding(
        id=f"safety-co-flue-not-tested:{appliance.id}",
        code="safety-co-flue-not-tested",
        title=f"CO in the flue of the {named(appliance)} not measured",
        sentence=f"Nobody measured CO in the undiluted flue of the {named(appliance)}. {said}".strip(),
        grade=Grade.RESTRICT,
        standing=Standing.UNKNOWN,
        place=appliance.id,
        action="Measure it before the draft hood, at steady state or after ten minutes of firing.",
        lifted_by=f"co_flue at {appliance.id}",
        topic=Topic.COMBUSTION,
    )


def _draft(house: House, visits: tuple[Visit, ...], appliance: Appliance) -> list[SafetyFinding]:
    """Return a finding where a flue pushed, pulled less than its table or makers ask, or was not read."""
    tests = [pair for pair in readings_of(visits, "draft", appliance.id) if pair[1].time >= appliance.since]
    drafts = appliance.venting is Venting.NATURAL_DRAFT or (is_fire(appliance) and bool(tests))
    if not tests:
        return [_draft_not_tested(visits, appliance)] if visits and drafts else []

    judged = tuple(
        one if one.value.value < 0.0 else Judged(
            visit=one.visit, reading=one.reading, value=one.value, limits=one.limits, crossed=True
        )
        for one in judge(tests, lambda reading, value: draft_held(appliance, reading, value))
    )  # fmt: skip
    found: list[SafetyFinding] = []
    if not any(one.limits for one in judged) and can_spill(appliance):
        found.append(_draft_without_weather(appliance, judged[-1]))
    doubt, lifting = newest_doubt(
        [one for one in judged if one.limits or one.crossed],
        lambda later, before: is_as_hard(later.reading.state, before.reading.state, house),
    )
    if doubt is not None:
        found.append(_drafted(appliance, doubt, lifting))
    return found


def draft_held(appliance: Appliance, reading: Reading, value: Estimate) -> tuple[LimitComparison, ...]:
    """Return a draft held, as a pull, against what speaks about its flue."""
    pull = Estimate(
        value=-value.value, low=-value.high, high=-value.low, unit="Pa", basis=Basis.MEASURED, source=value.source
    )
    return compare_all(pull, draft_limits(appliance, reading), "draft, pull as a magnitude")


def draft_limits(appliance: Appliance, reading: Reading) -> tuple[Limit, ...]:
    """Return the least pulls [Pa, magnitudes] that speak about a flue: makers' for a fire, the table's for gas.

    The table goes by outdoor temperature; without one recorded in the reading's state nothing can be said.
    """
    if is_fire(appliance):
        return tuple(one for one in limits_on("stove draft") if one.sense is Sense.AT_LEAST)
    outdoors = reading.state.outdoor_temperature
    if appliance.venting is not Venting.NATURAL_DRAFT or outdoors is None:
        return ()
    return tuple(line.least_pull(outdoors.value) for line in draft_lines())


def _drafted(appliance: Appliance, doubt: Judged, lifting: Judged | None) -> SafetyFinding:
    pushes = doubt.value.value >= 0.0
    words = "does not pull" if pushes else ("pulls too little" if doubt.crossed else "pulls about the least asked")
    return SafetyFinding(
        id=f"safety-draft:{appliance.id}",
        code="safety-draft",
        title=f"The flue of the {named(appliance)} {words}",
        sentence=f"The flue of the {named(appliance)} was read at {{draft}} on {{start}}; below zero pulls.",
        figures=(("draft", doubt.value),),
        grade=Grade.STOP if pushes else Grade.RESTRICT,
        standing=Standing.OPEN if lifting is None else Standing.DONE,
        place=appliance.id,
        start=doubt.reading.time,
        limits=doubt.limits,
        evidence=(f"visit {doubt.visit.id}",),
        action="A chimney or venting professional looks at it before it is used again.",
        lifted_by=f"draft at {appliance.id} within the table's or the maker's range, worst case",
        done_on=lifting.visit.time if lifting is not None else None,
        done_by=lifting.visit.by if lifting is not None else "",
        topic=Topic.COMBUSTION,
    )


def _draft_not_tested(visits: tuple[Visit, ...], appliance: Appliance) -> SafetyFinding:
    asked = [reading.value for visit in visits for reading in visit.find("draft", appliance.id)]
    why = next((one.value for one in reversed(asked) if isinstance(one, Missing)), "no visit holds a reading")
    return SafetyFinding(
        id=f"safety-draft-not-tested:{appliance.id}",
        code="safety-draft-not-tested",
        title=f"Draft of the {named(appliance)} not measured",
        sentence=f"The pull of the {named(appliance)} is not known: {why}.",
        grade=Grade.NOTE,
        standing=Standing.UNKNOWN,
        place=appliance.id,
        action="Read it after five minutes of firing, in the worst state, with the outdoor temperature.",
        lifted_by=f"draft at {appliance.id}, with outdoor_temperature",
        topic=Topic.COMBUSTION,
    )


def _draft_without_weather(appliance: Appliance, newest: Judged) -> SafetyFinding:
    return SafetyFinding(
        id=f"safety-draft-not-tested:{appliance.id}",
        code="safety-draft-not-tested",
        title=f"Draft of the {named(appliance)} held against nothing",
        sentence=f"The flue of the {named(appliance)} was read at {{draft}} on {{start}}; what it should pull depends on "
        "the outdoor temperature or the maker, and neither is recorded.",
        figures=(("draft", newest.value),),
        grade=Grade.NOTE,
        standing=Standing.UNKNOWN,
        place=appliance.id,
        start=newest.reading.time,
        action="Write the outdoor temperature of the visit, and read the draft again.",
        lifted_by=f"draft at {appliance.id}, with outdoor_temperature",
        topic=Topic.COMBUSTION,
    )
