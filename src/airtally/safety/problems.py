"""The codes of the safety room."""

from __future__ import annotations

FINDINGS: dict[str, str] = {
    "safety-co-event": "CO rose in the house beside an appliance, a fire or an exhaust, or crossed a published level.",
    "safety-co-rises": "CO rose in the house, each time less than any published level, with no appliance linked to it.",
    "safety-co-room": "A visit found CO in a room at or above a published level, or above outdoors.",
    "safety-co-flue": "CO in a flue lies at or above a published level.",
    "safety-spill-temperature": "The spill sensor read far above its usual daily peak without a CO rise.",
    "safety-spillage": "An appliance spilled for longer than the limit.",
    "safety-spillage-not-tested": "A vented appliance was never tested for spillage, or not since the works.",
    "safety-soot": "Soot, scorching or smoke in the room was seen.",
    "safety-depressurisation": "A zone with a vented appliance goes, or may go, below a published limit.",
    "safety-depressurisation-not-tested": "Nobody measured the worst case of a zone with a vented appliance.",
    "safety-fire-logged": "With a fire lit the log shows the house or an appliance zone below a published limit.",
    "safety-not-tested-with-fire": "There is a fireplace or stove, and no test or log saw it burn.",
    "safety-logger-outage": "A CO or spill logger was silent for hours.",
    "safety-no-co-log": "There are combustion appliances, and no low-level CO was logged.",
    "safety-garage-return": "The return draws air from the garage.",
    "safety-return-near-appliance": "A return opening stands in an appliance's zone or near a firebox or draft hood.",
    "safety-heat-rise": "Heat rise lies outside the range on the plate.",
    "safety-cooling-airflow": "Airflow in cooling is low for the capacity.",
    "safety-static": "Total external static lies above the plate.",
    "safety-draft": "A flue pulled less than the published least draft, or pushed.",
    "safety-alarms": "Listed CO alarms are missing or past their date, or nobody looked.",
    "safety-hazardous-material": "Vermiculite, suspect wrap, mould or lead paint: do not disturb, refer.",
    "safety-emergency": "An alarm, a smell of gas or symptoms that clear outdoors.",
    "safety-blocked-form-filled": "A reading was taken although its form was blocked.",
}
"""Finding code to meaning."""

PROBLEMS: dict[str, str] = {}
"""Problem code to meaning."""
