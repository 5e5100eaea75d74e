"""The parts of the report about plans and tests: fan rule, filters, visits, pressures; as plain data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from airtally.report import words

Page = dict[str, Any]
"""Plain data of a part of the report: text, lists and yes or no, ready for a template."""


def _rule_text(rule: Mapping[str, Any]) -> str:
    parts = []
    if "on_above" in rule and "off_below" in rule:
        parts.append(f"on above {words.amount(rule['on_above'])}, off below {words.amount(rule['off_below'])}")
    if "minimum_run" in rule:
        parts.append(f"runs at least {words.amount(rule['minimum_run'])}")
    if "sampling_minutes" in rule:
        parts.append(f"looks at the air {words.amount(rule['sampling_minutes'])}")
    settings = [rule[key] for key in ("on_above", "off_below", "minimum_run", "sampling_minutes") if key in rule]
    return f"{'; '.join(parts)}. Basis: {words.bases(settings)}." if parts else ""


def fan_part(document: Mapping[str, Any]) -> Page | None:
    """Return the fan rule in plain words with the numbers of its replay."""
    rule = document.get("fan_rule")
    if not rule:
        return None
    sentences = list(rule.get("sentences", []))
    settings = rule.get("rule", {})
    if settings:
        sentences.append("Rule: " + _rule_text(settings))
    if "room_target" in rule and "duct_threshold" in rule:
        sentences.append(
            f"Aim in the rooms: {words.stated(rule['room_target'])}. "
            f"At the sensor in the duct that reads {words.stated(rule['duct_threshold'])}."
        )
    names = {
        "exposure": "PM2.5 in the rooms while people are home",
        "fan_hours": "fan runs",
        "energy": "power used",
        "starts": "starts",
        "coverage": "events answered",
        "regret": "above the best rule we tried",
        "sampling_minutes": "fan needed to see the rooms",
    }
    as_set = rule.get("as_set", {})
    old = as_set.get("result", {})
    rows = [
        [name, words.stated(old[key]) if key in old else "", words.stated(rule[key])]
        for key, name in names.items()
        if key in rule
    ]
    stops = [*settings.get("lockouts", [])]
    return {
        "sentences": sentences,
        "as_set": [
            *as_set.get("sentences", []),
            *(["It was set like this: " + _rule_text(as_set["rule"])] if "rule" in as_set else []),
        ],
        "rows": rows,
        "has_old": bool(old),
        "lockouts": f"It stops by itself on: {words.joined(stops)}." if stops else "",
        "limits": "The rule only asks for the fan. It never holds off heating or cooling, and its request ends by itself.",
        "switch_off": rule.get("switch_off", ""),
        "cost": words.money(rule["running_cost"]) if "running_cost" in rule else "",
    }


def filters_part(document: Mapping[str, Any]) -> Page | None:
    """Return the filters with size, date and cost."""
    plan = document.get("filter_plan")
    if not plan:
        return None
    rows = [
        [
            entry["place"],
            ", ".join(entry[key] for key in ("size", "grade") if entry.get(key)),
            entry.get("change", ""),
            entry.get("indicator", ""),
            words.day(entry["due"], "UTC") if "due" in entry else "",
            words.money(entry["cost"]) if "cost" in entry else "",
        ]
        for entry in plan.get("filters", [])
    ]
    return {"rows": rows, "sentences": plan.get("sentences", [])}


def pressures_part(document: Mapping[str, Any]) -> Page | None:
    """Return worst cases, rooms, what ducts and blower do, each with its basis; cautions stand before all of it."""
    pressures = document.get("pressures", {})
    rows = []
    for case in pressures.get("worst_cases", []):
        rows.append(_pressure_row(case["name"], case["pressure"], case))
    for part in pressures.get("static_budget", []):
        rows.append(_pressure_row(f"{part['part']}, pressure drop in the ducts", part["pressure"], part))
    if not rows:
        return None
    return {
        "rows": rows,
        "cautions": document["safety"]["cautions"][:2],
        "sentences": pressures.get("sentences", []),
        "answers": [_answer(one) for one in pressures.get("answers", []) if one["id"] in IN_BRIEF],
        "drawing": pressures.get("hookup_drawing"),
        "readings": [
            [
                row["reading"],
                _plain_amount(row["measured"], row["unit"]),
                _plain_amount(row["computed"], row["unit"]),
                "agrees" if row["agrees"] else "disagrees with the rest",
            ]
            for row in pressures.get("readings", [])
        ],
    }


def _plain_amount(value: float, unit: str) -> str:
    return words.amount({"value": value, "low": None, "high": None, "unit": unit})


IN_BRIEF: dict[str, tuple[str, ...]] = {
    "static-budget": ("airflow", "total external static", "electric power", "heat rise"),
    "appliance-zones": (),
    "duct-leaks": (),
    "bypass-hookup": ("cleaner's flow", "clean air delivered", "own air taken in again"),
    "in-line-or-bypass": ("airflow", "clean air", "heat rise", "electric power"),
    "draft": ("available draft", "gain of draft"),
    "ventilation": ("fan flow to provide", "missing"),
    "supply-air": ("supply air", "heat of a year", "cost of a year"),
    "duct-heat": ("heat lost", "outside of the run"),
}
"""Answers that the customer's part shows and which of their numbers, by how the name begins; none named: all. Every
number of every answer stands in the appendix."""


def _answer(answer: Mapping[str, Any]) -> Page:
    wanted = IN_BRIEF[answer["id"]]
    notes = [f"Limit: {words.limit_text(limit)}." for limit in answer.get("limits", [])]
    if answer.get("not_measured"):
        notes.append(f"Not measured: {'; '.join(answer['not_measured'])}.")
    if answer.get("assumed"):
        notes.append(
            f"{len(answer['assumed'])} numbers behind these are assumed; the record names each with its source."
        )
    return {
        "title": answer["title"],
        "cautions": answer.get("cautions", []),
        "rows": [
            [row["name"], row["state"], words.amount(row["quantity"]), _basis_text(row)]
            for row in answer["numbers"]
            if not wanted or row["name"].startswith(wanted)
        ],
        "sentences": answer.get("sentences", []),
        "notes": notes,
    }


def _basis_text(row: Mapping[str, Any]) -> str:
    """Return how a number came, with what must stand beside it."""
    standing = f"; {row['standing']}" if "standing" in row else ""
    return f"{row['quantity']['basis']}{standing}"


def _pressure_row(name: str, pressure: Mapping[str, Any], entry: Mapping[str, Any]) -> list[str]:
    limit = words.limit_text(entry["limit"]) if "limit" in entry else ""
    outcome = entry.get("outcome", "")
    if outcome == "cannot tell" and not limit:
        outcome = "limits: see safety"  # the record holds no limit against it here, and a bare doubt says nothing
    return [name, words.amount(pressure), pressure["basis"], outcome, limit]


def _visit_cell(cell: Any) -> str:
    if cell is None:
        return "not measured"
    return cell if isinstance(cell, str) else words.amount(cell)


def visits_part(document: Mapping[str, Any]) -> Page | None:
    """Return test-in and test-out side by side with conditions and limits."""
    readings = document.get("visit_readings")
    if not readings:
        return None
    heads = []
    for key, name in (("test_in", "test-in"), ("test_out", "test-out")):
        visit = readings.get(key)
        heads.append(f"{name}, {words.day(visit['date'], 'UTC')}" if visit else name)
    rows: list[Sequence[str]] = []
    for row in readings["rows"]:
        notes = [part for part in (row.get("conditions"), row.get("instrument")) if part]
        limit = words.limit_text(row["limit"]) if "limit" in row else ""
        rows.append(
            [
                row["item"],
                "; ".join(notes),
                _visit_cell(row.get("test_in")),
                _visit_cell(row.get("test_out")),
                row.get("outcome", ""),
                limit,
            ]
        )
    return {"heads": heads, "rows": rows}
