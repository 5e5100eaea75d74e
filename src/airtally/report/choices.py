"""Which parts of a record a page leads with: the same choice on the screen, in the report and on the pages."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from airtally.report import words

_BY_WAY_OF = ("garage", "buffer_space")
"""Spaces through which outdoor air comes: their lines count to the outdoor share."""
_RANK = {"open": 0, "unknown": 0, "done": 1}


def safety_in_order(safety: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return the safety findings, done ones last; else as recorded, gravest first: not tested may outweigh a note."""
    return sorted(safety["findings"], key=lambda finding: _RANK[finding["status"]])


def safety_counts(safety: Mapping[str, Any]) -> str:
    """Return ``1 open, 1 unknown`` over the findings; gates without a finding are counted too."""
    statuses = [finding["status"] for finding in safety["findings"]]
    counted = [f"{statuses.count(status)} {status}" for status in ("open", "unknown", "done") if status in statuses]
    return ", ".join(counted) or "no finding on record"


def evidence_text(finding: Mapping[str, Any]) -> str:
    """Return the numbers of a safety finding with their basis, and the limit with its document."""
    parts = [f"{entry['name']} {words.stated(entry['quantity'])}" for entry in finding.get("evidence", [])]
    if "limit" in finding:
        parts.append(words.limit_text(finding["limit"]))
    return "; ".join(parts)


def phases_with_account(document: Mapping[str, Any]) -> list[tuple[str, Mapping[str, Any]]]:
    """Return (id, phase) of the phases that have an account, in order of time."""
    phases = sorted(document.get("phases", {}).items(), key=lambda entry: str(entry[1]["start"]))
    return [(name, phase) for name, phase in phases if "account" in phase]


def account_phases(document: Mapping[str, Any]) -> list[tuple[str, Mapping[str, Any]]]:
    """Return (name, account) of the phases that have one, in order of time."""
    return [(phase["name"], phase["account"]) for _, phase in phases_with_account(document)]


def latest_account(document: Mapping[str, Any]) -> tuple[str, Mapping[str, Any]] | None:
    """Return name and account of the latest phase that has one."""
    accounts = account_phases(document)
    return accounts[-1] if accounts else None


def main_source(document: Mapping[str, Any]) -> dict[str, str] | None:
    """Return the source that brings the most in the latest phase and its largest line, in words.

    Mass decides, as in every drawing of the account; outdoor air counts as one source by all the ways it takes.
    """
    latest = latest_account(document)
    if latest is None or not latest[1]["in"]:
        return None
    account = latest[1]
    unit = words.account_unit(account)
    phase = next(entry for entry in document["phases"].values() if entry.get("account") is account)

    def amount(row: Mapping[str, Any]) -> float:
        return float(row["grams_per_day"]["value"] or 0.0)

    def source_of(row: Mapping[str, Any]) -> str:
        source = str(row.get("source", ""))
        return "outdoor" if source in _BY_WAY_OF else source or str(row["name"])

    brought: dict[str, float] = {}
    for entry in account["in"]:
        brought[source_of(entry)] = brought.get(source_of(entry), 0.0) + amount(entry)
    row = max(account["in"], key=lambda entry: (brought[source_of(entry)], amount(entry)))
    share = phase.get("source_share", {}).get(source_of(row))
    return {
        "name": row["name"],
        "path": row.get("path") or "a path not known",
        "amount": words.amount(row["grams_per_day"], unit=unit),
        "total": words.value_text(account["total"], unit=unit),
        "share": words.amount(share) if share is not None else "",
        "phase": latest[0],
    }


def chosen_effect(document: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """Return the effect a page leads with: the whole job if it shows one, else the largest that shows, else the last."""
    effects: Mapping[str, Mapping[str, Any]] = document.get("effects", {})
    whole = effects.get("whole_job")
    if whole is not None and whole.get("verdict") in (None, "shown", "worse"):
        return whole
    telling = [effect for effect in effects.values() if effect.get("verdict") in ("shown", "worse")]
    if telling:
        return max(telling, key=lambda effect: abs(effect["percent"]["value"] or 0.0))
    return whole or (list(effects.values())[-1] if effects else None)


def unassigned_folio(account: Mapping[str, Any]) -> str:
    """Return the folio of what is not assigned: 7, or the next free number where 7 is taken."""
    taken = {str(row["folio"]) for row in account["in"]}
    return "7" if "7" not in taken else str(max(int(f) for f in taken if f.isdigit()) + 1)
