"""Every key of flues, ducts, loop and climate changes a result or is reported: one key at a time."""

from __future__ import annotations

import json
from functools import cache

import pytest
from tests.network.passages_house import BYPASS, CLIMATE, DUCTS, FLUES, PRICES, Table, changed, network, survey

from airtally.house.parts import House
from airtally.house.sections_home import CLIMATE as CLIMATE_SECTION
from airtally.house.sections_passages import SECTIONS_PASSAGES
from airtally.network.ducts.duct_runs import duct_runs
from airtally.network.ducts.hookup_answer import hookup_answer
from airtally.network.ducts.hookup_request import hookup_request
from airtally.network.flues.hearth_drafts import hearth_drafts
from airtally.network.outdoor_air.supply_answer import supply_answer
from airtally.network.outdoor_air.ventilation_need import ventilation_need
from airtally.record.of_passages import draft_documents, duct_documents, supply_documents

OTHER = {
    "flue": {
        "serves": '"water-heater"', "wall": '"single-wall metal"', "place": '"on an exterior wall"', "height": '"30 ft"',
        "rise": '"6 ft"', "width": '"10 in"', "depth": '"20 in"', "bends": "3", "opening": '"60 ft2"',
        "wanted_draft": '"9 Pa"', "hearth_height": '"1 ft"', "burn_time": '"0.5 h"', "until": '"2025-01-01"',
    },
    "duct_run": {
        "side": '"return"', "zone": '"outdoors"', "length": '"50 ft"', "width": '"12 in"', "depth": '"6 in"',
        "insulation": '"bare metal"', "insulation_thickness": '"4 in"', "flow": '"400 cfm"', "around_heating": '"10 degF"',
        "around_cooling": '"110 degF"', "humidity_around": '"95 %"', "until": '"2025-01-01"',
    },
    "bypass": {
        "diameter": '"6 in"', "rigid_length": '"30 ft"', "flex_length": '"20 ft"', "flex_compression": '"30 %"',
        "bends": "8", "hand_dampers": "3", "backdraft_dampers": "0", "trunk_width": '"30 in"', "trunk_height": '"20 in"',
        "straight_before": '"20 ft"', "tap_distance": '"1 ft"', "straight_after": '"20 ft"', "is_take_off_first": "false",
        "discharge": '"supply plenum"', "wanted_clean_air": '"60 cfm"', "free_flow": '"500 cfm"', "shut_off": '"2 inH2O"',
    },
    "climate": {
        "heating_degree_days": '"9000 degF day"', "cooling_degree_days": '"2000 degF day"', "degree_day_base": '"55 degF"',
        "heating_season": '"100 d"', "design_temperature": '"-20 degF"', "weather_factor": '"1.2 1/h"',
        "heated_to": '"60 degF"', "cooled_to": '"70 degF"',
    },
}  # fmt: skip
"""Another value of every key."""
KEYS = [
    (section.path, field.key)
    for section in (*SECTIONS_PASSAGES, CLIMATE_SECTION)
    for field in section.fields
    if field.key not in ("id", "since")
]
"""The day a part came changes nothing while it stands: the last test asks about an earlier day."""


def house_with(section: str, key: str, value: str) -> House:
    if section == "flue":
        name = "vent" if key in ("rise", "wanted_draft") else "chimney"
        return survey(flues=changed(FLUES, name, **{key: value}))
    if section == "duct_run":
        return survey(ducts=changed(DUCTS, "branch", **{key: value}))
    if section == "bypass":
        return survey(bypass=BYPASS | {key: value})
    return survey(climate=CLIMATE | {key: value})


def said(house: House, section: str) -> str:
    """Return what is answered and reported of a house, without the names of keys."""
    calibrated, worst = network()
    need = ventilation_need(house, (), weather_factor=house.climate.weather_factor if house.climate else None)
    problems = [one.code for one in house.problems]
    if section == "bypass":
        answer = hookup_answer(house, (), hookup_request(house))
        assert answer is not None
        numbers = [(one.key, one.state, one.number.value, one.number.low, one.number.high) for one in answer.numbers]
        return json.dumps(
            [numbers, answer.sentences, answer.not_measured, [one.code for one in answer.problems], problems]
        )
    found, more = hearth_drafts(house, (), calibrated, worst)
    ducts, rest = duct_runs(house, ())
    supply = supply_answer(house, (), calibrated, worst, need)
    documents = [*draft_documents(found), *duct_documents(ducts), *supply_documents(supply)]
    return json.dumps([documents, [one.code for one in (*more, *rest)], problems, str(need.infiltration)])


@cache
def before(section: str) -> str:
    return said(survey(), section)


def test_there_is_another_value_for_every_key() -> None:
    assert {(section, key) for section, keys in OTHER.items() for key in keys} == set(KEYS)


@pytest.mark.parametrize(("section", "key"), KEYS)
def test_every_key_changes_an_answer_or_is_reported(section: str, key: str) -> None:
    assert said(house_with(section, key, OTHER[section][key]), section) != before(section)


@pytest.mark.parametrize("key", PRICES)
def test_every_price_changes_the_cost(key: str) -> None:
    prices: Table = PRICES | {key: '"0.9 USD/kWh"'}
    assert said(survey(prices=prices), "climate") != before("climate")


def test_a_part_that_had_not_come_yet_is_not_answered() -> None:
    flue, duct = (survey(**{part: changed(tables, name, since='"2030-01-01"')}) for part, tables, name in (
        ("flues", FLUES, "chimney"), ("ducts", DUCTS, "branch"),
    ))  # fmt: skip
    early, late = 1.8e9, 2.0e9  # 2027 and 2033
    for time, drafts, runs in ((early, {"vent"}, 0), (late, {"vent", "chimney"}, 1)):
        found, _ = hearth_drafts(flue, (), *network(), time=time)
        names = {"fire": "chimney", "water-heater": "vent"}
        assert {names[one.hearth.appliance or one.hearth.name] for one in found} == drafts
        assert len(duct_runs(duct, (), time)[0]) == runs
