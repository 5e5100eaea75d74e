"""A TOML table with its place in the file, so that every doubt can say where it is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from airtally.errors import Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table of the file and the dotted path that leads to it."""

    content: dict[str, Any] = field(default_factory=dict)
    where: str

    def unknown_keys(self, known: Iterable[str]) -> list[Problem]:
        """Return a Problem for each key that is not known."""
        names = sorted(known)
        return [
            Problem(
                code="visits-key-unknown",
                where=f"{self.where}.{str(key)[:60]}",
                found="a key that is not known here",
                wanted="one of: " + ", ".join(names),
                remedy="Correct its spelling or remove it; it is not used.",
            )
            for key in self.content
            if key not in names
        ]

    def text(self, key: str) -> tuple[str, list[Problem]]:
        """Return a text, empty if the key is absent."""
        written = self.content.get(key, "")
        if isinstance(written, str):
            return written.strip(), []
        return "", [self.wrong(key, "a text in quotes")]

    def wrong(self, key: str, wanted: str) -> Problem:
        """Return the Problem of a value that cannot be taken."""
        return Problem(
            code="visits-value-wrong-type",
            where=f"{self.where}.{key}",
            found=f'"{str(self.content.get(key, "nothing"))[:60]}"',
            wanted=wanted,
            remedy="Correct it; it is not used.",
        )


def as_table(written: object, where: str) -> tuple[Table, list[Problem]]:
    """Return a value that should be a table as one; anything else is an empty table and a Problem."""
    if isinstance(written, dict):
        return Table(content=written, where=where), []
    empty = Table(where=where)
    if written is None:
        return empty, []
    return empty, [_not(where, written, "a table")]


def as_tables(written: object, where: str) -> tuple[list[Table], list[Problem]]:
    """Return a value that should be an array of tables; entries that are none are left out with a Problem."""
    if written is None:
        return [], []
    if not isinstance(written, list):
        return [], [_not(where, written, "an array of tables, [[...]]")]
    tables: list[Table] = []
    problems: list[Problem] = []
    for number, entry in enumerate(written):
        if isinstance(entry, dict):
            tables.append(Table(content=entry, where=f"{where}[{number}]"))
        else:
            problems.append(_not(f"{where}[{number}]", entry, "a table"))
    return tables, problems


def _not(where: str, written: object, wanted: str) -> Problem:
    return Problem(
        code="visits-value-wrong-type",
        where=where,
        found=f'"{str(written)[:60]}"',
        wanted=wanted,
        remedy="docs/visits.md shows the form.",
    )
