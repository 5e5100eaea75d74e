"""The record's static-pressure budget: each blower speed as found and with each measure, in field units."""

from __future__ import annotations

from collections.abc import Iterable

from airtally.estimates import Estimate
from airtally.network.ducts.plate import COOLING_BAND
from airtally.network.home.budget import NOW, SpeedBudget
from airtally.network.home.outlooks import ZoneOutlook
from airtally.record.documents import Document
from airtally.record.numbers import field
from airtally.record.of_safety import FIELD_UNITS, shown
from airtally.visits.parts import HandlerMode

INCHES = 1.0 / 249.08891
"""inH2O in a Pa."""
ALWAYS_SAID = (
    "Sealing takes away leakage that let the blower breathe: static rises and airflow falls unless return or filter area "
    "grows with it.",
    "A split-capacitor blower draws less when its flow falls; one that holds its flow draws more.",
    "New filters are taken as clean; a loaded one takes two to four times as much (common practice, no source).",
    "After the work: total external static, airflow and heat rise are measured again.",
)


def budget_document(rows: tuple[SpeedBudget, ...]) -> Document:
    """Return the budget as an answer of the record's ``pressures``.

    Parameters
    ----------
    rows : tuple of SpeedBudget
        At least one.
    """
    modes = {row.mode for row in rows}
    as_found = [row for row in rows if row.works == NOW]
    missing = []
    if HandlerMode.COOLING not in modes:
        missing.append("airflow and static at cooling speed")
    elif all(row.flow_per_capacity is None for row in rows):
        missing.append("the cooling capacity")
    if all(row.heat_rise is None for row in rows):
        missing.append("the heat output")
    if any(row.rise_against_plate == "plate not read" for row in as_found):
        missing.append("the plate's range of heat rise")
    if all(row.over_rated is None for row in rows):
        missing.append("the plate's highest external static")
    return {
        "id": "static-budget",
        "title": "Static-pressure budget at each speed, as found and with each measure",
        "numbers": [number for row in rows for number in _numbers(row)],
        "sentences": [*_outside(rows), *ALWAYS_SAID],
        "not_measured": missing,
        "assumed": list(dict.fromkeys(word for row in rows for word in row.assumed)),
    }


def _numbers(row: SpeedBudget) -> Iterable[Document]:
    state = f"{row.mode.value}, {row.works}"

    def entry(name: str, number: Estimate | None, unit: str = "", factor: float = 1.0) -> Iterable[Document]:
        if number is not None:
            shown_here = field(number, unit, factor) if unit else shown(number)
            yield {"name": name, "state": state, "quantity": shown_here}

    if row.works != NOW and row.flow_change.low == row.flow_change.high:
        yield from entry("electric power, airflow and static unchanged", row.power)
        return
    yield from entry("airflow", row.flow)
    if row.works != NOW:
        yield from entry("change of the airflow", row.flow_change)
    yield from entry("total external static", row.static, "inH2O", INCHES)
    yield from entry("over the plate's highest static", row.over_rated)
    for name, part in row.parts:
        yield from entry(f"{name}, its part of the static", part, "inH2O", INCHES)
    yield from entry("electric power", row.power)
    yield from entry("heat rise", row.heat_rise, "degF", 1.8)
    yield from entry("airflow over cooling capacity", row.flow_per_capacity, *FIELD_UNITS["m3/s per W"])


def _outside(rows: tuple[SpeedBudget, ...]) -> list[str]:
    """Return a sentence for every heat rise outside the plate and every cooling airflow outside the trade's band."""
    said = []
    for row in rows:
        state = f"{row.mode.value}, {row.works}"
        if row.rise_against_plate.startswith(("above", "below")):
            said.append(f"{state}: heat rise {row.rise_against_plate}'s range.")
        elif row.rise_against_plate.startswith("cannot"):
            said.append(f"{state}: heat rise may lie outside the plate's range.")
        if row.flow_against_band.startswith(("above", "below")):
            said.append(f"{state}: airflow in cooling {row.flow_against_band}: {COOLING_BAND.source}.")
        elif row.flow_against_band.startswith("cannot"):
            said.append(f"{state}: airflow in cooling may lie outside the trade's band: {COOLING_BAND.source}.")
    return said


def zones_document(zones: tuple[ZoneOutlook, ...]) -> Document:
    """Return the appliance zones with each measure as an answer of the record's ``pressures``."""
    numbers = []
    for zone in zones:
        state = f"{zone.works}{', a fire lit' if zone.with_fire else ''}"
        numbers += [
            {"name": f"{zone.zone} in its worst state", "state": state, "quantity": shown(zone.pressure)},
            {"name": f"{zone.zone}, what the measure adds", "state": state, "quantity": shown(zone.added)},
        ]
    return {
        "id": "appliance-zones",
        "title": "Appliance zones in their worst state with each measure",
        "numbers": numbers,
        "sentences": [
            "Below zero a measure deepens the suction. Each is held against the limits under proposals; what may pass one "
            "waits for a reading, and no calculation ends the wait.",
        ],
    }
