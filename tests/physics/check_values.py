"""Reads the check values and judges a kernel by them. Its unit factors are its own: they share nothing with the engine."""

from __future__ import annotations

import csv
import importlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from math import pi
from pathlib import Path
from typing import Any

import numpy as np

FOLDER = Path(__file__).parent / "checkvalues"
MODULES = tuple(sorted(".".join(path.relative_to(FOLDER).with_suffix("").parts) for path in FOLDER.rglob("*.csv")))
MARKS = ("READ", "COMPUTED", "FROM MEMORY")
WORKED = frozenset({"airflow 11", "particles 9"})
CFM = 0.3048**3 / 60.0
INWC = 249.08891
FACTORS = {
    "": 1.0, "m": 1.0, "mm": 1e-3, "um": 1e-6, "in": 0.0254, "ft": 0.3048, "m2": 1.0, "cm2": 1e-4, "in2": 0.0254**2,
    "ft2": 0.3048**2, "m3": 1.0, "ft3": 0.3048**3, "mL": 1e-6, "m/s": 1.0, "fpm": 0.3048 / 60.0, "mph": 0.44704,
    "m3/s": 1.0, "cfm": CFM, "L/s": 1e-3, "L/min": 1e-3 / 60.0, "m3/h": 1.0 / 3600.0, "Pa": 1.0, "inH2O": INWC,
    "psi": 6894.757293168, "Pa/m": 1.0, "Pa/ft": 1.0 / 0.3048, "inH2O/100ft": INWC / 30.48, "Pa s": 1.0, "K": 1.0,
    "dF": 1.0 / 1.8, "s": 1.0, "min": 60.0, "h": 3600.0, "1/h": 1.0 / 3600.0, "1/min": 1.0 / 60.0, "kg/m3": 1.0,
    "lb/ft3": 0.45359237 / 0.3048**3, "mg/m3": 1e-6, "ug/m3": 1e-9, "ug h/m3": 1e-9 * 3600.0, "mg/min": 1e-6 / 60.0,
    "g": 1e-3, "ppm": 1e-6, "ppb": 1e-9, "deg": pi / 180.0, "W": 1.0, "Btu/h": 0.29307107,
    "hft2F/Btu": 0.17611018, "cfm2/in4F": CFM**2 / 0.0254**4 * 1.8, "W/cfm": 1.0 / CFM, "kJ/kg": 1e3,
    "inH2O/100h": INWC / 360_000.0, "lb/s": 0.45359237, "Btu/hft2F": 1.0 / 0.17611018, "Btu/lbF": 4186.8,
}  # fmt: skip
LEVELS = {"C": (1.0, 273.15), "F": (1.0 / 1.8, 459.67 / 1.8)}


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckValue:
    """One number from outside: what to call, with what, what should come and how near."""

    module: str
    line: int
    function: str
    inputs: dict[str, Any]
    expected: float
    tolerance: float
    pick: str
    section: str
    table: str
    source: str
    mark: str
    note: str

    @property
    def is_published(self) -> bool:
        """Whether it was read in a source or is one of the collected worked examples."""
        return self.mark == "READ" or self.section in WORKED

    def __str__(self) -> str:
        return f"{self.module}:{self.line} {self.function} [{self.source}]"


def in_si(text: Any) -> Any:
    """Return an input of a row in SI: '250 cfm' as a number, lists item by item, other words as they are."""
    if isinstance(text, list):
        return np.array([in_si(item) for item in text])
    if not isinstance(text, str):
        return text
    number, _, unit = text.partition(" ")
    try:
        value = float(number)
    except ValueError:
        return text
    if unit in LEVELS:
        factor, offset = LEVELS[unit]
        return value * factor + offset
    return value * FACTORS[unit] if unit in FACTORS else text


def tolerance_in_si(text: str, expected: float) -> float:
    """Return a tolerance as an absolute number in SI."""
    if text.endswith("%"):
        return abs(expected) * float(text[:-1]) / 100.0
    return float(in_si(text))


def read_rows(module: str) -> list[CheckValue]:
    """Return every row of one module's file."""
    found = []
    with FOLDER.joinpath(*module.split(".")).with_suffix(".csv").open(newline="") as file:
        for line, row in enumerate(csv.DictReader(file), start=2):
            expected = float(in_si(row["expected"]))
            found.append(
                CheckValue(
                    module=module,
                    line=line,
                    function=row["function"],
                    inputs={
                        name: value if name == "edition" else in_si(value)
                        for name, value in json.loads(row["inputs"]).items()
                    },
                    expected=expected,
                    tolerance=tolerance_in_si(row["tolerance"], expected),
                    pick=row["pick"],
                    section=row["section"],
                    table=row["table"],
                    source=row["source"],
                    mark=row["mark"],
                    note=row["note"],
                )
            )
    return found


def all_rows() -> list[CheckValue]:
    """Return every row of every module."""
    return [row for module in MODULES for row in read_rows(module)]


def kernel(row: CheckValue) -> Callable[..., Any]:
    """Return the function a row is about."""
    function: Callable[..., Any] = getattr(importlib.import_module(f"airtally.physics.{row.module}"), row.function)
    return function


def picked(answer: Any, pick: str) -> float:
    """Return the part of an answer that a row speaks of."""
    for step in filter(None, pick.split(".")):
        answer = answer[int(step)] if step.isdigit() else getattr(answer, step)
    return float(answer)


def judge(row: CheckValue, answer: float) -> None:
    """Fail unless the answer lies within the row's tolerance."""
    np.testing.assert_allclose(answer, row.expected, rtol=0.0, atol=row.tolerance, err_msg=str(row))
