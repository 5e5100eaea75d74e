"""The columns of a file as a form: what each is read as, and the choice of another quantity and unit or none."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from airtally.quantities import Quantity
from airtally.readings.seen import UNITS_OFFERED, ColumnSeen
from airtally.report.words import quantity_word

ROLES = {"ignore": "leave it out", "time": "time", "date": "day, without the time of day", "device": "which instrument"}
"""What a column may be besides readings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnControl:
    """A column as drawn: who it is, how it is read, and what may be stated of it.

    Attributes
    ----------
    name : str
        Of the list; ``name:heading`` is the name of the column's own words.
    stated : str
        What the survey states, empty for nothing.
    groups : tuple of (str, pairs of str)
        Heading of each group of choices; value and words of each choice.
    """

    name: str
    seen: ColumnSeen
    read_as: str
    stated: str
    groups: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]


def column_controls(columns: Sequence[ColumnSeen], stated: Mapping[str, object]) -> list[ColumnControl]:
    """Return the columns of a file with their choices.

    ``stated`` is what the survey or the form states by heading; what it states of a column that the file lacks is
    kept as a column without cells, so that it can be taken back.
    """
    known = {one.heading for one in columns}
    lost = [ColumnSeen(heading=one, words=one, cells=(), read_as="") for one in stated if one not in known]
    return [_control(number, one, str(stated.get(one.heading, ""))) for number, one in enumerate([*columns, *lost])]


def stated_columns(posted: Mapping[str, str]) -> dict[str, str]:
    """Return what a form states of columns, by heading; those that are left as recognised are left out."""
    chosen = {name: value for name, value in posted.items() if name.startswith("column.") and ":" not in name and value}
    return {posted[f"{name}:heading"]: value for name, value in chosen.items() if f"{name}:heading" in posted}


def quantity_words(statement: str) -> str:
    """Return a quantity with its unit in words: ``pm25 ug/m3`` is ``PM2.5, ug/m3``."""
    first, _, unit = statement.partition(" ")
    name = quantity_word(first)
    return f"{name}, {unit}" if unit else name


def _control(number: int, seen: ColumnSeen, stated: str) -> ColumnControl:
    groups: list[tuple[str, tuple[tuple[str, str], ...]]] = [("no reading", tuple(ROLES.items()))]
    for quantity in Quantity:
        offered = [f"{quantity.value} {unit}".strip() for unit in UNITS_OFFERED.get(quantity, ("",))]
        groups.append((quantity_words(quantity.value), tuple((one, quantity_words(one)) for one in offered)))
    if stated and stated not in [value for _, options in groups for value, _ in options]:
        groups.insert(0, ("as the survey states", ((stated, stated),)))
    read_as = ROLES.get(seen.read_as, quantity_words(seen.read_as)) if seen.read_as else ""
    return ColumnControl(name=f"column.{number}", seen=seen, read_as=read_as, stated=stated, groups=tuple(groups))
