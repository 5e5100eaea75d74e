"""A column's numbers to SI, and what there is to say about its unit and its cells."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from airtally.arrays import Floats, Integers
from airtally.errors import Problem, Severity
from airtally.quantities import Quantity
from airtally.readings import problems as codes
from airtally.readings.cells import CellState, Column
from airtally.readings.measures import (
    STATES,
    Measure,
    assumed,
    unit_in_words,
    unit_stated,
    units_accepted,
)
from airtally.units import Scale


def find_measure(
    quantity: Quantity, stated: str, header: str, unit_line: str, column: Column, file: str, is_loose: bool
) -> tuple[Measure, list[Problem]]:
    """Return a column's unit: as stated, as printed in the header or behind the numbers, or the one that fits."""
    problems: list[Problem] = []
    where = f'{file}, column "{header[:60]}"'
    if is_loose:
        problems.append(_loose(where, quantity))
    if stated and (scale := unit_stated(stated, quantity)) is not None:
        return Measure(scale=scale, unit=stated), problems
    printed = unit_in_words(header, unit_line, quantity)
    if printed is None and column.unit and (scale := unit_stated(column.unit, quantity)) is not None:
        printed = (column.unit, scale)
    if printed is not None:
        if printed[1] is None:
            problems.append(_foreign(where, quantity, printed[0]))
        return Measure(scale=printed[1], unit=printed[0]), problems
    if quantity in STATES:
        return Measure(scale=Scale(factor=1.0), unit="-"), problems
    measure = assumed(quantity, column.number)
    finite = column.number[np.isfinite(column.number)]
    if finite.size and measure.unit != "index":
        problems.append(_assumed(where, quantity, measure, finite))
    return measure, problems


def in_si(number: Floats, measure: Measure) -> Floats:
    """Return numbers in SI; NaN throughout where the unit does not fit."""
    if measure.scale is None:
        return np.full(number.size, np.nan)
    with np.errstate(over="ignore"):
        value = number * measure.scale.factor + measure.scale.offset
    return np.asarray(np.where(np.isfinite(value), value, np.nan), dtype=np.float64)


def counter_states(number: Floats, time: Floats) -> Floats:
    """Return 1 for each row in which a counter stands higher than at the instant before, else 0.

    Parameters
    ----------
    number : float array, shape (rows,)
        The counter as printed.
    time : float array, shape (rows,)
        Instants; NaN rows give NaN. [s]
    """
    state = np.full(number.size, np.nan)
    good = np.flatnonzero(np.isfinite(number) & np.isfinite(time))
    order = good[np.argsort(time[good], kind="stable")]
    with np.errstate(over="ignore"):
        state[order] = np.diff(number[order], prepend=number[order[:1]]) > 0.0
    return state


def about_cells(column: Column, cells: Sequence[str], lines: Integers, header: str, file: str) -> list[Problem]:
    """Return problems about cells that are not numbers or say 'below' or 'above'."""
    problems = []
    bad = np.flatnonzero(column.state == CellState.UNREADABLE)
    shown = [int(row) for row in bad if cells[int(row)] not in ("", "\x00")]
    if shown:
        problems.append(
            codes.about_lines(
                codes.CELL_UNREADABLE,
                file,
                lines[bad].tolist(),
                found=f'column "{header[:60]}" holds "{_printable(cells[int(shown[0])])}"',
                wanted="a number",
                remedy=f"Look at the file; {bad.size} reading{'s were' if bad.size > 1 else ' was'} set aside.",
            )
        )
    limits = np.flatnonzero(column.state == CellState.LIMIT)
    if limits.size:
        problems.append(
            codes.about_lines(
                codes.CELL_CENSORED,
                file,
                lines[limits].tolist(),
                found=f'column "{header[:60]}" holds limits, as "{_printable(cells[int(limits[0])])}"',
                wanted="a number, or the sensor's floor",
                remedy="The limit itself was read; see whether the stream is reported to have a floor.",
                severity=Severity.NOTE,
            )
        )
    return problems


def _printable(text: str) -> str:
    line = "".join(one if one.isprintable() else "?" for one in " ".join(text.split()))
    return line if len(line) <= 40 else line[:37] + "..."


def _loose(where: str, quantity: Quantity) -> Problem:
    return Problem(
        code=codes.QUANTITY_ASSUMED,
        where=where,
        found=f"the word is loose; it was read as {quantity.value}",
        wanted="the quantity and its unit",
        remedy=f'State it, as ["...", "{quantity.value}"].',
    )


def _foreign(where: str, quantity: Quantity, unit: str) -> Problem:
    return Problem(
        code=codes.UNIT_UNKNOWN,
        where=where,
        found=f'the unit "{unit[:20]}" does not fit {quantity.value}',
        wanted=f"one of {units_accepted(quantity)}",
        remedy="State quantity and unit of the column; its readings were set aside.",
    )


def _assumed(where: str, quantity: Quantity, measure: Measure, finite: Floats) -> Problem:
    low, high = np.quantile(finite, (0.02, 0.98))
    return Problem(
        code=codes.UNIT_ASSUMED,
        where=where,
        found=f"no unit, and the values ({low:g} to {high:g}) fit {measure.unit}; they were used so",
        wanted="the unit",
        remedy=f'State it, as ["...", "{quantity.value} {measure.unit}"].',
        severity=Severity.WARNING if measure.is_doubtful else Severity.NOTE,
    )
