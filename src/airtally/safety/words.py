"""Fill a finding's sentence with its figures."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime
from math import isinf
from zoneinfo import ZoneInfo

from airtally.estimates import Estimate
from airtally.safety.parts import SafetyFinding

DEGREE_STEP = "K (difference)"
"""Unit of a difference of temperatures, apart from a level in K."""


_CFM = 0.3048**3 / 60.0  # m3/s, exact by definition of the foot
FIELD: dict[str, tuple[str, float]] = {
    "m3/s": ("cfm", 1.0 / _CFM),
    "m3/s per W": ("cfm/ton", 12000.0 * 1055.05585262 / 3600.0 / _CFM),  # a ton is 12,000 Btu an hour
    "m/s": ("cfm/100 ft2", 100.0 * 0.3048**2 / _CFM),
}
"""Units of flow that a plain line shows as the trade reads them, with their factors."""


def show_plain(figure: Estimate) -> str:
    """Return a figure for a plain line: ppm, Pa, minutes or hours, degrees Celsius; a page may show field units."""
    bound = "at least " if isinf(figure.high) and not isinf(figure.low) else ""
    return bound + _number(figure.value, figure.unit)


def _number(value: float, unit: str) -> str:
    if unit == "mol/mol":
        return f"{value * 1e6:.0f} ppm"
    if unit == "s":
        return f"{value / 60:.0f} min" if value < 2 * 3600 else f"{value / 3600:.0f} h"
    if unit == "Pa":
        return f"{value:.1f} Pa"
    if unit == "K":
        return f"{value - 273.15:.0f} degC"
    if unit == DEGREE_STEP:
        return f"{value:.0f} K"
    if unit in FIELD:
        name, factor = FIELD[unit]
        return f"{value * factor:.3g} {name}"
    if unit == "m":
        return f"{value:.1f} m"
    if unit == "-":
        return f"{value:.0%}"
    return f"{value:.3g} {unit}"


def fill(finding: SafetyFinding, time_zone: str = "UTC", show: Callable[[Estimate], str] = show_plain) -> str:
    """Return a finding's sentence with its figures and its start in the home's clock."""
    slots = {name: show(figure) for name, figure in finding.figures}
    if finding.start is not None:
        slots["start"] = datetime.fromtimestamp(finding.start, tz=ZoneInfo(time_zone)).strftime("%Y-%m-%d %H:%M")
    # by hand, not str.format: a place named by the survey may hold braces of its own
    return re.sub(r"\{(\w+)\}", lambda slot: slots.get(slot[1], slot[0]), finding.sentence)
