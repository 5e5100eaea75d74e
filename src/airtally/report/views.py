"""One part of the record as plain text for a terminal: what the verbs print."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from textwrap import fill
from typing import Any

from airtally.record.documents import JobRecord
from airtally.report import words
from airtally.report.proposals import about_forecasts, check_text, in_order, stage_zero, wait_text

WIDTH = 100
COMBUSTION = re.compile(r"\bCO\b|carbon monoxide|draft|spillage|suction|chimney|flue|fire lit", re.IGNORECASE)
"""Words beside which the cautions on combustion, alarms and fire stand."""


def view(record: JobRecord, key: str) -> str:
    """Return one section of the record as text, safety's cautions first where it speaks of CO, draft or suction.

    Parameters
    ----------
    record : JobRecord
    key : str
        ``pressures``, ``findings``, ``forecasts``, ``fan_rule`` or ``proof``.
    """
    document = record.document
    head = [document["job"]["home"]]
    if document["job"]["is_invented"] and "invented" not in head[0]:
        head[0] += " (invented)"
    body = _VIEWS[key](document)
    cautions = document["safety"]["cautions"][:3] if any(COMBUSTION.search(line) for line in body) else []
    above = [*(_wrapped(caution, 0) for caution in cautions), ""] if cautions else []
    return "\n".join([*head, "", *above, *body]) + "\n"


def _wrapped(text: str, indent: int = 2) -> str:
    return fill(text, WIDTH, initial_indent=" " * indent, subsequent_indent=" " * indent)


def _pressures(document: Mapping[str, Any]) -> list[str]:
    part = document["pressures"]
    lines = ["House against outdoors, deepest suction first"]
    for case in part.get("worst_cases", []):
        quantity = case["pressure"]
        outcome = f"; {case['outcome']}" if "outcome" in case else ""
        lines.append(_wrapped(f"{case['name']}: {words.amount(quantity)}, {quantity['basis']}{outcome}"))
    if part.get("static_budget"):
        lines += ["", "Static pressure budget, as read"]
        for row in part["static_budget"]:
            lines.append(_wrapped(f"{row['part']}: {words.amount(row['pressure'])}, {row['pressure']['basis']}"))
    if part.get("rooms"):
        lines += ["", "Rooms, change from every fan off"]
        for row in part["rooms"]:
            lines.append(
                _wrapped(f"{row['state']}: {row['room']} against {row['reference']} {words.amount(row['pressure'])}")
            )
    for answer in part.get("answers", []):
        lines += ["", answer["title"]]
        lines += [_wrapped(caution) for caution in answer.get("cautions", [])]
        for row in answer["numbers"]:
            standing = f"; {row['standing']}" if "standing" in row else ""
            lines.append(
                _wrapped(
                    f"{row['state']}: {row['name']} {words.amount(row['quantity'])}, {row['quantity']['basis']}{standing}"
                )
            )
        lines += [_wrapped(f"Limit: {words.limit_text(limit)}") for limit in answer.get("limits", [])]
        lines += [_wrapped(text) for text in answer.get("sentences", [])]
        for name, key in (("Not measured", "not_measured"), ("Assumed", "assumed")):
            if answer.get(key):
                lines.append(_wrapped(f"{name}: {'; '.join(answer[key])}."))
    if part.get("readings"):
        lines += ["", "Readings the network was fitted to, and what it gives back"]
        for row in part["readings"]:
            verdict = "agrees" if row["agrees"] else "DISAGREES with the rest"
            lines.append(
                _wrapped(f"{row['reading']}: {row['measured']:g} {row['unit']}, {row['computed']:g}; {verdict}")
            )
    return [*lines, "", *[_wrapped(s, 0) for s in part.get("sentences", [])]]


def _findings(document: Mapping[str, Any]) -> list[str]:
    lines = []
    for finding in document["findings"]:
        lines.append(f"{finding['verdict']}: {finding['title']}")
        lines.append(_wrapped(f"from {finding['source']} by {finding['path']}"))
        for entry in finding.get("numbers", []):
            lines.append(_wrapped(f"{entry['name']}: {words.amount(entry['quantity'])}, {entry['quantity']['basis']}"))
        for name, key in (("for", "for"), ("against", "against")):
            if finding[key]:
                lines.append(_wrapped(f"{name}: {'; '.join(finding[key])}"))
        lines.append(_wrapped(f"would refute it: {finding['test']}"))
        lines.append("")
    return lines or ["Nothing stands out in these readings."]


def _forecasts(document: Mapping[str, Any]) -> list[str]:
    entries = in_order(document["forecasts"])
    lines = [_wrapped(text, 0) for text in (*stage_zero(document), about_forecasts(entries))] + [""]
    for forecast in entries:
        lines.append(f"Stage {forecast['stage']}. {forecast['name']}")
        lines += [_wrapped(f"WAITS FOR {text}") for text in map(wait_text, forecast.get("waits_for", []))]
        if "percent" in forecast:
            mean = words.amount(forecast["mean_pm25"])
            lines.append(
                _wrapped(f"room PM2.5 {mean}: {words.change_text(forecast['percent'])}, {forecast['percent']['basis']}")
            )
        if "cost" in forecast:
            lines.append(_wrapped(f"price {words.money(forecast['cost'])}"))
        lines += [_wrapped(check_text(check)) for check in forecast.get("checks", [])]
        lines += [_wrapped(text) for text in forecast.get("cautions", [])]
        if forecast.get("must_retest"):
            lines.append(_wrapped(f"to be tested afterwards: {'; '.join(forecast['must_retest'])}"))
        lines.append("")
    return lines


def _fan_rule(document: Mapping[str, Any]) -> list[str]:
    part = document["fan_rule"]
    lines = []
    names = {
        "room_target": "room target",
        "duct_threshold": "that target at the rule's sensor",
        "sampling_minutes": "fan needed each hour for a valid sample",
        "exposure": "room PM2.5 under the rule",
        "fan_hours": "fan",
        "starts": "starts",
        "energy": "electricity of the fan",
        "coverage": "event hours with a valid sample",
        "regret": "above the best rule replayed",
    }
    for key, name in names.items():
        if key in part:
            lines.append(_wrapped(f"{name}: {words.amount(part[key])}, {part[key]['basis']}", 0))
    settings = part.get("rule", {})
    if "on_above" in settings:
        lines.append(
            _wrapped(
                f"rule: on above {words.amount(settings['on_above'])}, off below {words.amount(settings['off_below'])} "
                f"at {settings['placement']}",
                0,
            )
        )
    lines += ["", *[_wrapped(s, 0) for s in part.get("sentences", [])]]
    if "as_set" in part:
        lines += ["", "The rule as set on the house", *[_wrapped(s) for s in part["as_set"]["sentences"]]]
        for key in ("exposure", "fan_hours"):
            if key in part["as_set"]["result"]:
                lines.append(_wrapped(f"{names[key]}: {words.amount(part['as_set']['result'][key])}"))
    return lines


def _proof(document: Mapping[str, Any]) -> list[str]:
    part = document["proof"]
    lines = []
    for row in [*part["rows"], *part.get("not_evidence", [])]:
        lines.append(f"{words.verdict_word(row['verdict'])}: {row['question']}")
        for name in ("before", "after", "effect"):
            if row.get(name):
                lines.append(_wrapped(f"{name} {words.amount(row[name])}, {row[name]['basis']}"))
        for key in ("evidence", "note"):
            if row.get(key):
                lines.append(_wrapped(row[key]))
        lines.append("")
    if "placebo" in part:
        placebo = part["placebo"]
        lines.append(
            _wrapped(
                f"Pretended dates: the real change ranks {placebo['rank']} of {placebo['of']} by size, over "
                f"{placebo.get('independent_weeks', 0)} independent weeks. {placebo.get('sentence', '')}",
                0,
            )
        )
    return [*lines, *[_wrapped(s, 0) for s in part.get("sentences", [])]]


_VIEWS: dict[str, Callable[[Mapping[str, Any]], list[str]]] = {
    "pressures": _pressures,
    "findings": _findings,
    "forecasts": _forecasts,
    "fan_rule": _fan_rule,
    "proof": _proof,
}
