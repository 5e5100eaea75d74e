"""Read the house state of a visit or of one reading."""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from typing import Any, TypeVar

from airtally.errors import Problem
from airtally.estimates import Basis, Estimate, Missing
from airtally.units import Kind, QuantityTextError, read_quantity
from airtally.visits.parts import ALL, Doors, HandlerMode, HouseState, VentStart
from airtally.visits.table import Table

UNRECORDED = HouseState()
"""A state of which nothing was recorded."""
SWITCHES = frozenset({"doors", "air_handler", "exhausts_on", "fires_lit", "vent"})
"""State keys that a single reading may state for itself."""
WEATHER: dict[str, Kind] = {
    "wind_speed": Kind.SPEED,
    "outdoor_temperature": Kind.TEMPERATURE,
    "indoor_temperature": Kind.TEMPERATURE,
}
"""State keys that hold a quantity."""

_Word = TypeVar("_Word", bound=StrEnum)


def read_state(table: Table, base: HouseState, *, owns_table: bool) -> tuple[HouseState, list[Problem]]:
    """Return ``base`` with what the table states put in its place.

    ``owns_table`` says that the table is a ``[visit.state]``, whose unknown keys are then reported.
    """
    problems = table.unknown_keys(SWITCHES | WEATHER.keys()) if owns_table else []
    changes: dict[str, Any] = {}
    for key, words in (("doors", Doors), ("air_handler", HandlerMode), ("vent", VentStart)):
        if key in table.content:
            changes[key], found = _word(table, key, words)
            problems += found
    for key in ("exhausts_on", "fires_lit"):
        if key in table.content:
            changes[key], found = _running(table, key)
            problems += found
    for key, kind in WEATHER.items():
        if key in table.content:
            changes[key], found = _quantity(table, key, kind)
            problems += found
    return replace(base, **changes), problems


def _word(table: Table, key: str, words: type[_Word]) -> tuple[_Word, list[Problem]]:
    written = table.content[key]
    plain = written.strip().casefold() if isinstance(written, str) else ""
    if plain in set(words):
        return words(plain), []
    return words("unknown"), [_unknown_state(table, key, "one of: " + ", ".join(words))]


def _running(table: Table, key: str) -> tuple[tuple[str, ...] | None, list[Problem]]:
    """Return the sorted ids of what ran; "none" is empty, "all" is ``ALL``, "unknown" is None."""
    written = table.content[key]
    if isinstance(written, str):
        plain = written.strip()
        named: dict[str, tuple[str, ...] | None] = {"none": (), "all": ALL, "unknown": None}
        return named.get(plain.casefold(), (plain,)), []
    if isinstance(written, list) and all(isinstance(entry, str) for entry in written):
        return tuple(sorted({entry.strip() for entry in written})), []
    return None, [_unknown_state(table, key, 'none, all, unknown or a list of ids such as ["hood", "dryer"]')]


def _quantity(table: Table, key: str, kind: Kind) -> tuple[Estimate | None, list[Problem]]:
    where = f"{table.where}.{key}"
    written = table.content[key]
    if isinstance(written, str) and written.strip().casefold() == "calm" and kind is Kind.SPEED:
        written = "0.5 m/s (0 to 1)"  # what an observer calls calm: Beaufort 0 and the lower half of 1
    if not isinstance(written, str):
        return None, [table.wrong(key, "a quantity with its unit, in quotes")]
    try:
        found = read_quantity(written, kind, source=where, basis=Basis.MEASURED)
    except QuantityTextError as error:
        return None, [
            Problem(
                code="visits-reading-refused", where=where, found=error.found, wanted=error.wanted, remedy=error.remedy
            )
        ]
    return (None, []) if isinstance(found, Missing) else (found, [])


def _unknown_state(table: Table, key: str, wanted: str) -> Problem:
    return Problem(
        code="visits-state-unknown",
        where=f"{table.where}.{key}",
        found=f'"{str(table.content[key])[:60]}"',
        wanted=wanted,
        remedy="Correct it; it counts as unknown.",
    )
