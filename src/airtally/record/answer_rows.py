"""Rows of the record's pressure answers: one number by name and state, in the units of the trade."""

from __future__ import annotations

from airtally.estimates import Estimate, Missing
from airtally.limits import Limit
from airtally.record.documents import Document, quantity
from airtally.record.numbers import field
from airtally.record.of_safety import FIELD_UNITS, shown

INCHES = 1.0 / 249.08891
"""inH2O in a Pa: the trade reads duct pressures so; room pressures stay in pascals."""
UNITS_HERE: dict[str, tuple[str, float]] = {
    "m/s": ("ft/min", 60.0 / 0.3048),
    "K": ("degF", 1.8),
    "m3/J": FIELD_UNITS["m3/s per W"],
    "J": ("kWh", 1.0 / 3.6e6),
}
"""Field unit and factor where these numbers differ from the others: velocities, heat rises, airflow per ton, heat."""


def row(name: str, state: str, number: Estimate | Missing, *, duct: bool = False, standing: str = "") -> Document:
    """Return one number of an answer; a temperature is a difference here.

    Parameters
    ----------
    name, state : str
        What it is and when.
    number : Estimate or Missing
    duct : bool
        Whether a pressure is read in ducts, in inches of water.
    standing : str, optional
        What must stand beside the figure wherever it is shown.
    """
    if isinstance(number, Missing):
        found = quantity(None, unit="1", source=number.value)
    elif duct and number.unit == "Pa":
        found = field(number, "inH2O", INCHES)
    elif number.unit in UNITS_HERE:
        found = field(number, *UNITS_HERE[number.unit])
    else:
        found = shown(number)
    return {"name": name, "state": state, "quantity": found} | ({"standing": standing} if standing else {})


def level(name: str, state: str, temperature: Estimate) -> Document:
    """Return a temperature as a level, in the degrees of the trade."""
    value, low, high = (1.8 * one - 459.67 for one in (temperature.value, temperature.low, temperature.high))
    found = quantity(
        value, low=low, high=high, unit="degF", basis=temperature.basis, source=temperature.source,
        level=temperature.level,
    )  # fmt: skip
    return {"name": name, "state": state, "quantity": found}


def limit_of(name: str, limit: Limit) -> Document:
    """Return a published limit with its document."""
    unit, factor = FIELD_UNITS.get(limit.unit, (limit.unit, 1.0))
    return {
        "name": name,
        "value": limit.value * factor,
        "unit": unit,
        "document": limit.source,
        "edition": limit.edition,
        "jurisdiction": limit.jurisdiction,
        "known": limit.basis.value,
    }
