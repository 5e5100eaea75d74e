"""The columns of a file as a person sees them: heading, first cells, and what each is read as."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice

from airtally.quantities import Quantity
from airtally.readings.columns import Layout, recognise
from airtally.readings.distinct import distinct
from airtally.readings.measures import unit_in_words
from airtally.readings.source import Source
from airtally.readings.tables import BROKEN, Table, read_sheet
from airtally.readings.words import plain, quantity_word

MOST_NAMES = 40
"""Names of a long table that are shown."""
CELLS = 2
"""Filled cells shown of a column."""
CELL_LENGTH = 40
UNITS_OFFERED: dict[Quantity, tuple[str, ...]] = {
    **dict.fromkeys((Quantity.PM25, Quantity.PM1, Quantity.PM10), ("ug/m3", "mg/m3", "ng/m3")),
    **dict.fromkeys(
        (one for one in Quantity if one.value.startswith("count_")), ("1/L", "1/0.1L", "1/cm3", "1/ft3", "1/m3")
    ),
    **dict.fromkeys((Quantity.CO2, Quantity.CO, Quantity.NO2), ("ppm", "ppb")),
    **dict.fromkeys((Quantity.TEMPERATURE, Quantity.SPILL_TEMPERATURE), ("degC", "degF", "K")),
    Quantity.RELATIVE_HUMIDITY: ("%", "fraction"),
    **dict.fromkeys((Quantity.PRESSURE_DIFFERENCE, Quantity.FILTER_PRESSURE_DROP), ("Pa", "inH2O", "mmH2O")),
    Quantity.BAROMETRIC_PRESSURE: ("hPa", "Pa", "kPa", "inHg", "mmHg", "psi"),
    Quantity.VOC: ("index",),
    Quantity.FAN_CURRENT: ("A", "mA"),
    Quantity.FAN_POWER: ("W", "kW"),
    Quantity.FAN_FLOW: ("cfm", "L/s", "m3/h"),
    Quantity.WIND_SPEED: ("m/s", "mph", "km/h", "knots"),
    Quantity.VALVE_FRACTION: ("", "%"),
}
"""Units to choose from where a file does not print one. A quantity that is missing here is a state and has none; the
empty word is a part of one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnSeen:
    """One column of a table, or one name of a long table.

    Attributes
    ----------
    heading : str
        By which a survey states it: its words, or ``"#3"`` where they are missing or stand twice.
    words : str
        Its words in the file; may be empty.
    cells : tuple of str
        First filled cells.
    read_as : str
        Quantity with the unit that the file prints or the survey states, or a role such as ``"time"``; empty if unread.
    """

    heading: str
    words: str
    cells: tuple[str, ...]
    read_as: str


def columns_seen(text: str, source: Source) -> tuple[ColumnSeen, ...]:
    """Return the columns of a file's first table; of a long one the names in its rows as well.

    Parameters
    ----------
    text : str
        The file's text, or its beginning.
    source : Source
        What is stated about the file.
    """
    sheet = read_sheet(text, source.name, [plain(word) for word, _ in source.columns])
    if not sheet.tables:
        return ()
    table = sheet.tables[0]
    layout = recognise(table, source)
    return (*_wide(table, layout), *(_names(table, layout) if layout.is_long else ()))


def _wide(table: Table, layout: Layout) -> list[ColumnSeen]:
    roles = {
        layout.time: "time", layout.time_of_day: "time of day", layout.start: "start", layout.end: "end",
        layout.kind: "kind", layout.device: "device", layout.name: "name", layout.value: "value", layout.unit: "unit",
    }  # fmt: skip
    values = {
        one.index: _words(one.quantity, one.unit, table.header[one.index], table.units[one.index])
        for one in layout.values
    }
    headings = [plain(one) for one in table.header]
    return [
        ColumnSeen(
            heading=words if words.strip() and headings.count(headings[index]) == 1 else f"#{index + 1}",
            words=words,
            cells=_first(table.columns[index]),
            read_as=values.get(index, roles.get(index, "")),
        )
        for index, words in enumerate(table.header)
    ]


def _names(table: Table, layout: Layout) -> list[ColumnSeen]:
    names, which = distinct(table.columns[layout.name])
    rows: dict[int, list[int]] = {}
    for row, number in enumerate(which.tolist()):
        if len(rows.setdefault(number, [])) < CELLS:
            rows[number].append(row)
    seen = []
    for number, name in islice(enumerate(names), MOST_NAMES):
        stated = layout.names.get(plain(name))
        named = None if plain(name) in layout.names else quantity_word(name)
        unit = table.columns[layout.unit][rows[number][0]] if layout.unit >= 0 else ""
        read_as = _words(stated.quantity, stated.unit, name, unit) if stated is not None else ""
        if named is not None:
            read_as = _words(named.quantity, "", name, unit)
        cells = tuple(table.columns[layout.value][row] for row in rows[number])
        seen.append(ColumnSeen(heading=name, words=name, cells=_first(cells), read_as=read_as))
    return seen


def _words(quantity: Quantity, stated: str, heading: str, unit_line: str) -> str:
    printed = None if stated else unit_in_words(heading, unit_line, quantity)
    return f"{quantity.value} {stated or (printed[0] if printed is not None else '')}".strip()


def _first(cells: list[str] | tuple[str, ...]) -> tuple[str, ...]:
    filled = (cell.strip()[:CELL_LENGTH] for cell in cells if cell.strip() and cell != BROKEN)
    return tuple(islice(filled, CELLS))
