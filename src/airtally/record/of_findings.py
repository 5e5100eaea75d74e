"""The record's findings and filter plan."""

from __future__ import annotations

from airtally.estimates import Estimate
from airtally.findings.parts import Finding
from airtally.house.parts import STILL_THERE, House
from airtally.record.documents import Document
from airtally.record.numbers import PER_HOUR, field
from airtally.record.of_safety import shown

LIMIT_RULE = (
    "Change a filter by its measured pressure drop at a known fan state, and at the latest by its age; the drop allowed is "
    "what the blower's rated static leaves, not a round number.",
    "After every filter change look for gaps, read the drop, and map the duct sensor's threshold anew.",
    "A filter or fan change, a new hood or dryer, new windows or duct work: test the appliance zone again.",
)


def findings_document(findings: tuple[Finding, ...]) -> list[Document]:
    """Return the record's ``findings``."""
    return [
        {
            "id": f.id,
            "title": f.title,
            "source": f.source,
            "path": f.path,
            "test": f.test,
            "for": list(f.evidence_for),
            "against": list(f.evidence_against),
            "verdict": f.standing.value,
            "settle": f.settle,
            "numbers": [{"name": name, "quantity": _shown(value)} for name, value in f.numbers],
        }
        for f in findings
    ]


def _shown(estimate: Estimate) -> Document:
    """Return a finding's number in its field unit: clean and outdoor air in m3/h, as rooms are; ducts alone go by cfm."""
    if estimate.unit == "m3/s":
        return field(estimate, "m3/h", PER_HOUR)
    return shown(estimate)


def filter_plan_document(house: House) -> Document:
    """Return the record's ``filter_plan``: every filter that is in now, and the rules of change."""
    filters: list[Document] = []
    if house.air_handler is not None:
        for part in house.air_handler.filters:
            if part.until != STILL_THERE:
                continue
            entry: Document = {
                "place": f"air handler, {part.id}",
                "grade": part.rating,
                "change": "by pressure drop; 1 in. at most 3 months, 4 in. at most 12 months (common practice, no source)",
                "indicator": "pressure drop at the same fan state",
            }
            if part.pressure_drop is not None:
                entry["pressure_drop"] = field(part.pressure_drop, "inH2O", 1.0 / 249.08891)
            filters.append(entry)
    for cleaner in house.cleaners:
        if cleaner.until == STILL_THERE:
            filters.append(
                {
                    "place": cleaner.name,
                    "change": "prefilter and main filter by the maker's instructions; measure the flow each year",
                    "indicator": "measured flow; carbon has none but smell and age",
                }
            )
    return {"filters": filters, "sentences": list(LIMIT_RULE)}
