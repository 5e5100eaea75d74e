"""The record's static-pressure budget: each blower speed as found and with each measure, in field units."""

from __future__ import annotations

from airtally.estimates import Estimate
from airtally.network.ducts.plate import COOLING_BAND
from airtally.network.home.budget import NOW, SpeedBudget
from airtally.network.home.outlooks import ZoneOutlook
from airtally.record.answer_rows import row
from airtally.record.documents import Document
from airtally.visits.parts import HandlerMode

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
    modes = {one.mode for one in rows}
    as_found = [one for one in rows if one.works == NOW]
    missing = []
    if HandlerMode.COOLING not in modes:
        missing.append("airflow and static at cooling speed")
    elif all(one.flow_per_capacity is None for one in rows):
        missing.append("the cooling capacity")
    if all(one.heat_rise is None for one in rows):
        missing.append("the heat output")
    if any(one.rise_against_plate == "plate not read" for one in as_found):
        missing.append("the plate's range of heat rise")
    if all(one.over_rated is None for one in rows):
        missing.append("the plate's highest external static")
    return {
        "id": "static-budget",
        "title": "Static-pressure budget at each speed, as found and with each measure",
        "numbers": [number for one in rows for number in _numbers(one)],
        "sentences": [*_outside(rows), *ALWAYS_SAID],
        "not_measured": missing,
        "assumed": list(dict.fromkeys(word for one in rows for word in one.assumed)),
    }


def _numbers(one: SpeedBudget) -> list[Document]:
    state = f"{one.mode.value}, {one.works}"
    if one.works != NOW and one.flow_change.low == one.flow_change.high:
        return [row("electric power, airflow and static unchanged", state, one.power)]
    numbers: dict[str, Estimate | None] = {
        "airflow": one.flow,
        "change of the airflow": one.flow_change if one.works != NOW else None,
        "total external static": one.static,
        "over the plate's highest static": one.over_rated,
        **{f"{name}, its part of the static": part for name, part in one.parts},
        "electric power": one.power,
        "heat rise": one.heat_rise,
        "airflow over cooling capacity": one.flow_per_capacity,
    }
    return [row(name, state, number, duct=True) for name, number in numbers.items() if number is not None]


def _outside(rows: tuple[SpeedBudget, ...]) -> list[str]:
    """Return a sentence for every heat rise outside the plate and every cooling airflow outside the trade's band."""
    said = []
    for one in rows:
        state = f"{one.mode.value}, {one.works}"
        if one.rise_against_plate.startswith(("above", "below")):
            said.append(f"{state}: heat rise {one.rise_against_plate}'s range.")
        elif one.rise_against_plate.startswith("cannot"):
            said.append(f"{state}: heat rise may lie outside the plate's range.")
        if one.flow_against_band.startswith(("above", "below")):
            said.append(f"{state}: airflow in cooling {one.flow_against_band}: {COOLING_BAND.source}.")
        elif one.flow_against_band.startswith("cannot"):
            said.append(f"{state}: airflow in cooling may lie outside the trade's band: {COOLING_BAND.source}.")
    return said


def zones_document(zones: tuple[ZoneOutlook, ...]) -> Document:
    """Return the appliance zones with each measure as an answer of the record's ``pressures``."""
    numbers = []
    for zone in zones:
        state = f"{zone.works}{', a fire lit' if zone.with_fire else ''}"
        numbers += [
            row(f"{zone.zone} in its worst state", state, zone.pressure),
            row(f"{zone.zone}, what the measure adds", state, zone.added),
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
