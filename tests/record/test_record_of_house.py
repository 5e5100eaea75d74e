"""The record's house: what the survey says of spaces, ducts and fires, and nothing that it does not say."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from airtally.house.survey import read_survey
from airtally.record.of_house import house_document

SURVEY = """\
schema = 1

[home]
id = "made"
is_invented = true
time_zone = "America/Denver"

[[zone]]
id = "main"
name = "living room"
kind = "room"
volume = "250 m3"

[[zone]]
id = "below"
kind = "basement"
volume = "100 m3"

[[zone]]
id = "woodworkshop"
kind = "basement"
volume = "60 m3"

[[zone]]
id = "attic"
kind = "attic"

[[zone]]
id = "crawl"
kind = "crawlspace"

[[zone]]
id = "garage"
kind = "garage"
"""
EQUIPMENT = """
[air_handler]

[[air_handler.speed]]
name = "heating"
flow = "1000 cfm"

[[air_handler.return_leak]]
id = "gap"
zone = "attic"
fraction = "5 %"
is_before_filter = true
until = "2025-10-01 12:00"

[[cleaner]]
id = "small"
name = "cleaner by the sofa"
flow = "100 cfm"
is_portable = true
zone = "main"
runs_with = "always"

[[exhaust]]
id = "hood"
kind = "range hood"
zone = "main"
flow = "100 cfm"

[[exhaust]]
id = "fire"
kind = "open fireplace"
zone = "main"
flow = "300 cfm"

[[appliance]]
id = "stove"
kind = "solid-fuel stove"
zone = "below"
venting = "closed door, chimney"
fuel = "wood"
"""


def of(text: str, folder: Path) -> dict[str, Any]:
    file = folder / "survey.toml"
    file.write_text(text)
    return house_document(read_survey(file))


def test_floors_that_nobody_wrote_down_come_from_the_kind_and_say_so(tmp_path: Path) -> None:
    zones = {zone["id"]: zone for zone in of(SURVEY, tmp_path)["zones"]}
    floors = {name: zone["floor"] for name, zone in zones.items()}
    assert floors == {"main": 0, "below": -1, "woodworkshop": -1, "attic": 1, "crawl": -1, "garage": 0}
    assert {zone["floor_basis"] for zone in zones.values()} == {"default"}
    assert zones["main"]["name"] == "living room"
    assert zones["main"]["is_occupied"]
    assert not zones["garage"]["is_occupied"]


def test_sources_stand_where_the_survey_puts_them_and_nowhere_else(tmp_path: Path) -> None:
    bare = {row["source"]: row["zone"] for row in of(SURVEY, tmp_path)["sources"]}
    assert bare == {"other": "woodworkshop", "garage": "garage", "buffer_space": "crawl"}
    whole = {row["source"]: row["zone"] for row in of(SURVEY + EQUIPMENT, tmp_path)["sources"]}
    assert whole == bare | {"cooking": "main", "solid_fuel": "below", "buffer_space": "attic"}


def test_ducts_and_equipment_keep_their_dates(tmp_path: Path) -> None:
    bare, whole = of(SURVEY, tmp_path), of(SURVEY + EQUIPMENT, tmp_path)
    assert not bare["has_air_handler"]
    assert whole["has_air_handler"]
    assert whole["ducts"] == [{"what": "return leak", "zone": "attic", "until": "2025-10-01T18:00:00Z"}]
    assert whole["appliances"] == [{"kind": "solid-fuel stove", "zone": "below"}]
    assert whole["cleaners"] == [{"name": "cleaner by the sofa", "zone": "main", "is_portable": True}]
