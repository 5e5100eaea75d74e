"""The invented split-level of the trade's own worked sheet: survey and test-in readings only, as text.

Figures: the practice notes' table of test-in and test-out for an invented house (section 6.4), common practice, no
published source. The later columns stand in the test and nowhere in what the network is told.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from airtally.house.parts import House
from airtally.house.survey import read_survey
from airtally.network.home.calibrate import Calibrated, calibrate
from airtally.visits.parts import Visit
from airtally.visits.read import read_visits

SURVEY = """
schema = 1
[home]
id = "sheet"
name = "split-level of the sheet (invented)"
is_invented = true
time_zone = "America/Denver"
elevation = "3200 ft"
currency = "USD"
[[zone]]
id = "main"
name = "living room, kitchen, hall"
kind = "room"
is_occupied = true
volume = "6966 ft3"
[[zone]]
id = "bedrooms"
name = "bedrooms over the garage"
kind = "room"
is_occupied = true
volume = "4730 ft3"
[[zone]]
id = "family"
name = "family room"
kind = "basement"
is_occupied = true
volume = "3010 ft3"
[[zone]]
id = "workshop"
name = "workshop"
kind = "basement"
is_occupied = false
volume = "1892 ft3"
[[zone]]
id = "utility"
name = "utility room"
kind = "basement"
is_occupied = false
volume = "602 ft3"
[[zone]]
id = "garage"
name = "garage"
kind = "garage"
is_occupied = false
volume = "4167 ft3"
[[envelope]]
flow_at_50 = "2350 cfm"
height = "20 ft"
floor_area = "2150 ft2"
storeys = 2
shelter_class = 3
bedrooms = 4
[air_handler]
motor = "PSC"
cooling_capacity = "2.5 ton"
rated_static = "0.5 inH2O"
[[air_handler.speed]]
name = "heating"
flow = "940 cfm +- 7 %"
power = "480 W"
[[air_handler.speed]]
name = "circulate"
flow = "600 cfm +- 7 %"
power = "310 W"
[[air_handler.filter]]
id = "one-inch"
rating = "MERV 8"
[[air_handler.return_leak]]
id = "trunk"
zone = "garage"
fraction = "12 % (6 to 19)"
is_before_filter = true
[[exhaust]]
id = "hood"
kind = "range hood"
zone = "main"
flow = "58 cfm"
[[exhaust]]
id = "bath-1"
kind = "bath fan"
zone = "bedrooms"
flow = "42 cfm"
[[exhaust]]
id = "bath-2"
kind = "bath fan"
zone = "bedrooms"
flow = "42 cfm"
[[exhaust]]
id = "dryer"
kind = "dryer"
zone = "family"
flow = "140 cfm"
[[exhaust]]
id = "fire"
kind = "open fireplace"
zone = "main"
flow = "400 cfm (250 to 600)"
[[appliance]]
id = "furnace"
kind = "furnace"
zone = "utility"
venting = "induced draft"
fuel = "natural gas"
output = "64 kBtu/h"
[[appliance]]
id = "water-heater"
kind = "water heater"
zone = "utility"
venting = "natural draft"
fuel = "natural gas"
"""
ROOM = 'reference = "outdoors", air_handler = "heating"'
SPEED = 'place = "air handler", air_handler = "heating"'
READINGS = (
    'key = "cfm50", value = "2350 cfm", place = "house", reference = "outdoors"',
    'key = "cfm25_total", value = "395 cfm", place = "ducts"',
    'key = "cfm25_outside", value = "205 cfm", place = "ducts"',
    f'key = "house_pressure_fan_on_minus_off", value = "+0.3 Pa", place = "house", {ROOM}',
    'key = "zone_pressure_change", value = "-2.4 Pa", place = "main", reference = "bedrooms", doors = "closed", '
    'air_handler = "heating"',
    f'key = "zone_pressure_change", value = "-3.7 Pa", place = "utility", doors = "closed", {ROOM}',
    f'key = "worst_case_pressure_change", value = "-5.6 Pa", place = "utility", {ROOM}, doors = "worst case", '
    'exhausts_on = "all"',
    f'key = "tesp", value = "0.86 inH2O", {SPEED}',
    f'key = "filter_drop", value = "0.41 inH2O", {SPEED}',
    f'key = "airflow", value = "940 cfm +- 7 %", {SPEED}',
)


def visits_text(*readings: str) -> str:
    """Return a visits file with one test-in that holds these readings."""
    listed = "\n".join(f"  {{ {reading} }}," for reading in readings)
    gates = (
        "alarm_sounding",
        "gas_smell",
        "symptoms_clear_outdoors",
        "fire_or_ash_within_24_h",
        "vermiculite",
        "suspect_wrap",
    )
    answers = "\n".join(f'{gate} = "no"' for gate in gates)
    return f"""
schema = 1
[[visit]]
id = "test-in"
kind = "test-in"
time = "2025-09-23 09:30"
by = "technician"
reading = [
{listed}
]
[visit.state]
doors = "open"
air_handler = "off"
exhausts_on = "none"
fires_lit = "none"
[visit.gates]
{answers}
"""


@cache
def sheet(readings: tuple[str, ...] = READINGS) -> tuple[House, tuple[Visit, ...]]:
    """Return the house and its visits."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "survey.toml").write_text(SURVEY, encoding="utf-8")
        (folder / "visits.toml").write_text(visits_text(*readings), encoding="utf-8")
        house = read_survey(folder / "survey.toml")
        visits, problems = read_visits(folder / "visits.toml", house.time_zone)
    assert not problems, [problem.sentence() for problem in problems]
    return house, visits


@cache
def calibrated() -> Calibrated:
    """Return the network fitted to the test-in column."""
    found = calibrate(*sheet())
    assert found is not None
    return found
