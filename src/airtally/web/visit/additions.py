"""Entries that a visit adds to: its gauges, its referrals, and the household's diary, which stands in the survey."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from airtally.errors import InputError
from airtally.house.fields import Field, Form
from airtally.store.texts import Path, value_at
from airtally.web.survey.controls import Posted, control_of, label_of, posted_in
from airtally.web.survey.keep import PART as SURVEY
from airtally.web.survey.places import SECTION, entries_of, list_path
from airtally.web.survey.values import value_of
from airtally.web.survey.view import Shown
from airtally.web.visit.keys import action_fields, instrument_fields
from airtally.web.visit.sheet import PART, VisitSheet
from airtally.web.visit.steps import Step

MOST_SHOWN = 8
DIARY = "diary"


@dataclass(frozen=True, slots=True, kw_only=True)
class Addition:
    """An entry that can be added: which text and where, what it is called, its blank controls."""

    part: str
    path: Path
    noun: str
    fields: Mapping[str, Field]
    shown: tuple[Shown, ...]


def addition_of(vs: VisitSheet, step: Step, posted: Posted | None = None) -> Addition | None:
    """Return what a step adds to, with what a form sent in its controls; None where it adds to nothing."""
    if step.path == "diary":
        section = SECTION[DIARY]
        path = list_path(vs.sheet.context.survey, section)
        return _addition(vs, SURVEY, path, "diary entry", {one.key: one for one in section.fields}, posted)
    if step.path in ("gauges", "notes"):
        key, noun = ("instrument", "gauge") if step.path == "gauges" else ("action", "referral")
        entries = value_at(vs.table, (key,))
        path = ("visit", vs.number, key, len(entries) if isinstance(entries, list) else 0)
        return _addition(vs, PART, path, noun, instrument_fields() if key == "instrument" else action_fields(), posted)
    return None


def entry_of(addition: Addition, posted: Posted, vs: VisitSheet) -> dict[str, Any]:
    """Return the entry that a form sent.

    Raises
    ------
    InputError
        If something that is needed was left out, or a value cannot be kept.
    """
    entry: dict[str, Any] = {}
    for (key, described), shown in zip(addition.fields.items(), addition.shown, strict=True):
        value = value_of(shown.control, posted, vs.sheet.context, None)
        if value is not None:
            entry[key] = value
        elif described.is_required:
            raise InputError(f"{label_of(described)} is needed for a {addition.noun}.")
    return entry


def recent_diary(vs: VisitSheet) -> list[tuple[str, str, str]]:
    """Return the newest entries of the household's diary: when, what, in their words."""
    found = [one.table for one in entries_of(vs.sheet.context.survey, SECTION[DIARY])]
    lines = [(_when(one), str(one.get("kind") or ""), str(one.get("text") or "")) for one in found]
    return sorted(lines, reverse=True)[:MOST_SHOWN]


def _when(entry: Mapping[str, Any]) -> str:
    start, end = str(entry.get("start") or ""), str(entry.get("end") or "")
    return f"{start} to {end}" if end else start


def _addition(
    vs: VisitSheet, part: str, path: Path, noun: str, fields: Mapping[str, Field], posted: Posted | None
) -> Addition:
    now = f"{datetime.now(vs.sheet.context.zone):%Y-%m-%d %H:%M}"
    shown = []
    for key, described in fields.items():
        value = now if key in ("start", "time") else None
        control = control_of(described, (*path, key), value, vs.sheet.context)
        if described.form is Form.CHOICE and part == SURVEY:
            control = replace(control, shape="side by side", options=tuple(one for one in control.options if one[0]))
        if posted is not None and control.name in posted:
            control = posted_in(control, posted, vs.sheet.context)
        shown.append(Shown(control=control, notes=(), answer=None))
    return Addition(part=part, path=path, noun=noun, fields=fields, shown=tuple(shown))
