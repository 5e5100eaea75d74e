"""The record's ``pressures``: what survey and gauges answer without any log, in field units."""

from __future__ import annotations

from collections.abc import Iterable

from airtally.estimates import Estimate
from airtally.network.answers import PressureAnswers
from airtally.network.ducts.hookup_answer import HookupAnswer
from airtally.network.ducts.sensor_place import SensorView
from airtally.network.home.calibrate import GivenBack
from airtally.network.home.house_pressure import HousePressure
from airtally.network.home.statics import StaticBudget
from airtally.network.outdoor_air.ventilation_need import VentilationNeed
from airtally.record.answer_rows import INCHES, row
from airtally.record.documents import Document
from airtally.record.numbers import field
from airtally.record.of_budget import budget_document, zones_document
from airtally.record.of_passages import draft_courses, draft_documents, duct_documents, supply_documents
from airtally.record.of_safety import FIELD_UNITS, shown

WORST_SENTENCES = (
    "Below zero the house is under suction; stack and wind come on top.",
    "Computed pressures are estimates, not tests: only a measured worst case can stand beside a limit.",
)
HOOKUP_TITLE = "A bypass cleaner on this return"
AGREES = 1.6448536269514722
"""Deviations within which a reading and the fitted network agree: nine in ten. [-]"""
DUCT_PRESSURES = frozenset({"tesp", "return_static", "supply_static", "filter_drop", "coil_drop"})


def pressures_document(answers: PressureAnswers) -> Document:
    """Return the record's ``pressures``."""
    sentences = list(WORST_SENTENCES)
    if any(case.has_fire_lit for case in answers.cases):
        sentences.append("Lines with a fire lit: not tested with a fire.")
    document: Document = {
        "worst_cases": [_case(case) for case in answers.cases],
        "rooms": [
            {"room": room.zone, "reference": room.reference, "state": room.state, "pressure": shown(room.pressure)}
            for room in answers.rooms
        ],
        "answers": list(_answers(answers)),
        "sentences": sentences,
    }
    if answers.drafts:
        document["draft_courses"] = draft_courses(answers.drafts)
    if answers.budget is not None:
        document["static_budget"] = _budget(answers.budget)
    if answers.calibrated is not None:
        document["readings"] = [_reading(one) for one in answers.calibrated.given_back]
    return document


def _case(case: HousePressure) -> Document:
    return {
        "name": case.state,
        "pressure": shown(case.pressure),
        "outcome": "not tested" if case.has_fire_lit else "cannot tell",
    }


def _budget(budget: StaticBudget) -> list[Document]:
    rows = [
        {"part": part.name, "pressure": field(part.pressure, "inH2O", INCHES)}
        for part in budget.parts
        if isinstance(part.pressure, Estimate)
    ]
    if isinstance(budget.total, Estimate):
        rows.append({"part": "total external static", "pressure": field(budget.total, "inH2O", INCHES)})
    return rows


def _reading(one: GivenBack) -> Document:
    unit, factor = ("inH2O", INCHES) if one.key in DUCT_PRESSURES else FIELD_UNITS.get(one.unit, (one.unit, 1.0))
    return {
        "reading": one.where,
        "measured": round(one.measured * factor, 3),
        "computed": round(one.computed * factor, 3),
        "unit": unit,
        "agrees": abs(one.miss) <= AGREES,
    }


def _answers(answers: PressureAnswers) -> Iterable[Document]:
    if answers.budgets:
        yield budget_document(answers.budgets)
    if answers.zones:
        yield zones_document(answers.zones)
    if answers.leaks:
        yield _leaks(answers)
    if answers.hookup is not None:
        yield from _hookup(answers.hookup)
    yield from draft_documents(answers.drafts)
    yield _ventilation(answers.ventilation)
    yield from supply_documents(answers.supply)
    yield from duct_documents(answers.ducts)


def _leaks(answers: PressureAnswers) -> Document:
    rows = []
    for one in answers.leaks:
        rows += [row(f"return air drawn from {leak.zone}", one.works, leak.share) for leak in one.leaks]
        if one.lost is not None:
            rows.append(row("supply air lost outdoors", one.works, one.lost))
        rows.append(row("house against outdoors, air handler on, doors open", one.works, one.house))
    return {
        "id": "duct-leaks",
        "title": "What the ducts draw in and lose, and which way it moves the house",
        "numbers": rows,
        "sentences": [
            "Above zero return leaks dominate, below zero supply leaks do: sealing one side alone can turn the sign, "
            "so house pressure and combustion tests are repeated after it.",
        ],
    }


def _hookup(answer: HookupAnswer) -> Iterable[Document]:
    groups = (
        ("bypass-hookup", HOOKUP_TITLE),
        ("in-line-or-bypass", "The same filter in line and on a bypass, on this blower"),
        ("sensor-places", "Where an in-duct monitor would sit and what it would see"),
    )
    compared = [one for one in answer.numbers if one.key.startswith(("as_is_", "in_line_", "bypass_"))]
    placed = [one for one in answer.numbers if one.key.startswith("place_")]
    rest = [one for one in answer.numbers if one not in compared and one not in placed]
    for (key, title), numbers in zip(groups, (rest, compared, placed), strict=True):
        if not numbers:
            continue
        document: Document = {"id": key, "title": title}
        if key == "bypass-hookup":
            document["cautions"] = list(answer.cautions)
        document["numbers"] = [row(one.name, one.state, one.number, duct=True) for one in numbers]
        if key == "sensor-places":
            document["sentences"] = [_place(view) for view in answer.placing.views]
        if key == "bypass-hookup":
            document |= {
                "sentences": list(answer.sentences),
                "not_measured": list(answer.not_measured),
                "assumed": list(answer.assumed),
            }
        yield document


def _place(view: SensorView) -> str:
    """Return what one place sees and does not, and whether a room threshold can be set there, in a sentence."""
    can = {True: "can be set there", None: "cannot be told there", False: "cannot be set there"}[view.can_invert]
    return (
        f"{view.candidate.spot.value}: sees {', '.join(view.sees)}; does not see {', '.join(view.misses)}; {view.straight}; "
        f"{view.mixing}; a room threshold {can}, {view.why}."
    )


def _ventilation(need: VentilationNeed) -> Document:
    edition = f"ASHRAE 62.2, {need.edition.value}"
    rows = [
        row("outdoor air asked for in all", edition, need.total),
        row("infiltration of the year", edition, need.infiltration),
        row("what infiltration may stand for", edition, need.credit),
        row("fan flow to provide", edition, need.required),
        row("fan flow to provide if balanced", edition, need.required_if_balanced),
        row("fan flow to provide if not balanced", edition, need.required_if_unbalanced),
        row("given by the fans that count", edition, need.given),
        row("missing", edition, need.lacking),
    ]
    return {
        "id": "ventilation",
        "title": "Ventilation against the standard",
        "numbers": rows,
        "sentences": [need.credit_rule, "The authority having jurisdiction says which edition holds."],
        "not_measured": list(need.unknown),
    }
