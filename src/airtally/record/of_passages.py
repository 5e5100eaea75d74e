"""The record's answers on drafts, supply air and ducts outside the rooms, cautions first."""

from __future__ import annotations

from collections.abc import Iterable

from airtally.estimates import Basis, Estimate
from airtally.network.ducts.duct_runs import WRAPPED_AS, DuctRunAnswer, RunSeason
from airtally.network.flues.flue_changes import DraftAnswer, DraftChange
from airtally.network.flues.flue_draft import NOT_TESTED, StageDraft
from airtally.network.flues.hearth_drafts import HearthDraft
from airtally.network.outdoor_air.conditioning import (
    FILTER_FAN_EFFICIENCY,
    FILTER_FAN_PRESSURE,
    NEW_AIR_SHARE,
    ConditioningCost,
)
from airtally.network.outdoor_air.supply_answer import WITH_EXHAUSTS, SupplyAnswer
from airtally.record.answer_rows import level, limit_of, row
from airtally.record.documents import Document
from airtally.safety.cautions import CAUTIONS
from airtally.safety.parts import Topic

NO_PERMISSION = (
    "Draft is an estimate with its band. It is no permission to burn and no time for which a fire may burn; a chimney "
    "professional and a test with the exhausts on decide."
)
COMBUSTION = (CAUTIONS[Topic.COMBUSTION], CAUTIONS[Topic.CARBON_MONOXIDE], CAUTIONS[Topic.PERMITS])
"""Cautions that stand before every answer on draft or suction."""
OUTSIDE_DUCTS = (CAUTIONS[Topic.HAZARDOUS_MATERIALS], CAUTIONS[Topic.ENTRY])
AVAILABLE, EASIER, WORST = "available draft", "draft in an easier state", "worst state"


def draft_documents(drafts: tuple[HearthDraft, ...]) -> Iterable[Document]:
    """Yield the answer on the draft of every hearth together, if there is any."""
    if not drafts:
        return
    rows: list[Document] = []
    sentences: list[str] = [NO_PERMISSION]
    for one in drafts:
        rows += _draft_rows(one)
        sentences += _draft_words(one)
    yield {
        "id": "draft",
        "title": "Draft of fires and burners, against the pressure of the house",
        "cautions": list(COMBUSTION),
        "numbers": rows,
        "sentences": list(dict.fromkeys(sentences)),
        "assumed": list(dict.fromkeys(source for one in drafts for source in _assumed(one.answer))),
    }


def draft_courses(drafts: tuple[HearthDraft, ...]) -> list[Document]:
    """Return the available draft along a burn of each hearth in its worst state, for a drawing. [min], [Pa]"""
    return [
        {
            "flue": _name(one),
            "state": one.answer.worst.state,
            "standing": one.answer.standing,
            "burning_until": round(one.course.burning_until / 60.0, 1),
            "minutes": [round(float(time) / 60.0, 1) for time in one.course.time],
            "available": [round(float(value), 2) for value in one.course.available.value],
            "low": [round(float(value), 2) for value in one.course.available.low],
            "high": [round(float(value), 2) for value in one.course.available.high],
            "unit": "Pa",
        }
        for one in drafts
    ]


def _name(one: HearthDraft) -> str:
    return one.hearth.appliance or one.hearth.name


def _draft_rows(one: HearthDraft) -> list[Document]:
    answer, standing = one.answer, one.answer.standing
    name = _name(one)
    rows: list[Document] = []
    worst, *others = answer.states
    for stage in worst.stages:
        rows += _stage_rows(f"{name}: {WORST}, {stage.stage.value}", stage, standing)
    for weather in one.weathers:
        state = f"{name}: {WORST}, {weather.stage.stage.value}, {weather.weather}"
        rows.append(row(AVAILABLE, state, weather.stage.available, standing=standing))
    for change in answer.changes_at(worst.weakest.stage):
        state = f"{name}: {change.name}, {WORST}, {change.stage.value}"
        rows.append(row("gain of draft by one change", state, change.gain, standing=standing))
        rows.append(row("draft with that change", state, change.available, standing=standing))
    for other in others:
        for stage in other.stages:
            state = f"{name}: {other.state}, {stage.stage.value}"
            rows.append(row(EASIER, state, stage.available, standing=standing))
    return rows


def _stage_rows(state: str, stage: StageDraft, standing: str) -> list[Document]:
    numbers = (
        (AVAILABLE, stage.available),
        ("draft over what is asked for", stage.margin),
        ("draft while nothing flows", stage.before_reversal),
        ("pull of the warm flue", stage.own.theoretical),
        ("lost in the flue", stage.own.losses),
        ("room of the hearth against outdoors, its fire's draw and stack included", stage.house_pressure),
    )
    return [row(what, state, number, standing=standing) for what, number in numbers]


def _draft_words(one: HearthDraft) -> list[str]:
    answer = one.answer
    name, weakest = _name(one), answer.worst.weakest
    found = [
        f"{name}: {answer.standing}.",
        f"{name}, {WORST}: {answer.worst.state}.",
        f"{name} is weakest in it at {weakest.stage.value}: {weakest.reach.value}.",
    ]
    if answer.most is not None:
        found.append(_most_words(name, answer.most))
    found += [f"{name}: {stage.stage.value}: {stage.note}." for stage in answer.worst.stages if stage.note]
    return [*found, *answer.evidence]


def _most_words(name: str, most: DraftChange) -> str:
    said = f"; {most.caution}" if most.caution else ""
    return f"{name}: of the single changes that were replayed, this moves the draft most where it is weakest: {most.name}{said}."


def _assumed(answer: DraftAnswer) -> list[str]:
    flue = answer.flue
    parts = {name: getattr(flue, name) for name in flue.__slots__}
    return [
        f"{name.replace('_', ' ')} of {flue.name}: {one.source}"
        for name, one in parts.items()
        if isinstance(one, Estimate) and one.basis is Basis.DEFAULT
    ]


def supply_documents(answer: SupplyAnswer) -> Iterable[Document]:
    """Yield the answer on supply air: what pressure and ventilation ask for, and what a year of it takes."""
    rows: list[Document] = []
    for zone in answer.zones:
        state = f"{zone.zone}, {WORST}"
        standing = NOT_TESTED if zone.has_fire_lit else "not tested"
        name = "room against outdoors without supply air, change from every fan off"
        rows.append(row(name, state, zone.pressure, standing=standing))
        if zone.flow is not None:
            rows.append(row("supply air that holds the limit of the room", state, zone.flow, standing=standing))
    balance = answer.balance
    rows += [
        row("supply air for the pressure", "largest of the rooms", balance.for_pressure),
        row("supply air that ventilation lacks", "whole house", balance.for_ventilation),
        row("supply air, the larger of the two", f"set by {balance.governs.value}", balance.flow),
        row("air that is conditioned for the pressure only", "whole house", balance.surplus),
    ]
    costs = (("fan that runs always", answer.always), ("fan that runs with the exhausts", answer.with_exhausts))
    for state, cost in costs:
        rows += _cost_rows(state, cost) if cost is not None else []
    said = [text for _, cost in costs if cost is not None for text in cost.said]
    yield {
        "id": "supply-air",
        "title": "Supply air: what pressure and ventilation ask for, and a year of it",
        "cautions": list(COMBUSTION),
        "numbers": rows,
        "limits": [limit_of(f"suction of {one.zone}: {one.limit.applies_to}", one.limit) for one in answer.zones],
        "sentences": [
            "Computed, not tested: only a measured worst case can stand beside a limit, and supply air helps only while "
            "it runs.",
            "The strictest limit in force is held in each room, whoever issued it; the authority having jurisdiction "
            "says which holds.",
            *(f"{zone.zone}, {WORST}: {zone.state}." for zone in answer.zones),
            *dict.fromkeys(said),
        ],
        "not_measured": list(answer.unknown),
        "assumed": [one.source for one in (NEW_AIR_SHARE, FILTER_FAN_PRESSURE, FILTER_FAN_EFFICIENCY, WITH_EXHAUSTS)],
    }


def _cost_rows(state: str, cost: ConditioningCost) -> list[Document]:
    numbers = (
        ("heat on the place's cold day", cost.heat_power),
        ("heat of a year", cost.heating),
        ("cooling of a year", cost.cooling),
        ("power of the fan with its filter", cost.fan_power),
        ("electricity of the fan in a year", cost.fan_energy),
        ("cost of a year", cost.cost),
    )
    return [row(name, state, number) for name, number in numbers if isinstance(number, Estimate)]


def duct_documents(ducts: tuple[DuctRunAnswer, ...]) -> Iterable[Document]:
    """Yield the answer on ducts outside the rooms, if there is any."""
    if not ducts:
        return
    yield {
        "id": "duct-heat",
        "title": "Ducts outside the rooms: heat lost and gained, and water on cold ones",
        "cautions": list(OUTSIDE_DUCTS),
        "numbers": [found for one in ducts for season in one.seasons for found in _season_rows(one, season)],
        "sentences": [
            "Below zero over the dew point, water settles on the outside of the run where its air enters; wrap wants an "
            "unbroken vapour retarder outside.",
            "Steady flow at heating speed; what leaks is not in it. Local code says what wrap a duct needs.",
        ],
        "assumed": list(dict.fromkeys(text for one in ducts for text in one.assumed)),
    }


def _season_rows(one: DuctRunAnswer, season: RunSeason) -> list[Document]:
    heat, state = season.heat, f"{one.duct.id}, {one.duct.side.value} in {one.duct.zone}: {season.season.value}"
    found = heat.found
    rows = [
        row("heat lost on the way, below zero gained", state, found.heat_loss),
        row("change of the air's temperature on the way", state, found.temperature_change),
        level("air that enters the run", state, found.run.inlet_temperature),
        level("air around the run", state, found.run.ambient_temperature),
        level("air that leaves the run", state, found.exit_temperature),
        row("airflow in the run", state, found.run.flow),
        row(f"heat no longer lost or gained with {WRAPPED_AS.value}", state, heat.saved),
    ]
    if season.sweating is not None:
        rows += [
            level("dew point of the air around the run", state, season.sweating.dew_point),
            row("outside of the run over that dew point", state, season.sweating.over_dew_point),
            row(f"outside of the run over that dew point with {WRAPPED_AS.value}", state, season.sweating.wrapped),
        ]
    return rows
