"""The work order: works in the order of the stages, their parts, what they wait for, what to measure again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from airtally.report import words
from airtally.report.choices import safety_in_order
from airtally.report.customer import DEFER
from airtally.report.plans import Page
from airtally.report.proposals import in_order, proposals_part

NO_WORKS = "No work is on the order: the survey lists no measure, and none could be worked out."


def work_order_part(document: Mapping[str, Any]) -> Page:
    """Return the work order's own data, from the record alone."""
    safety = document["safety"]
    entries = in_order(document.get("forecasts", {}))
    works = [
        work | {"parts": list(entry.get("parts", []))}
        for work, entry in zip(proposals_part(document), entries, strict=True)
    ]
    return {
        "defer": DEFER,
        "blocks": [
            [gate["question"], gate.get("answer", ""), gate.get("lifts", "")]
            for gate in safety.get("gates", [])
            if gate["status"] != "done" and gate.get("lifts")
        ],
        "settle": [
            [one.get("title") or one["id"], words.status_word(one["status"]), words.sentence(one["action"])]
            for one in safety_in_order(safety)
            if one["status"] != "done"
        ],
        "works": works,
        "no_works": NO_WORKS,
        "hookup": _hookup(document.get("pressures", {})),
    }


def _hookup(pressures: Mapping[str, Any]) -> Page | None:
    """Return the hookup drawing with every figure behind it."""
    drawn = pressures.get("hookup_drawing")
    answer = next((one for one in pressures.get("answers", []) if drawn and one["title"] == drawn["answer"]), None)
    if drawn is None or answer is None:
        return None
    notes = [f"Limit: {words.limit_text(limit)}." for limit in answer.get("limits", [])]
    notes += [
        f"{name}: {'; '.join(answer[key])}."
        for name, key in (("Not measured", "not_measured"), ("Assumed", "assumed"))
        if answer.get(key)
    ]
    return {
        "title": drawn["title"],
        "drawing": drawn,
        "cautions": answer.get("cautions", []),
        "rows": [
            [
                row["name"],
                row["state"],
                words.amount(row["quantity"]),
                "; ".join(part for part in (row["quantity"]["basis"], row.get("standing", "")) if part),
            ]
            for row in answer["numbers"]
        ],
        "notes": notes,
    }
