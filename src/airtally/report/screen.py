"""The answer on one screen of plain text: safety first, then source and path, the account, the effect, the rule."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from airtally.record import JobRecord
from airtally.report import words
from airtally.report.account_rows import account_rows
from airtally.report.choices import (
    account_phases,
    chosen_effect,
    evidence_text,
    main_source,
    safety_counts,
    safety_in_order,
)
from airtally.report.proposals import in_order

WIDTH = 100
HEIGHT = 40

_LABEL = 12


CAUTION = (
    "If an alarm sounds, exhaust spills or anyone feels unwell: everyone out, call from outdoors. This is no alarm; a "
    "test speaks for its day only."
)


def answer_screen(record: JobRecord, *, report: str = "") -> str:
    """Return the answer of a record as plain text of at most 100 columns and 40 lines.

    Parameters
    ----------
    record : JobRecord
        Whole or survey only: what the record does not hold is said, not invented.
    report : str
        Where the report is, as the reader can open it.
    """
    document = record.document
    head = _head(document)
    foot = [_rule(), *_labelled("Report", report or "not written; ask for it with: airtally report", 2)]
    safety = document["safety"]
    sections = [
        _safety(safety, 4),
        _source(document),
        _account(document),
        _effect(document),
        _fan(document),
        _pressures(document),
        _proposals(document),
        _cannot_tell(document),
    ]
    room = HEIGHT - len(head) - len(foot)
    # What is least needed in a driveway gives way first; the gravest safety lines, the source and the effect stay.
    for index, most in ((6, 0), (5, 0), (0, 3), (7, 0), (4, 0), (0, 2), (2, 0)):
        if sum(map(len, sections)) > room:
            sections[index] = _safety(safety, most) if index == 0 else []
    lines = head + [line for section in sections for line in section] + foot
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _rule(mark: str = "-") -> str:
    return mark * WIDTH


def _head(document: Mapping[str, Any]) -> list[str]:
    job = document["job"]
    period = words.day_span(job["period"]["start"], job["period"]["end"], job["time_zone"])
    left = f"{job['home']}, {period}"
    right = "INVENTED NUMBERS: no real house" if job["is_invented"] else ""
    left = textwrap.shorten(left, WIDTH - len(right) - 2, placeholder=" ...")
    return [left + right.rjust(WIDTH - len(left)), _rule("=")]


def _labelled(label: str, text: str, most: int) -> list[str]:
    """Return a text with its label at the left, at most ``most`` lines; what is cut is said."""
    width = WIDTH - _LABEL
    lines = textwrap.wrap(text, width, break_long_words=True) or [""]
    if len(lines) > most:
        short = " ".join(lines[:most])
        lines = textwrap.wrap(
            textwrap.shorten(short, most * width - 28, placeholder=" ... (whole in the report)"), width
        )[:most]
    return [(label if index == 0 else "").ljust(_LABEL) + line for index, line in enumerate(lines)]


def _safety(safety: Mapping[str, Any], most: int) -> list[str]:
    """Return the safety lines, each finding in at most ``most`` lines; what is done is only counted."""
    findings = [finding for finding in safety_in_order(safety) if finding["status"] != "done"]
    shown = min(most, 3)
    lines = _labelled("SAFETY", f"{safety_counts(safety)}. {safety['verdict']}", 3)
    for finding in findings[:shown]:
        title = f"{finding['title']}: " if finding.get("title") else ""
        evidence = evidence_text(finding)
        found = f"{title}{words.sentence(finding['what'])}" + (f" {words.sentence(evidence)}" if evidence else "")
        lines += _labelled("  " + words.status_word(finding["status"]), found, most)
        lines += _labelled("", "Until then: " + finding["action"], 2)
    hidden = max(0, len(findings) - shown)
    more = [f"{hidden} more in the report"] if hidden else []
    if safety["not_checked"]:
        more.append(f"not checked: {len(safety['not_checked'])} things, named in the report")
    if more:
        lines += _labelled("", words.sentence("; ".join(more)), 1)
    return [*lines, *_labelled("Caution", CAUTION, 2), _rule()]


def _source(document: Mapping[str, Any]) -> list[str]:
    source = main_source(document)
    if source is None:
        if document["provenance"].get("counts", {}).get("read", 0):
            lines = _labelled("Main source", f"Not known: the record holds {_without_account(document)}.", 2)
            for finding in document.get("findings", [])[:4]:
                lines += _labelled("Found", words.sentence(finding["title"]), 2)
            return lines
        return _labelled("Main source", "Not known: no readings yet. The survey alone cannot tell sources apart.", 2)
    text = f"{source['name']}, by {source['path']}: {source['amount']} of {source['total']} in all"
    if source["share"]:
        text += f". Without it the rooms would have {source['share']} less PM2.5"
    return _labelled("Main source", words.sentence(text), 2)


def _without_account(document: Mapping[str, Any]) -> str:
    """Return why there is no account, in words that follow 'the record holds'."""
    read = document["provenance"].get("counts", {}).get("read", 0)
    return "no readings" if not read else "no particle readings that an account can be made of"


def _account(document: Mapping[str, Any]) -> list[str]:
    """Return the account of the latest phase in two balanced columns with a double rule."""
    rows = account_rows(document)
    if rows is None:
        return []

    def line(folio: str, title: str, quantity: Mapping[str, Any] | None) -> str:
        value, span = rows.figure(quantity), rows.span(quantity)
        room = 48 - 3 - len(value) - 1 - max(14, len(span) + 1)
        short = textwrap.shorten(title, room, placeholder="...")
        return f"{folio:>2} {short:<{room}} {value}{span:>{max(14, len(span) + 1)}}"

    left, right = (
        [line(entry.folio, entry.title, entry.now) for entry in side if entry.now is not None]
        for side in (rows.entering, rows.leaving)
    )
    height = max(len(left), len(right))
    left += [" " * 48] * (height - len(left))
    right += [" " * 48] * (height - len(right))
    left_head = f"COMES IN, PM2.5, {words.unit_word(rows.unit)}, 90% interval"
    right_head = textwrap.shorten(f"GOES OUT, {rows.phase}", 48, placeholder="...")
    lines = [_rule(), f"{left_head:<48} || {right_head}"]
    lines += [f"{a} || {b}"[:WIDTH] for a, b in zip(left, right, strict=True)]
    total_in, total_out = (line("", side, rows.total.now) for side in ("comes in", "goes out, and stored"))
    lines += [f"{'-' * 48} || {'-' * 48}"[:WIDTH], f"{total_in} || {total_out}"[:WIDTH]]
    return [*lines, *([rows.difference] if rows.difference else []), _rule("=")]


def _effect(document: Mapping[str, Any]) -> list[str]:
    effect = chosen_effect(document)
    if effect is None:
        count = len(account_phases(document))
        reason = "no dated change" if count else _without_account(document)
        return _labelled("Effect", f"The effect of the work cannot be told: the record holds {reason}.", 1)
    lines = _labelled("Effect of", "Asked: " + words.sentence(effect["question"]), 2)
    lines[-1:] = [lines[-1]]
    verdict = f"{words.verdict_word(effect['verdict'])}. " if effect.get("verdict") else ""
    answer = _labelled("the work", verdict + words.effect_sentence(effect), 3)
    return lines + answer


def _fan(document: Mapping[str, Any]) -> list[str]:
    rule = document.get("fan_rule")
    if not rule:
        return []
    parts: list[str] = []
    settings = rule.get("rule", {})
    if "on_above" in settings and "off_below" in settings:
        where = f" at {settings['placement']}" if settings.get("placement") else ""
        parts.append(
            f"On above {words.amount(settings['on_above'])}, off below {words.amount(settings['off_below'])}{where}."
        )
    if "sampling_minutes" in rule:
        parts.append(f"To see the rooms it needs {words.amount(rule['sampling_minutes'])} of fan.")
    names = {"fan_hours": "fan", "energy": "power", "starts": "starts"}
    results = [f"{name} {words.amount(rule[key])}" for key, name in names.items() if key in rule]
    if results:
        parts.append("Replayed: " + words.joined(results) + ".")
    return _labelled("Fan rule", " ".join([*parts, *rule.get("sentences", [])[: 0 if parts else 2]]), 3)


def _pressures(document: Mapping[str, Any]) -> list[str]:
    cases = document.get("pressures", {}).get("worst_cases", [])
    texts = [
        f"{case['name']} {words.amount(case['pressure'])}" + (f", {case['outcome']}" if "outcome" in case else "")
        for case in cases[:2]
    ]
    limits = [words.limit_text(case["limit"]) for case in cases[:1] if "limit" in case]
    return _labelled("Pressures", words.sentence("; ".join([*texts, *limits])), 2) if texts else []


def _proposals(document: Mapping[str, Any]) -> list[str]:
    forecasts = in_order(document.get("forecasts", {}))
    texts = [
        f"{forecast['name']}: {words.change_text(forecast['percent'])}{' (waits)' if forecast.get('waits_for') else ''}"
        for forecast in forecasts
        if "percent" in forecast
    ]
    waiting = sum(bool(forecast.get("waits_for")) for forecast in forecasts)
    said = "; ".join([*texts, *([f"{waiting} of {len(forecasts)} wait for a reading"] if waiting else [])])
    return _labelled("Proposals", words.sentence(("PM2.5 forecast. " if texts else "") + said), 3) if said else []


def _cannot_tell(document: Mapping[str, Any]) -> list[str]:
    entries: Sequence[Mapping[str, Any]] = document.get("not_identified", [])
    if not entries:
        return []
    first = entries[0]
    more = f" ({len(entries) - 1} more in the report)" if len(entries) > 1 else ""
    return _labelled(
        "Cannot tell", f"{words.sentence(first['what'])} To settle it: {words.sentence(first['settle'])}{more}", 2
    )
