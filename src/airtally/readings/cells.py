"""Cells to numbers: decimal sign, thousands, units behind the number, limits, words for states."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from airtally.arrays import Floats
from airtally.readings.distinct import distinct
from airtally.readings.measures import UNIT_SPELLINGS, flat_unit
from airtally.readings.tables import BROKEN


class CellState(IntEnum):
    """What a cell turned out to hold."""

    NUMBER = 0
    EMPTY = 1
    UNREADABLE = 2
    LIMIT = 3
    """A number behind 'below' or 'above'."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column of cells as numbers."""

    number: Floats
    """As printed, NaN where there is none. Shape (rows,)."""
    state: NDArray[np.uint8]
    """A :class:`CellState` value. Shape (rows,)."""
    unit: str
    """The unit printed behind most of the numbers, or empty."""


EMPTY_WORDS = frozenset({"", "-", "--", "---", "na", "n/a", "#n/a", "nan", "null", "none", "nil", "missing", "(null)"})
"""Words by which loggers say that they have nothing to say."""
_STATE_WORDS = {
    **dict.fromkeys(
        ("off", "false", "no", "closed", "idle", "aus", "zu", "stop", "stopped", "standby", "inactive"), 0.0
    ),
    **dict.fromkeys(("on", "true", "yes", "open", "opened", "ein", "an", "auf", "run", "running", "active"), 1.0),
    **dict.fromkeys(("start", "started", "low", "circulate", "circ", "fan only", "fan", "occupied"), 1.0),
    **dict.fromkeys(("heat", "heating", "high", "cool", "cooling"), 2.0),
}
"""A state's words; two is the heating or cooling speed of an air handler."""
LARGEST_NUMBER = 1e30
"""What is larger is no number that an instrument prints, and sums of such numbers overflow."""
_CELL = re.compile(
    r"([<>≤≥]?)\s*([+-]?(?:\d[\d.,']*|[.,]\d+)(?:[eE][+-]?\d{1,4})?)\s*([^\d\s](?:[^\d]|m3|m2|\d(?=$))*)?", re.ASCII
)
_COMMA_GROUPS = re.compile(r"[+-]?[1-9]\d{0,2}(?:,\d{3})+(?:\.\d*)?")
_POINT_GROUPS = re.compile(r"[+-]?[1-9]\d{0,2}(?:\.\d{3})+(?:,\d*)?")
_WITH_POINT = re.compile(r"[+-]?\d*\.\d+")
_WITH_COMMA = re.compile(r"[+-]?\d*,\d+")


def find_decimal_sign(samples: Sequence[str], delimiter: str) -> tuple[str, bool]:
    """Return the decimal sign of a file's numbers and whether that is certain.

    Parameters
    ----------
    samples : sequence of str
        Cells that may be numbers.
    delimiter : str
        Character that cuts the rows.
    """
    commas = [cell for text in samples if _WITH_COMMA.fullmatch(cell := text.strip())]
    points = sum(1 for text in samples if _WITH_POINT.fullmatch(text.strip()))
    if not commas:
        return ".", True
    grouped = sum(1 for cell in commas if _COMMA_GROUPS.fullmatch(cell))
    if grouped < len(commas):
        return (",", True) if len(commas) - grouped >= points else (".", False)
    if points:
        return ".", True
    return ("," if delimiter != "," else "."), False


def read_column(cells: Sequence[str], decimal: str, *, is_state: bool = False) -> Column:
    """Return a column of cells as numbers; each distinct text is read once.

    Parameters
    ----------
    cells : sequence of str
        One cell a row.
    decimal : str
        Decimal sign of the file.
    is_state : bool, optional
        Whether words such as on and closed are numbers.
    """
    texts, which = distinct(cells)
    number = np.array([_bare_number(text, decimal) for text in texts], dtype=np.float64)
    state = np.full(number.size, CellState.NUMBER, dtype=np.uint8)
    units: Counter[str] = Counter()
    for index in np.flatnonzero(np.isnan(number)).tolist():
        number[index], state[index], unit = _read_cell(texts[index], decimal, is_state=is_state)
        units[unit] += 1
    del units[""]
    unit, count = max(units.items(), key=lambda pair: pair[1], default=("", 0))
    return Column(number=number[which], state=state[which], unit=unit if 2 * count >= len(texts) else "")


def _bare_number(text: str, decimal: str) -> float:
    """Return the number of a cell that holds a number and nothing else, NaN for any other."""
    if "_" in text or not text.isascii() or (decimal == "," and "." in text):
        return math.nan
    try:
        number = float(text.replace(decimal, "."))
    except ValueError:
        return math.nan
    return number if abs(number) < LARGEST_NUMBER else math.nan


def _read_cell(text: str, decimal: str, *, is_state: bool) -> tuple[float, int, str]:
    """Return one cell's number, its :class:`CellState` and the unit behind the number."""
    if text == BROKEN:
        return math.nan, CellState.UNREADABLE, ""
    word = text.strip()
    folded = word.casefold()
    if folded in EMPTY_WORDS:
        return math.nan, CellState.EMPTY, ""
    if is_state and folded in _STATE_WORDS:
        return _STATE_WORDS[folded], CellState.NUMBER, ""
    if len(word) > 60:
        return math.nan, CellState.UNREADABLE, ""
    word = word.replace("\u2212", "-").replace("\u00a0", "").replace("\u202f", "")
    found = _CELL.fullmatch(word)
    if found is None:
        return math.nan, CellState.UNREADABLE, ""
    limit, digits, unit = found.groups()
    number = _number(digits, decimal)
    if not abs(number) < LARGEST_NUMBER or (unit and flat_unit(unit) not in UNIT_SPELLINGS):
        return math.nan, CellState.UNREADABLE, ""
    return number, CellState.LIMIT if limit else CellState.NUMBER, (unit or "").strip()


def _number(digits: str, decimal: str) -> float:
    """Return a number written with this decimal sign; a sign of the other sort must group thousands."""
    digits = digits.replace("'", "")
    other = "," if decimal == "." else "."
    if other in digits:
        groups = _COMMA_GROUPS if decimal == "." else _POINT_GROUPS
        if not groups.fullmatch(digits):
            return math.nan
        digits = digits.replace(other, "")
    try:
        return float(digits.replace(decimal, "."))
    except ValueError:
        return math.nan
