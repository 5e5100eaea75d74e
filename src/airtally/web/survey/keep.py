"""A field of the survey's form kept in the store, refused with words, or held against what someone else wrote."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from airtally.errors import InputError, Problem
from airtally.house.fields import Field
from airtally.house.moments import find_zone
from airtally.house.parts import House
from airtally.house.survey import survey_from_bytes
from airtally.store.edits import Conflict, edit, text_of
from airtally.store.engine import Store
from airtally.store.texts import Change, Path, Value, tables_of, value_at
from airtally.web.quantity_control import unit_of
from airtally.web.survey.controls import (
    Context,
    Control,
    Posted,
    control_of,
    differs,
    said_of,
)
from airtally.web.survey.places import SECTION, Whereabouts, entries_of, fields_shown, path_of, placed_at
from airtally.web.survey.plain import plain
from airtally.web.survey.values import doubt_of, value_of

PART = "survey"


@dataclass(frozen=True, slots=True, kw_only=True)
class Both:
    """Two versions of one field, in words: what the form sent, and what someone else wrote meanwhile."""

    yours: str
    theirs: str
    by: str
    when: datetime
    control: Control
    """The field's controls with their version."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What became of one field that a form sent.

    Attributes
    ----------
    name : str
        Of its controls.
    trouble : str
        Why it cannot be kept; empty if it was, or clashes.
    note : str
        What to look at beside a value that is kept.
    both : Both or None
        Where someone else changed it.
    revision : int
        What the field is based on from now.
    path : tuple of str and int, or None
        Where the key stands in that revision; None where its entry is gone.
    """

    name: str
    trouble: str = ""
    note: str = ""
    both: Both | None = None
    revision: int = 0
    path: Path | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The survey's text at one revision, read."""

    text: str
    revision: int
    survey: Mapping[str, Any]
    context: Context


def sheet_of(store: Store, job: UUID, revision: int | None = None) -> Sheet:
    """Return the survey as it stands, or stood."""
    text, number = text_of(store, job, PART, revision)
    survey = tables_of(text)
    home = survey.get("home")
    home = home if isinstance(home, Mapping) else {}
    currency = str(home.get("currency") or "USD")
    zone = find_zone(str(home.get("time_zone") or "UTC")) or ZoneInfo("UTC")
    context = Context(survey=survey, currency=currency, zone=zone, units=_units_used(survey, currency))
    return Sheet(text=text, revision=number, survey=survey, context=context)


def problems_of(sheet: Sheet) -> tuple[Problem, ...]:
    """Return what the reader of the survey says about it, worst first."""
    return house_of(sheet.text).problems


@lru_cache(maxsize=8)
def house_of(survey: str) -> House:
    """Return the house that a survey's text describes; a page asks several times."""
    return survey_from_bytes(survey.encode(errors="replace"))


def controls_in(sheet: Sheet, sections: tuple[str, ...]) -> Iterator[Control]:
    """Yield every control of a page of the form."""
    for section in sections:
        for placed in entries_of(sheet.survey, SECTION[section]):
            for field in fields_shown(placed):
                path = (*placed.path, field.key)
                yield control_of(field, path, value_at(sheet.survey, path), sheet.context)


def keep_form(
    store: Store, job: UUID, sections: tuple[str, ...], posted: Posted, sheet: Sheet, who: str, post: str
) -> list[Answer]:
    """Keep what a whole form changed, field by field, and return what became of each.

    ``sheet`` is the survey that the form was drawn from. Each field is an edit of its own, so that one that cannot be
    kept holds none of the others back.
    """
    answers = []
    for drawn in controls_in(sheet, sections):
        if not differs(drawn, posted) or _one(posted, f"{drawn.name}:keep") == "theirs":
            continue
        based = _one(posted, f"{drawn.name}:based")
        if based and _one(posted, f"{drawn.name}:keep") == "yours":
            base, at = sheet_of(store, job, int(based)), _one(posted, f"{drawn.name}:at")
        else:
            base, at = sheet, drawn.name
        answers.append(keep_field(store, job, drawn.name, at, posted, base, who, f"{post}:{drawn.name}"))
    return answers


def keep_field(
    store: Store, job: UUID, name: str, at: str, posted: Posted, sheet: Sheet, who: str, post: str
) -> Answer:
    """Keep one field.

    Parameters
    ----------
    name : str
        Of the controls, as the form was drawn.
    at : str
        Where the key stands in the revision that the field is based on: entries may have moved since the form was drawn.
    sheet : Sheet
        The survey at that revision.
    """
    path = path_of(at)
    described = _described(sheet, path)
    if described is None:
        return Answer(name=name, trouble="The survey has no such field; draw the page again.", revision=sheet.revision)
    stood = value_at(sheet.survey, path)
    drawn = control_of(described, path_of(name), stood, sheet.context)
    try:
        value = value_of(drawn, posted, sheet.context, stood)
        done = edit(store, job, PART, [Change(path=path, value=value)], sheet.revision, who, post)
    except InputError as error:
        return Answer(name=name, trouble=_sentence(str(error)), revision=sheet.revision, path=path)
    if isinstance(done, Conflict):
        return _both(store, job, name, drawn, value, path, done, sheet, who, post)
    now = sheet_of(store, job)
    note = " ".join(
        filter(None, [doubt_of(described, value, _one(posted, name), sheet.context), *notes_at(now, done.paths[0])])
    )
    return Answer(name=name, note=note, revision=done.revision, path=done.paths[0])


def notes_at(sheet: Sheet, path: Path | None) -> list[str]:
    """Return what the survey's reader says about one key."""
    whereabouts = Whereabouts(sheet.survey)
    return [note_of(problem) for problem in problems_of(sheet) if path and whereabouts.of(problem) == path]


def note_of(problem: Problem) -> str:
    """Return a problem as it stands beside its field."""
    return plain(_sentence(f"{problem.found}; wanted: {problem.wanted}. {problem.remedy}"))


def _both(
    store: Store,
    job: UUID,
    name: str,
    drawn: Control,
    value: Value,
    path: Path,
    conflict: Conflict,
    sheet: Sheet,
    who: str,
    post: str,
) -> Answer:
    """Return both versions of a field, and where it stands now."""
    clash = conflict.clashes[0]
    # Wishing for what stands there changes nothing, and tells where the key is now.
    found = edit(store, job, PART, [Change(path=path, value=clash.theirs)], sheet.revision, who, f"{post}:where")
    at = None if isinstance(found, Conflict) else found.paths[0]
    revision = sheet.revision if isinstance(found, Conflict) else found.revision
    theirs = control_of(drawn.field, path_of(name), clash.theirs, sheet.context)
    both = Both(yours=said_of(value), theirs=said_of(clash.theirs), by=clash.by, when=clash.when, control=theirs)
    return Answer(name=name, both=both, revision=revision, path=at)


def _described(sheet: Sheet, path: Path) -> Field | None:
    placed = placed_at(sheet.survey, path[:-1])
    return None if placed is None else next((one for one in fields_shown(placed) if one.key == path[-1]), None)


def _units_used(survey: Mapping[str, Any], currency: str) -> dict[str, str]:
    """Return the unit that the last entry uses for each key."""
    units: dict[str, str] = {}
    for section in SECTION.values():
        for placed in entries_of(survey, section):
            for field in section.fields:
                written = placed.table.get(field.key)
                if field.kind is not None and isinstance(written, str):
                    units[f"{section.path}.{field.key}"] = unit_of(written, field.kind, currency) or units.get(
                        f"{section.path}.{field.key}", ""
                    )
    return units


def _one(posted: Posted, name: str) -> str:
    values = posted.get(name, ())
    return values[-1] if values else ""


def _sentence(text: str) -> str:
    text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "?", "!")) else f"{text}."
