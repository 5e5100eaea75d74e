"""Long tables: one column names the quantity, another holds the value."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from airtally.arrays import Integers
from airtally.errors import Problem
from airtally.quantities import Quantity
from airtally.readings import problems as codes
from airtally.readings.cells import CellState, Column, read_column
from airtally.readings.columns import Layout, Stated
from airtally.readings.distinct import distinct
from airtally.readings.log import Flag, Stream
from airtally.readings.measures import COUNTER_UNIT, STATES
from airtally.readings.parts import Gathering, Part
from airtally.readings.row_times import RowTimes, outside, shift_to_middle
from airtally.readings.scaling import about_cells, counter_states, find_measure, in_si
from airtally.readings.source import Source
from airtally.readings.tables import Table
from airtally.readings.words import Named, plain, quantity_word


def read_long(
    table: Table,
    layout: Layout,
    device: Integers,
    placements: Sequence[str],
    times: RowTimes,
    source: Source,
    decimal: str,
    problems: list[Problem],
) -> Part:
    """Return the readings of a long table; rows whose name is no quantity are counted as unnamed."""
    names, name_of = distinct(table.columns[layout.name])
    units, unit_of = distinct(table.columns[layout.unit] if layout.unit >= 0 else [""] * table.lines.size)
    pairs, which = distinct((name_of * len(units) + unit_of).tolist())
    meanings = _meanings(names, layout)
    cells = table.columns[layout.value]
    number = {
        is_state: read_column(cells, decimal, is_state=is_state)
        for is_state in {one.quantity in STATES for one in meanings.values() if one is not None}
    }
    gathering = Gathering()
    words = [f"long table, time ({times.words}; stamps mark the {source.stamps})"]
    empty = unnamed = 0
    for index, pair in enumerate(pairs):
        name, unit = names[pair // len(units)], units[pair % len(units)]
        rows = np.flatnonzero(which == index)
        meaning = meanings[name]
        if meaning is None:
            unnamed += rows.size
            continue
        column = number[meaning.quantity in STATES]
        part = Column(number=column.number[rows], state=column.state[rows], unit=column.unit)
        if meaning.unit == COUNTER_UNIT:
            value = counter_states(part.number, times.time[rows])
        else:
            loose = quantity_word(name)
            is_loose = not meaning.unit and loose is not None and loose.is_loose
            measure, doubts = find_measure(meaning.quantity, meaning.unit, name, unit, part, source.name, is_loose)
            problems += doubts
            value = in_si(part.number, measure)
            words.append(f'{meaning.quantity.value} from "{name[:40]}" in {measure.unit}')
        filled = part.state != CellState.EMPTY
        empty += int(np.count_nonzero(~filled))
        kept = times.flag[rows] == Flag.KEPT
        shift, _, doubts2 = (
            (0.0, 0.0, ()) if meaning.quantity in STATES else shift_to_middle(times.time[rows[kept]], source)
        )
        problems += [one for one in doubts2 if one not in problems]
        middle = times.time[rows] + shift
        flag = times.flag[rows].copy()
        flag[(flag == Flag.KEPT) & ~np.isfinite(value)] = Flag.UNREADABLE
        flag[(flag == Flag.KEPT) & outside(middle, source)] = Flag.OUTSIDE_PLACEMENT
        for number_of, place in enumerate(placements):
            chosen = filled & (device[rows] == number_of)
            stream = Stream(placement=meaning.placement or place, quantity=meaning.quantity)
            gathering.add(stream, table.lines[rows[chosen]], middle[chosen], value[chosen], flag[chosen])
        texts = [cells[row] for row in rows]
        problems += about_cells(part, texts, table.lines[rows], name, source.name)
    problems += _unknown(meanings, layout, source.name, unnamed)
    return gathering.part(
        slots=table.lines.size, empty=empty, unnamed=unnamed, words=", ".join(words), problems=problems
    )


def _meanings(names: Sequence[str], layout: Layout) -> dict[str, Stated | None]:
    """Return what each name stands for; of two names for one quantity the plainer is used."""
    meanings: dict[str, Stated | None] = {}
    taken: dict[Quantity, tuple[tuple[bool, bool], str]] = {}
    for name in dict.fromkeys(names):
        if plain(name) in layout.names:
            meanings[name] = layout.names[plain(name)]
            continue
        named: Named | None = quantity_word(name)
        meanings[name] = None
        if named is None:
            continue
        rank = (named.is_averaged, named.is_loose)
        before = taken.get(named.quantity)
        if before is None or rank < before[0]:
            if before is not None:
                meanings[before[1]] = None
            taken[named.quantity] = (rank, name)
            meanings[name] = Stated(quantity=named.quantity, unit="", placement="")
    stated = {one.quantity for name, one in meanings.items() if one is not None and plain(name) in layout.names}
    for quantity, (_, name) in taken.items():
        if quantity in stated and plain(name) not in layout.names:
            meanings[name] = None
    return meanings


def _unknown(meanings: dict[str, Stated | None], layout: Layout, file: str, rows: int) -> list[Problem]:
    names = [name for name, one in meanings.items() if one is None and plain(name) not in layout.names]
    if not names:
        return []
    shown = ", ".join(f'"{name[:30]}"' for name in names[:6])
    return [
        Problem(
            code=codes.NAME_UNKNOWN,
            where=file,
            found=f"{rows} rows name {shown}{' and others' if len(names) > 6 else ''}, not read as a quantity",
            wanted="names of quantities",
            remedy='State what a name means, as ["dust", "pm25 ug/m3"], or ["dust", "ignore"].',
        )
    ]
