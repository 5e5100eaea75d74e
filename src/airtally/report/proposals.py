"""Proposals in words: order, forecast, price, checks with their limits, and what each waits for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from airtally.report import words
from airtally.report.choices import safety_in_order

Page = dict[str, Any]
MOST_NAMED = 4
"""Open safety findings that stand by name before the proposals."""


def in_order(forecasts: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return the proposals in the order of doing."""
    return [entry for _, entry in _named_in_order(forecasts)]


def _named_in_order(forecasts: Mapping[str, Any]) -> list[tuple[str, Mapping[str, Any]]]:
    return sorted(forecasts.items(), key=lambda item: (item[1]["stage"], item[1].get("step", 0)))


def weeks_words(forecast: Mapping[str, Any]) -> dict[str, str]:
    """Return the title of the latest weeks drawn again with a measure in place, and what the drawing shows."""
    name = forecast["name"]
    sentence = (
        "Dashed: the rooms as the house is, means of three hours; line with band: the same hours with it in place, "
        f"9 chances in 10, {forecast['weeks']['basis']}"
    )
    return {"title": f"{name}: the latest weeks again", "sentence": words.sentence(sentence)}


def stage_zero(document: Mapping[str, Any]) -> list[str]:
    """Return what comes before every stage: the open safety findings, each with what to do."""
    still = [one for one in safety_in_order(document["safety"]) if one["status"] != "done"]
    if not still:
        return ["Stage 0, safety first: nothing that was tested is open."]
    named = [f"{one.get('title') or one['id']}: {words.sentence(one['action'])}" for one in still[:MOST_NAMED]]
    more = [f"{len(still) - MOST_NAMED} more stand under safety."] if len(still) > MOST_NAMED else []
    return ["Stage 0, safety first.", *named, *more]


def about_forecasts(entries: list[Mapping[str, Any]]) -> str:
    """Return what the entries are: replayed weeks, or survey and gauges alone."""
    if any("percent" in entry for entry in entries):
        return "Each line: the latest weeks replayed with the measure added to the house as it now is."
    return "From survey and gauges alone: without readings no PM2.5 is foretold."


def check_text(check: Mapping[str, Any]) -> str:
    """Return one check as a sentence: outcome, computed figure with its basis, and the limit it was held against."""
    number = f" {words.stated(check['quantity'])}" if "quantity" in check else ""
    limit = f" ({words.limit_text(check['limit'])})" if "limit" in check else ""
    said = f"; {check['sentence']}" if check.get("sentence") else ""
    return words.sentence(f"{check['name']}: {check['outcome']}{';' if number else ''}{number}{limit}{said}")


def wait_text(wait: Mapping[str, Any]) -> str:
    """Return one wait as sentences: what it waits for, why with its figures, and the reading that ends it."""
    figures = [f"{one['name']} {words.stated(one['quantity'])}" for one in wait.get("figures", [])]
    limit = [words.limit_text(wait["limit"])] if "limit" in wait else []
    numbers = f" ({'; '.join([*figures, *limit])})" if figures or limit else ""
    return (
        f"{words.sentence(wait['what'])} {words.sentence(wait['because'] + numbers)} "
        f"{words.sentence('Lifted by: ' + wait['lifted_by'])}"
    )


def proposals_part(document: Mapping[str, Any]) -> list[Page]:
    """Return the measures in order with price, forecast, checks and waits."""
    entries = _named_in_order(document.get("forecasts", {}))
    rows = []
    for measure, forecast in entries:
        would = []
        told = [forecast[key] for key in ("percent", "mean_pm25") if key in forecast]
        if "percent" in forecast:
            would.append(words.change_text(forecast["percent"]))
        if "mean_pm25" in forecast:
            would.append(f"rooms at {words.amount(forecast['mean_pm25'])}")
        costs = [words.money(forecast[key]) for key in ("cost", "running_cost") if key in forecast]
        rows.append(
            {
                "id": measure,
                "weeks": weeks_words(forecast) if "weeks" in forecast else None,
                "stage": str(forecast["stage"]),
                "name": forecast["name"],
                "what": forecast.get("what", ""),
                "would": words.sentence(f"{'; '.join(would)}, {words.bases(told)}") if told else "No forecast.",
                "costs": costs or ["not priced"],
                "retest": list(forecast.get("must_retest", [])),
                "checks": _brief(forecast.get("checks", [])),
                "cautions": list(forecast.get("cautions", [])),
                "waits": [wait_text(wait) for wait in forecast.get("waits_for", [])],
            }
        )
    return rows


def _brief(checks: list[Mapping[str, Any]]) -> list[str]:
    """Return the checks that a customer must see: what passes a limit or may; the rest is counted and stands under pressures."""
    shown = [check for check in checks if check["outcome"] in ("over limit", "cannot tell")]
    left = len(checks) - len(shown)
    more = [f"{left} more figures were computed with it; they stand under pressures."] if left else []
    return [*map(check_text, shown), *more]
