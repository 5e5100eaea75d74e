"""The safety line that stands first on every page of a job until it is answered."""

from __future__ import annotations

import re
from typing import Any

from airtally.report.choices import safety_counts, safety_in_order
from airtally.report.plain_words import readable_text
from airtally.report.screen import CAUTION
from airtally.report.words import sentence, status_word
from airtally.store.engine import Store
from airtally.store.records import record_of
from airtally.web.find import OpenJob

SHOWN = 1
"""Findings on the line, the gravest: on a phone the page must still begin on the first screen."""
UNASKED = {
    "standing": "Unknown",
    "title": "Answer the gates of the visit before any other form, then work it out.",
    "rule": "",
}
LONGEST = 160
"""Letters of a finding on the line, in whole sentences; all of it stands on the safety page."""


def safety_line(store: Store, job: OpenJob) -> dict[str, Any] | None:
    """Return what the line says: the gravest findings, how many more, from when; None when all is answered."""
    kept = record_of(store, job.id)
    if kept is None:
        return {
            "count": "nothing is checked yet.",
            "first": [UNASKED],
            "more": "",
            "caution": CAUTION,
            "is_unchecked": True,
        }
    safety = kept.record.document["safety"]
    findings = [finding for finding in safety_in_order(safety) if finding["status"] != "done"]
    is_unasked = any(gate["status"] == "unknown" for gate in safety["gates"])
    if not findings and not is_unasked and kept.is_current:
        return None
    hidden = len(findings) - SHOWN
    count = "gates not answered." if is_unasked and not findings else f"{safety_counts(safety)}."
    if not kept.is_current:
        count += " The job was changed after this was worked out: run it again."
    return {
        "count": count,
        "first": [
            {
                "standing": status_word(finding["status"]),
                "title": sentence(finding["title"] or first_sentences(finding["what"])),
                "rule": first_sentences(finding["action"]),
            }
            for finding in findings[:SHOWN]
        ]
        or ([UNASKED] if is_unasked else []),
        "more": f"{hidden} more." if hidden > 0 else "",
        "caution": CAUTION,
        "is_unchecked": is_unasked and not findings,
    }


def first_sentences(text: str) -> str:
    """Return as many whole sentences as the line has room for, and the first however long: a rule is never cut off."""
    first, *rest = re.split(r"(?<=[.?!]) (?=[A-Z])", readable_text(text))
    for more in rest:
        if len(first) + len(more) >= LONGEST:
            break
        first = f"{first} {more}"
    return first
