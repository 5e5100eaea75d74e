"""The filter plan as a paper: the report's filters, each with the pressure drop that stands for it when clean."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from airtally.report import words
from airtally.report.plans import Page, filters_part

NONE = "No filter is on record: the survey lists none in the air handler and no cleaner."


def filter_plan_part(document: Mapping[str, Any]) -> Page:
    """Return the plan's own data, from the record alone."""
    plan = filters_part(document)
    entries = document.get("filter_plan", {}).get("filters", [])
    if plan is None or not entries:
        return {"filters": None, "none": NONE}
    rows = [[*row[:4], _drop(entry), *row[4:]] for row, entry in zip(plan["rows"], entries, strict=True)]
    return {"filters": {"rows": rows, "sentences": plan["sentences"]}, "none": NONE}


def _drop(entry: Mapping[str, Any]) -> str:
    drop = entry.get("pressure_drop")
    return f"{words.amount(drop)}, {drop['basis']}" if drop else words.NOT_KNOWN
