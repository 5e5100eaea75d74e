"""The sheet's house with flues, ducts outside the rooms, a loop and a climate: survey text, one change at a time."""

from __future__ import annotations

from functools import cache

from tests.network.sheet_house import SURVEY, sheet

from airtally.house.parts import House
from airtally.house.survey import survey_from_bytes
from airtally.network.home.calibrate import Calibrated, calibrate
from airtally.network.home.pressures import WorstState, worst_states
from airtally.visits.parts import HandlerMode, HouseState, Reading, Visit, VisitKind

FLUES: dict[str, dict[str, str]] = {
    "chimney": {
        "serves": '"fire"', "wall": '"masonry"', "place": '"inside the house"', "height": '"24 ft"', "width": '"12 in"',
        "depth": '"14 in"', "bends": "0", "opening": '"7 ft2"', "hearth_height": '"9 ft"', "burn_time": '"3 h"',
    },
    "vent": {
        "serves": '"water-heater"', "wall": '"single-wall metal"', "place": '"inside the house"', "height": '"18 ft"',
        "rise": '"1 ft"', "width": '"4 in"', "bends": "2", "wanted_draft": '"4 Pa"',
    },
}  # fmt: skip
DUCTS: dict[str, dict[str, str]] = {
    "branch": {
        "side": '"supply"', "zone": '"garage"', "length": '"30 ft"', "width": '"8 in"', "insulation": '"R-6"',
        "flow": '"250 cfm"', "around_heating": '"40 degF"', "around_cooling": '"77 degF"', "humidity_around": '"50 %"',
    },
}  # fmt: skip
BYPASS: dict[str, str] = {
    "diameter": '"8 in"', "rigid_length": '"8 ft"', "flex_length": '"4 ft"', "flex_compression": '"5 %"', "bends": "3",
    "hand_dampers": "1", "backdraft_dampers": "1", "trunk_width": '"20 in"', "trunk_height": '"8 in"',
    "straight_before": '"3 ft"', "tap_distance": '"8 ft"', "straight_after": '"2 ft"', "is_take_off_first": "true",
    "discharge": '"return trunk"', "wanted_clean_air": '"180 cfm"', "free_flow": '"250 cfm"', "shut_off": '"0.7 inH2O"',
}  # fmt: skip
CLIMATE: dict[str, str] = {
    "heating_degree_days": '"6000 degF day"', "cooling_degree_days": '"400 degF day"', "degree_day_base": '"65 degF"',
    "heating_season": '"210 d"', "design_temperature": '"10 degF"', "weather_factor": '"0.6 1/h"',
    "heated_to": '"70 degF"', "cooled_to": '"76 degF"',
}  # fmt: skip
PRICES = {"electricity": '"0.16 USD/kWh"', "heat": '"1.40 USD/therm"'}

Table = dict[str, str]


def _lines(heading: str, table: Table, identifier: str = "") -> list[str]:
    return [heading, *([f'id = "{identifier}"'] if identifier else []), *(f"{k} = {v}" for k, v in table.items()), ""]


def survey(
    flues: dict[str, Table] = FLUES,
    ducts: dict[str, Table] = DUCTS,
    bypass: Table = BYPASS,
    climate: Table = CLIMATE,
    prices: Table = PRICES,
    more: str = "",
) -> House:
    """Return the house of the sheet with these passages."""
    lines = [SURVEY, more]
    for name, table in flues.items():
        lines += _lines("[[flue]]", table, name)
    for name, table in ducts.items():
        lines += _lines("[[duct_run]]", table, name)
    for heading, table in (("[bypass]", bypass), ("[climate]", climate), ("[prices]", prices)):
        lines += _lines(heading, table) if table else []
    return survey_from_bytes("\n".join(lines).encode())


def changed(tables: dict[str, Table], name: str, **keys: str | None) -> dict[str, Table]:
    """Return tables with keys of one of them changed; None takes a key out."""
    table = {key: value for key, value in (tables[name] | keys).items() if value is not None}
    return {**tables, name: table}


@cache
def network() -> tuple[Calibrated, tuple[WorstState, ...]]:
    """Return the sheet's fitted network, which no passage moves, and its worst states."""
    found = calibrate(*sheet())
    assert found is not None
    return found, worst_states(found)


def visit(*readings: Reading) -> Visit:
    """Return a later visit with these readings."""
    return Visit(
        id="later", kind=VisitKind.RE_TEST, time=2e9, by="technician", state=HouseState(), readings=readings
    )  # fmt: skip


HEATING = HouseState(air_handler=HandlerMode.HEATING)
