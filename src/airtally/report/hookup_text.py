"""Tables of the comparison and of the sensor's places, and the whole answer as plain lines for a terminal."""

from __future__ import annotations

from airtally.errors import Problem
from airtally.network.ducts.hookup_answer import HookupAnswer
from airtally.network.ducts.hookup_compare import AirflowFigures, SpeedComparison
from airtally.network.ducts.sensor_place import SensorPlacing, SensorView
from airtally.report.hookup_table import (
    TRADE_UNITS,
    HookupUnits,
    flow_shown,
    hookup_rows,
    pressure_shown,
    share_shown,
    shown,
)
from airtally.units import BRITISH_THERMAL_UNIT, CUBIC_FOOT_PER_MINUTE, Kind

COMPARISON_HEAD = (
    "speed",
    "choice",
    "airflow",
    "change",
    "static",
    "cleans",
    "heat rise",
    "airflow over cooling",
    "power",
)
PLACE_HEAD = ("place", "reads of the rooms", "threshold there", "straight duct", "sees", "does not see")
TON_OF_COOLING = 12000.0 * BRITISH_THERMAL_UNIT / 3600.0
"""12,000 Btu an hour. [W]"""


def comparison_rows(rows: tuple[SpeedComparison, ...], units: HookupUnits = TRADE_UNITS) -> tuple[tuple[str, ...], ...]:
    """Return in line against bypass as a table, three rows a speed; a refused point says why. Head: COMPARISON_HEAD."""
    found = []
    for row in rows:
        for choice, part in (("as it is", row.as_is), ("filter in line", row.in_line), ("bypass", row.bypass)):
            if isinstance(part, Problem):
                found.append((row.name, choice, f"no answer: {part.found}", *("",) * (len(COMPARISON_HEAD) - 3)))
                continue
            found.append((row.name, choice, *_cells(part, units)))
    return tuple(found)


def _cells(part: AirflowFigures, units: HookupUnits) -> tuple[str, ...]:
    change = share_shown(part.flow_change).whole if part.flow_change.low != part.flow_change.high else "0%"
    rise = ""
    if part.heat_rise is not None:
        degrees = "degF" if units.flow == "cfm" else "K"
        rise = f"{shown(part.heat_rise, Kind.TEMPERATURE_DIFFERENCE, degrees).whole}, {part.rise_against_plate}"
    return (
        flow_shown(part.flow, units).whole,
        change,
        pressure_shown(part.static, units).whole,
        flow_shown(part.clean_air, units).whole if part.clean_air is not None else "",
        rise,
        _per_capacity(part, units),
        shown(part.power, Kind.POWER, "W").whole if part.power is not None else "",
    )


def _per_capacity(part: AirflowFigures, units: HookupUnits) -> str:
    """Return airflow over cooling capacity: cfm a ton, or litres a second for each kilowatt."""
    number = part.flow_per_capacity
    if number is None:
        return ""
    factor, unit = (TON_OF_COOLING / CUBIC_FOOT_PER_MINUTE, "cfm/ton") if units.flow == "cfm" else (1e6, "L/s per kW")
    return f"{number.value * factor:.0f} {unit} ({number.low * factor:.0f} to {number.high * factor:.0f})"


def place_rows(placing: SensorPlacing) -> tuple[tuple[str, ...], ...]:
    """Return the sensor's places as a table, best first. Head: PLACE_HEAD."""
    return tuple(
        (
            view.candidate.spot.value,
            share_shown(view.over_room).whole,
            _threshold(view),
            f"{view.straight}; {view.mixing}",
            "; ".join(view.sees),
            "; ".join(view.misses),
        )
        for view in placing.views
    )


def _threshold(view: SensorView) -> str:
    """Return the room threshold as that place reads it, or why it cannot be set there."""
    if view.can_invert and view.threshold is not None:
        return shown(view.threshold, Kind.MASS_CONCENTRATION, "ug/m3").whole
    answer = {True: "can be set", None: "cannot be told", False: "cannot be set"}[view.can_invert]
    return f"{answer}: {view.why}"


def hookup_lines(answer: HookupAnswer, units: HookupUnits = TRADE_UNITS) -> tuple[str, ...]:
    """Return the whole answer as lines for a terminal: cautions first, then sentences, tables, what is missing."""
    lines = [*answer.cautions, "", *answer.sentences, "", "Hookup of the bypass cleaner"]
    for mark, what, value, interval, basis in hookup_rows(answer.design, units, answer.placing.best):
        number = f"{value} ({interval})" if interval else value
        lines.append(f"{f'[{mark}] ' if mark else ''}{what}: {number}{f', {basis}' if basis else ''}")
    lines += ["", "Filter in line against bypass, on this blower"]
    for row in comparison_rows(answer.comparison, units):
        named = zip(COMPARISON_HEAD[2:], row[2:], strict=True)
        lines.append(f"{row[0]}, {row[1]}: {'; '.join(f'{name} {cell}' for name, cell in named if cell)}")
    lines += ["", "Where to put the in-duct sensor"]
    for row in place_rows(answer.placing):
        lines.append(f"{row[0]}: reads {row[1]} of the rooms; threshold: {row[2]}; straight duct: {row[3]}")
    lines += ["", "Not measured", *answer.not_measured, "", "Assumed", *answer.assumed]
    return tuple(lines)
