"""What a page of the survey's form shows: its sections and entries, what is said beside them, what is open."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from airtally.errors import Problem, Severity
from airtally.house import problems as code
from airtally.house.fields import Form
from airtally.store.texts import Path, value_at
from airtally.web.find import OpenJob
from airtally.web.survey.controls import Control, Posted, control_of, posted_in, said_of
from airtally.web.survey.entries import asks_name
from airtally.web.survey.keep import Answer, Sheet, problems_of
from airtally.web.survey.places import (
    SECTION,
    Group,
    Placed,
    Whereabouts,
    entries_of,
    fields_shown,
    group_of,
    name_of,
    noun_of,
    path_of,
    placed_at,
    title_of,
)
from airtally.web.survey.values import doubt_of

HOW_GRAVE = {Severity.FATAL: "Needed first", Severity.WARNING: "Doubt", Severity.NOTE: "Note"}
LISTS = (code.DEFAULTS_USED, code.QUANTITIES_ABSENT)
"""Problems that only list what is open; the form shows that at each field."""


MOST_SAID = 3
Located = tuple[Problem, Path | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A field of a page: its controls, what is said beside them, and what became of it when it was sent."""

    control: Control
    notes: tuple[str, ...]
    answer: Answer | None


def section_view(
    path: str, sheet: Sheet, notes: Mapping[Path, list[str]], posted: Posted | None, answers: Mapping[str, Answer]
) -> dict[str, Any]:
    """Return one section as its template wants it."""
    section = SECTION[path]
    placed = entries_of(sheet.survey, section)
    return {
        "path": path,
        "id": path.replace(".", "-"),
        "title": title_of(section),
        "noun": noun_of(section),
        "meaning": section.meaning,
        "is_list": section.is_repeated or section.may_repeat,
        "asks_name": asks_name(section),
        "notes": notes.get(tuple(path.split(".")), []),
        "entries": [_entry(one, sheet, notes, posted, answers) for one in placed],
    }


def _entry(
    placed: Placed, sheet: Sheet, notes: Mapping[Path, list[str]], posted: Posted | None, answers: Mapping[str, Answer]
) -> dict[str, Any]:
    shown = []
    for field in fields_shown(placed):
        path = (*placed.path, field.key)
        value = value_at(sheet.survey, path)
        control = control_of(field, path, value, sheet.context)
        doubts = tuple(filter(None, [doubt_of(field, value, "", sheet.context), *notes.get(path, [])]))
        if posted is not None and any(name in posted for name in control.sends):
            control = posted_in(control, posted, sheet.context)
        shown.append(Shown(control=control, notes=doubts, answer=answers.get(control.name)))
    return {
        "placed": placed,
        "anchor": anchor_of(placed.path),
        "fields": shown,
        "notes": notes.get(placed.path, []) if placed.section.is_repeated else [],
        "brief": _brief(placed),
        "doubts": sum(len(found) for path, found in notes.items() if path[: len(placed.path)] == placed.path),
        "is_stopped": any(one.answer is not None and (one.answer.trouble or one.answer.both) for one in shown),
        "can_go": placed.is_there and placed.section.path != "home",
    }


def _brief(placed: Placed) -> str:
    """Return the first things that an entry says, for the line that opens it."""
    forms = (Form.CHOICE, Form.REFERENCE, Form.QUANTITY, Form.DATE)
    said = [said_of(placed.table[f.key]) for f in placed.section.fields if f.form in forms and f.key in placed.table]
    return ", ".join(one for one in said[:MOST_SAID] if one not in placed.title)


def located_problems(sheet: Sheet) -> tuple[list[Located], list[Problem]]:
    """Return what the reader says with the place that it speaks of, and apart from it what only lists keys."""
    whereabouts = Whereabouts(sheet.survey)
    problems = problems_of(sheet)
    located = [(one, whereabouts.of(one)) for one in problems if one.code not in LISTS]
    return located, [one for one in problems if one.code in LISTS]


def summary_of(
    job: OpenJob, sheet: Sheet, located: Sequence[Located], only: Group | None = None
) -> list[tuple[str, str]]:
    """Return (address, words) of each problem, those of one page or all."""
    lines = []
    for problem, where in located:
        group = _group_at(where)
        if only is None or group == only:
            place = f"{address_of(job, group)}#{anchor_of(where)}" if group is not None and where else ""
            words = f"{HOW_GRAVE[problem.severity]}: {_plain_where(sheet, where, problem)}: {problem.found}."
            lines.append((place, words))
    return lines


def needed_first(job: OpenJob, sheet: Sheet) -> list[tuple[str, str]]:
    """Return (address, words) of each problem without whose mending nothing can be worked out."""
    located, _ = located_problems(sheet)
    return summary_of(job, sheet, [one for one in located if one[0].severity is Severity.FATAL])


def _group_at(where: Path | None) -> Group | None:
    """Return the page on which an entry, a section or a key stands."""
    words = [step for step in where or () if isinstance(step, str)]
    section = next((".".join(words[:n]) for n in (2, 1) if ".".join(words[:n]) in SECTION), None)
    return group_of(section) if section else None


def _plain_where(sheet: Sheet, where: Path | None, problem: Problem) -> str:
    """Return in words what a problem speaks of."""
    placed = placed_at(sheet.survey, where) if where else None
    if where and placed is not None:
        return placed.title
    above = placed_at(sheet.survey, where[:-1]) if where else None
    if where and above is not None:
        return f"{above.title}, {str(where[-1]).replace('_', ' ')}"
    return problem.where.partition(", ")[2] or "the survey"


def standing_of_page(group: Group, sheet: Sheet, located: Sequence[Located]) -> dict[str, Any]:
    """Return how far a page is filled in."""
    needed, open_, said, entries = 0, 0, 0, 0
    for section in map(SECTION.__getitem__, group.sections):
        for placed in entries_of(sheet.survey, section):
            entries += placed.is_there and section.is_repeated
            if not placed.is_there:  # what a house has not got needs nothing
                continue
            for field in fields_shown(placed):
                is_said = field.key in placed.table
                said += is_said
                needed += not is_said and field.is_required
                open_ += not is_said and not field.is_required and field.form in (Form.QUANTITY, Form.QUANTITIES)
    doubts = sum(_group_at(where) == group for _, where in located)
    return {"group": group, "entries": entries, "said": said, "needed": needed, "open": open_, "doubts": doubts}


def listed_keys(problem: Problem) -> tuple[str, list[str], str]:
    """Return a problem that lists keys as its sentence, the keys, and what helps."""
    sentence, _, keys = problem.found.partition(": ")
    return f"{sentence}.", keys.split("; " if ";" in keys else ", "), problem.remedy


def anchor_of(path: Path) -> str:
    """Return the id that something has on its page."""
    return name_of(path).replace(".", "-")


def address_of(job: OpenJob, group: Group) -> str:
    """Return the address of a page of the form."""
    return f"/job/{job.id}/survey/{group.path}"


def stopped_words(answer: Answer, sheet: Sheet) -> str:
    """Return which field was not kept and why."""
    path = path_of(answer.name)
    placed = placed_at(sheet.survey, path[:-1])
    what = f"{placed.title}, {str(path[-1]).replace('_', ' ')}" if placed is not None else answer.name
    return f"{what}: {answer.trouble or 'changed by someone else meanwhile; choose one of the two.'}"
