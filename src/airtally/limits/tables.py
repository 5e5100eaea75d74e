"""Reads the packaged tables once and hands out frozen records."""

from __future__ import annotations

import tomllib
from enum import StrEnum
from functools import cache
from importlib import resources
from typing import Any

from airtally.errors import InputError
from airtally.limits.records import (
    ActionLevel,
    AlarmWindow,
    Basis,
    DraftLine,
    FilterClass,
    IndexRow,
    IndexTable,
    Limit,
    MakeUpAirFactor,
    MervRow,
    Sense,
    Status,
    VentilationRate,
)

LIMIT_FILES = (
    "carbon_monoxide.toml",
    "house_pressure.toml",
    "combustion.toml",
    "particles.toml",
    "equipment.toml",
    "radon.toml",
)


class VentilationEdition(StrEnum):
    """Editions of the residential ventilation standard whose rates are held."""

    E2010 = "62.2-2010"
    E2013 = "62.2-2013"
    E2016 = "62.2-2016"
    E2019 = "62.2-2019"
    E2022 = "62.2-2022"


class MervEdition(StrEnum):
    """Editions of the filter test standard whose efficiency tables circulate."""

    OLD = "1999"
    CURRENT = "2017"


class IndexEdition(StrEnum):
    """Editions of the United States air quality index for PM2.5."""

    E2012 = "2012"
    E2024 = "2024"


def _read(name: str) -> dict[str, Any]:
    """Return one packaged file as TOML has it."""
    text = resources.files("airtally.limits").joinpath("data", name).read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def all_limits() -> tuple[Limit, ...]:
    """Return every published limit held, in file order."""
    found: list[Limit] = []
    for name in LIMIT_FILES:
        table = _read(name)
        for row in table["limit"]:
            entry = {**table.get("defaults", {}), **row}
            entry["sense"] = Sense(entry["sense"])
            entry["basis"] = Basis(entry["basis"])
            entry["status"] = Status(entry.get("status", "current"))
            found.append(Limit(**entry))
    return tuple(found)


@cache
def action_levels() -> tuple[ActionLevel, ...]:
    """Return what programmes do at which level of carbon monoxide in the air."""
    rows = _read("carbon_monoxide.toml")["action"]
    return tuple(ActionLevel(**{**row, "basis": Basis(row["basis"])}) for row in rows)


@cache
def flue_action_levels() -> tuple[ActionLevel, ...]:
    """Return what is done at which level of carbon monoxide in the undiluted flue."""
    rows = _read("combustion.toml")["flue_action"]
    return tuple(ActionLevel(**{**row, "basis": Basis(row["basis"])}) for row in rows)


@cache
def draft_lines() -> tuple[DraftLine, ...]:
    """Return the least pull of a vent by outdoor temperature, one line an edition."""
    rows = _read("combustion.toml")["draft_line"]
    return tuple(
        DraftLine(**{**row, "basis": Basis(row["basis"]), "status": Status(row.get("status", "current"))})
        for row in rows
    )


@cache
def alarm_windows() -> tuple[AlarmWindow, ...]:
    """Return when a listed household alarm may and must sound, by level."""
    rows = _read("carbon_monoxide.toml")["alarm"]
    return tuple(AlarmWindow(**{**row, "basis": Basis(row["basis"])}) for row in rows)


@cache
def index_table(edition: IndexEdition) -> IndexTable:
    """Return the breakpoints of one edition of the air quality index."""
    for entry in _read("index.toml")["edition"]:
        if entry["name"] == edition:
            rows = tuple(IndexRow(**row) for row in entry["rows"])
            return IndexTable(**{**entry, "basis": Basis(entry["basis"]), "rows": rows})
    raise InputError(f"there is no index table for edition {edition}")


@cache
def merv_table(edition: MervEdition) -> tuple[MervRow, ...]:
    """Return the least efficiencies of one edition, by rising MERV."""
    for entry in _read("filters.toml")["merv_edition"]:
        if entry["name"] == edition:
            return tuple(
                MervRow(
                    merv=row["merv"],
                    minimum=_known(row["minimum"]),
                    final_resistance=row["final_resistance"],
                    edition=entry["name"],
                    source=entry["source"],
                    basis=Basis(entry["basis"]),
                )
                for row in entry["rows"]
            )
    raise InputError(f"there is no MERV table for edition {edition}")


def _known(row: list[float]) -> tuple[float | None, float | None, float | None]:
    """Return the three minima with the file's -1 as None."""
    first, second, third = (None if value < 0 else float(value) for value in row)
    return first, second, third


@cache
def filter_classes() -> tuple[FilterClass, ...]:
    """Return the named filter classes other than MERV."""
    rows = _read("filters.toml")["filter_class"]
    return tuple(FilterClass(**{**row, "basis": Basis(row["basis"])}) for row in rows)


@cache
def ventilation_rate(edition: VentilationEdition) -> VentilationRate:
    """Return the coefficients of one edition of the ventilation standard."""
    for row in _read("ventilation.toml")["edition"]:
        if row["name"] == edition:
            return VentilationRate(**{**row, "basis": Basis(row["basis"])})
    raise InputError(f"there is no ventilation rate for edition {edition}")


@cache
def make_up_air_factors() -> tuple[MakeUpAirFactor, ...]:
    """Return one state's make-up air factors, most generous first."""
    rows = _read("ventilation.toml")["make_up_air"]
    return tuple(MakeUpAirFactor(**{**row, "basis": Basis(row["basis"])}) for row in rows)
