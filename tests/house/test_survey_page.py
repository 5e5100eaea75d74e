"""The page, the template and the list of unread fields agree with what the reader does."""

from __future__ import annotations

import re
import tomllib
from dataclasses import fields
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from survey_texts import DOCS, read_text

from airtally.errors import Severity
from airtally.house import parts
from airtally.house.page import BEGIN, END, KEPT_FOR_LATER, attributes_filled, keys_of_reader, survey_reference
from airtally.house.tables import SECTIONS
from airtally.house.template import new_survey_text

SOURCE = Path(__file__).parents[2] / "src" / "airtally"


def uncommented() -> str:
    """Return the template with every key and section switched on, and the one number it must have."""
    text = re.sub(r"^# (?=\[|[a-z_0-9]+ = )", "", new_survey_text(), flags=re.MULTILINE)
    return text.replace('volume = "not measured"', 'volume = "12000 ft3"', 1)


def test_the_page_holds_what_the_descriptions_say() -> None:
    page = DOCS.read_text(encoding="utf-8")
    written = page[page.index(BEGIN) : page.index(END) + len(END)]
    assert written == survey_reference(), "run `make docs`, or write airtally.house.page.survey_reference() into it"


def test_the_template_parses_and_asks_only_for_the_rooms_size() -> None:
    house = read_text(new_survey_text("elm-row", 'Elm "Row"', "Europe/Berlin", "EUR"))
    assert house.name == 'Elm "Row"'
    fatal = [p.where for p in house.problems if p.severity is Severity.FATAL]
    assert fatal == ["survey.toml, zone[main].volume", "survey.toml, zone[main]", "survey.toml, zone"]
    assert [p for p in house.problems if p.severity is Severity.WARNING] == []


def test_the_template_with_every_line_switched_on_is_a_sound_survey() -> None:
    house = read_text(uncommented())
    assert [p.sentence() for p in house.problems if p.severity is not Severity.NOTE] == []
    assert house.measures[0].price_high == 2200.0


def test_the_template_shows_every_section_and_nearly_every_key() -> None:
    document = tomllib.loads(uncommented())
    for section in SECTIONS:
        table = document
        for word in section.path.split("."):
            table = table[word]
            table = table[0] if isinstance(table, list) else table
        shown = set(table)
        for field in section.fields:
            rare = {"since", "until", "is_invented", "name", "efficiency", "interval", "day_first", "begins", "devices"}
            assert field.key in shown or field.key in rare, f"{section.path}.{field.key} is not in the template"


def test_the_template_fits_on_a_few_screens() -> None:
    lines = new_survey_text().splitlines()
    assert len(lines) <= 260
    assert max(len(line) for line in lines) <= 125


@given(name=st.text(max_size=40), home=st.text(max_size=20))
def test_no_name_breaks_the_template(name: str, home: str) -> None:
    text = new_survey_text(home, name)
    assert tomllib.loads(text)["schema"] == 1


def test_every_key_fills_an_attribute_that_exists() -> None:
    for key, attribute in attributes_filled().items():
        noun, name = attribute.split(".")
        assert name in {f.name for f in fields(getattr(parts, noun))}, key
    assert set(keys_of_reader()) == {"zone.ceiling_height", "air_handler.motor"}


def test_every_attribute_that_a_survey_could_fill_has_a_key() -> None:
    filled = set(attributes_filled().values())
    computed = {"House.problems", "House.zones", "PricedMeasure.price_high"}
    for noun in ("Zone", "Envelope", "FanSpeed", "Filter", "ReturnLeak", "Cleaner", "Exhaust", "Ventilation", "Appliance",
                 "Occupants", "Climate", "SurveyedFlue", "SurveyedDuct", "BypassLoop",
                 "Instrument", "Placement", "LogSource", "Change", "RuleSetting", "DiaryEntry"):  # fmt: skip
        for field in fields(getattr(parts, noun)):
            assert f"{noun}.{field.name}" in filled | computed, f"{noun}.{field.name} has no key in the survey"


def test_every_attribute_is_read_by_a_later_stage_or_listed_as_kept() -> None:
    later = [
        path.read_text(encoding="utf-8")
        for path in SOURCE.rglob("*.py")
        if "house" not in path.relative_to(SOURCE).parts
    ]
    unread = {
        attribute
        for attribute in attributes_filled().values()
        if not any(re.search(rf"\.{attribute.split('.')[1]}\b", text) for text in later)
    }
    assert unread <= set(KEPT_FOR_LATER)
    assert set(KEPT_FOR_LATER) <= set(attributes_filled().values())


@pytest.mark.parametrize("word", ["safe", "safely"])
def test_the_page_and_the_template_promise_nothing(word: str) -> None:
    for text in (DOCS.read_text(encoding="utf-8"), new_survey_text()):
        assert not re.search(rf"\b{word}\b", text, re.IGNORECASE)
