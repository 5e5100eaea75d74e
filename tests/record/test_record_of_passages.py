"""The record's drafts, supply air and ducts: schema, cautions first, words, what stands beside a figure."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import jsonschema
import pytest
from numpy.testing import assert_allclose
from tests.network.passages_house import network, survey
from tests.report.invented_record import survey_only

from airtally.estimates import Basis, Estimate
from airtally.network.ducts.duct_runs import duct_runs
from airtally.network.flues.flue_draft import LOGGED, NOT_TESTED, Stage
from airtally.network.flues.hearth_drafts import hearth_drafts
from airtally.network.outdoor_air.supply_answer import supply_answer
from airtally.network.outdoor_air.ventilation_need import ventilation_need
from airtally.record import JobRecord, plain, published_schema, validate
from airtally.record.answer_rows import level, row
from airtally.record.of_passages import draft_courses, draft_documents, duct_documents, supply_documents
from airtally.report.appendix import number_rows
from airtally.report.plans import IN_BRIEF, pressures_part
from airtally.report.views import view
from airtally.report.words import forbidden_claims

Document = dict[str, Any]
HOURS = ("hours in which", "may burn from", "burn until", "can be lit")


@cache
def answers(tested: bool = False) -> tuple[Document, ...]:
    calibrated, worst = network()
    house = survey()
    ids = frozenset({"fire"} if tested else ())
    drafts, _ = hearth_drafts(house, (), calibrated, worst, tested=ids)
    supply = supply_answer(house, (), calibrated, worst, ventilation_need(house, ()))
    return (*draft_documents(drafts), *supply_documents(supply), *duct_documents(duct_runs(house, ())[0]))


@cache
def pressures() -> Document:
    calibrated, worst = network()
    drafts, _ = hearth_drafts(survey(), (), calibrated, worst)
    return plain({
        "worst_cases": [{"name": "hood alone", "pressure": row("p", "s", sure(-3.0, "Pa"))["quantity"]}],
        "draft_courses": draft_courses(drafts),
        "answers": list(answers()),
        "sentences": ["Below zero the house is under suction."],
    })  # fmt: skip


def sure(value: float, unit: str) -> Estimate:
    return Estimate(value=value, low=value, high=value, unit=unit, basis=Basis.MEASURED, source="test")


def record() -> JobRecord:
    """Return the invented record of a survey without logs, with these pressures."""
    return JobRecord(document=plain(survey_only()) | {"pressures": pressures()})


def test_the_answers_are_of_the_records_form() -> None:
    schema = published_schema()
    whole = {"$ref": "#/$defs/pressures", "$defs": schema["$defs"]}
    assert list(jsonschema.Draft202012Validator(whole).iter_errors(pressures())) == []
    wrong = json.loads(json.dumps(pressures()))
    wrong["answers"][0]["numbers"][0]["standing"] = ""
    assert list(jsonschema.Draft202012Validator(whole).iter_errors(wrong))


def test_a_course_whose_arrays_differ_is_no_record() -> None:
    document = json.loads(json.dumps(record().document))
    assert validate(document) == []
    document["pressures"]["draft_courses"][1]["low"].pop()
    found = [one for one in validate(document) if one.code == "record-series"]
    assert [one.where for one in found] == ["pressures.draft_courses[1].low"]


def test_cautions_on_combustion_and_carbon_monoxide_stand_before_every_draft_and_suction() -> None:
    draft, supply, ducts = answers()
    for one in (draft, supply):
        assert list(one).index("cautions") < list(one).index("numbers")
        assert "Run no large exhaust fan while an open fire burns" in one["cautions"][0]
        assert "everyone goes outside" in one["cautions"][1]
    assert list(ducts).index("cautions") < list(ducts).index("numbers")
    assert any("Licensed firms sample and remove" in text for text in ducts["cautions"])
    text = view(record(), "pressures")
    for one in answers():
        at = text.index(one["title"])
        assert text.index(one["cautions"][0][:40], at) < text.index(one["numbers"][0]["state"][:25], at)


def test_every_figure_of_draft_says_whether_its_fire_was_tested() -> None:
    draft = answers()[0]
    assert {one["standing"] for one in draft["numbers"]} == {NOT_TESTED}
    tested = answers(tested=True)[0]
    by_fire = {one["state"].split(":")[0]: one["standing"] for one in tested["numbers"]}
    assert by_fire == {"fire": LOGGED, "water-heater": NOT_TESTED}
    text = " ".join(view(record(), "pressures").split())
    assert text.count(NOT_TESTED) >= len(draft["numbers"])
    assert all(NOT_TESTED in line[0] for line in number_rows({"pressures": {"answers": [draft]}}))
    page = pressures_part(record().document)
    assert page is not None
    (shown,) = [one for one in page["answers"] if one["title"] == draft["title"]]
    assert shown["rows"]
    assert all(NOT_TESTED in cells[3] for cells in shown["rows"])


def test_draft_is_an_estimate_with_its_band_and_never_hours_in_which_to_burn() -> None:
    draft = answers()[0]
    assert "an estimate with its band" in draft["sentences"][0]
    assert "no time for which a fire may burn" in draft["sentences"][0]
    texts = json.dumps(draft).casefold()
    assert not any(words in texts for words in HOURS)
    assert {one["quantity"]["unit"] for one in draft["numbers"]} == {"Pa"}  # no time among its figures
    wide = [one["quantity"] for one in draft["numbers"] if one["name"] == "available draft"]
    assert len(wide) > 10
    assert all(one["low"] < one["value"] < one["high"] for one in wide)


def test_stages_states_weathers_changes_and_the_one_that_moves_most_are_there() -> None:
    draft = answers()[0]
    states = {one["state"] for one in draft["numbers"]}
    for stage in Stage:
        assert f"fire: worst state, {stage.value}" in states
        assert f"fire: every fan off, doors open, {stage.value}" in states
    assert any(one.endswith("on a mild day") for one in states)
    assert any(one.startswith("fire: hood off, worst state") for one in states)
    (most,) = [one for one in draft["sentences"] if one.startswith("fire: of the single changes")]
    gains = {
        one["state"]: one["quantity"]["value"] for one in draft["numbers"] if one["name"].startswith("gain of draft")
    }
    by_fire = {state: gain for state, gain in gains.items() if state.startswith("fire: ") and "level with" not in state}
    best = max(by_fire, key=lambda state: by_fire[state])
    assert best.removeprefix("fire: ").partition(", worst")[0] in most


def test_supply_shows_its_limits_with_edition_and_jurisdiction_and_its_cost() -> None:
    supply = answers()[1]
    assert {(one["value"], one["unit"]) for one in supply["limits"]} == {(-2.0, "Pa"), (-5.0, "Pa")}
    assert all(one["edition"] and one["jurisdiction"] and one["document"] for one in supply["limits"])
    numbers = {(one["name"], one["state"]): one for one in supply["numbers"]}
    held = numbers["supply air that holds the limit of the room", "main, worst state"]
    assert (held["quantity"]["unit"], held["standing"]) == ("cfm", NOT_TESTED)
    assert numbers["cost of a year", "fan that runs always"]["quantity"]["unit"] == "USD"
    assert numbers["heat of a year", "fan that runs always"]["quantity"]["unit"] == "kWh"
    assert "Limit: suction of main" in view(record(), "pressures")


def test_levels_and_differences_of_temperature_are_told_apart() -> None:
    """120 F is 322.04 K; a step of 10 K is 18 F; 3.6 MJ are 1 kWh."""
    assert_allclose(level("a", "s", sure(322.0389, "K"))["quantity"]["value"], 120.0, atol=1e-3)
    assert_allclose(row("a", "s", sure(10.0, "K"))["quantity"]["value"], 18.0, rtol=1e-12)
    assert_allclose(row("a", "s", sure(3.6e6, "J"))["quantity"]["value"], 1.0, rtol=1e-12)
    ducts = answers()[2]
    numbers = {one["name"]: one["quantity"] for one in ducts["numbers"] if "heating" in one["state"]}
    assert_allclose(numbers["air around the run"]["value"], 40.0, atol=1e-6)
    change = numbers["air that leaves the run"]["value"] - numbers["air that enters the run"]["value"]
    assert_allclose(numbers["change of the air's temperature on the way"]["value"], change, atol=1e-6)


@pytest.mark.parametrize("number", [0, 1, 2])
def test_no_answer_promises_anything(number: int) -> None:
    texts = json.dumps(answers()[number])
    assert "safe" not in texts.casefold().replace("safety", "").replace("safeguard", "")
    assert forbidden_claims(texts) == []


def test_the_brief_names_the_answers_and_shows_few_of_their_numbers() -> None:
    page = pressures_part(record().document)
    assert page is not None
    for one in answers():
        wanted = IN_BRIEF[one["id"]]
        (shown,) = [part for part in page["answers"] if part["title"] == one["title"]]
        assert 0 < len(shown["rows"]) < len(one["numbers"])
        assert all(cells[0].startswith(wanted) for cells in shown["rows"])
        assert shown["cautions"] == one["cautions"]


def test_nothing_surveyed_is_no_answer_on_draft_or_ducts_and_supply_says_what_is_lacking() -> None:
    assert list(draft_documents(())) == list(duct_documents(())) == []
    house = survey(climate={}, prices={})
    (supply,) = supply_documents(supply_answer(house, (), None, (), ventilation_need(house, ())))
    assert supply["limits"] == []
    assert "price of heat" in supply["not_measured"]
    for one in supply["numbers"]:
        assert one["quantity"]["value"] is None or one["quantity"]["source"]
