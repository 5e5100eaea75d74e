"""The commissioning sheet as numbered lines: one a reading to take at test-out, the same on paper and on the visit's page."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from airtally.record import JobRecord
from airtally.report import words
from airtally.report.plans import Page

NONE = (
    "This record lists no reading to take: it has no test-in and nothing that safety asks for, or it was worked out by an "
    "older version. Work the job out again."
)
HOW = (
    "Each blank has a number. On the visit's page the same number takes the figure, in the state that stands beside it. "
    "A reading in another state answers another question: write the state as it was. Write why where nothing could be read."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """One reading of the sheet.

    Attributes
    ----------
    number : str
        Short number of the line on this sheet.
    key, place, reference : str
        As the visit's text names them; ``reference`` is empty where a reading has none.
    state_parts : mapping of str to str
        The house state to read it in, by the words of the visit's text; parts that do not matter are left out.
    title : str
        What is read; lines of one title stand together.
    where, state, unit : str
        In words.
    test_in, test_out, why : str
        What was read before, what was read again in the like state, and why it has to be read.
    outcome : str
        How the newest figure stands to the limits, empty where nothing was read.
    limits : tuple of str
        Each with document, edition and jurisdiction.
    """

    number: str
    key: str
    place: str
    reference: str
    state_parts: Mapping[str, str]
    title: str
    where: str
    state: str
    unit: str
    test_in: str
    test_out: str
    why: str
    outcome: str
    limits: tuple[str, ...]

    @property
    def is_blank(self) -> bool:
        """Return whether it has still to be read."""
        return not self.test_out


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetCheck:
    """One thing to look at: its number, its key in the visit's text, in words, and the answer that stands, if any."""

    number: str
    key: str
    what: str
    answer: str


def sheet_lines(document: Mapping[str, Any]) -> tuple[SheetLine, ...]:
    """Return the readings of the sheet in its order, numbered from 1; empty where the record lists none."""
    return tuple(
        _line(str(number), entry)
        for number, entry in enumerate(document.get("commissioning", {}).get("readings", []), start=1)
    )


def sheet_checks(document: Mapping[str, Any]) -> tuple[SheetCheck, ...]:
    """Return what is to be looked at; numbers go on after those of the readings."""
    commissioning = document.get("commissioning", {})
    first = len(commissioning.get("readings", [])) + 1
    return tuple(
        SheetCheck(number=str(number), key=one["key"], what=one["what"], answer=one.get("answer", ""))
        for number, one in enumerate(commissioning.get("checks", []), start=first)
    )


def commissioning_part(record: JobRecord) -> Page:
    """Return the sheet's own data: lines grouped by what is read, checks, and which record they are of."""
    document = record.document
    groups: dict[str, list[Page]] = {}
    for line in sheet_lines(document):
        groups.setdefault(line.title, []).append(asdict(line) | {"is_blank": line.is_blank})
    return {
        "sheet": record.digest[:8],
        "how": HOW,
        "none": NONE,
        "lines": [{"title": title, "lines": lines} for title, lines in groups.items()],
        "checks": [asdict(one) for one in sheet_checks(document)],
    }


def _line(number: str, entry: Mapping[str, Any]) -> SheetLine:
    state = entry.get("state", {})
    return SheetLine(
        number=number,
        key=entry["key"],
        place=entry["place"],
        reference=entry.get("reference", ""),
        state_parts=state,
        title=words.sentence(entry["what"]).rstrip("."),
        where=entry["where"],
        state="; ".join(f"{part.replace('_', ' ')} {word}" for part, word in state.items()),
        unit=words.unit_word(entry["unit"]),
        test_in=words.amount(entry["test_in"]) if "test_in" in entry else "not read",
        test_out=words.amount(entry["test_out"]) if "test_out" in entry else "",
        why=entry.get("why", ""),
        outcome=entry.get("outcome", ""),
        limits=tuple(words.limit_text(limit) for limit in entry.get("limits", [])),
    )
