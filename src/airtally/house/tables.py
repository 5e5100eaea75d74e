"""A parsed survey as sections and entries, whatever shape its tables have."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from airtally.errors import Severity
from airtally.house import problems as code
from airtally.house.entries import Entry
from airtally.house.fields import Section
from airtally.house.gathering import Gathering, near, show
from airtally.house.sections_equipment import AIR_HANDLER, SECTIONS_EQUIPMENT
from airtally.house.sections_home import SECTIONS_HOME
from airtally.house.sections_job import SECTIONS_JOB
from airtally.house.sections_passages import SECTIONS_PASSAGES

SECTIONS = (*SECTIONS_HOME, *SECTIONS_EQUIPMENT, *SECTIONS_PASSAGES, *SECTIONS_JOB)
"""Every section of the survey, in the order of the page."""
SUBSECTIONS = tuple(s.path.split(".")[1] for s in SECTIONS if "." in s.path)
Noun = TypeVar("Noun")


class SurveyTables:
    """A parsed survey with what is gathered while it becomes a house."""

    def __init__(self, document: Mapping[str, Any], gathering: Gathering) -> None:
        self.document = document
        self.gathering = gathering

    def table(self, section: Section, severity: Severity = Severity.WARNING) -> Entry | None:
        """Return a section that is written once, or None where it is absent or no table."""
        value = self.document.get(section.path)
        if isinstance(value, list) and len(value) == 1 and isinstance(value[0], Mapping):
            value = value[0]
        if value is None:
            return None
        if not isinstance(value, Mapping):
            self._wrong_form(section, section.path, value)
            return None
        others = SUBSECTIONS if section is AIR_HANDLER else ()
        return Entry(section, value, section.path, self.gathering, severity=severity, others=others)

    def entries(self, section: Section, severity: Severity = Severity.WARNING) -> list[Entry]:
        """Return the entries of a list of tables; one table alone counts as a list of one."""
        value: Any = self.document
        for word in section.path.split("."):
            value = value.get(word) if isinstance(value, Mapping) else None
        if value is None or ("." in section.path and not isinstance(self.document.get("air_handler"), Mapping)):
            return []
        if not isinstance(value, (list, Mapping)):
            self._wrong_form(section, section.path, value)
            return []
        found = []
        for i, item in enumerate(value if isinstance(value, list) else [value], start=1):
            label = item.get("id") if isinstance(item, Mapping) else None
            where = f"{section.path}[{show(label)[1:-1] if isinstance(label, str) and label.strip() else f'no. {i}'}]"
            if isinstance(item, Mapping):
                found.append(Entry(section, item, where, self.gathering, severity=severity))
            else:
                self._wrong_form(section, where, item)
        return found

    def _wrong_form(self, section: Section, where: str, value: object) -> None:
        """Report a section that is no table."""
        self.gathering.add(
            code.WRONG_FORM,
            where,
            f"{show(value)} stands where a section belongs",
            f"a section headed {section.heading}",
            "Head it with its name in brackets.",
        )

    def unique(
        self, section: Section, build: Callable[[Entry], Noun | None], severity: Severity = Severity.WARNING
    ) -> tuple[Noun, ...]:
        """Return the nouns of a section; broken entries and repeated ids are set aside with a problem."""
        found: dict[str, Noun] = {}
        for number, entry in enumerate(self.entries(section, severity)):
            noun = build(entry)
            identifier = getattr(noun, "id", f"entry {number}") if noun is not None else ""
            if noun is None:
                entry.set_aside()
            elif identifier in found:
                entry.problem(
                    code.ID_REPEATED,
                    "id",
                    f"{show(identifier)} names two entries; the later one is not used",
                    "an id of its own for each entry",
                    "Rename one of them.",
                    severity,
                )
            else:
                found[identifier] = noun
        return tuple(found.values())

    def check_headings(self) -> None:
        """Report sections that no survey has."""
        known = ["schema", *(s.path for s in SECTIONS if "." not in s.path)]
        for key in self.document:
            if key not in known:
                self.gathering.add(
                    code.KEY_UNKNOWN,
                    show(key)[1:-1],
                    "the survey has no section of this name",
                    f"one of {', '.join(known)}",
                    near(key, known) or "Take it out, or turn it into a comment.",
                )
