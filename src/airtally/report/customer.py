"""The customer report: of the record's texts those that a lay reader needs, on four pages; the rest is counted by name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from airtally.report.commissioning import sheet_lines
from airtally.report.pages import ON_FIRST_PAGE
from airtally.report.plans import Page
from airtally.report.proposals import about_forecasts, in_order

MOST = {
    "found": 6,
    "did": 6,
    "unchanged": 3,
    "keep": 4,
    "never": 3,
    "next": 4,
    "call": 3,
    "cannot_tell": 4,
    "not_checked": 6,
}
"""Lines of each list on the customer's pages; a longer list says how many more stand in the technical appendix."""
MOST_PROOF, MOST_VISITS, MOST_PRESSURES, MOST_PROPOSALS, MOST_FAN = 8, 6, 3, 8, 3
MOST_WAITS = 2
DEFER = (
    "Local codes, the maker's instructions and licensed people decide on combustion, gas, electricity, refrigerant and "
    "ducts; permits are theirs to name."
)
MORE = "Every number with its unit, range and source, the tests behind each finding and the method stand in the technical appendix."


def customer_part(texts: Mapping[str, Any], document: Mapping[str, Any]) -> Page:
    """Return the customer report's own data.

    Parameters
    ----------
    texts : mapping
        The texts of a record, :func:`airtally.report.pages.report_pages`; nothing is worded anew here.
    document : mapping
        The record.
    """
    advice = texts["advice"]
    lists = {key: texts[key] for key in ("found", "did", "unchanged", "keep", "cannot_tell")}
    lists |= {"never": advice.get("never", []), "call": advice.get("call_when", [])}
    lists |= {"next": _next(texts), "not_checked": [_plain(one) for one in texts["not_checked"]]}
    fan = texts["fan"]
    return {
        **{key: cut(list(dict.fromkeys(items)), MOST[key]) for key, items in lists.items()},
        "asked": texts["asked"],
        "changed": texts["changed"],
        "account": texts["account"],
        **_proof(texts["proof"]),
        "visits": _visits(texts["visits"], document),
        "pressures": _pressures(texts["pressures"]),
        **_proposals(texts["proposals"], document),
        "fan": [*fan["sentences"][:MOST_FAN], fan["lockouts"], fan["switch_off"]] if fan else [],
        "indicative": texts["indicative"],
        "data": texts["data"],
        "defer": DEFER,
        "more": MORE,
    }


def left_over(count: int, shown: int, what: str = "") -> str:
    """Return how many of a list stand in the technical appendix only, empty where all are shown."""
    return f"{count - shown} more in the technical appendix{what}." if count > shown else ""


def cut(items: Sequence[str], most: int) -> list[str]:
    """Return the first lines of a list, and how many more there are."""
    more = left_over(len(items), most)
    return [*items[:most], more] if more else list(items)


def _proof(proof: Page | None) -> Page:
    rows = proof["rows"] if proof else []
    telling = [row for row in rows if row["verdict"] != "not evidence"]
    return {
        "proof": telling[:MOST_PROOF],
        "proof_notes": [left_over(len(rows), min(len(telling), MOST_PROOF), ", with what is no evidence and why")],
    }


def _next(texts: Mapping[str, Any]) -> list[str]:
    """Return what is left to do; what the safety box says already is not said twice."""
    if texts["advice"].get("next") or len(texts["next"]) <= ON_FIRST_PAGE or not texts["safety"]["every"]:
        return list(texts["next"])
    return ["First what stands in the safety box.", *texts["next"][ON_FIRST_PAGE:]]


def _plain(not_checked: str) -> str:
    """Return what was not tested without the keys of the readings that would test it."""
    return not_checked.partition(":")[0].replace("_", " ")


def _visits(visits: Page | None, document: Mapping[str, Any]) -> Page | None:
    """Return the tests that were made twice in like states, with the limit that governs; those over one first."""
    both = [line for line in sheet_lines(document) if line.test_out and line.test_in]
    if visits is None or not both:
        return None
    both.sort(key=lambda line: (line.outcome != "over limit", not line.limits))
    rows = [
        [f"{line.title}: {line.where}", line.test_in, line.test_out, line.outcome, "; ".join(line.limits)]
        for line in both[:MOST_VISITS]
    ]
    return {"heads": visits["heads"], "rows": rows, "left": left_over(len(both), len(rows))}


def _pressures(pressures: Page | None) -> Page | None:
    if pressures is None:
        return None
    rows = pressures["rows"][:MOST_PRESSURES]
    return {
        "rows": rows,
        "left": left_over(len(pressures["rows"]), len(rows)),
    }


def _proposals(proposals: Sequence[Page], document: Mapping[str, Any]) -> Page:
    rows = [
        {
            "stage": one["stage"],
            "name": one["name"],
            "what": one["what"],
            "would": one["would"],
            "costs": one["costs"],
            "waits": _waits(entry),
        }
        for one, entry in zip(proposals, in_order(document.get("forecasts", {})), strict=True)
    ]
    left = left_over(len(rows), MOST_PROPOSALS)
    return {
        "proposals": rows[:MOST_PROPOSALS],
        "has_forecast": any("percent" in one for one in document.get("forecasts", {}).values()),
        "about_proposals": about_forecasts(list(document.get("forecasts", {}).values())),
        "retest": f"{left} Pressures, airflow and every vented appliance are tested again after work; which, says the work order.".strip(),
    }


def _waits(entry: Mapping[str, Any]) -> str:
    """Return in a few words what a proposal waits for; the work order says why and what lifts it."""
    waits = list(dict.fromkeys(str(wait["what"]) for wait in entry.get("waits_for", [])))
    more = [f"{len(waits) - MOST_WAITS} more"] if len(waits) > MOST_WAITS else []
    return "; ".join([*waits[:MOST_WAITS], *more])
