"""Surveys as text for the tests of the house room; all invented."""

from __future__ import annotations

import re
from pathlib import Path

from airtally.errors import Severity
from airtally.house.parts import House
from airtally.house.survey import survey_from_bytes

DOCS = Path(__file__).parents[2] / "docs" / "survey.md"

SMALL = """\
schema = 1

[home]
id = "elm-row"
time_zone = "America/Denver"
elevation = "3200 ft"
currency = "USD"

[[zone]]
id = "main"
kind = "room"
volume = "12000 ft3"
floor_area = "1500 ft2"
ceiling_height = "8 ft"

[[zone]]
id = "garage"
kind = "garage"
volume = "4000 ft3"

[envelope]
flow_at_50 = "2350 cfm"
height = "10 ft"
floor_area = "1500 ft2"

[air_handler]
motor = "PSC"

[[air_handler.speed]]
name = "heating"
flow = "940 cfm (880 to 1000)"
power = "480 W"
static = "0.86 inH2O"

[[air_handler.filter]]
id = "one-inch"
rating = "MERV 8"
bypass = "15 % (5 to 30)"

[[air_handler.return_leak]]
id = "trunk"
zone = "garage"
fraction = "12 % (6 to 20)"

[[instrument]]
id = "M1"
quantities = ["pm25", "co2"]

[[placement]]
id = "living"
instrument = "M1"
air_side = "room"
zone = "main"

[[log]]
file = "logs/living.csv"
placement = "living"
"""


def example() -> str:
    """Return the complete survey that the page shows."""
    found = re.search(r"```toml\n(.*?)```", DOCS.read_text(encoding="utf-8"), re.DOTALL)
    assert found is not None
    return found.group(1)


def read_text(text: str) -> House:
    """Return the house of a survey written in a test."""
    return survey_from_bytes(text.encode("utf-8"))


def changed(old: str, new: str, text: str = SMALL) -> House:
    """Return the house of a survey with one passage replaced; the passage must be there."""
    assert old in text
    return read_text(text.replace(old, new, 1))


def added(lines: str, text: str = SMALL) -> House:
    """Return the house of a survey with sections added."""
    return read_text(f"{text}\n{lines}\n")


def sentences(house: House, *severities: Severity) -> list[str]:
    """Return the problems as a user reads them, of some severities or all."""
    return [p.sentence() for p in house.problems if not severities or p.severity in severities]


def only(house: House, code: str) -> str:
    """Return the one problem of a code as a user reads it."""
    found = [p.sentence() for p in house.problems if p.code == code]
    assert len(found) == 1, sentences(house)
    return found[0]
