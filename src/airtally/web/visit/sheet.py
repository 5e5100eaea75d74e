"""A job's visits at one revision: the text, each visit as read, the house it was made in, and what gates block."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any
from uuid import UUID

from airtally.errors import Problem
from airtally.house.parts import House
from airtally.safety.gates import LEAVE, blocked_forms, gate_answers, is_in_form
from airtally.safety.parts import BlockedForm
from airtally.store.edits import text_of
from airtally.store.engine import Store
from airtally.store.texts import read, value_at
from airtally.visits.kinds import READING_KINDS
from airtally.visits.parts import Answer, Doors, Reading, Visit, VisitKind
from airtally.visits.read import parse_visits
from airtally.visits.read_state import SWITCHES
from airtally.web.survey.controls import Context
from airtally.web.survey.keep import house_of, sheet_of

PART = "visits"
AFTER = (VisitKind.TEST_OUT, VisitKind.RE_TEST)
"""Visits beside whose blanks the readings of test-in stand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitsSheet:
    """The visits of a job at one revision."""

    revision: int
    tables: tuple[Mapping[str, Any], ...]
    """As written."""
    context: Context
    house: House
    seen: dict[int, tuple[tuple[Visit, ...], tuple[Problem, ...]]] = field(default_factory=dict, compare=False)
    """Those read as they are written: each is read once."""

    @property
    def ids(self) -> tuple[str, ...]:
        """Return what addresses call each visit: its id, or its number where it has none of its own."""
        written = [str(table.get("id") or "").strip() for table in self.tables]
        return tuple(
            one if one and "/" not in one and one not in written[:number] else f"no-{number + 1}"
            for number, one in enumerate(written)
        )

    def read(self, tables: Mapping[int, Mapping[str, Any]] | None = None) -> tuple[list[Visit | None], list[Problem]]:
        """Return every visit as read, None where it cannot be used, some of them with another table than the written."""
        visits: list[Visit | None] = []
        problems: list[Problem] = []
        for number, table in enumerate(self.tables):
            if tables is not None and number in tables:
                found, doubts = self._parsed(tables[number])
            else:
                found, doubts = self.seen[number] = self.seen.get(number) or self._parsed(table)
            visits.append(found[0] if found else None)
            problems += [replace(one, where=one.where.replace("visit[0]", f"visit[{number}]", 1)) for one in doubts]
        return visits, problems

    def _parsed(self, table: Mapping[str, Any]) -> tuple[tuple[Visit, ...], tuple[Problem, ...]]:
        return parse_visits({"schema": 1, "visit": [table]}, self.context.zone.key)


def visits_sheet(store: Store, job: UUID, revision: int | None = None) -> VisitsSheet:
    """Return the visits as they stand, or stood.

    Raises
    ------
    TextError
        If their text cannot be read.
    """
    text, number = text_of(store, job, PART, revision)
    survey = sheet_of(store, job, number)
    written = value_at(read(text), ("visit",))
    tables = tuple(one if isinstance(one, Mapping) else {} for one in written) if isinstance(written, list) else ()
    return VisitsSheet(revision=number, tables=tables, context=survey.context, house=house_of(survey.text))


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitSheet:
    """One visit in its sheet.

    Attributes
    ----------
    number : int
        Its place in the text.
    visit : Visit or None
        As read, None where kind or time cannot be used.
    earlier : tuple of Visit
        Those before it, the oldest first.
    """

    sheet: VisitsSheet
    number: int
    visit: Visit | None
    earlier: tuple[Visit, ...]
    problems: tuple[Problem, ...]

    @property
    def table(self) -> Mapping[str, Any]:
        """Return it as written."""
        return self.sheet.tables[self.number]

    @property
    def id(self) -> str:
        """Return what addresses call it."""
        return self.sheet.ids[self.number]

    @property
    def until_now(self) -> tuple[Visit, ...]:
        """Return it with those before it."""
        return (*self.earlier, self.visit) if self.visit is not None else self.earlier

    @property
    def test_in(self) -> Visit | None:
        """Return the test-in that it repeats, None where it repeats none."""
        if self.visit is None or self.visit.kind not in AFTER:
            return None
        return next((one for one in self.earlier if one.kind is VisitKind.TEST_IN), None)

    @property
    def state(self) -> dict[str, Any]:
        """Return the house state that a new reading takes over, as written."""
        written = self.table.get("state")
        return {key: written[key] for key in SWITCHES if key in written} if isinstance(written, Mapping) else {}

    def readings(self) -> dict[int, Reading]:
        """Return the readings as read, by their place in the text."""
        return placed_readings(self.table, self.visit)

    def blocks(self) -> tuple[BlockedForm, ...]:
        """Return the forms that this visit's gates block."""
        return blocked_forms(gate_answers(self.until_now), self.until_now) if self.visit is not None else ()

    def must_leave(self) -> tuple[BlockedForm, ...]:
        """Return why everyone leaves: the gates of that kind which were answered yes."""
        said = gate_answers((self.visit,)) if self.visit is not None else ()
        return blocked_forms(tuple(one for one in said if one.gate in LEAVE and one.answer is Answer.YES))

    def blocks_on(self, key: str, doors: str) -> tuple[BlockedForm, ...]:
        """Return the blocked forms that a reading belongs to, taken with the doors so."""
        known = Doors(doors) if doors in set(Doors) else Doors.UNKNOWN
        return tuple(one for one in self.blocks() if is_in_form(key, known, one.form))


def visit_at(sheet: VisitsSheet, name: str, shown: Mapping[str, Any] | None = None) -> VisitSheet | None:
    """Return a visit by what addresses call it, None if there is none; ``shown`` stands in for its table."""
    if name not in sheet.ids:
        return None
    number = sheet.ids.index(name)
    visits, problems = sheet.read({number: shown} if shown is not None else None)
    mine = visits[number]
    earlier = [
        one for one in visits if one is not None and mine is not None and one is not mine and one.time < mine.time
    ]
    return VisitSheet(
        sheet=sheet, number=number, visit=mine, earlier=tuple(sorted(earlier, key=lambda one: one.time)),
        problems=tuple(one for one in problems if f"visit[{number}]" in one.where),
    )  # fmt: skip


def placed_readings(table: Mapping[str, Any], visit: Visit | None) -> dict[int, Reading]:
    """Return the readings of a visit by their place in its table; the reader leaves out keys that it does not know."""
    written = table.get("reading")
    entries = written if isinstance(written, list) else []
    known = [
        number
        for number, one in enumerate(entries)
        if isinstance(one, Mapping) and isinstance(one.get("key"), str) and one["key"].strip() in READING_KINDS
    ]
    return dict(zip(known, visit.readings, strict=True)) if visit is not None else {}
