"""Entries of the survey's form: one added, one like another, one taken away."""

from __future__ import annotations

from copy import deepcopy
from typing import Any
from uuid import UUID

from airtally.errors import InputError
from airtally.house.fields import Form, Section
from airtally.store.edits import Conflict, Edited, edit
from airtally.store.engine import Store
from airtally.store.texts import Change, Path
from airtally.web.survey.keep import PART, Sheet
from airtally.web.survey.places import Placed, entries_of, ids_of, list_path, new_id, noun_of


def asks_name(section: Section) -> bool:
    """Return whether an entry of a section has an id, which is made of the name that is asked for."""
    return any(field.form is Form.ID for field in section.fields)


def add_entry(
    store: Store, job: UUID, section: Section, name: str, like: str, sheet: Sheet, who: str, post: str
) -> Edited | Conflict:
    """Add an entry at the end of its section.

    Parameters
    ----------
    name : str
        What it is called; its id is made of it. Not asked of entries without id.
    like : str
        Way to the entry that it repeats, empty for an empty one.

    Raises
    ------
    InputError
        If a name is needed and none is given, or the survey cannot be changed.
    """
    others = entries_of(sheet.survey, section)
    table: dict[str, Any] = next((deepcopy(dict(one.table)) for one in others if one.place == like and like), {})
    if asks_name(section):
        if not name.strip():
            raise InputError(f"Give the new {noun_of(section)} a short name; its id is made of it.")
        table = {"id": new_id(name, [known for known, _ in ids_of(sheet.survey, section.path)])} | {
            key: value for key, value in table.items() if key != "id"
        }
        if any(field.key == "name" for field in section.fields):
            table["name"] = name.strip()
    path, value = _end_of(sheet, section, others, table)
    return edit(store, job, PART, [Change(path=path, value=value)], sheet.revision, who, post)


def take_entry(store: Store, job: UUID, path: Path, sheet: Sheet, who: str, post: str) -> Edited | Conflict:
    """Take an entry, or a section that is written once, out of the survey."""
    return edit(store, job, PART, [Change(path=path, value=None)], sheet.revision, who, post)


def _end_of(sheet: Sheet, section: Section, others: list[Placed], table: dict[str, Any]) -> tuple[Path, Any]:
    """Return what is to be written where: a further entry, or the list that a section written once becomes."""
    written_once = [one for one in others if one.is_there and not isinstance(one.path[-1], int)]
    if not written_once:
        return list_path(sheet.survey, section), table
    return written_once[0].path, [dict(written_once[0].table), table]
