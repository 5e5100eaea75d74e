"""Where the survey's sections stand: the pages of its form, the entries as written, and what a problem speaks of."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from airtally.errors import Problem
from airtally.house.entries import ID
from airtally.house.fields import Field, Form, Section
from airtally.house.gathering import show
from airtally.house.tables import SECTIONS
from airtally.store.texts import Path, value_at

_ENTRY = re.compile(r"[a-z_]+(?:\.[a-z_]+)?(?:\[.*\])?(?=\.)")
"""What stands before a key in the place of a problem."""
_WORDS = re.compile(r"[a-z_]+(?:\.[a-z_]+)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """One page of the survey's form."""

    name: str
    path: str
    sections: tuple[str, ...]


GROUPS = (
    Group(name="Home", path="home", sections=("home", "climate", "target")),
    Group(name="Spaces", path="spaces", sections=("zone",)),
    Group(name="Envelope", path="envelope", sections=("envelope",)),
    Group(
        name="Air handler",
        path="air-handler",
        sections=("air_handler", "air_handler.speed", "air_handler.filter", "air_handler.return_leak", "duct_run"),
    ),
    Group(name="Cleaners and ventilation", path="cleaners", sections=("cleaner", "bypass", "ventilation")),
    Group(name="Exhausts", path="exhausts", sections=("exhaust",)),
    Group(name="Appliances and flues", path="appliances", sections=("appliance", "flue")),
    Group(name="Household", path="household", sections=("occupants", "diary")),
    Group(name="Instruments and placements", path="instruments", sections=("instrument", "placement")),
    Group(name="Logs", path="logs", sections=("log",)),
    Group(name="Works and rules", path="works-and-rules", sections=("change", "rule", "trial")),
    Group(name="Prices", path="prices", sections=("prices", "measure")),
)
"""In the order of a walk through the house."""
SECTION = {section.path: section for section in SECTIONS}
NOUNS = {
    "zone": "space",
    "envelope": "envelope",
    "air_handler.speed": "speed",
    "air_handler.filter": "filter",
    "air_handler.return_leak": "return leak",
    "duct_run": "duct run",
    "diary": "diary entry",
    "rule": "fan rule",
    "change": "dated work",
}
"""What an entry is called where that is not the section's own name."""
TITLES = {
    "zone": "Spaces",
    "target": "Aim",
    "air_handler.speed": "Speeds of the blower",
    "air_handler.filter": "Filters, one after the other",
    "air_handler.return_leak": "Return leaks",
    "duct_run": "Duct runs outside the rooms",
    "bypass": "Loop of a bypass cleaner",
    "change": "Dated works",
    "rule": "Fan rules",
    "trial": "Days of a trial",
    "diary": "Diary",
    "ventilation": "Ventilation",
    "occupants": "Household",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """One entry of a section as it stands in the survey.

    Attributes
    ----------
    path : tuple of str and int
        Way to it.
    table : mapping
        What is written; empty where the section is written once and is not there.
    is_there : bool
        Whether it is written at all.
    """

    section: Section
    path: Path
    table: Mapping[str, Any]
    is_there: bool = True

    @property
    def title(self) -> str:
        """Return what pages call it."""
        number = self.path[-1]
        for key in ("name", "id", "file", "text") if self.section.is_repeated else ():
            said = self.table.get(key)
            if isinstance(said, str) and said.strip():
                return said.strip()
        return f"{noun_of(self.section)} {number + 1}" if isinstance(number, int) else title_of(self.section)

    @property
    def place(self) -> str:
        """Return the way to it as the name of a control."""
        return name_of(self.path)


def title_of(section: Section) -> str:
    """Return a section's heading on a page."""
    plain = section.path.replace("_", " ").capitalize()
    return TITLES.get(section.path, f"{plain}s" if section.is_repeated else plain)


def noun_of(section: Section) -> str:
    """Return what one entry of a section is called."""
    return NOUNS.get(section.path, section.path.replace("_", " "))


def group_of(section: str) -> Group:
    """Return the page that a section stands on."""
    return next(group for group in GROUPS if section in group.sections)


def entries_of(survey: Mapping[str, Any], section: Section) -> list[Placed]:
    """Return a section's entries; one that is written once and absent is an empty entry."""
    *above, last = section.path.split(".")
    way: Path = tuple(above)
    if above and isinstance(value_at(survey, way), list):
        way = (*way, 0)
    path = (*way, last)
    value = value_at(survey, path)
    if isinstance(value, list):
        return [
            Placed(section=section, path=(*path, number), table=entry)
            for number, entry in enumerate(value)
            if isinstance(entry, Mapping)
        ]
    if isinstance(value, Mapping):
        return [Placed(section=section, path=path, table=value)]
    return [] if section.is_repeated else [Placed(section=section, path=path, table={}, is_there=False)]


def list_path(survey: Mapping[str, Any], section: Section) -> Path:
    """Return the way to the next entry of a repeated section."""
    *above, last = section.path.split(".")
    way: Path = tuple(above)
    if above and isinstance(value_at(survey, way), list):
        way = (*way, 0)
    entries = value_at(survey, (*way, last))
    return (*way, last, len(entries) if isinstance(entries, list) else 0)


def ids_of(survey: Mapping[str, Any], section: str) -> list[tuple[str, str]]:
    """Return (id, what pages call it) of a section's entries."""
    placed = entries_of(survey, SECTION[section])
    return [(one.table["id"], one.title) for one in placed if isinstance(one.table.get("id"), str)]


def fields_shown(placed: Placed) -> Iterator[Field]:
    """Yield the fields of an entry that a form asks for: the id stays as it is, unless it cannot be used."""
    for field in placed.section.fields:
        written = placed.table.get("id")
        if field.form is Form.ID and isinstance(written, str) and ID.fullmatch(written.strip()):
            continue
        yield field


def new_id(name: str, taken: Iterable[str]) -> str:
    """Return an id made of a name: its letters and digits, unlike those that are taken."""
    plain = re.sub(r"[^\w]+", "-", name.strip().casefold()).strip("-_")[:50] or "entry"
    known, number, made = set(taken), 2, plain
    while made in known:
        made, number = f"{plain}-{number}", number + 1
    return made


def name_of(path: Path) -> str:
    """Return a way as the name of a control: ``zone.0.volume``."""
    return ".".join(str(step) for step in path)


def path_of(name: str) -> Path:
    """Return the way that a control's name stands for."""
    return tuple(int(step) if step.isdigit() else step for step in name.split("."))


def placed_at(survey: Mapping[str, Any], path: Path) -> Placed | None:
    """Return the entry at a path, None if no section has one there."""
    words = ".".join(step for step in path if isinstance(step, str))
    section = SECTION.get(words)
    table = value_at(survey, path)
    if section is None:
        return None
    return Placed(section=section, path=path, table=table if isinstance(table, Mapping) else {})


class Whereabouts:
    """Finds what a problem of the survey speaks of: a key, an entry or a section."""

    def __init__(self, survey: Mapping[str, Any]) -> None:
        self._paths: dict[str, tuple[Path, Section]] = {}
        for section in SECTIONS:
            for number, placed in enumerate(entries_of(survey, section), start=1):
                written = placed.table.get("id")
                label = show(written)[1:-1] if isinstance(written, str) and written.strip() else f"no. {number}"
                self._paths.setdefault(f"{section.path}[{label}]", (placed.path, section))
                self._paths.setdefault(section.path, (placed.path, section))

    def of(self, problem: Problem) -> Path | None:
        """Return the way to what a problem speaks of; None where that is the whole survey."""
        _, _, where = problem.where.partition(", ")
        if where in self._paths:
            path, section = self._paths[where]
            return path if "[" in where else tuple(section.path.split("."))
        entry = _ENTRY.match(where)
        if entry and entry.group() in self._paths:
            path, section = self._paths[entry.group()]
            key = where[entry.end() + 1 :].partition("[")[0]
            return (*path, key) if any(field.key == key for field in section.fields) else path
        words = _WORDS.match(where)
        return tuple(words.group().split(".")) if words and words.group() in SECTION else None
