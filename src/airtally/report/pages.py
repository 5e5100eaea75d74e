"""The customer report as data: every sentence and every figure as text, from one record, for paper and screen alike."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from airtally.record import JobRecord
from airtally.report import figures, words
from airtally.report.account_rows import AccountLine, AccountRows, account_rows
from airtally.report.appendix import appendix_pages
from airtally.report.choices import (
    account_phases,
    chosen_effect,
    evidence_text,
    main_source,
    safety_counts,
    safety_in_order,
)
from airtally.report.cut.house_cut import PRINT_GROUND, CutSheet, house_cut
from airtally.report.cut.streams import streams_of
from airtally.report.drawing import Drawing
from airtally.report.plain_words import readable
from airtally.report.plans import Page, fan_part, filters_part, pressures_part, visits_part
from airtally.report.proposals import proposals_part, stage_zero

NO_ALARM = (
    "If an alarm sounds, if there is smoke, or if several people have a headache: everyone out, then call the "
    "emergency service. This system is no alarm and no safety device."
)
INDICATIVE = "The sensors are indicative: they show changes well and low levels badly. Gaps and errors occur."
CAUTION = "If an alarm sounds, exhaust spills or anyone feels unwell: everyone out, call from outdoors."
"""Stands at the foot of every page: any of them may show CO, draft or pressure."""
DATA = (
    "Readings, survey and this report are kept by the contractor. Ask the contractor how long, who sees them, and for "
    "a copy or their deletion."
)


def head_part(record: JobRecord) -> Page:
    """Return what every paper of a record begins and ends with: whose house, which days, safety, the line at the foot."""
    document = record.document
    job = document["job"]
    zone = job["time_zone"]
    return {
        "home": job["home"],
        "place": job.get("place", ""),
        "contractor": job.get("contractor", ""),
        "date": words.day_span(job["period"]["end"], None, zone),
        "period": words.day_span(job["period"]["start"], job["period"]["end"], zone)
        if job["streams"]
        else "no readings yet",
        "revision": str(job.get("revision", "")),
        "is_invented": job["is_invented"],
        "safety": _safety(document["safety"], zone),
        "cautions": document["safety"]["cautions"],
        "caution": CAUTION,
    }


def report_pages(record: JobRecord) -> Page:
    """Return the whole report as plain data: customer pages, appendix, drawings as SVG with title and sentence."""
    document = record.document
    texts = head_part(record) | {
        "asked": document["job"].get("complaint", ""),
        "found": found_sentences(document),
        "did": _did(document),
        "unchanged": _unchanged(document),
        "changed": _changed(document),
        "account": account_table(document),
        "keep": _keep(document),
        "next": _next(document),
        "advice": document.get("advice", {}),
        "proof": _proof(document),
        "room": _drawing(figures.room_drawing(document)) if _has_series(document) else None,
        "before_proposals": stage_zero(document),
        "proposals": proposals_part(document),
        "fan": fan_part(document),
        "filters": filters_part(document),
        "visits": visits_part(document),
        "pressures": pressures_part(document),
        "not_checked": document["safety"]["not_checked"],
        "cannot_tell": [
            f"{words.sentence(entry['what'])} To settle it: {words.sentence(entry['settle'])}"
            for entry in document.get("not_identified", [])
        ],
        "assumptions": document.get("assumptions", []),
        "indicative": INDICATIVE,
        "data": DATA,
        "appendix": appendix_pages(record),
    }
    return dict(readable(texts))


def _has_series(document: Mapping[str, Any]) -> bool:
    return any(entry is not None for entry in document.get("room_pm25", {}).get("value", []))


def _drawing(drawing: Drawing) -> Page:
    return {"svg": drawing.svg, "title": drawing.title, "sentence": drawing.sentence}


ON_FIRST_PAGE = 3
"""Safety findings in the box on page one, gravest first; a longer list follows whole on its own page."""


def _safety(safety: Mapping[str, Any], zone: str) -> Page:
    """Return the safety box: what, what we found, what was done, what is still to do."""
    rows = []
    for finding in safety_in_order(safety):
        when = words.minute(finding["when"], zone) if finding.get("when") else ""
        found = words.sentence(finding["what"])
        evidence = evidence_text(finding)
        is_done = finding["status"] == "done"
        by = f" By: {finding['by']}." if finding.get("by") and not is_done else ""
        rows.append(
            {
                "title": finding.get("title") or finding["id"],
                "when": when,
                "found": found,
                "evidence": words.sentence(evidence),
                "done": finding.get("done") or "Nothing yet.",
                "status": words.status_word(finding["status"]),
                "action": words.sentence(finding["action"]) + by,
            }
        )
    is_long = len(rows) > ON_FIRST_PAGE
    first = [row | {"evidence": ""} for row in rows[:ON_FIRST_PAGE]] if is_long else rows
    left = f"{len(rows) - ON_FIRST_PAGE} more, and the readings behind all of them: technical appendix, every finding."
    return {
        "counts": safety_counts(safety),
        "verdict": safety["verdict"],
        "rows": first,
        "left": left if is_long else "",
        "every": rows if is_long else [],
        "alarm": NO_ALARM,
    }


def found_sentences(document: Mapping[str, Any]) -> list[str]:
    """Return what was found, as a customer reads it: what holds, what was ruled out, what cannot be told."""
    forms = {
        "supported": "{}",
        "refuted": "We looked for this and ruled it out: {}",
        "not separable": "We cannot tell yet: {}",
    }
    findings = sorted(document.get("findings", []), key=lambda finding: list(forms).index(finding["verdict"]))
    sentences = [forms[finding["verdict"]].format(words.sentence(finding["title"])) for finding in findings]
    source = main_source(document)
    if source is not None:
        sentences.append(
            f"Now the largest part comes from {source['name']}, by {source['path']}: {source['amount']} of {source['total']} in all."
        )
    return sentences or ["There are no readings yet. A survey alone cannot tell where particles come from."]


def _did(document: Mapping[str, Any]) -> list[str]:
    job = document["job"]
    sentences = []
    for change in job["changes"]:
        if change.get("kind", "work") not in ("work", "rule"):
            continue
        when = words.day_span(change["start"], change.get("end"), job["time_zone"])
        by = f" By: {change['by']}." if change.get("by") else ""
        sentences.append(f"{when}: {words.sentence(change.get('what') or change['name'])}{by}")
    return sentences or ["No work was done yet."]


def _unchanged(document: Mapping[str, Any]) -> list[str]:
    """Return what did not change: accounts whose totals overlap, and rows of the proof without a verdict."""
    sentences = []
    accounts = account_phases(document)
    if len(accounts) > 1:
        before, after = accounts[0][1]["total"], accounts[-1][1]["total"]
        if None not in (before["low"], after["low"]) and after["low"] <= before["value"] <= after["high"]:
            sentences.append("About as many particles come in as before.")
    for row in document.get("proof", {}).get("rows", []):
        name = row.get("name") or row["question"]
        if row["verdict"] == "not separable":
            sentences.append(f"{name}: we cannot tell a change from other causes.")
        elif row["verdict"] == "not shown":
            sentences.append(f"{name}: we saw no change that we can tell from chance.")
    return sentences


def _changed(document: Mapping[str, Any]) -> Page | None:
    """Return the drawing of before and after with its sentences, or None if nothing can be compared."""
    rows = [row for row in document.get("proof", {}).get("rows", []) if _is_paired(row)]
    if not rows:
        rows = [
            effect | {"name": effect.get("name", key)}
            for key, effect in document.get("effects", {}).items()
            if _is_paired(effect)
        ]
    if not rows:
        return None
    sentences = []
    effect = chosen_effect(document)
    if effect is not None:
        verdict = f"{words.verdict_word(effect['verdict'])}: " if effect.get("verdict") else ""
        sentences = [effect["question"], verdict + words.effect_sentence(effect)]
        if effect.get("verdict") and effect["verdict"] != "shown":
            sentences.append(words.verdict_plain(effect["verdict"]))
        sentences.append(effect.get("does_not_say") or "This is an estimate for these weeks and habits.")
    left_out = [entry for phase in document.get("phases", {}).values() for entry in phase.get("left_out", [])]
    sentences += [f"Left out: {words.sentence(entry)}" for entry in left_out]
    drawn = rows[:4]
    basis = words.bases(row[key] for row in drawn for key in ("before", "after"))
    level = f"{words.chances(drawn[0]['after']['level'])}; basis: {basis}"
    return _drawing(figures.before_after_drawing(drawn)) | {"sentences": sentences, "level": level}


def _is_paired(row: Mapping[str, Any]) -> bool:
    return all(row.get(key) and row[key]["value"] is not None for key in ("before", "after"))


def account_table(document: Mapping[str, Any]) -> Page | None:
    """Return the account as two balanced columns: first phase and latest phase, the latest with its interval."""
    rows = account_rows(document)
    if rows is None:
        return None

    looks = {stream.line.folio: (stream.colour, stream.dash) for stream in streams_of(rows, 1.0)}

    def line(entry: AccountLine) -> Page:
        cells = [rows.figure(entry.before), rows.figure(entry.now), rows.span(entry.now)]
        colour, dash = looks.get(entry.folio, ("", ""))
        return {"folio": entry.folio, "name": entry.title, "cells": cells, "colour": colour, "dash": dash}

    return {
        "sentence": _account_sentence(rows),
        "unit": words.unit_word(rows.unit),
        "phase": rows.phase,
        "first": rows.first,
        "has_before": bool(rows.first),
        "entering": [line(entry) for entry in rows.entering],
        "leaving": [line(entry) for entry in rows.leaving],
        "total": line(rows.total)["cells"],
        "note": f"{rows.difference} {rows.note}".strip(),
        "drawing": _drawing(house_cut(document, ground=PRINT_GROUND)),
        "wide": _drawing(house_cut(document)),
        "phone": _drawing(house_cut(document, sheet_kind=CutSheet.PHONE)),
    }


def _account_sentence(rows: AccountRows) -> str:
    """Return what the account says first: how much comes in, what the most of it is, and where the most goes."""

    def most(lines: tuple[AccountLine, ...]) -> str:
        known = [line for line in lines if line.now is not None and line.now["value"] is not None]
        line = max(known, key=lambda one: float(one.now["value"]) if one.now else 0.0, default=None)
        return f"{line.folio} {line.title}, {rows.figure(line.now)}" if line else words.NOT_KNOWN

    return (
        f"{rows.figure(rows.total.now)} {words.unit_word(rows.unit)} comes in. The most: {most(rows.entering)}. "
        f"The most that goes out: {most(rows.leaving)}. A ribbon is as wide as what it carries."
    )


def _keep(document: Mapping[str, Any]) -> list[str]:
    sentences = list(document.get("advice", {}).get("keep_doing", []))
    for entry in document.get("filter_plan", {}).get("filters", []):
        due = f", by {words.day(entry['due'], 'UTC')}" if "due" in entry else ""
        size = f" {entry['size']}" if entry.get("size") else ""
        change = f" ({entry['change']})" if entry.get("change") else ""
        sentences.append(f"Change the filter in the {entry['place']}:{size}{due}{change}.")
    return sentences


def _next(document: Mapping[str, Any]) -> list[str]:
    written = document.get("advice", {}).get("next")
    if written:
        return list(written)
    waiting = [
        f"{row.get('title') or row['id']}: {row['action']}"
        for row in safety_in_order(document["safety"])
        if row["status"] != "done"
    ]
    return waiting or ["Nothing is open. The proposals follow."]


def _basis(row: Mapping[str, Any]) -> str:
    """Return how the figures of a row came, in one word where all came alike."""
    keys = {"before": "before", "after": "after", "change": "effect"}
    found = {name: str(row[key]["basis"]) for name, key in keys.items() if row.get(key)}
    if len(set(found.values())) < 2:
        return "".join(set(found.values()))
    return ", ".join(f"{name} {basis}" for name, basis in found.items())


def _proof(document: Mapping[str, Any]) -> Page | None:
    proof = document.get("proof")
    if not proof:
        return None
    rows = [*proof["rows"], *(row | {"verdict": "not evidence"} for row in proof.get("not_evidence", []))]
    # Loss rates have their own drawing on page 1; on this axis only changes of one kind stand together.
    drawable = [
        row
        for row in rows
        if row.get("kind") != "loss_rate"
        and row.get("effect")
        and row["effect"]["unit"] in ("%", "1")
        and row["effect"]["value"] is not None
    ]
    table = []
    for row in rows:
        pair = [row[key] for key in ("before", "after") if row.get(key)]
        places = words.column_decimals(pair)
        texts = [
            words.amount(row[key], decimals=places) if row.get(key) else words.NOT_KNOWN for key in ("before", "after")
        ]
        texts.append(words.amount(row["effect"]) if row.get("effect") else words.NOT_KNOWN)
        notes = [part for part in (row.get("evidence"), row.get("note")) if part]
        table.append(
            {
                "question": row["question"],
                "note": " ".join(map(words.sentence, notes)),
                "texts": texts,
                "basis": _basis(row),
                "verdict": row["verdict"],
            }
        )
    placebo = proof.get("placebo", {})
    sentences = list(proof.get("sentences", []))
    if placebo.get("sentence"):
        sentences.append(placebo["sentence"])
    if "rank" in placebo and "of" in placebo:
        weeks = (
            f", from {words.number(placebo['independent_weeks'], 0)} independent weeks"
            if "independent_weeks" in placebo
            else ""
        )
        sentences.append(f"Rank of the true date among pretended ones: {placebo['rank']} of {placebo['of']}{weeks}.")
    drawing = _drawing(figures.proof_drawing(drawable)) if drawable else None
    return {"rows": table, "sentences": sentences, "drawing": drawing}
