"""Which column of a table is what: recognised from words and values, or stated by the survey."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from airtally.errors import Problem, Severity
from airtally.quantities import Quantity
from airtally.readings import problems as codes
from airtally.readings import words
from airtally.readings.measures import COUNTER_UNIT, STATES, unit_stated, units_accepted
from airtally.readings.source import Source
from airtally.readings.stamps import stamp_share
from airtally.readings.tables import BROKEN, Table

ROLES = ("time", "date", "start", "end", "kind", "device", "name", "value", "unit", "ignore")
MOST_DEVICES = 200
"""A column with more different words than this does not name a device."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """What the survey says of a column or of a name in a long table."""

    quantity: Quantity
    unit: str
    placement: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueColumn:
    """A column that holds readings of one quantity at one placement."""

    index: int
    quantity: Quantity
    placement: str
    """Empty for the file's own placement."""
    unit: str
    """Unit stated in the survey, or empty."""
    is_loose: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """What the columns of a table are; an index of -1 means that there is no such column."""

    time: int = -1
    time_of_day: int = -1
    start: int = -1
    end: int = -1
    kind: int = -1
    device: int = -1
    name: int = -1
    value: int = -1
    unit: int = -1
    values: tuple[ValueColumn, ...] = ()
    names: dict[str, Stated | None] = field(default_factory=dict)
    """Stated names of a long table, in normal form; None for a name to be ignored."""
    problems: tuple[Problem, ...] = ()

    @property
    def is_long(self) -> bool:
        """Whether a column names the quantity."""
        return self.name >= 0 and self.value >= 0

    @property
    def is_events(self) -> bool:
        """Whether a row is a start with an end."""
        return self.start >= 0 and self.end >= 0 and not self.values and not self.is_long


def parse_statement(text: str) -> Stated | str | None:
    """Return what a survey states of a column: a role, a quantity with unit and placement, or None if neither."""
    head, _, placement = text.strip().partition(" at ")
    first, _, unit = head.strip().partition(" ")
    if first.casefold() in ROLES and not unit:
        return first.casefold()
    try:
        quantity = Quantity(first.casefold())
    except ValueError:
        named = words.quantity_word(first)
        if named is None or named.is_loose:
            return None
        quantity = named.quantity
    unit = unit.strip()
    is_counter = unit == COUNTER_UNIT and quantity in STATES
    if unit and not is_counter and unit_stated(unit, quantity) is None:
        return None
    return Stated(quantity=quantity, unit=unit, placement=placement.strip())


def recognise(table: Table, source: Source) -> Layout:
    """Return what the columns of a table are.

    What the survey states goes before what the words say; the words are checked against the values.
    """
    problems: list[Problem] = []
    roles, stated, names = _statements(table, source, problems)
    taken = set(roles.values()) | set(stated)
    free = [i for i in range(len(table.header)) if i not in taken and roles.get(f"ignore {i}") is None]
    times = _time_columns(table, free, roles)
    free = [i for i in free if i not in times.values()]
    name, value, unit = _long_columns(table, free, roles, names)
    values = () if name >= 0 and value >= 0 else _value_columns(table, free, stated, source, problems)
    device = roles.get("device", -1)
    if device < 0:
        device = next((i for i in free if i != name and _is_device(table, i)), -1)
    kind = roles.get("kind", -1)
    if kind < 0 and times.get("start", -1) >= 0:
        kind = next((i for i in free if i != device and words.is_kind_word(table.header[i])), -1)
    switched = [(i, one) for i, one in stated.items() if i in (times.get("start"), times.get("end"))]
    if switched:
        names = {**names, "*": switched[0][1]}
        values = tuple(one for one in values if one.index not in {i for i, _ in switched})
    return Layout(
        time=times.get("time", -1),
        time_of_day=times.get("time of day", -1),
        start=times.get("start", -1),
        end=times.get("end", -1),
        kind=kind,
        device=device,
        name=name,
        value=value,
        unit=unit,
        values=values,
        names=names,
        problems=tuple(problems),
    )


def _cells(table: Table, index: int) -> list[str]:
    """Return a column's cells from the start, the middle and the end."""
    column = table.columns[index]
    middle = len(column) // 2
    sample = [*column[:60], *column[middle : middle + 60], *column[-60:]] if len(column) > 180 else column
    return [cell for cell in sample if cell != BROKEN]


def _statements(
    table: Table, source: Source, problems: list[Problem]
) -> tuple[dict[str, int], dict[int, Stated], dict[str, Stated | None]]:
    """Return stated roles, stated quantities by column, and stated names of a long table."""
    roles: dict[str, int] = {}
    stated: dict[int, Stated] = {}
    names: dict[str, Stated | None] = {}
    for word, statement in source.columns:
        meaning = parse_statement(statement)
        if meaning is None:
            problems.append(_bad_statement(source.name, word, statement))
            continue
        index = find_column(table.header, word)
        if index < 0:
            names[words.plain(word)] = None if isinstance(meaning, str) else meaning
        elif isinstance(meaning, str):
            roles[f"ignore {index}" if meaning == "ignore" else meaning] = index
        else:
            stated[index] = meaning
    return roles, stated, names


def find_column(header: Sequence[str], word: str) -> int:
    """Return the column with this name, or the one column whose name begins with it; -1 if there is none."""
    wanted = words.plain(word)
    if wanted.startswith("#") and wanted[1:].isdigit():
        index = int(wanted[1:]) - 1
        return index if 0 <= index < len(header) else -1
    named = [words.plain(one) for one in header]
    if wanted in named:
        return named.index(wanted)
    begins = [i for i, one in enumerate(named) if one.startswith(wanted)]
    return begins[0] if len(begins) == 1 else -1


def _time_columns(table: Table, free: list[int], roles: dict[str, int]) -> dict[str, int]:
    """Return the columns of time by part: time, time of day, start, end."""
    found: dict[str, int] = {role: roles[role] for role in ("time", "start", "end") if role in roles}
    if "date" in roles:
        if "time" in roles:
            found["time of day"] = roles["time"]
        found["time"] = roles["date"]
    named = [i for i in free if words.is_time_word(table.header[i])]
    share = {i: stamp_share(_cells(table, i)) for i in named}
    # "fan start" names a state too; its cells tell that it is a column of time
    worded = [i for i in named if words.quantity_word(table.header[i]) is None or share[i] > 0.3]
    if "start" not in found and "time" not in found:
        start = next((i for i in worded if words.is_start_word(table.header[i]) and share[i] > 0.3), -1)
        end = next((i for i in worded if i != start and words.is_end_word(table.header[i]) and share[i] > 0.3), -1)
        if start >= 0 and end >= 0:
            found |= {"start": start, "end": end}
    if "start" not in found and "end" in found:
        del found["end"]
    if "time" not in found and "start" not in found:
        index = _best_time(table, worded, share)
        if index < 0:
            rest = [i for i in free if i not in worded and words.quantity_word(table.header[i]) is None]
            index = next((i for i in rest if _has_dates(_cells(table, i))), -1)
        if index >= 0:
            found["time"] = index
    if "time" in found and "time of day" not in found:
        of_day = _time_of_day_beside(table, found["time"], worded)
        if of_day >= 0:
            found["time of day"] = of_day
    return found


def _has_dates(cells: list[str]) -> bool:
    return stamp_share([cell for cell in cells if any(mark in cell for mark in ":-/.")]) > 0.6 and any(
        mark in cell for cell in cells[:5] for mark in ":-/"
    )


def _best_time(table: Table, worded: list[int], share: dict[int, float]) -> int:
    """Return the best column of time: one that is read; among those UTC, then a whole stamp, then the first."""
    good = [i for i in worded if share[i] > 0.3]
    if not good:
        return worded[0] if worded else -1

    def rank(index: int) -> tuple[bool, bool, float]:
        text = words.spaced(table.header[index])
        return ("utc" in text or "unix" in text or "epoch" in text, "local" not in text, round(share[index], 1))

    return max(good, key=lambda index: (rank(index), -index))


def _time_of_day_beside(table: Table, time: int, worded: list[int]) -> int:
    """Return the column that holds the time of day where the column of time holds bare dates; else -1."""
    dates = [cell.strip() for cell in _cells(table, time) if cell.strip()]
    if not dates or any(":" in cell for cell in dates) or stamp_share(dates) < 0.3:
        return -1
    if all(len(cell) > 8 and cell.isdigit() for cell in dates):
        return -1
    for index in worded:
        cells = [cell.strip() for cell in _cells(table, index) if cell.strip()]
        timely = sum(1 for cell in cells if ":" in cell and stamp_share([cell]) == 0.0)
        hourly = "hour" in words.spaced(table.header[index]) or "stunde" in words.spaced(table.header[index])
        if index != time and cells and (timely > 0.5 * len(cells) or hourly):
            return index
    return -1


def _long_columns(
    table: Table,
    free: list[int],
    roles: dict[str, int],
    names: dict[str, Stated | None],
) -> tuple[int, int, int]:
    """Return the columns of a long table that hold name, value and unit; -1 where there is none."""
    value = roles.get("value", next((i for i in free if words.is_value_word(table.header[i])), -1))
    unit = roles.get("unit", next((i for i in free if words.is_unit_column(table.header[i])), -1))
    if value < 0:
        return -1, -1, unit
    if "name" in roles:
        return roles["name"], value, unit
    for index in free:
        if index in (value, unit):
            continue
        cells = {words.plain(cell) for cell in _cells(table, index) if cell.strip()}
        known = sum(1 for cell in cells if cell in names or words.quantity_word(cell) is not None)
        enough = 1 if words.is_name_word(table.header[index]) else max(1, len(cells) // 2)
        if cells and known >= enough:
            return index, value, unit
    return -1, -1, unit


def _value_columns(
    table: Table,
    free: list[int],
    stated: dict[int, Stated],
    source: Source,
    problems: list[Problem],
) -> tuple[ValueColumn, ...]:
    """Return the columns that hold readings; of two for one quantity at one placement, the plainer is used."""
    found: dict[tuple[Quantity, str], ValueColumn] = {}
    for index, one in stated.items():
        key = (one.quantity, one.placement)
        if key in found:
            problems.append(_clash(source.name, table.header, found[key].index, index, one.quantity))
            continue
        found[key] = ValueColumn(index=index, quantity=one.quantity, placement=one.placement, unit=one.unit)
    worded: dict[Quantity, list[tuple[tuple[bool, bool, bool, int], ValueColumn]]] = {}
    for index in free:
        named = words.quantity_word(table.header[index])
        if named is None or (named.quantity, "") in found:
            continue
        column = ValueColumn(index=index, quantity=named.quantity, placement="", unit="", is_loose=named.is_loose)
        is_blank = not any(cell.strip() for cell in _cells(table, index))
        worded.setdefault(named.quantity, []).append(((is_blank, named.is_averaged, named.is_loose, index), column))
    for quantity, ranked in worded.items():
        ranked.sort(key=lambda pair: pair[0])
        best = ranked[0][1]
        found[(quantity, "")] = best
        equals = [column for rank, column in ranked[1:] if rank[:3] == ranked[0][0][:3]]
        for column in equals:
            problems.append(_clash(source.name, table.header, best.index, column.index, quantity))
    return tuple(sorted(found.values(), key=lambda column: column.index))


def _is_device(table: Table, index: int) -> bool:
    """Return whether a column holds the id of the device that wrote the row."""
    if not words.is_device_word(table.header[index]):
        return False
    cells = {cell.strip() for cell in _cells(table, index) if cell.strip()}
    return 0 < len(cells) <= MOST_DEVICES and not any("." in cell and cell.replace(".", "").isdigit() for cell in cells)


def _bad_statement(name: str, word: str, statement: str) -> Problem:
    head = statement.strip().split(" ")[0]
    try:
        wanted = f"a unit of {head}: {units_accepted(Quantity(head.casefold()))}"
    except ValueError:
        wanted = 'a quantity with its unit, as "pm25 ug/m3", or one of ' + ", ".join(ROLES)
    return Problem(
        code=codes.COLUMN_STATEMENT,
        where=f'{name}, column "{word[:60]}"',
        found=f'it is stated to be "{statement[:60]}"',
        wanted=wanted,
        remedy="Correct it in the survey; until then the words of the file decide.",
    )


def _clash(name: str, header: Sequence[str], used: int, left: int, quantity: Quantity) -> Problem:
    return Problem(
        code=codes.COLUMNS_CLASH,
        where=name,
        found=f'columns "{header[used][:60]}" and "{header[left][:60]}" are both {quantity.value}; the first was used',
        wanted="one column for a quantity at a placement",
        remedy='State the right one, or give the other a placement of its own, as "pm25 ug/m3 at garden".',
        severity=Severity.WARNING,
    )
